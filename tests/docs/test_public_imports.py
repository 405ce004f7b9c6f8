"""Notebooks, pages and their examples use public names only."""

import ast
import doctest
import re

import nbformat
import pytest

import converter_match
from tests.docs.pages import PAGES, ROOT, blocks

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
_FENCED = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def pieces_of_notebook(path):
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type == "code":
            yield cell.source
        else:
            yield from _FENCED.findall(cell.source)
            # An indented block is to be pasted as well.
            pasted = [line[4:] for line in cell.source.splitlines() if line.startswith("    cm.")]
            yield "\n".join(pasted)


def pieces_of_page(path):
    for block in blocks(path):
        if block.kind == "python":
            yield block.text


PIECES = {
    path.relative_to(ROOT).as_posix(): pieces
    for paths, of in ((NOTEBOOKS, pieces_of_notebook), (PAGES, pieces_of_page))
    for path in paths
    if (pieces := [text for text in of(path) if text])
}


def code(text):
    """Return the statements of a piece: of a doctest without its prompts and answers."""
    if ">>>" not in text:
        return text
    return "".join(example.source for example in doctest.DocTestParser().get_examples(text))


def breaches(text):
    """Return the imports and names of a piece that are not public."""
    tree = ast.parse(code(text))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [
                f"import {alias.name}"
                for alias in node.names
                if alias.name.split(".")[0] == "converter_match"
                and (alias.name, alias.asname) != ("converter_match", "cm")
            ]
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == (
            "converter_match"
        ):
            public = set(converter_match.__all__) if node.module == "converter_match" else set()
            found += [
                f"from {node.module} import {alias.name}"
                for alias in node.names
                if alias.name not in public
            ]
        elif isinstance(node, ast.Attribute):
            found += [name for name in [ast.unparse(node)] if not is_public(node)]
    return found


def is_public(node):
    """Whether an attribute is none of ``cm``, or a public one."""
    inner = node.value
    if isinstance(inner, ast.Name) and inner.id == "cm":
        return node.attr in converter_match.__all__
    if (isinstance(inner, ast.Attribute) and inner.attr == "figures"
            and isinstance(inner.value, ast.Name) and inner.value.id == "cm"):  # fmt: skip
        return node.attr in converter_match.figures.__all__
    return True


@pytest.mark.parametrize("place", PIECES)
def test_every_import_and_name_is_public(place):
    assert [breach for text in PIECES[place] for breach in breaches(text)] == []


def test_the_pages_and_all_notebooks_are_looked_at():
    assert {path.relative_to(ROOT).as_posix() for path in NOTEBOOKS} <= set(PIECES)
    assert "docs/guide-python.md" in PIECES
    assert all(any("cm." in text for text in pieces) for pieces in PIECES.values())


@pytest.mark.parametrize(
    "line",
    [
        "import converter_match.units",
        "import converter_match",
        "from converter_match.units import to_si",
        "from converter_match import read_engine",
        ">>> from converter_match.cli import main",
        "cm.judgement.match",
        "cm.figures.no_such_figure(match)",
    ],
)
def test_a_breach_is_noticed(line):
    assert breaches(line)
    assert not breaches("import numpy as np\nimport converter_match as cm\ncm.figures.overlay(m)")
