"""Sheets that tell a converter otherwise: speed at a torque, turbine speed, efficiency, ranges."""

import csv

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.intake.reading import intake_text
from converter_match.library.shipped import data_folder
from tests.examples import RPM

NU = [0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95]
MU = [2.2, 2.05, 1.9, 1.62, 1.34, 1.07, 1.0, 1.0]
K = [62.0, 62.0, 62.3, 63.0, 65.0, 69.0, 73.0, 110.0]


def sheet(headings, *columns, above=""):
    rows = "".join(";".join(str(cell) for cell in row) + "\n" for row in zip(*columns, strict=True))
    return f"{above}{headings}\n{rows}"


def codes(problems):
    return [problem.code for problem in problems]


# --- input speed at constant input torque ---------------------------------------------------------


def drive_table():
    """The laboratory's drive table without its last row: ratio, torque ratio, input speed [rpm]."""
    path = data_folder() / "published" / "drive_table_100nm.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))[:-1]
    names = ("speed_ratio", "torque_ratio", "input_speed_rpm_at_100Nm")
    return [[float(row[name]) for row in rows] for name in names]


@pytest.mark.parametrize(
    ("above", "heading"),
    [
        ("", "input speed at 100 N.m [rpm]"),
        ("", "pump speed (constant torque 100 Nm) [rpm]"),
        ("", "Impeller speed [rpm] @ 100 N m"),
        ("Input torque: 100 N.m\n\n", "input speed [rpm]"),
        ("constant torque: 100 N.m\n\n", "drive speed [rpm]"),
    ],
)
def test_drive_table_at_constant_torque_is_capacity(above, heading):
    # K = rpm / sqrt(100 N.m) = rpm / 10, as the laboratory's own description says.
    nu, mu, speed = drive_table()
    draft = intake_text(
        sheet(f"speed ratio;torque ratio;{heading}", nu, mu, speed, above=above), stator="one-way"
    )
    unit = draft.accept()
    k = np.asarray(unit.capacity_in("k_factor", unit.speed_ratio)) / RPM
    assert k == pytest.approx(np.array(speed) / 10.0, rel=1e-12)
    assert 'form = "speed_at_torque"' in draft.toml()


def test_the_constant_torque_is_asked_for_where_nothing_says_it():
    nu, mu, speed = drive_table()
    draft = intake_text(
        sheet("speed ratio;torque ratio;input speed [rpm]", nu, mu, speed), stator="one-way"
    )
    assert codes(draft.open) == ["reference-torque-missing"]
    unit = draft.answered(reference_torque="100 N.m").accept()
    assert unit.capacity[0] == pytest.approx(100.0 / (1444 * RPM) ** 2)


def test_an_empty_cell_at_speed_ratio_one_is_no_torque():
    text = sheet(
        "speed ratio;torque ratio;input speed at 100 N.m [rpm]",
        [0, 0.4, 0.86, 0.95, 1.0], [2.2, 1.6, 1.0, 1.0, 1.0], [1444, 1574, 2100, 3044, ""],
    )  # fmt: skip
    assert intake_text(text, stator="one-way").accept().capacity[-1] == 0.0


def test_another_empty_cell_and_a_missing_unit_are_questions():
    columns = ([0, 0.4, 0.86, 0.95], [2.2, 1.6, 1.0, 1.0], [1444, "", 2100, 3044])
    gap = intake_text(
        sheet("speed ratio;torque ratio;input speed at 100 N.m [rpm]", *columns), stator="one-way"
    )
    assert "row-rejected" in codes(gap.open)
    full = (*columns[:2], [1444, 1574, 2100, 3044])
    bare = intake_text(
        sheet("speed ratio;torque ratio;input speed at 100 N.m", *full), stator="one-way"
    )
    [asked] = bare.open
    assert (asked.code, asked.key) == ("unit-inferred", "unit:3")


def test_an_input_speed_beside_a_torque_column_is_still_the_speed_of_its_rows():
    torque = [450.0, 440.0, 380.0, 200.0]
    speed = [1700.0, 1710.0, 1730.0, 1800.0]
    text = sheet(
        "speed ratio;torque ratio;input torque [N.m];input speed [rpm]",
        [0, 0.4, 0.86, 0.95], [2.2, 1.6, 1.0, 1.0], torque, speed,
    )  # fmt: skip
    unit = intake_text(text, stator="one-way").accept()
    assert unit.capacity == pytest.approx(np.array(torque) / (np.array(speed) * RPM) ** 2)


# --- turbine speed at constant input speed --------------------------------------------------------


@pytest.mark.parametrize(
    ("above", "heading"),
    [
        ("", "turbine speed at 1700 rpm input speed [rpm]"),
        ("input speed: 1700 rpm\n\n", "nt [rpm]"),
    ],
)
def test_turbine_speed_at_constant_input_speed_is_speed_ratio(above, heading):
    torque = np.array([(1700.0 / k) ** 2 for k in K])  # T = (n / K)^2, definition of K
    text = sheet(
        f"{heading};turbine torque [N.m];input torque [N.m]",
        [1700.0 * nu for nu in NU], (torque * MU).tolist(), torque.tolist(), above=above,
    )  # fmt: skip
    draft = intake_text(text, stator="one-way", decimal=".")
    unit = draft.accept()
    assert unit.speed_ratio == pytest.approx(NU, rel=1e-12)
    assert unit.torque_ratio == pytest.approx(MU, rel=1e-9)
    assert unit.capacity_in("k_factor", NU) / RPM == pytest.approx(K, rel=1e-9)
    assert "speed-ratio-at-constant-speed" in draft.toml()


def test_the_constant_input_speed_is_asked_for_where_nothing_says_it():
    torque = np.array([(1700.0 / k) ** 2 for k in K])
    text = sheet(
        "turbine speed [rpm];torque ratio;input torque [N.m]",
        [1700.0 * nu for nu in NU], MU, torque.tolist(),
    )  # fmt: skip
    draft = intake_text(text, stator="one-way", decimal=".")
    assert codes(draft.open) == ["constant-speed-missing", "reference-speed-missing"]
    unit = draft.answered(reference_speed="1700 rpm").accept()
    assert unit.speed_ratio == pytest.approx(NU, rel=1e-12)


# --- efficiency and capacity ----------------------------------------------------------------------


def efficiency_sheet(digits=3):
    eta = [round(100.0 * nu * mu, digits) for nu, mu in zip(NU, MU, strict=True)]
    return sheet("speed ratio;efficiency [%];K [rpm/sqrt(N.m)]", NU, eta, K)


def test_efficiency_and_capacity_alone_give_the_torque_ratio():
    unit = intake_text(efficiency_sheet(), stator="one-way", stall_torque_ratio="2.2").accept()
    assert unit.torque_ratio == pytest.approx(MU, abs=1e-4)  # mu = eta / nu, closed form
    assert "torque-ratio-from-efficiency" in codes(unit.notes)


def test_the_torque_ratio_at_stall_is_proposed_as_a_limit_and_not_taken():
    draft = intake_text(efficiency_sheet(), stator="one-way")
    [asked] = draft.open
    assert asked.code == "stall-ratio-unknown"
    unit = draft.answered(confirm="stall-ratio").accept()
    # The parabola through mu(0.1), mu(0.2), mu(0.4) at 0, by Lagrange.
    expected = 2.05 * 8 / 3 - 1.9 * 2 + 1.62 / 3
    assert unit.torque_ratio[0] == pytest.approx(expected, abs=2e-3)
    with pytest.raises(InputError):
        draft.accept()


def test_a_parabola_gives_its_own_limit_exactly():
    # mu = 2.4 - 1.7 nu + 0.1 nu^2: the slope of eta = nu mu at 0 is 2.4.
    nu = np.array([0.0, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9])
    mu = 2.4 - 1.7 * nu + 0.1 * nu**2
    text = sheet(
        "speed ratio;efficiency;K [rpm/sqrt(N.m)]",
        nu.tolist(), (nu * mu).tolist(), [60, 60, 61, 62, 64, 68, 80],
    )  # fmt: skip
    draft = intake_text(text, stator="one-way", decimal=".", confirm="stall-ratio")
    assert draft.accept().torque_ratio[0] == pytest.approx(2.4, abs=5e-4)


def test_too_few_rows_near_stall_propose_nothing():
    text = sheet(
        "speed ratio;efficiency;K [rpm/sqrt(N.m)]",
        [0, 0.4, 0.7, 0.86], [0, 0.648, 0.84, 0.86], [62, 63, 67, 73],
    )  # fmt: skip
    draft = intake_text(text, stator="one-way")
    [asked] = [each for each in draft.open if each.code == "stall-ratio-unknown"]
    assert asked.key == ""
    told = draft.answered(stall_torque_ratio="2.2")
    assert told.accept().torque_ratio[0] == 2.2


# --- ranges ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("cell", ["2.1 .. 2.3", "2.1-2.3", "2.1 to 2.3", "2.1…2.3", "2.1 – 2.3"])
def test_a_range_in_a_cell_is_asked_about_and_its_middle_used(cell):
    text = sheet("speed ratio;torque ratio;K [rpm/sqrt(N.m)]", NU, [cell, *MU[1:]], K)
    draft = intake_text(text, stator="one-way")
    [asked] = draft.open
    assert (asked.code, asked.key) == ("cells-are-ranges", "range:2")
    done = draft.answered(confirm="range:2")
    assert done.accept().torque_ratio[0] == pytest.approx(2.2)
    assert done.sheet.one("torque_ratio").tolerance.tolist() == [pytest.approx(0.1), *[0.0] * 7]
    assert "row 2: 2.2 ± 0.1" in done.toml()


def test_a_range_upside_down_is_no_number():
    text = sheet("speed ratio;torque ratio;K [rpm/sqrt(N.m)]", NU, [2.2, "2.3 .. 2.1", *MU[2:]], K)
    assert "row-rejected" in codes(intake_text(text, stator="one-way").open)
