"""The readings of a study file: what arrives in SI, and what is refused with row and key."""

import re
from datetime import date, timedelta

import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library.study_file import read_study
from tests.examples import RPM
from tests.study_examples import study_file

TOLERANCE = """
[[tolerance]]
quantity = "k-factor"
half_width = { unit = "percent", value = 4 }
"""
READING = """
[[measurement]]
quantity = "stall-speed"
value = { unit = "rpm", value = 1388 }
deviation = { unit = "rpm", value = 12 }
repeats = 3
combination = "present"
site = "plateau-quarry-hot-day"
air_temperature = { unit = "degC", value = 27 }
oil_temperature = { unit = "degC", value = 85 }
date = 2026-05-04
source = "tachometer"
"""
WEIGHT = """
[[measurement]]
quantity = "weight"
value = { unit = "t", value = 17.4 }
deviation = { unit = "percent", value = 0.5 }
load = "empty"
combination = "present"
"""
DRIVE = """
[[measurement]]
quantity = "speed-on-grade"
value = { unit = "km/h", value = 9 }
deviation = { unit = "km/h", value = 0.2 }
gear = "2"
grade = { unit = "percent", value = 8 }
combination = "present"
site = "plateau-quarry-hot-day"
"""


def read(folder, more, *changes):
    for old, new in changes:
        assert old in more
        more = more.replace(old, new, 1)
    return read_study(study_file(folder, more=TOLERANCE + more))


def test_readings_arrive_in_si(tmp_path):
    stall, weight, drive = read(tmp_path, READING + WEIGHT + DRIVE).measurements
    assert stall.value == pytest.approx(1388 * RPM)
    assert stall.noise == pytest.approx(12 * RPM / 3**0.5)
    assert stall.oil_temperature == pytest.approx(358.15)
    assert stall.site.air_temperature == pytest.approx(300.15)
    # Where the air of that day was not measured, it is that of the site.
    assert drive.site.air_temperature == pytest.approx(308.15)
    assert drive.site.air_pressure == stall.site.air_pressure
    assert stall.site.altitude == 2000.0
    assert stall.air_known == (True, False)
    assert (stall.date, stall.given) == ("2026-05-04", "1388 rpm")
    assert (weight.value, weight.deviation) == pytest.approx((17400.0, 87.0))
    assert drive.value == pytest.approx(2.5)
    assert (drive.gear, drive.grade, drive.ground, drive.load) == ("2", 0.08, "duty", "laden")


def test_other_ground_is_one_of_the_table(tmp_path):
    other = DRIVE + 'ground = "other"\nsurface = "sand, truck"\n'
    [drive] = read(tmp_path, other).measurements
    assert drive.surface.rolling_resistance == 0.25  # Gillespie, as data/published/surfaces.csv


TOMORROW = (date.today() + timedelta(days=1)).isoformat()


@pytest.mark.parametrize(
    ("more", "change", "said"),
    [
        # --- what cannot be
        (READING, ("value = 12 }", "value = 0 }"), "measurement (no. 1).deviation: a reading"),
        (READING, ("value = 12 }", "value = -3 }"), "measurement (no. 1).deviation: a reading"),
        (READING, ("2026-05-04", TOMORROW), "measurement (no. 1).date: lies in the future"),
        (READING, ("2026-05-04", '"last May"'), "measurement (no. 1).date: not a day"),
        (READING, ("repeats = 3", "repeats = 0"), "measurement (no. 1).repeats: not a count"),
        (READING, ("repeats = 3", "repeats = 2.5"), "measurement (no. 1).repeats: not a count"),
        (READING, ('"stall-speed"', '"stall-sped"'), "did you mean 'stall-speed'"),
        (READING, ("1388", "-1388"), "measurement (no. 1).value"),
        (READING, ('unit = "rpm", value = 1388', 'unit = "kW", value = 90'), "(no. 1).value"),
        # --- what the combination cannot give
        (READING, ('"present"', '"presnt"'), "there is no such combination"),
        (READING, ("repeats = 3", 'pumps = "relief"'), "nothing is known of the pumps of present"),
        (DRIVE, ('gear = "2"', 'gear = "9"'), "forward gear of four-speed-loader"),
        (DRIVE, ('gear = "2"\n', ""), "measurement (no. 1).gear: missing"),
        (
            DRIVE,
            (DRIVE[18:], DRIVE[18:].replace('"speed-on-grade"', '"engine-torque"').replace(
                '"km/h"', '"N*m"').replace('gear = "2"\n', "").replace(
                'grade = { unit = "percent", value = 8 }',
                'engine_speed = { unit = "rpm", value = 90000 }').replace(
                'site = "plateau-quarry-hot-day"\n', "")),
            "engine_speed: the engine's full-load curve has no such speed; found '90000 rpm'",
        ),
        (DRIVE, ("grade =", "speed_ratio = 0.5\ngrade ="), "speed_ratio: means nothing for"),
        (WEIGHT, ('load = "empty"', 'site = "plateau-quarry-hot-day"'), "site: means nothing for"),
        (WEIGHT, ('load = "empty"', 'pumps = "relief"'), "pumps: means nothing for weight"),
        (WEIGHT, ('load = "empty"', 'ground = "other"'), "surface"),
        (READING, ('site = "plateau-quarry-hot-day"\n', ""), "(no. 1).site: missing"),
        (READING, ('site = "plateau-quarry-hot-day"', 'site = "harbour"'), "no such site"),
        # --- what contradicts itself
        (READING + READING, ("", ""), "measurement (no. 2).value: is measurement no. 1 again"),
        (
            READING + READING.replace("1388", "1500"), ("", ""),
            "measurement (no. 2).value: contradicts measurement no. 1 of the same test",
        ),
    ],
)  # fmt: skip
def test_what_is_refused_names_the_row_and_the_key(tmp_path, more, change, said):
    with pytest.raises(InputError, match=re.escape(said)) as error:
        read(tmp_path, more, change)
    assert "small.toml" in str(error.value)
    assert "\n" not in str(error.value)


def test_readings_of_one_test_on_two_days_are_no_contradiction(tmp_path):
    other = READING.replace("1388", "1400").replace("2026-05-04", "2026-05-05")
    assert len(read(tmp_path, READING + other).measurements) == 2


def test_parts_in_common_have_one_file(tmp_path):
    same = '\n[[same_part]]\npart = "engine"\ncombinations = ["present", "new-engine"]\n'
    with pytest.raises(InputError, match="do not have the same engine"):
        read(tmp_path, READING + same)


def test_readings_without_a_tolerance_change_nothing(tmp_path):
    with pytest.raises(InputError, match="nothing is in doubt"):
        read_study(study_file(tmp_path, more=READING))


def test_a_bad_reading_leaves_nothing_written(tmp_path, capsys):
    more = TOLERANCE + READING.replace("value = 12 }", "value = 0 }")
    path = study_file(tmp_path, more=more)
    status = main(["study", str(path), "--out", str(tmp_path / "report")])
    assert status == 2
    assert not (tmp_path / "report").exists()
    assert capsys.readouterr().err.count("\n") == 1


# --- readings that are named as they stand elsewhere ------------------------------------------

LOGGED = """
[[measurement]]
quantity = "stall-speed"
log = "tests.csv"
machine = "loader 4"
deviation = { unit = "rpm", value = 12 }
combination = "present"
site = "plateau-quarry-hot-day"
"""
LOG = """\
time,machine,engine,converter,test,gear,brakes,engine_speed_rpm,oil_temperature_degc,\
expected_low_rpm,expected_high_rpm,coverage,place,finding,share
2026-03-01T07:30:00+00:00,loader 4,e,c,converter,3,held,1400,80,1300,1500,0.95,inside,,
2026-04-01T07:30:00+00:00,loader 4,e,c,converter,3,held,1380,84,1300,1500,0.95,inside,,
2026-04-01T07:40:00+00:00,loader 4,e,c,converter,3,held,1390,88,1300,1500,0.95,inside,,
2026-04-01T07:50:00+00:00,loader 4,e,c,both,3,held,1100,88,1300,1500,0.95,below,,
2026-04-01T07:55:00+00:00,loader 4,e,c,converter,3,let-go,1700,88,1300,1500,0.95,void,,
"""
FOUND = """
[[measurement]]
quantity = "k-factor"
identified = "curve.json"
speed_ratio = 0.4
combination = "present"
"""
CURVE = """{"coverage": 0.95, "nodes": [
  {"speed_ratio": 0.2, "k_factor_rpm_per_sqrt_nm": null},
  {"speed_ratio": 0.4, "k_factor_rpm_per_sqrt_nm": {"value": 62.5, "low": 61.5, "high": 63.5}}]}"""


def beside(folder):
    (folder / "tests.csv").write_text(LOG, encoding="utf-8")
    (folder / "curve.json").write_text(CURVE, encoding="utf-8")
    return folder


def test_the_log_of_stall_tests_gives_the_mean_of_its_last_day(tmp_path):
    [stall] = read(beside(tmp_path), LOGGED).measurements
    assert stall.value == pytest.approx(1385 * RPM)  # by hand: neither combined nor slipped
    assert stall.repeats == 2
    assert stall.oil_temperature == pytest.approx(359.15)
    assert stall.date == "2026-04-01"
    [older] = read(tmp_path, LOGGED + 'date = "2026-03-01"\n').measurements
    assert (older.value, older.repeats) == (pytest.approx(1400 * RPM), 1)


def test_what_was_identified_comes_with_its_band(tmp_path):
    study = read(beside(tmp_path), FOUND)
    [row] = study.measurements
    assert row.value == pytest.approx(62.5 * RPM)
    assert row.deviation == pytest.approx(1.0 * RPM / 1.959964, rel=1e-6)  # 95 % either side
    assert {"measurement[0].identified"} <= {item.role for item in study.inputs}


@pytest.mark.parametrize(
    ("more", "change", "said"),
    [
        (LOGGED, ('"loader 4"', '"loader 5"'), "no such machine in the log"),
        (LOGGED, ('machine = "loader 4"\n', ""), "machine: a log and the name of a machine"),
        (LOGGED, ('"stall-speed"', '"weight"'), "a log of stall tests has stall speeds only"),
        (LOGGED, ("combination", 'date = "2026-02-01"\ncombination'), "no converter stall"),
        (LOGGED, ("combination", "repeats = 2\ncombination"), "repeats: the log tells"),
        (LOGGED, ('"tests.csv"', '"test.csv"'), "no such file beside the study"),
        (LOGGED, ("combination", 'identified = "curve.json"\ncombination'), "given in one way"),
        (FOUND, ("0.4", "0.2"), "nothing was identified at that speed ratio"),
        (FOUND, ("combination", 'deviation = 0.1\ncombination'), "deviation: the band"),
        (FOUND, ('"curve.json"', '"tests.csv"'), "not JSON"),
        (FOUND, ('"k-factor"', '"stall-speed"'), "a row of the characteristic"),
        (READING, ('value = { unit = "rpm", value = 1388 }\n', ""), "given in one way"),
    ],
)  # fmt: skip
def test_what_is_not_where_the_study_says_is_refused(tmp_path, more, change, said):
    with pytest.raises(InputError, match=re.escape(said)):
        read(beside(tmp_path), more, change)


@pytest.mark.slow
def test_a_report_keeps_the_log_that_it_was_made_from(tmp_path):
    path = study_file(beside(tmp_path), more=TOLERANCE + LOGGED)
    assert main(["study", str(path), "--draws", "16", "--out", str(tmp_path / "report")]) == 0
    again = read_study(tmp_path / "report")
    assert again.measurements == read_study(path).measurements
