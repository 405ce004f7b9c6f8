"""How the pages of this folder are built: ``python -m sphinx -W -b html docs build/docs``.

Nothing is fetched, neither by the build nor by the built pages: no list of another project's names,
no font, no script from elsewhere.
"""

from __future__ import annotations

import re
from pathlib import Path

from sphinx.application import Sphinx

from converter_match import __version__

HERE = Path(__file__).parent

project = "converter-match"
author = "The converter-match contributors"
project_copyright = author  # no year: it would go stale
version = release = __version__
language = "en"

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
exclude_patterns = ["_static"]
source_suffix = {".md": "markdown"}
myst_heading_anchors = 3
suppress_warnings = ["myst.header"]  # the change log goes from its title to the third level

# The docstrings are numpydoc; a word in single backticks is a name of ours where there is one.
napoleon_google_docstring = False
napoleon_use_rtype = False
default_role = "py:obj"
autodoc_typehints = "none"  # the text says types in words, with units and shapes
autodoc_member_order = "bysource"
add_module_names = False
python_display_short_literal_types = True

html_theme = "furo"
html_title = f"converter-match {version}"
html_static_path = ["_static"]
html_css_files = ["pages.css"]
html_copy_source = False
html_show_sourcelink = False
html_show_sphinx = False

# A link to a file, not to an address, a place on the page, or another page.
_LINK = re.compile(r"\[([^\]]+)\]\((?!\w+:|#)([^)\s#]+)(#[^)\s]*)?\)")


def _name_what_is_not_a_page(folder: Path, text: str) -> str:
    """Turn a link to a file of the project that is no page into its words and its path."""

    def said(link: re.Match[str]) -> str:
        target = (folder / link[2]).resolve()
        if target.is_relative_to(HERE):
            return link[0]  # another page, or a picture
        words, path = link[1], target.relative_to(HERE.parent).as_posix()
        return f"`{path}`" if words.strip("`") == path else f"{words} (`{path}`)"

    return _LINK.sub(said, text)


def _page_read(app: Sphinx, page: str, text: list[str]) -> None:
    text[0] = _name_what_is_not_a_page((HERE / page).parent, text[0])


def _part_read(app: Sphinx, path: Path, page: str, text: list[str]) -> None:
    text[0] = _name_what_is_not_a_page((HERE / path).parent, text[0])


def setup(app: Sphinx) -> dict[str, bool]:
    """Look into every page before it is parsed."""
    app.connect("source-read", _page_read)
    app.connect("include-read", _part_read)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
