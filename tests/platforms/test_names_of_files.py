"""Names of files by the rules of every system, tried on whichever this one is.

Rules of Windows: Microsoft, "Naming Files, Paths, and Namespaces" (from memory). That it and macOS
take names apart in capitals only for one file is common practice, no source.
"""

import sys
import unicodedata
from pathlib import PurePosixPath, PureWindowsPath

import pytest

from converter_match.cli import build_parser, main
from converter_match.cli.outputs import check_outputs
from converter_match.errors import InputError
from converter_match.library.atomic import write_text
from converter_match.library.catalogue_file import read_catalogue
from converter_match.library.intake.picture_file import _image
from converter_match.library.motor_study_file import read_motor_study
from converter_match.library.names import is_device, is_far, refuse_device
from converter_match.library.read import read_arrangement
from converter_match.library.shipped import find, shipped
from converter_match.library.stall_log import append_rows
from converter_match.library.study_copies import copies_of
from converter_match.library.study_file import read_study
from converter_match.present.bench.keeping import Keeper
from converter_match.present.report.motor_study import _file_names
from converter_match.study.study import InputFile
from tests.properties.command_lines import PAIR
from tests.study_examples import study_file

RESERVED = (
    "CON", "prn", "aux", "NUL", "COM1", "com9", "LPT1", "lpt9", "COM\N{SUPERSCRIPT TWO}", "CONIN$",
    "aux.csv", "nul.tar.gz", "Con.toml", "NUL .txt", "folder/aux.csv", r"folder\nul.csv",
)  # fmt: skip
ORDINARY = ("console.csv", "com10.csv", "auxiliary", "null.toml", "my-aux.csv", "lpt.csv", "a.con")
FAR = (
    r"\\server\share\engine.toml", "//server/share/engine.toml", r"/\server\share\engine.toml",
    r"\\?\UNC\server\share\engine.toml", r"\\.\pipe\engine", "file://server/engine.toml",
    "file:engine.toml", "https://server/engine.toml", "smb://server/engine.toml",
    r"  \\server\engine.toml",
)  # fmt: skip
NEAR = ("engine.toml", "parts/engine.toml", "../engine.toml", "C:/parts/engine.toml",
        r"C:\parts\engine.toml", "/srv/parts/engine.toml", "a:b.toml")  # fmt: skip
SOLVE = ("solve", *PAIR)
STALL = ("stall", *PAIR, "--reading", "gear=3 speed=1600 oil=85degC brakes=held", "--name", "4")
# What writes a file or a folder -> the words of a command up to its name.
WRITERS = {
    "table": (*SOLVE, "--csv"),
    "figure": (*SOLVE, "--figure"),
    "log": (*STALL, "--log"),
    "sheet": (*STALL, "--sheet"),
    "schema": ("schema", "engine", "--out"),
    "demo": ("demo", "--out"),
    "study": ("study", "quarry-loader-repower", "--draws", "0", "--out"),
    "lesson": ("lesson", "--out"),
}
ENDINGS = {"figure": ".png", "sheet": ".html", "table": ".csv", "log": ".csv", "schema": ".json"}


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


# --- devices -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", RESERVED)
def test_device_of_windows_is_known_whatever_its_ending(name):
    assert is_device(name)
    assert is_device(PureWindowsPath(name))


@pytest.mark.parametrize("name", ORDINARY)
def test_names_that_only_look_like_a_device_are_none(name):
    assert not is_device(name)
    refuse_device(name, source=name, system="win32")


@pytest.mark.skipif(not hasattr(PureWindowsPath, "is_reserved"), reason="gone from this Python")
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_standard_library_knows_the_same_devices():
    for name in (*RESERVED, *ORDINARY):
        if "$" not in name:  # newer versions of it know these as well
            assert PureWindowsPath(name).is_reserved() == is_device(name), name


@pytest.mark.parametrize("what", WRITERS)
def test_nothing_is_written_under_the_name_of_a_device(what, here, capsys):
    name = f"aux{ENDINGS.get(what, '')}"
    assert main([*WRITERS[what], name]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "name of a device on Windows" in said
    assert name in said
    assert list(here.iterdir()) == []


def test_doors_of_the_api_refuse_a_device_as_well(here):
    for write in (
        lambda: write_text("x", "con.json"),
        lambda: append_rows("nul.csv", []),
        lambda: Keeper(here).path("prn", "study"),
    ):
        with pytest.raises(InputError, match="the name of a device"):
            write()
    assert list(here.iterdir()) == []


@pytest.mark.parametrize("name", ["out:a.csv", "out.csv.", "out.csv ", r"folder\out:a.csv"])
def test_name_that_windows_would_change_is_refused_there_only(name):
    refuse_device(name, source=name, system="linux")
    with pytest.raises(InputError, match="no name that a file keeps on Windows"):
        refuse_device(name, source=name, system="win32")
    for plain in ("out.csv", r"C:\out.csv", "C:out.csv", ".", ".."):
        refuse_device(plain, source=plain, system="win32")


# --- other computers -----------------------------------------------------------------------------


@pytest.mark.parametrize("written", FAR)
def test_name_of_another_computer_is_known_as_one(written):
    assert is_far(written)


@pytest.mark.parametrize("written", NEAR)
def test_name_on_this_computer_is_taken(written):
    assert not is_far(written)


def no_look(monkeypatch):
    """Fail where anything is looked for by a name that leads away: to look is to call."""
    import os

    looked = os.path.exists

    def exists(path):
        assert "server" not in str(path), path
        return looked(path)

    monkeypatch.setattr(os.path, "exists", exists)


@pytest.mark.parametrize("written", FAR[:3] + FAR[5:6])
@pytest.mark.parametrize("where", ["engine", "surfaces", "route", "site"])
def test_study_does_not_call_another_computer(written, where, tmp_path, monkeypatch):
    quoted = f"'{written}'"
    change = {
        "engine": ('engine = "six-cylinder-7l-185kw"', f"engine = {quoted}"),
        "surfaces": ("[duty]", f"[duty]\nsurfaces = {quoted}"),
        "route": ("[duty]", f"[duty]\nroutes = [{quoted}]"),
        "site": ('["plateau-quarry-hot-day"]', f"[{quoted}]"),
    }[where]
    path = study_file(tmp_path, change)
    no_look(monkeypatch)
    with pytest.raises(InputError, match="leads to another computer") as refused:
        read_study(path)
    assert refused.value.source == str(path)
    assert refused.value.found == written


@pytest.mark.parametrize(
    ("kind", "id", "old", "reader"),
    [
        ("catalogues", "quarry-loader-parts", '"quarry-loader-repower"', read_catalogue),
        ("catalogues", "quarry-loader-parts", '"six-cylinder-9l-240kw"', read_catalogue),
        ("catalogues", "quarry-loader-parts", '"single-stage-345mm-*"', read_catalogue),
        ("motor-studies", "lift-truck-electric", '"four-cylinder-2l5-45kw"', read_motor_study),
        ("arrangements", "two-pairs-on-one-shaft", '"six-cylinder-7l-185kw"', read_arrangement),
    ],
)
def test_no_other_file_that_names_files_calls_another_computer(
    kind, id, old, reader, tmp_path, monkeypatch
):
    text = find(kind, id).read_text(encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, r"'\\server\share\*.toml'", 1), encoding="utf-8")
    no_look(monkeypatch)
    with pytest.raises(InputError, match="leads to another computer"):
        reader(path)


@pytest.mark.parametrize("written", FAR)
def test_chart_does_not_call_another_computer(written):
    with pytest.raises(InputError, match="leads out of the folder"):
        _image(written)


def test_path_in_a_study_with_the_slashes_of_windows_is_shown_with_the_others(tmp_path):
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "own.toml").write_bytes(shipped("engines")[PAIR[1]].read_bytes())
    path = study_file(tmp_path, ('engine = "six-cylinder-7l-185kw"', r"engine = 'parts\own.toml'"))
    if sys.platform == "win32":
        read_study(path)
        return
    with pytest.raises(InputError, match="Windows reads that as well") as refused:
        read_study(path)
    assert "parts/own.toml" in str(refused.value)


# --- capitals ------------------------------------------------------------------------------------


def test_two_outputs_that_differ_in_capitals_are_one_file_elsewhere(here, capsys):
    check_outputs(build_parser().parse_args([*SOLVE, "--csv", "out.csv", "--figure", "OUT.png"]))
    assert main([*SOLVE, "--csv", "Overlay.PNG", "--figure", "overlay.png"]) == 2
    assert "is named by --csv too" in capsys.readouterr().err
    assert not (here / "overlay.png").exists()


def test_accents_of_two_kinds_are_one_name(here, capsys):
    composed, apart = (unicodedata.normalize(form, "pièce.png") for form in ("NFC", "NFD"))
    assert composed != apart
    assert main([*SOLVE, "--csv", composed, "--figure", apart]) == 2
    assert "is named by --csv too" in capsys.readouterr().err


def test_copies_of_a_report_do_not_lie_on_one_another():
    files = [
        InputFile(role=f"candidate[{row}].engine", path=name, sha256=str(row), content=b"",
                  name=name)
        for row, name in enumerate(("Engine.toml", "engine.toml", "ENGINE.toml"))
    ]  # fmt: skip
    places = [place for _, place in copies_of(files)]
    assert len({place.casefold() for place in places}) == 3
    assert all(PurePosixPath(place).parts[0] == "inputs" for place in places)


@pytest.mark.parametrize(
    "ids",
    [
        ("motor", "Motor", "MOTOR"),
        ("../../out", "..\\..\\out", "out"),
        ("a/b", "a:b", "a b"),
        ("\N{CJK UNIFIED IDEOGRAPH-5DE5}", "...", "x" * 300),
    ],
)
def test_pictures_of_motor_studies_are_files_of_their_folder_whatever_the_ids(ids):
    found = _file_names(ids)
    assert len({name.casefold() for name in found}) == len(ids)
    for name in found:
        assert PureWindowsPath(f"{name}-match.svg").parts == (f"{name}-match.svg",)
        assert not is_device(f"{name}-match.svg")
        assert len(name) < 100
