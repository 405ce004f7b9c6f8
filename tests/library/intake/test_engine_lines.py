"""Rows of an engine's sheet off the line of the others: beyond rated speed, and in its steps."""

import math

import numpy as np
import pytest

from converter_match.library.intake.engine_lines import _governed, _rated
from converter_match.library.intake.reading import intake_text

RPM = math.pi / 30
SPEED = np.array([1000, 1200, 1400, 1600, 1800, 2000, 2200, 2250, 2300, 2350, 2400]) * RPM
RATED = 2200 * RPM
# 800 N.m at rated speed, and a straight line to nothing at 2400 rpm.
TORQUE = np.array([900, 950, 1000, 980, 940, 880, 800, 600, 400, 200, 0.0])


def changed(row, torque):
    values = TORQUE.copy()
    values[row] = torque
    return values


def test_rows_on_the_droop_line_are_in_line():
    assert _governed(SPEED, TORQUE, RATED) == []


@pytest.mark.parametrize(
    ("off", "said"), [(0.19, False), (0.21, True), (-0.19, False), (-0.21, True)]
)
def test_row_is_off_the_droop_line_by_a_fifth_of_the_rated_torque(off, said):
    # Common practice, no source.
    found = _governed(SPEED, changed(8, 400.0 + off * 800.0), RATED)
    assert [row for row, _ in found] == ([8] if said else [])
    for _, by in found:
        assert by == pytest.approx(off)


@pytest.mark.parametrize(
    ("speed", "torque", "rated"),
    [
        (SPEED[:8], TORQUE[:8], RATED),  # one row beyond rated speed has no line to be off
        (SPEED, changed(10, 81.0), RATED),  # the last row has more than a tenth left
        (SPEED, TORQUE, 900 * RPM),  # nothing before
    ],
)  # fmt: skip
def test_without_a_droop_line_nothing_is_off_it(speed, torque, rated):
    assert _governed(speed, np.where(speed == SPEED[8], 790.0, torque), rated) == []


def test_empty_cells_are_no_rows():
    holes = changed(8, np.nan)
    assert _governed(SPEED, holes, RATED) == []
    holes[9] = 700.0
    assert [row for row, _ in _governed(SPEED, holes, RATED)] == [9]


def test_rated_speed_is_the_one_given_or_that_of_the_greatest_power():
    assert _rated(SPEED, TORQUE, {"rated_speed": "2000 rpm"}) == pytest.approx(2000 * RPM)
    # Of the middle of three rows each: 860 N.m at 2000 rpm are 180 kW, 800 N.m at 2200 rpm 184 kW.
    values = changed(5, 860.0)
    assert _rated(SPEED, values, {}) == pytest.approx(2200 * RPM)
    values[2] = 5000.0  # a single wrong row does not move it
    assert _rated(SPEED, values, {}) == pytest.approx(2200 * RPM)


@pytest.mark.parametrize(
    ("head", "row", "code"),
    [
        ("rpm;bsfc [g/kWh]", "{n};210", "no-torque"),
        ("torque [N.m];power [kW]", "900;{n}", "no-speed"),
    ],
)
def test_sheet_of_an_engine_without_speed_or_torque_is_told_by_its_code(head, row, code):
    text = head + "\n" + "".join(row.format(n=n) + "\n" for n in range(1000, 2300, 100))
    draft = intake_text(text, kind="engine")
    assert code in {problem.code for problem in draft.problems}
