"""Line ends, byte-order marks and encodings of every system, on whichever this one is."""

import io
import json
import re
import sys
from functools import cache

import pytest

from converter_match.cli import main
from converter_match.cli.lettering import PLAIN_LETTERS
from converter_match.library.any_file import read_any
from converter_match.library.machine_log import MachineLog
from converter_match.library.shipped import data_folder, shipped
from converter_match.library.toml_text import toml_text
from converter_match.units import to_si
from tests.properties.command_lines import LINES, PAIR, SHEET

MARK = "\ufeff"
# One file of every kind that is shipped; every other of its kind is read by the same lines.
FILES = {
    kind: sorted(shipped(kind).values())[0]
    for kind in sorted(path.name for path in data_folder().iterdir() if path.is_dir())
    if kind not in ("generator", "schemas", "published", "logs")
}
AS_SAVED = {
    "CRLF": lambda text: text.replace("\n", "\r\n"),
    "byte-order mark": lambda text: MARK + text,
    "both": lambda text: MARK + text.replace("\n", "\r\n"),
}


def content(found):
    """Return what a file gave, without where it lay and without checksums of its bytes."""
    return re.sub(r"[0-9a-f]{64}|content=b'.*?'|content=b\".*?\"", "", repr(found))


@cache
def as_it_is(kind):
    return read_any(FILES[kind])


@pytest.mark.slow
@pytest.mark.parametrize("saved", AS_SAVED)
@pytest.mark.parametrize("kind", FILES)
def test_file_saved_by_an_editor_of_another_system_is_the_same_file(kind, saved, tmp_path):
    path = tmp_path / FILES[kind].name
    text = FILES[kind].read_text(encoding="utf-8")
    path.write_bytes(AS_SAVED[saved](text).encode())
    read = read_any(path)
    if hasattr(read, "inputs"):  # its own bytes are others, and its report says so
        assert content(read.replace(inputs=())) == content(as_it_is(kind).replace(inputs=()))
    else:
        assert read == as_it_is(kind)


@pytest.mark.slow
@pytest.mark.parametrize("saved", AS_SAVED)
def test_logs_saved_by_another_system_are_the_same_logs(saved, tmp_path):
    stall = data_folder() / "logs" / "stall-tests.csv"
    machine = data_folder() / "logs" / "loader-shift.csv"
    rows = {}
    for source, most in ((stall, None), (machine, 40)):
        lines = source.read_text(encoding="utf-8").splitlines(keepends=True)[:most]
        path = tmp_path / source.name
        path.write_bytes("".join(lines).encode())
        before = read_log_of(path, source == stall)
        path.write_bytes(AS_SAVED[saved]("".join(lines)).encode())
        rows[source] = (before, read_log_of(path, source == stall))
    for before, after in rows.values():
        assert before == after
        assert before


def read_log_of(path, stall):
    if stall:
        return read_any(path)
    pieces = MachineLog(path, reference_torque=1004.0).pieces()
    return [
        {name: list(column) for name, column in piece.columns.items()}
        if isinstance(piece.columns, dict)
        else repr(piece.columns)
        for piece in pieces
    ]


def without_its_encoding(said):
    """Return an answer without the note that names the byte-order mark."""
    if isinstance(said, dict):
        return {key: without_its_encoding(value) for key, value in said.items()}
    if isinstance(said, list):
        return [
            without_its_encoding(each)
            for each in said
            if not (isinstance(each, dict) and each.get("code") == "encoding")
        ]
    return said


@pytest.mark.parametrize("saved", AS_SAVED)
def test_sheet_saved_by_another_system_is_the_same_sheet(saved, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    more = ("--stator", "one-way", "--profile-diameter", "345 mm", "--json")
    found = []
    for change in (str, AS_SAVED[saved]):
        text = SHEET.read_text(encoding="utf-8").replace("\r\n", "\n")
        (tmp_path / "sheet.csv").write_bytes(change(text).encode())
        assert main(["intake", "sheet.csv", *more]) in (0, 3)
        found.append(without_its_encoding(json.loads(capsys.readouterr().out)))
    assert found[0] == found[1]


def test_what_is_written_ends_its_lines_alike_on_every_system(tmp_path, monkeypatch, capsys):
    # Bytes, not text: no system puts its own line ends in.
    monkeypatch.chdir(tmp_path)
    assert main(["solve", *PAIR, "--csv", "out.csv"]) == 0
    assert main(["schema", "engine", "--out", "engine.json"]) == 0
    for name in ("out.csv", "engine.json"):
        raw = (tmp_path / name).read_bytes()
        assert b"\r\r" not in raw
        assert raw.count(b"\n") in (raw.count(b"\r\n"), raw.count(b"\n") - raw.count(b"\r\n"))
    assert b"\r" not in toml_text({"schema": "x"}).encode()


# --- consoles ------------------------------------------------------------------------------------


class Console(io.TextIOWrapper):
    """A console of an encoding; strict, as Python opens one."""

    def __init__(self, encoding):
        super().__init__(io.BytesIO(), encoding=encoding, newline="\n")

    def said(self):
        self.flush()
        return self.buffer.getvalue().decode(self.encoding)


def on_console(encoding, line, monkeypatch):
    consoles = Console(encoding), Console(encoding)
    monkeypatch.setattr(sys, "stdout", consoles[0])
    monkeypatch.setattr(sys, "stderr", consoles[1])
    status = main(list(line))
    return status, *(console.said() for console in consoles)


@pytest.mark.slow
@pytest.mark.parametrize("name", LINES)
def test_every_verb_speaks_on_a_console_that_knows_ascii_only(name, tmp_path, monkeypatch):
    # What ASCII has every other encoding of a console has as well.
    monkeypatch.chdir(tmp_path)
    status, said, error = on_console("ascii", LINES[name], monkeypatch)
    assert status in (0, 3)
    assert said or "--out" in LINES[name]
    assert "?C" not in said
    assert not re.search(r"\w\?\w", said), "a letter of a unit or a name was lost"
    assert "Traceback" not in error


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437", "cp850", "cp1251", "utf-8"])
def test_narrow_console_shows_units_that_can_be_given_back(encoding, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    status, said, _ = on_console(encoding, ("solve", *PAIR), monkeypatch)
    assert status == 0
    unit = re.search(r"[nN].?m", said[said.index("torque") :])
    assert unit is not None
    assert "?" not in said
    if encoding == "ascii":
        # So that what is copied off the console is a quantity again.
        assert to_si(1.0, "N*m", "torque") == 1.0
        assert to_si(0.0, "degC", "temperature") == pytest.approx(273.15)
        assert to_si(1.0, "kg/m^3", "density") == 1.0


def test_letters_no_keyboard_has_become_what_is_typed_for_them():
    from converter_match.cli.lettering import tolerate_narrow_consoles

    tolerate_narrow_consoles()
    said = "90 °C ± 3, 367 N·m, rpm/√(N·m), m³, – café ≤ 工"
    assert said.encode("ascii", PLAIN_LETTERS).decode() == (
        "90 degC +/- 3, 367 N*m, rpm/sqrt(N*m), m^3, - cafe <= ?"
    )
    assert said.encode("cp1252", PLAIN_LETTERS).decode("cp1252") == (
        "90 °C ± 3, 367 N·m, rpm/sqrt(N·m), m³, – café <= ?"
    )


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_error_with_letters_the_console_has_not_is_one_line(encoding, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    line = ("solve", "--engine", "Löffel-数-≤.toml", "--converter", "x")
    status, said, error = on_console(encoding, line, monkeypatch)
    assert (status, said, error.count("\n")) == (2, "", 1)
    assert "no such file" in error
    assert "-?-<=.toml" in error
