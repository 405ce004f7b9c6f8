"""Every result of the program survives a journey through JSON unchanged.

All verbs are run while every ``to_dict`` of the package checks itself; what no verb reached fails.
"""

import importlib
import inspect
import json
import pkgutil

import pytest

import converter_match
from converter_match.cli import main
from converter_match.judgement.audit.audit import audit_study
from converter_match.library.intake.reading import intake
from converter_match.library.study_file import read_study
from tests.properties.command_lines import LINES, SHEET, SLOW


def answering_classes():
    """Return every class of the package that writes itself as plain data."""
    found = {}
    for module in pkgutil.walk_packages(converter_match.__path__, "converter_match."):
        if module.name.endswith("__main__"):
            continue
        for _, item in inspect.getmembers(importlib.import_module(module.name), inspect.isclass):
            if item.__module__ == module.name and "to_dict" in vars(item):
                found[f"{item.__module__}.{item.__qualname__}"] = item
    return found


CLASSES = answering_classes()
# A schema is JSON without being asked for it: tests/cli/test_schema.py.
ASKED = {name: line for name, line in (LINES | SLOW).items() if name != "schema"}


@pytest.fixture(scope="module")
def reached():
    """Let every ``to_dict`` check what it returns; the names of those that were asked."""
    names: set[str] = set()

    def checked(name, original):
        def to_dict(self, *arguments, **options):
            plain = original(self, *arguments, **options)
            assert json.loads(json.dumps(plain, allow_nan=False)) == plain, name
            names.add(name)
            return plain

        return to_dict

    with pytest.MonkeyPatch.context() as patch:
        for name, item in CLASSES.items():
            patch.setattr(item, "to_dict", checked(name, vars(item)["to_dict"]))
        yield names


@pytest.mark.parametrize("name", ASKED)
def test_answer_on_the_command_line_is_json(name, reached, capsys):
    assert main([*ASKED[name], "--json"]) in (0, 3)
    reached.add(name)
    said = capsys.readouterr()
    json.loads(said.out, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert "Traceback" not in said.err


def test_every_class_with_an_answer_was_asked(reached, capsys):
    for name, line in ASKED.items():
        if name not in reached:  # run by itself, this test asks them all
            main([*line, "--json"])
    intake(SHEET).to_dict()
    audit_study(read_study("quarry-loader-repower")).to_dict()
    assert sorted(set(CLASSES) - reached) == []
