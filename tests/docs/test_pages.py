"""What the pages tell a person to type works, and answers as it is printed."""

import doctest
import re
import shutil
from importlib import import_module

import pytest

from converter_match.cli import main
from converter_match.library.shipped import shipped
from tests.docs.pages import PAGES, ROOT, blocks, commands

# Files that a reader is taken to have: copies of shipped ones under the names on the pages.
_MINE = {
    "my-engine.toml": ("engines", "six-cylinder-7l-185kw"),
    "my-converter.toml": ("converters", "single-stage-345mm-tight"),
    "my-driveline.toml": ("drivelines", "four-speed-loader"),
    "my-machine.toml": ("machines", "wheel-loader-17t"),
    "my-arrangement.toml": ("arrangements", "log-loader-hydraulics"),
}
_SHORT = {"E": "my-engine", "C": "my-converter", "D": "my-driveline", "M": "my-machine"}
_MINE |= {f"{letter}.toml": _MINE[f"{name}.toml"] for letter, name in _SHORT.items()}
_COPIED = {
    "LOG.csv": ROOT / "data" / "logs" / "loader-shift.csv",
    "R.csv": ROOT / "data" / "routes" / "quarry-to-crusher.csv",
}
# The shipped sheet with a row that somebody misread.
_SHEET = (ROOT / "tests" / "data" / "sheets" / "plain.csv").read_text(encoding="utf-8")
_MISREAD = ("0.9,1.0,76.76,90.0", "0.9,1.0,96.76,90.0")
# One candidate at one site: the shipped studies take long, and other tests run them.
_STUDY = """\
schema = "converter-match/study/1"
id = "my-study"
name = "A study with one candidate"
source = "of this test"

[present]
engine = "six-cylinder-10l5-138kw"
converter = "single-stage-345mm-tight"
driveline = "four-speed-loader"
machine = "wheel-loader-17t"

[[candidate]]
id = "new-engine"
name = "New engine"
engine = "six-cylinder-7l-185kw"

[duty]
surface = "firm smooth earth"
continuous_grade = { unit = "percent", value = 4 }

[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 3 }

[[claim]]
quantity = "stall-speed"
value = { unit = "rpm", value = 1800 }
combination = "new-engine"
"""
_TRIED: set[tuple[str, ...]] = set()  # a report takes seconds: once is enough
# They open JupyterLab, run the shipped study, print a handout: other tests do.
_ELSEWHERE = ("lab", "demo", "lesson")
WITH_COMMANDS = [page for page in PAGES if commands(page)]
WITH_OUTPUT = [page for page in WITH_COMMANDS if any(command.output for command in commands(page))]
WITH_PYTHON = [page for page in PAGES if any(block.kind == "python" for block in blocks(page))]


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A working folder as a reader has it."""
    for name, (kind, id_) in _MINE.items():
        shutil.copy(shipped(kind)[id_], tmp_path / name)
    for name, path in _COPIED.items():
        shutil.copy(path, tmp_path / name)
    assert _MISREAD[0] in _SHEET
    (tmp_path / "sheet.csv").write_text(_SHEET.replace(*_MISREAD), encoding="utf-8")
    (tmp_path / "my-study.toml").write_text(_STUDY, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def page_name(page):
    return page.relative_to(ROOT).as_posix()


def answers_as_printed(command, capsys):
    words = list(command.words)
    if words[0] in _ELSEWHERE or words[1:2] == ["quarry-loader-repower"]:
        return
    if words[0] == "study":
        if command.words in _TRIED:
            return
        _TRIED.add(command.words)
        words += ["--draws", "2" if words[1] == "lift-truck-electric" else "64"]
    try:
        status = main(words)
    except SystemExit as stop:  # an option that there is not, or --help
        status = stop.code
    said = capsys.readouterr()
    assert status == command.status, f"{command.place}\n{said.err}"
    printed = iter([" ".join(line.split()) for line in (said.out + said.err).splitlines()])
    for line in command.output:
        assert line in printed, f"{command.place}\nnot printed (here): {line}\n{said.out}"


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=page_name)
def test_commands_on_the_page_answer_as_printed(page, desk, capsys):
    for command in commands(page):
        answers_as_printed(command, capsys)


@pytest.mark.parametrize("share", [-1e-12, 1e-12])
@pytest.mark.parametrize("page", WITH_OUTPUT, ids=page_name)
def test_printed_answers_are_those_of_any_processor(page, share, desk, capsys, other_processor):
    other_processor(share)
    for command in commands(page):
        answers_as_printed(command, capsys)


@pytest.mark.parametrize("page", WITH_PYTHON, ids=page_name)
def test_python_on_the_page_runs_and_answers_as_printed(page, desk):
    names = {"__name__": "__page__"}
    parser = doctest.DocTestParser()
    for block in blocks(page):
        if block.kind != "python":
            continue
        where = f"{page_name(page)}:{block.line}"
        if ">>>" not in block.text:
            exec(compile(block.text, where, "exec"), names)
            continue
        told = []
        runner = doctest.DocTestRunner(
            optionflags=doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS, verbose=False
        )
        case = parser.get_doctest(block.text, names, where, str(page), block.line)
        runner.run(case, out=told.append, clear_globs=False)
        names.update(case.globs)
        assert runner.failures == 0, "".join(told)


def test_every_verb_is_tried_on_some_page():
    from converter_match.cli import VERBS

    tried = {command.words[0] for page in PAGES for command in commands(page)}
    assert set(VERBS) - tried <= {"demo", "lab"}  # they stand in README.md and docs/index.md


def test_files_that_the_how_tos_name_are_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    roots = "|".join(["converter_match", "data", "docs", "tests", "benchmarks", "notebooks"])
    named = set(re.findall(rf"`((?:{roots})/[\w./-]+)`", text))
    # Rooms are named from within the package: `library/read.py`.
    rooms = "|".join(["components", "library", "physics", "judgement", "present", "cli", "units"])
    named |= {f"converter_match/{path}" for path in
              re.findall(rf"`((?:{rooms})/[\w./-]+\.py)`", text)}  # fmt: skip
    placeholders = {name for name in named if "NAME" in name}
    missing = [name for name in named - placeholders if not (ROOT / name).exists()]
    assert len(named) > 20
    assert missing == []


def test_how_to_for_an_arrangement_follows_the_code():
    from converter_match.components.arrangement import Arrangement

    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    steps = text.split("### an arrangement\n")[1].split("\n### ")[0]
    assert "lock_up" in Arrangement.PARTS
    for name in ("LockUpClutch", "PARTS", "Permissions", "LockUpTable", "ArrangementFile", "Block"):
        assert f"`{name}`" in steps
        assert any(re.search(rf"\b{name}\b", path.read_text(encoding="utf-8"))
                   for path in (ROOT / "converter_match").rglob("*.py")
                   if "arrang" in f"{path.parent.name}/{path.name}")  # fmt: skip


@pytest.mark.parametrize("page", PAGES, ids=page_name)
def test_functions_that_the_page_names_are_there(page):
    """`judgement.haul.haul.haul` and the like, and calls such as `solve_arranged(engine, ...)`."""
    text = page.read_text(encoding="utf-8")
    rooms = "|".join(["components", "library", "physics", "judgement", "present", "units"])
    dotted = set(re.findall(rf"`((?:{rooms})\.[\w.]+?)(?:\(.*?\))?`", text))
    for name in dotted:
        module, _, attribute = name.rpartition(".")
        assert hasattr(import_module(f"converter_match.{module}"), attribute), name
    files = re.findall(rf"`((?:{rooms})/[\w/]+\.py)`", text)
    assert [name for name in files if not (ROOT / "converter_match" / name).exists()] == []
