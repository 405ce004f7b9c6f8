"""The command line as a person or a script uses it."""

import json
import subprocess
import sys

import pytest

from converter_match.cli import main
from converter_match.judgement.match.solve import solve
from converter_match.library.check import oddities
from converter_match.library.read import read_component, read_converter, read_engine, read_site
from converter_match.library.shipped import find, shipped

ENGINE, CONVERTER = "six-cylinder-7l-185kw", "single-stage-345mm-tight"


def run(capsys, *argv):
    status = main(list(argv))
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_json_has_the_contract_keys_and_the_values_of_the_solver(capsys):
    status, out, err = run(capsys, "solve", "--engine", ENGINE, "--converter", CONVERTER, "--json")
    assert (status, err) == (0, "")
    data = json.loads(out)
    result = solve(
        read_engine(find("engines", ENGINE)), read_converter(find("converters", CONVERTER))
    )
    stall = data["stall"]
    assert stall["engine_speed_rpm"] == pytest.approx(
        result.stall.engine_speed * 30 / 3.141592653589793
    )
    assert stall["input_torque_nm"] == result.stall.input_torque
    assert set(stall) >= {
        "engine_speed_rpm",
        "input_torque_nm",
        "turbine_torque_nm",
        "torque_ratio",
        "heat_kw",
    }
    for name in ("coupling", "best_efficiency"):
        assert set(data[name]) >= {
            "speed_ratio",
            "engine_speed_rpm",
            "turbine_speed_rpm",
            "turbine_torque_nm",
            "output_power_kw",
            "efficiency",
        }
    assert all(set(note) >= {"code", "message"} for note in data["warnings"])
    for point in data["points"]:
        assert set(point) >= {
            "speed_ratio",
            "engine_speed_rpm",
            "input_torque_nm",
            "turbine_speed_rpm",
            "turbine_torque_nm",
            "efficiency",
            "heat_kw",
            "stable",
        }


def test_conditions_accept_a_unit_and_give_the_same_answer(capsys):
    base = ("solve", "--engine", ENGINE, "--converter", CONVERTER, "--json")
    metric = run(
        capsys, *base, "--altitude", "2000", "--air-temperature", "35", "--hydraulic-torque", "100"
    )[1]
    us = run(
        capsys,
        *base,
        "--altitude",
        "6561.6797900262467 ft",
        "--air-temperature",
        "95 degF",
        "--hydraulic-torque",
        "73.75621492772653 lbf.ft",
    )[1]
    one, other = json.loads(metric)["stall"], json.loads(us)["stall"]
    assert one["engine_speed_rpm"] == pytest.approx(other["engine_speed_rpm"], rel=1e-9)
    plain = json.loads(run(capsys, *base)[1])["stall"]
    assert one["engine_speed_rpm"] < plain["engine_speed_rpm"]


def test_us_units_reach_the_table(capsys):
    out = run(capsys, "solve", "--engine", ENGINE, "--converter", CONVERTER, "--units", "us")[1]
    assert "lbf·ft" in out
    assert "N·m" not in out


def test_an_exceeded_limit_exits_3(capsys, tmp_path):
    text = find("converters", CONVERTER).read_text(encoding="utf-8")
    head, _, _ = text.partition("[limits]")
    limited = tmp_path / "limited.toml"
    limited.write_text(
        head + '[limits]\ninput_torque = { unit = "N*m", value = 500 }\n', encoding="utf-8"
    )
    status, out, _ = run(capsys, "solve", "--engine", ENGINE, "--converter", str(limited), "--json")
    assert status == 3
    assert "limit-input-torque" in {note["code"] for note in json.loads(out)["warnings"]}


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--altitude", "1,5", "write 1.5"),
        ("--altitude", "90000", "altitude"),
        ("--altitude", "100 kPa", "kPa"),
        ("--air-temperature", "hot", "not a number"),
        ("--air-temperature", "500", "found '500'; expected -73 to 67 degC"),
        ("--hydraulic-torque", "-5", "below zero"),
        ("--hydraulic-torque", "nan", "not a number"),
        ("--diameter", "0", "--diameter: out of range; found '0'"),
        ("--air-temperature", "-300", "found '-300'"),
        ("--altitude", "30000 ft", "found '30000 ft'"),
    ],
)
def test_a_bad_option_is_one_message_and_exit_2(capsys, option, value, words):
    status, out, err = run(
        capsys, "solve", "--engine", ENGINE, "--converter", CONVERTER, f"{option}={value}"
    )
    assert (status, out) == (2, "")
    assert words in err
    assert len(err.splitlines()) == 1


def test_a_bad_file_is_named_on_standard_error(capsys, tmp_path):
    broken = tmp_path / "broken engine.toml"
    broken.write_text('schema = "converter-match/engine/1"\n', encoding="utf-8")
    status, out, err = run(capsys, "solve", "--engine", str(broken), "--converter", CONVERTER)
    assert (status, out) == (2, "")
    assert "broken engine.toml" in err


@pytest.mark.parametrize(
    ("verb", "kind", "id", "old", "new", "words"),
    [
        # Each file can be read; what it lacks is found out beyond the reading.
        ("solve", "engines", ENGINE, "aspiration =", "# aspiration =", "aspiration"),
        (
            "solve",
            "converters",
            CONVERTER,
            "[0.00, 0.10,",
            "[0.05, 0.10,",
            "does not include stall",
        ),
    ],
)
def test_a_file_that_lacks_something_is_named_however_late_it_shows(
    capsys, tmp_path, verb, kind, id, old, new, words
):
    text = find(kind, id).read_text(encoding="utf-8")
    assert old in text
    mine = tmp_path / "my own.toml"
    mine.write_text(text.replace(old, new), encoding="utf-8")
    files = {"engines": ENGINE, "converters": CONVERTER} | {kind: str(mine)}
    argv = ["--engine", files["engines"], "--converter", files["converters"], "--altitude", "1000"]
    status, out, err = run(capsys, verb, *argv)
    assert (status, out) == (2, "")
    assert str(mine) in err
    assert words in err
    assert len(err.splitlines()) == 1


def test_an_unknown_id_names_the_nearest(capsys):
    status, _, err = run(
        capsys, "solve", "--engine", "six-cylinder-7l-185", "--converter", CONVERTER
    )
    assert status == 2
    assert ENGINE in err


@pytest.mark.slow
def test_outputs_are_written_and_never_overwritten_unasked(capsys, tmp_path):
    table, figure = tmp_path / "points.csv", tmp_path / "overlay.png"
    argv = [
        "solve",
        "--engine",
        ENGINE,
        "--converter",
        CONVERTER,
        "--csv",
        str(table),
        "--figure",
        str(figure),
    ]
    assert run(capsys, *argv)[0] == 0
    assert table.read_text(encoding="utf-8").startswith("speed_ratio,")
    assert figure.read_bytes().startswith(b"\x89PNG")
    before = table.read_bytes()
    status, _, err = run(capsys, *argv)
    assert status == 2
    assert "points.csv" in err
    assert table.read_bytes() == before
    assert run(capsys, *argv, "--overwrite")[0] == 0


def test_check_reads_all_files_and_goes_on_after_a_bad_one(capsys, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("", encoding="utf-8")
    good = str(find("converters", CONVERTER))
    status, out, err = run(capsys, "check", str(bad), good)
    assert status == 2
    assert "bad.toml" in err
    assert "can be read" in out
    status, out, _ = run(capsys, "check", good, "--json")
    assert status == 0
    assert json.loads(out)["files"][0]["readable"]


@pytest.mark.slow
def test_the_process_answers_without_a_traceback():
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "converter_match",
            "solve",
            "--engine",
            "nowhere.toml",
            "--converter",
            CONVERTER,
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "nowhere.toml" in done.stderr
    assert "Traceback" not in done.stderr


def test_help_answers_without_scipy():
    code = (
        "import sys\n"
        "from converter_match.cli import build_parser\n"
        "build_parser().format_help()\n"
        "assert not {'scipy', 'pandas', 'matplotlib', 'pydantic'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.slow
def test_solving_loads_nothing_that_is_slow_to_import_and_not_needed():
    code = (
        "import sys\n"
        "from converter_match.cli import main\n"
        "from converter_match.library.shipped import find\n"
        "engine = find('engines', 'six-cylinder-7l-185kw')\n"
        "converter = find('converters', 'single-stage-345mm-tight')\n"
        "main(['solve', '--engine', str(engine), '--converter', str(converter)])\n"
        "assert not {'scipy', 'pandas', 'matplotlib', 'jinja2'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


def wrong_first_row(folder):
    """Write the shipped converter with a K at stall ten times too large; return the file."""
    text = find("converters", CONVERTER).read_text(encoding="utf-8")
    assert "values = [72.1, " in text
    path = folder / "{mine}.toml"  # braces in a name are no places for quantities
    path.write_text(text.replace("values = [72.1, ", "values = [721.0, "), encoding="utf-8")
    return path


@pytest.mark.slow
@pytest.mark.parametrize("arranged", [(), ("--arrangement", "log-loader-impeller-clutch")])
def test_solve_says_what_check_finds_odd_in_the_files_and_which_file(capsys, tmp_path, arranged):
    path = str(wrong_first_row(tmp_path))
    [checked] = json.loads(run(capsys, "check", path, "--json")[1])["files"]
    odd = [note["code"] for note in checked["odd"]]
    assert "stall-capacity-implausible" in odd
    base = ("solve", "--engine", ENGINE, "--converter", path, *arranged)
    status, out, err = run(capsys, *base, "--json")
    assert (status, err) == (0, "")
    warnings = {note["code"]: note["message"] for note in json.loads(out)["warnings"]}
    assert set(odd) <= set(warnings)
    assert all(warnings[code].startswith(f"{path}: ") for code in odd)
    for units, diameter in (("si", "345 mm"), ("us", "13.58 in")):  # 345 / 25.4
        out = run(capsys, *base, "--units", units)[1]
        [line] = [row for row in out.splitlines() if "[stall-capacity-implausible]" in row]
        assert path in line
        assert diameter in line


def test_sound_files_gain_no_warning(capsys):
    out = run(capsys, "solve", "--engine", ENGINE, "--converter", CONVERTER,
              "--site", "plateau-quarry-hot-day", "--json")[1]  # fmt: skip
    site = read_site(find("sites", "plateau-quarry-hot-day"))
    result = solve(
        read_engine(find("engines", ENGINE)),
        read_converter(find("converters", CONVERTER)),
        site=site,
    )
    codes = [note["code"] for note in json.loads(out)["warnings"]]
    assert codes == [note.code for note in result.warnings]
    kinds = ("engines", "converters", "sites")
    assert [
        p for kind in kinds for p in shipped(kind).values() if oddities(read_component(p))
    ] == []


@pytest.mark.slow
def test_duty_and_lower_governor_stand_behind_the_match_and_in_the_json(capsys):
    pair = ("solve", "--engine", ENGINE, "--converter", CONVERTER)
    asked = (*pair, "--duty", "loader-loading-shift", "--governed", "2200, 1800 rpm")
    status, out, _ = run(capsys, *asked)
    assert status == 0
    assert out.index("stall") < out.index("Duty: ") < out.index("Governed lower: ")
    _, out, _ = run(capsys, *asked, "--json")
    data = json.loads(out)
    assert len(data["duty"]["points"]) == 6
    settings = data["governed_lower"]["settings"]
    assert [row["no_load_speed_rpm"] for row in settings] == pytest.approx([2380, 2200, 1800])
    assert "does-not-suit-governed" in {note["code"] for note in data["warnings"]}
    _, plain, _ = run(capsys, *pair, "--json")
    assert not {"duty", "governed_lower"} & set(json.loads(plain))


def test_duty_that_the_pair_cannot_run_is_exit_status_3(capsys, tmp_path):
    path = tmp_path / "fast.csv"
    path.write_text("turbine speed [rpm],share [%]\n900,50\n4000,50\n", encoding="utf-8")
    status, out, _ = run(
        capsys, "solve", "--engine", ENGINE, "--converter", CONVERTER, "--duty", str(path)
    )
    assert status == 3
    assert "[duty-too-fast]" in out


@pytest.mark.parametrize("given", ["fast", "2500", "2200,,1800"])
def test_setting_that_is_none_is_refused_with_its_option(capsys, given):
    status, out, err = run(
        capsys, "solve", "--engine", ENGINE, "--converter", CONVERTER, "--governed", given
    )
    assert (status, out) == (2, "")
    assert "--governed" in err
