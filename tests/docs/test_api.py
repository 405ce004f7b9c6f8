"""The public names, the page that lists them, and their docstrings say the same."""

import inspect
import re
from importlib import import_module

import pytest

import converter_match
from tests.docs.pages import ROOT

PAGE = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
LISTED = re.findall(r"^\| `(\w+)` \| .+ \|$", PAGE, re.MULTILINE)
SHOWN = re.findall(r"^\.\. auto(?:class|function):: (\w+)$", PAGE, re.MULTILINE)
DOCUMENTED = sorted(set(converter_match.__all__) - {"__version__", "figures"})
FIGURES = converter_match.figures.__all__
RESULTS = re.findall(
    r"^\.\. autoclass:: ([\w.]+)$",
    (ROOT / "docs" / "results.md").read_text(encoding="utf-8"),
    re.MULTILINE,
)


def test_page_lists_every_public_name_once_and_no_other():
    assert sorted(LISTED) == sorted(converter_match.__all__)


def test_page_shows_the_docstring_of_every_public_name():
    assert sorted(SHOWN) == sorted([*DOCUMENTED, *FIGURES])


@pytest.mark.parametrize("name", FIGURES)
def test_figure_says_in_a_sentence_what_it_draws(name):
    head = (inspect.getdoc(getattr(converter_match.figures, name)) or "").split("\n\n")[0]
    assert head.endswith("."), head


def test_page_of_results_shows_classes_that_are_there():
    assert len(RESULTS) > 15
    for name in RESULTS:
        module, _, attribute = name.rpartition(".")
        assert inspect.isclass(getattr(import_module(module), attribute)), name


@pytest.mark.parametrize("name", DOCUMENTED)
def test_public_function_has_an_example_that_is_run(name):
    # Of what is defined elsewhere as well: the parts are read from files, and have theirs there.
    shown = getattr(converter_match, name)
    if inspect.isfunction(shown):
        assert ">>> " in (inspect.getdoc(shown) or "")


@pytest.mark.parametrize("name", DOCUMENTED)
def test_public_name_documents_its_parameters(name):
    found = getattr(converter_match, name)
    text = inspect.getdoc(found) or ""
    assert text.strip()
    parameters = [key for key in inspect.signature(found).parameters if key != "self"]
    head, _, below = text.partition("\nParameters\n----------\n")
    assert head.strip().endswith((".", ":", "``")), "a summary in a sentence"
    section = re.split(r"\n(?:Raises|Returns|Yields|Attributes|Notes|Examples)\n-+\n", below)[0]
    # `id, name, source : str` documents three
    documented = {
        word.strip(" *")
        for line in section.splitlines()
        if line and not line[0].isspace()
        for word in line.split(" : ")[0].split(",")
    }
    inherited = {"given_notes"}  # filled in by the readers of files, not by users
    assert set(parameters) - documented - inherited == set()
