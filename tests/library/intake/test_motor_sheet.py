"""A motor's sheet: both torques from standstill, the brake's sign, duty types, and sizes."""

import pytest

from converter_match.errors import InputError
from converter_match.library.intake.reading import intake, intake_text
from converter_match.library.read import read_motor
from converter_match.present.figures.intake import draft_figure

RPM = 3.141592653589793 / 30.0
HEAD = "motor speed (rpm),peak torque S2 3 min (N.m),continuous torque S1 (N.m)"
# Invented; the power is torque times speed, by hand: 130 N.m at 2200 rpm are 29.95 kW.
SHEET = f"""Drive motor, invented
Nominal voltage: 80 V
{HEAD},braking torque (N.m),power (kW)
0,240,105,0,0
500,240,118,-180,6.18
1000,240,126,-200,13.19
2200,240,130,-200,29.95
2800,188.6,102.1,-157.1,29.94
4000,132,71.5,-110,29.95
"""


def codes(draft):
    return {problem.code for problem in draft.open}


def test_a_whole_sheet_asks_only_for_what_it_does_not_name():
    draft = intake_text(SHEET)
    assert draft.kind == "motor"
    assert codes(draft) == {"speed-limit-inferred", "peak-time-inferred"}
    motor = draft.accept(confirm=["speed-limit", "peak-time"])
    assert motor.peak_time == 180.0
    assert motor.voltage.nominal == 80.0
    assert motor.speed_limit == pytest.approx(4000 * RPM)
    assert motor.regenerative.min() == -200.0
    assert any(problem.code == "power-agrees" for problem in draft.noticed)
    assert len(draft_figure(draft).axes) == 4


def test_written_and_read_again_it_is_the_same_motor(tmp_path):
    sheet = tmp_path / "truck.csv"
    sheet.write_text(SHEET, encoding="utf-8")
    draft = intake(sheet, speed_limit="3900 rpm", peak_time="2 min", thermal_class="155")
    draft.write(tmp_path / "truck.toml")
    motor = read_motor(tmp_path / "truck.toml")
    assert motor.id == "truck"
    assert motor.peak_time == 120.0
    assert motor.winding.thermal_class == "155"


def test_rows_that_begin_above_standstill_are_not_drawn_on_to_it_unasked():
    late = SHEET.replace("0,240,105,0,0\n", "")
    draft = intake_text(late, peak_time="3 min", speed_limit="4000 rpm")
    assert codes(draft) == {"standstill-missing"}
    with pytest.raises(InputError, match="torque at rest"):
        draft.accept()
    motor = draft.accept(confirm="standstill")
    assert (motor.speed[0], motor.peak[0], motor.continuous[0]) == (0.0, 240.0, 118.0)
    assert motor.regenerative[0] == 0.0


def test_a_brake_written_above_zero_is_asked_about_and_turned():
    wrong = SHEET.replace(",-", ",")
    draft = intake_text(wrong, peak_time="3 min", speed_limit="4000 rpm")
    assert codes(draft) == {"regenerative-sign"}
    assert draft.accept(confirm="regenerative-sign").regenerative[1] == -180.0
    mixed = SHEET.replace("-157.1", "157.1")
    assert "regenerative-mixed" in codes(intake_text(mixed))


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("continuous torque S1 (N.m)", "continuous torque S1 (lbf.ft)", "power-contradicts"),
        ("2200,240,130", "2200,120,130", "continuous-above-peak"),
        ("continuous torque S1 (N.m)", "comment", "no-continuous"),
        ("2200,240,130,-200,29.95", "2200,240,130,-200,31.2", "power-off"),
        ("(rpm)", "(rad/s)", "power-contradicts"),
    ],
)
def test_what_contradicts_itself_is_said(old, new, code):
    assert code in codes(intake_text(SHEET.replace(old, new)))


def test_an_overload_of_ten_and_a_motor_of_watts_are_questioned():
    rows = "0,240,20\n1000,240,20\n2000,120,10\n"
    assert "overload-unusual" in codes(intake_text(f"{HEAD}\n{rows}"))
    small = "0,2.4,1.2\n1000,2.4,1.2\n2000,1.2,0.6\n"
    assert "motor-power-unusual" in codes(intake_text(f"{HEAD}\n{small}"))


def test_an_engine_with_two_ratings_stays_an_engine_and_one_from_zero_is_told_of_motors():
    text = (
        "speed (rpm),intermittent torque (N.m),continuous torque (N.m)\n800,900,800\n2000,800,700"
    )
    assert intake_text(text).kind == "engine"
    zero = intake_text("speed (rpm),torque (N.m)\n0,200\n1000,200\n2000,150\n")
    assert "--kind motor" in zero.errors[0].text()
    assert intake_text(text, kind="motor").kind == "motor"
