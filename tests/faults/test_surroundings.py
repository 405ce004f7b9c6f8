"""Odd surroundings: fonts, displays, locales, consoles, names of files, clocks."""

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont
from matplotlib import get_data_path

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library.read import read_converter, read_engine
from converter_match.library.shipped import shipped
from converter_match.library.stall_log import append_rows, read_log
from converter_match.library.stall_log_table import LogRow
from converter_match.library.write import component_text
from tests.properties.command_lines import LINES, PAIR, SHEET
from tests.study_examples import study_file

ROOT = Path(__file__).resolve().parents[2]
SOLVE = ("solve", *PAIR)
STALL = ("stall", *PAIR, "--reading", "gear=3 speed=1600 oil=85degC brakes=held", "--name", "4")


# --- fonts and displays --------------------------------------------------------------------------


def test_figure_without_display_or_home(program, tmp_path):
    # No screen, a windowing backend asked for all the same, no home to keep a font list in.
    status, _, error = program(
        *SOLVE, "--figure", "out.png",
        DISPLAY=None, WAYLAND_DISPLAY=None, MPLBACKEND="TkAgg", HOME=str(tmp_path / "nowhere"),
        MPLCONFIGDIR=str(tmp_path / "settings"),
    )  # fmt: skip
    assert (status, error) == (0, b"")
    assert (tmp_path / "out.png").read_bytes().startswith(b"\x89PNG")


def words_in(path):
    """Return the texts of an SVG with the outlines that each is drawn with, by the font's name.

    A text stands in a comment; after it each letter refers to an outline, which must be there.
    """
    page = path.read_text(encoding="utf-8")
    outlines = dict(re.findall(r'<path id="([^"]+)"(?: d="([^"]*)")?', page))
    texts = {}
    for said, group in re.findall(r"<!-- (.*?) -->\s*<g [^>]*>(.*?)</g>", page, re.DOTALL):
        drawn = re.findall(r'<use xlink:href="#([^"]+)"', group)
        assert set(drawn) <= set(outlines), said
        texts[said] = [name.rpartition("-")[0] for name in drawn if outlines[name].strip()]
    return texts


def in_one_line(error):
    """Return the one line on standard error."""
    lines = error.decode("utf-8").splitlines()
    assert len(lines) == 1, lines
    return lines[0]


@pytest.fixture
def only_shipped_fonts(tmp_path):
    """Run the program where only what comes with the drawing library is left of all fonts."""
    # A folder of its own, so that no list of fonts of another installation is at hand.
    code = (
        "import sys; import matplotlib.font_manager as fonts;"
        "known = [f for f in fonts.fontManager.ttflist if 'mpl-data' in f.fname];"
        "fonts.fontManager.ttflist = [f for f in known if 'DejaVu' in f.name];"
        "assert fonts.fontManager.ttflist;"
        "from converter_match.cli import main; sys.exit(main(sys.argv[1:]))"
    )

    def run(*words):
        done = subprocess.run(
            [sys.executable, "-W", "error", "-c", code, *map(str, words)],
            cwd=tmp_path, capture_output=True, timeout=120,
            env=os.environ | {"PYTHONPATH": str(ROOT), "MPLCONFIGDIR": str(tmp_path / "mpl"),
                              "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        return done.returncode, done.stderr

    return run


def named_engine(folder, name):
    """Write the shipped engine under another name."""
    engine = read_engine(shipped("engines")[PAIR[1]])
    path = folder / "engine.toml"
    path.write_text(component_text(replace(engine, name=name)), encoding="utf-8")
    return path


def test_figure_on_a_machine_without_fonts(only_shipped_fonts, tmp_path):
    # No complaint, and every label is there, drawn letter by letter.
    assert only_shipped_fonts(*SOLVE, "--figure", "out.svg") == (0, b"")
    texts = words_in(tmp_path / "out.svg")
    names = {"torque (N·m)", "turbine torque (N·m)", "heat into the oil (kW)", "stall", "80"}
    assert names <= set(texts)
    engine = read_engine(shipped("engines")[PAIR[1]])
    assert any(text.startswith(engine.name) for text in texts)
    for text, outlines in texts.items():
        # Two or three letters may be one sign.
        joined = 2 * text.count("ffi") + text.replace("ffi", "").count("fi") + text.count("fl")
        assert len(outlines) in (len(text.replace(" ", "")), len(text.replace(" ", "")) - joined)
        assert {name.split("-")[0] for name in outlines} == {"DejaVuSans"}, text
    # Names of curves may have a rim: outlines without a comment.
    page = ElementTree.parse(tmp_path / "out.svg")
    labels = [group for group in page.iter() if group.get("id", "").endswith("-label")]
    assert {"net-label", "gross-label", "low-idle-label"} <= {label.get("id") for label in labels}
    for label in labels:
        parts = [(part.tag.rpartition("}")[2], len(part.get("d", ""))) for part in label.iter()]
        # The white ground behind the words is a path as well, of four corners.
        assert any(tag == "use" or (tag == "path" and size > 200) for tag, size in parts)


def test_letters_that_no_font_has_are_boxes_and_one_line_names_them(only_shipped_fonts, tmp_path):
    engine = named_engine(tmp_path, "新しい motor ไทย")
    for kind in ("svg", "png", "pdf"):
        words = ["--engine", engine, *PAIR[2:], "--figure", f"out.{kind}"]
        status, error = only_shipped_fonts("solve", *words)
        assert status == 0
        said = in_one_line(error)
        assert said.startswith("converter-match: note: no font of this machine has the characters ")
        assert all(letter in said for letter in "新しいไทย")
        assert "install a font that has them" in said
    title = next(text for text in words_in(tmp_path / "out.svg") if " motor " in text)
    assert title.startswith("▯▯▯ motor ▯▯▯ + ")


@pytest.mark.parametrize("figure", ["trend", "fleet", "sheet", "lesson", "study"])
def test_whatever_draws_says_in_one_line_which_letters_it_lacks(
    figure, only_shipped_fonts, tmp_path
):
    engine = named_engine(tmp_path, "工場")
    stall = ["stall", "--engine", engine, *STALL[3:-1], "工場"]
    words = {
        "trend": [*stall, "--log", "log.csv", "--trend", "out.pdf"],
        "fleet": [*stall, "--log", "log.csv", "--fleet", "out.pdf"],
        "sheet": [*stall, "--sheet", "out.pdf"],
        "lesson": ["lesson", "--engine", engine, "--out", "out"],
        "study": ["study", study_file(tmp_path, ("A small study", "工場")), "--draws", "0",
                  "--out", "out"],
    }[figure]  # fmt: skip
    if figure in ("trend", "fleet"):
        assert only_shipped_fonts(*stall, "--log", "log.csv")[0] in (0, 3)
    status, error = only_shipped_fonts(*words)
    assert status in (0, 3), error
    assert "the characters 工 場: " in in_one_line(error)


@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_letters_of_another_script_are_drawn_in_a_font_that_has_them(
    kind, program, script_font, tmp_path
):
    words = ["--engine", named_engine(tmp_path, "工工 engine"), *PAIR[2:]]
    status, _, error = program("solve", *words, "--figure", f"out.{kind}", **script_font)
    # The title is bold, and there is no bold of that font: nobody is told of it.
    assert (status, error) == (0, b"")
    if kind == "svg":
        texts = words_in(tmp_path / "out.svg")
        title = next(text for text in texts if text.startswith("工工 engine + "))
        assert texts[title][:2] == ["MadeForATest"] * 2
        assert texts[title][2].startswith("DejaVuSans")
    if kind == "pdf":
        assert b"MadeForATest" in (tmp_path / "out.pdf").read_bytes()


def test_letter_of_another_font_takes_its_width_there(script_font, tmp_path):
    # The font's own tables say 900 of 1000 units; the box that stands in for it is narrower.
    home = "converter_match.present.drawing.fonts"
    code = f"from {home} import advance; print(advance('工'), advance('場'))"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, timeout=120,
        env=os.environ | {"PYTHONPATH": str(ROOT)} | script_font,
    )  # fmt: skip
    wide, box = map(float, done.stdout.split())
    assert wide == pytest.approx(0.9, abs=1e-4)
    shipped_font = TTFont(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")
    width = shipped_font["hmtx"][shipped_font.getBestCmap()[ord("▯")]][0]
    assert box == pytest.approx(width / shipped_font["head"].unitsPerEm, abs=1e-3)


# --- locales and consoles ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def german(tmp_path_factory):
    """Variables for a locale with a decimal comma, built if the system does not have it."""
    folder = tmp_path_factory.mktemp("locales")
    if shutil.which("localedef"):
        subprocess.run(
            ["localedef", "-i", "de_DE", "-f", "UTF-8", str(folder / "de_DE.UTF-8")],
            capture_output=True, timeout=120,
        )  # fmt: skip
    names = {"LC_ALL": "de_DE.UTF-8", "LOCPATH": str(folder)}
    code = "import locale; locale.setlocale(locale.LC_ALL, ''); print(locale.str(1.5))"
    for tried in (names, {"LC_ALL": "de_DE.UTF-8"}):
        done = subprocess.run(
            [sys.executable, "-c", code], env=os.environ | tried, capture_output=True, text=True
        )
        if done.stdout.strip() == "1,5":
            return tried
    pytest.skip("no locale with a decimal comma, and none can be built here")


def test_decimal_comma_of_the_locale_changes_nothing(german, tmp_path):
    # The locale is put into force, as a program with this one inside would do.
    code = (
        "import locale, sys; locale.setlocale(locale.LC_ALL, '');"
        "from converter_match.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    words = [*LINES["solve"], "--json", "--csv", "out.csv", "--figure", "out.svg"]
    found = []
    for name, variables in (("comma", german), ("point", {"LC_ALL": "C.UTF-8"})):
        folder = tmp_path / name
        folder.mkdir()
        done = subprocess.run(
            [sys.executable, "-W", "error", "-c", code, *words], cwd=folder, capture_output=True,
            env=os.environ | variables | {"PYTHONPATH": str(ROOT)},
            timeout=120,
        )  # fmt: skip
        assert done.stderr == b""
        found.append([done.stdout, *(path.read_bytes() for path in sorted(folder.iterdir()))])
    assert found[0] == found[1]
    assert json.loads(found[0][0])["stall"]["engine_speed_rpm"] > 0


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_console_that_knows_few_letters_shows_the_numbers(program, encoding):
    status, said, error = program(*SOLVE, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert (status in (0, 3), error) == (True, b"")
    plain = said.decode(encoding)
    assert "stall" in plain.casefold()
    status, _, error = program(
        "solve", "--engine", "Löffel-数.toml", "--converter", "x", PYTHONIOENCODING=encoding
    )
    assert status == 2
    assert b"no such file" in error
    assert b"Traceback" not in error


def test_console_of_the_c_locale(program):
    # Bare numbers take their unit with US units.
    line = ["250 N.m" if word == "250" else word for word in LINES["stall"]]
    status, said, error = program(
        *line, "--units", "us", LC_ALL="C", PYTHONCOERCECLOCALE="0", PYTHONUTF8="0"
    )
    assert (status in (0, 3), error) == (True, b"")
    assert b"rpm" in said


def test_no_file_is_opened_in_the_encoding_of_the_day(tmp_path):
    # Python tells of every file that is opened without its encoding being named.
    lines = [
        ["check", *(str(next(iter(shipped(kind).values()))) for kind in ("engines", "machines"))],
        [*LINES["route"], "--csv", "out.csv"],
        ["intake", str(SHEET), "--stator", "one-way", "--profile-diameter", "345 mm", "--accept",
         "--out", "out.toml"],
        [*STALL, "--log", "log.csv", "--sheet", "sheet.html"],
    ]  # fmt: skip
    code = (
        "import sys, json, warnings;"
        "warnings.filterwarnings('error', '', EncodingWarning, module='converter_match');"
        "from converter_match.cli import main;"
        "sys.exit(any(main(line) not in (0, 3) for line in json.loads(sys.argv[1])))"
    )
    done = subprocess.run(
        [sys.executable, "-X", "warn_default_encoding", "-W", "ignore", "-c", code,
         json.dumps(lines)],
        cwd=tmp_path, capture_output=True, timeout=120, env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")


# --- names of files ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Мастерская 工場 été", "a'b\"c%d {e}", "ศูนย์ हिन्दी"])
def test_folder_may_have_any_name(name, tmp_path, monkeypatch, capsys):
    # And so may every file in it, and what the files describe.
    if sys.platform == "win32" and '"' in name:
        pytest.skip("no file can be called so there")
    folder = tmp_path / name
    folder.mkdir()
    monkeypatch.chdir(folder)
    engine, converter = folder / f"{name} engine.toml", folder / f"{name} converter.toml"
    pair = ((engine, read_engine, "engines", PAIR[1]), (converter, read_converter, "converters",
                                                      PAIR[3]))  # fmt: skip
    for path, read, kind, shipped_id in pair:
        component = replace(read(shipped(kind)[shipped_id]), name=f"{name} {kind}")
        path.write_text(component_text(component), encoding="utf-8")
    words = ["--engine", str(engine), "--converter", str(converter)]
    out = [f"{name}.{ending}" for ending in ("csv", "svg")]
    assert main(["solve", *words, "--csv", out[0], "--figure", out[1]]) == 0
    assert main(["check", str(engine), str(converter)]) == 0
    log = f"{name} log.csv"
    stall = ["stall", *words, *STALL[5:-1], name]
    sheets = [f"{name} sheet.{ending}" for ending in ("html", "pdf")]
    for sheet in sheets:
        assert main([*stall, "--log", log, "--sheet", sheet]) in (0, 3)
    sheet = folder / f"{name} sheet.csv"
    sheet.write_bytes(SHEET.read_bytes())
    more = ["--stator", "one-way", "--profile-diameter", "345 mm", "--accept"]
    assert main(["intake", str(sheet), *more, "--out", f"{name} new.toml"]) == 0
    assert read_converter(folder / f"{name} new.toml").stator == "one-way"
    in_toml = json.dumps(name, ensure_ascii=False)
    study = study_file(folder, ('"A small study"', in_toml), ('"New engine"', in_toml))
    study = study.rename(f"{name} study.toml")
    assert main(["study", str(study), "--draws", "0", "--out", f"{name} report"]) in (0, 3)
    assert main(["lesson", *words, "--out", f"{name} lesson"]) == 0
    pages = [f"{name} report/report.pdf", f"{name} lesson/handout.pdf"]
    assert all((folder / written).stat().st_size for written in (*out, log, *sheets, *pages))
    notes = capsys.readouterr().err.splitlines()
    assert all(line.startswith("converter-match: note: no font ") for line in notes), notes
    assert main(["solve", "--engine", f"{name} engin.toml", "--converter", PAIR[3]]) == 2
    assert name in capsys.readouterr().err


# --- clocks --------------------------------------------------------------------------------------


def log_row(time, machine="loader 4"):
    return LogRow(
        time=time, machine=machine, engine="e", converter="c", test="converter", gear="3",
        brakes="held", engine_speed_rpm=1750.0, oil_temperature_degc=85.0,
        expected_low_rpm=1700.0, expected_high_rpm=1850.0, coverage=0.95, place="inside",
        finding="", share=None,
    )  # fmt: skip


@pytest.fixture
def clock(monkeypatch):
    """Set the clock that the verb ``stall`` reads."""
    import converter_match.cli.stall as verb

    def at(now):
        class Clock(datetime):
            @classmethod
            def now(cls, tz=None):
                return now.astimezone(tz)

        monkeypatch.setattr(verb, "datetime", Clock)

    return at


def test_clock_that_was_set_back_adds_nothing_to_the_log(tmp_path, clock, capsys):
    path = tmp_path / "log.csv"
    now = datetime(2031, 10, 26, 2, 30, tzinfo=UTC)
    words = [*STALL, "--log", str(path)]
    clock(now)
    assert main(words) in (0, 3)
    before = path.read_bytes()
    clock(now - timedelta(hours=1))
    assert main(words) == 2
    assert "the clock goes back" in capsys.readouterr().err
    assert path.read_bytes() == before
    clock(datetime(1970, 1, 1, tzinfo=UTC))  # a flat battery on the board
    assert main(words) == 2
    assert path.read_bytes() == before
    clock(now + timedelta(hours=1))
    assert main(words) in (0, 3)
    assert len(read_log(path)) == 2


def test_change_to_winter_time_is_no_clock_that_goes_back(tmp_path):
    # Half past two comes twice that night; with their zones the second is an hour later.
    path = tmp_path / "log.csv"
    append_rows(path, [log_row(datetime.fromisoformat("2031-10-26T02:30:00+02:00"))])
    append_rows(path, [log_row(datetime.fromisoformat("2031-10-26T02:30:00+01:00"))])
    assert len(read_log(path)) == 2
    with pytest.raises(InputError, match="clock goes back"):
        append_rows(path, [log_row(datetime.fromisoformat("2031-10-26T02:59:00+02:00"))])


def test_other_machine_is_not_held_up_by_a_log_from_the_future(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [log_row(datetime(2099, 1, 1, tzinfo=UTC))])
    append_rows(path, [log_row(datetime(2031, 1, 1, tzinfo=UTC), "loader 5")])
    assert len(read_log(path)) == 2


def test_lock_of_a_dead_notebook_does_not_outlast_a_clock_that_was_set_back(tmp_path):
    from converter_match.present.bench.keeping import _alone

    study = tmp_path / "study.toml"
    lock = tmp_path / ".study.toml.lock"
    lock.touch()
    later = datetime.now(UTC).timestamp() + 86_400.0  # as it looks after the clock was set back
    os.utime(lock, (later, later))
    with _alone(study):
        assert lock.exists()
    assert not lock.exists()


def test_draft_of_a_killed_process_is_in_nobodys_way(tmp_path, capsys):
    # Process numbers come again, in containers soon: a draft must not take its name from them.
    for number in range(os.getpid() - 2, os.getpid() + 3):
        (tmp_path / f"out.csv.{number}.part").touch()
    assert main([*SOLVE, "--csv", str(tmp_path / "out.csv")]) == 0


def test_abandoned_draft_of_the_same_file_goes_and_everything_else_stays(tmp_path, capsys):
    long_ago = datetime.now(UTC).timestamp() - 7200.0
    gone = [f"out.csv.{'0a' * 6}.part", f".out.png.{'b1' * 16}.part"]
    kept = ["out.csv.notes.part", f"other.csv.{'0a' * 6}.part", f"out.csv.{'0a' * 6}.part.txt",
            f"out.csv.{'0a' * 6}", "out.csv.1234.part", "mine.part"]  # fmt: skip
    for name in (*gone, *kept):
        (tmp_path / name).write_text("half", encoding="utf-8")
        os.utime(tmp_path / name, (long_ago, long_ago))
    # Of a process that may be writing at this moment, or whose clock runs ahead.
    fresh = {f"out.csv.{'c2' * 6}.part": 0.0, f"out.csv.{'d3' * 6}.part": 86_400.0}
    for name, ahead in fresh.items():
        (tmp_path / name).write_text("half", encoding="utf-8")
        os.utime(tmp_path / name, (long_ago + 7200.0 + ahead,) * 2)
    written = ["--csv", str(tmp_path / "out.csv"), "--figure", str(tmp_path / "out.png")]
    assert main([*SOLVE, *written]) == 0
    found = {path.name for path in tmp_path.iterdir()}
    assert found == {*kept, *fresh, "out.csv", "out.png"}


def test_abandoned_draft_of_a_report_goes_with_what_is_in_it(tmp_path, monkeypatch):
    from converter_match.present.report import study_folder

    seen = []

    def fill(draft, *rest):
        seen.extend(path.name for path in tmp_path.iterdir() if path != draft)

    monkeypatch.setattr(study_folder, "_fill", fill)
    long_ago = datetime.now(UTC).timestamp() - 7200.0
    names = (f".report.{'0a' * 6}.part", f".report.{'0b' * 6}.old", f".reports.{'0a' * 6}.part")
    for name in names:
        (tmp_path / name).mkdir()
        (tmp_path / name / "report.html").write_text("half", encoding="utf-8")
        os.utime(tmp_path / name, (long_ago, long_ago))
    study_folder.write_study(None, tmp_path / "report")
    # What may be the only copy of an earlier report is not touched.
    assert set(seen) == set(names[1:])
    assert {path.name for path in tmp_path.iterdir()} == {*names[1:], "report"}


@pytest.mark.parametrize("year", [1970, 2150])
def test_workbook_on_a_dead_clock_is_refused_in_one_line(year, tmp_path):
    # The parts of a workbook carry a date between 1980 and 2107.
    now = datetime(year, 1, 1, tzinfo=UTC).timestamp()
    code = (
        "import sys, time;"
        f"time.time = lambda: {now}; time.localtime = lambda s=None: time.gmtime({now});"
        "from converter_match.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    words = ["intake", str(shipped("converters")["single-stage-345mm-tight"]), "--export"]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code, *words, "out.xlsx"],
        cwd=tmp_path, capture_output=True, text=True, encoding="utf-8", timeout=120,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 2
    assert [line[:26] for line in done.stderr.splitlines()] == ["converter-match: out.xlsx:"]
    assert "set the clock, or write CSV" in done.stderr
    assert list(tmp_path.iterdir()) == []
