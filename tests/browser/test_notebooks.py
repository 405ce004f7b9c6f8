"""Every shipped notebook runs in a real JupyterLab without a word of complaint."""

import pytest

from tests.browser.conftest import ROOT, keep_picture
from tests.browser.lab_page import close_notebook, open_notebook, run_all

NOTEBOOKS = sorted(path.name for path in (ROOT / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_notebook_runs_without_error(page, name):
    open_notebook(page, name)
    try:
        outputs = run_all(page)
        errors = [output for output in outputs if output["output_type"] == "error"]
        assert errors == []
        said = [output["text"] for output in outputs if output.get("name") == "stderr"]
        assert said == []
        page.wait_for_timeout(500)  # widgets draw after the kernel is done
        assert page.get_by_text("Error displaying widget").count() == 0
        # Nothing is wider than the page of a small screen.
        wide = page.evaluate(
            "() => [...document.querySelectorAll('.jp-Notebook:not(.lm-mod-hidden *) .cm-app')]"
            ".filter(e => e.scrollWidth > e.clientWidth + 1).length"
        )
        assert wide == 0
    finally:
        keep_picture(page, name.removesuffix(".ipynb"))
        close_notebook(page)
