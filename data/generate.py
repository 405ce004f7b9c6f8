"""Compare or rewrite the invented demo library: engines, converters, sites and a route.

The equations stand in the docstrings of ``generator/engines.py`` and ``generator/converters.py``.
Nothing is measured and nothing is copied from a product. From any folder::

    python data/generate.py            # compare with the files on disk; status 1 if they differ
    python data/generate.py --write    # write the files over what is there
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from generator.converters import CONVERTERS, converter_text
from generator.engines import ENGINES, engine_text
from generator.routes import island_round
from generator.sites import SITES, site_text

FOLDER = Path(__file__).resolve().parent


def demo_files() -> dict[str, str]:
    """Return the text of every generated file by its path below the data folder."""
    files = {f"engines/{engine.id}.toml": engine_text(engine) for engine in ENGINES}
    files |= {f"converters/{c.id}.toml": converter_text(c) for c in CONVERTERS}
    files |= {f"sites/{site.id}.toml": site_text(site) for site in SITES}
    files["routes/island-round-20km.csv"] = island_round()
    return files


def main() -> int:
    """Compare, or write when asked to."""
    parser = argparse.ArgumentParser(description="Regenerate the invented demo library.")
    parser.add_argument("--write", action="store_true", help="write the files")
    arguments = parser.parse_args()
    different = []
    for name, text in demo_files().items():
        path = FOLDER / name
        if arguments.write:
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
        elif not path.exists() or path.read_text(encoding="utf-8") != text:
            different.append(name)
    for name in different:
        print(f"{name} is not what the generator makes", file=sys.stderr)
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
