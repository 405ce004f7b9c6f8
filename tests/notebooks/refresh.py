"""Run notebooks and keep their outputs, so that they can be read before they are run.

    python tests/notebooks/refresh.py [NAME ...]

Whatever would differ between two runs is left out: times, versions, random names of widgets. In
the place of a live widget stands its still form, or a line that says what stands there when the
notebook runs.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
LIVE = "application/vnd.jupyter.widget-view+json"
_STANDS_HERE = "Live controls stand here when the notebook runs (converter-match lab)."


def run(notebook: nbformat.NotebookNode, folder: Path) -> None:
    """Run a notebook in a fresh kernel of this environment."""
    with tempfile.TemporaryDirectory() as own:
        os.environ["IPYTHONDIR"] = own  # nobody's own start-up files
        client = NotebookClient(
            notebook,
            timeout=300,
            kernel_name="python3",
            resources={"metadata": {"path": str(folder)}},
            store_widget_state=False,
            record_timing=False,
        )
        client.execute()


def settle(notebook: nbformat.NotebookNode) -> None:
    """Leave out of a notebook that was run what would differ the next time."""
    notebook.metadata = nbformat.from_dict(
        {
            "kernelspec": {
                "display_name": "Python 3 (ipykernel)",
                "language": "python",
                "name": "python3",
            },
            "language_info": {"name": "python"},
        }
    )
    count = 0
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        if cell.cell_type != "code":
            continue
        count += 1
        cell.execution_count = count
        for output in cell.outputs:
            if output.output_type == "execute_result":
                output.execution_count = count
            data = output.get("data", {})
            if data.pop(LIVE, None) is not None and "text/html" not in data:
                data["text/plain"] = _STANDS_HERE
                data["text/html"] = f"<p><i>{_STANDS_HERE}</i></p>"


def main(names: list[str]) -> None:
    """Refresh the notebooks named, or all."""
    for path in [FOLDER / name for name in names] or sorted(FOLDER.glob("*.ipynb")):
        notebook = nbformat.read(path, as_version=4)
        run(notebook, path.parent)
        settle(notebook)
        nbformat.validate(notebook)
        text = nbformat.writes(notebook, version=4)
        path.write_text(text.rstrip("\n") + "\n", encoding="utf-8", newline="\n")
        print(f"{path.name}: {len(text.encode()) // 1024} kB")


if __name__ == "__main__":
    main(sys.argv[1:])
