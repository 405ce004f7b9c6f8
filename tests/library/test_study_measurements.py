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
