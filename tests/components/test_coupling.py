"""Where the stator lets go: stated, found, found between rows, not reached, fixed, none."""

import numpy as np
import pytest

from converter_match.components.coupling import resolve
from converter_match.errors import InputError
from tests.examples import converter

NU = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95, 0.99])
MU = np.array([2.2, 1.95, 1.7, 1.43, 1.12, 1.0, 1.0, 1.0])
C = np.array([0.020, 0.0195, 0.019, 0.017, 0.014, 0.012, 0.006, 0.001])


def codes(rows):
    return [note.code for note in rows.notes]


def one_way(nu=NU, mu=MU, c=C, given=None):
    return resolve(
        np.asarray(nu, float), np.asarray(mu, float), np.asarray(c, float), "one-way", given
    )


def without(row):
    return np.delete(NU, row), np.delete(MU, row), np.delete(C, row)


def test_stated_at_a_row_is_taken_with_a_kink_and_no_note():
    rows = one_way(given=0.86)
    assert (rows.coupling, rows.kinks, codes(rows)) == (0.86, (0.86,), [])
    assert np.array_equal(rows.speed_ratio, NU)


def test_found_at_the_first_row_at_one_and_reported():
    rows = one_way()
    assert (rows.coupling, rows.kinks, codes(rows)) == (0.86, (0.86,), ["coupling-found"])
    assert "0.86" in rows.notes[0].message
    assert rows.notes[0].kind == "assumption"


@pytest.mark.parametrize("rounded", [1.004, 1.0049, 0.996])
def test_row_that_prints_as_one_counts_as_one(rounded):
    # Sheets print the torque ratio to two decimals (40 CFR 1037.570), so 1.00 is 0.995 .. 1.005.
    mu = np.where(NU == 0.86, rounded, MU)
    assert one_way(mu=mu).coupling == pytest.approx(0.86, abs=0.003)


def test_found_between_rows_from_the_trend_adds_the_missing_row():
    # On a known parabola that meets 1 at 0.86, with no row there: the answer is known.
    nu = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 0.95, 0.99])
    mu = np.where(nu < 0.86, 1 + 1.2 * (1 - nu / 0.86) + 0.1 * (1 - nu / 0.86) * nu, 1.0)
    rows = one_way(nu, mu, np.delete(C, 5))
    assert rows.coupling == pytest.approx(0.86, abs=1e-12)
    assert rows.kinks == (rows.coupling,)
    assert codes(rows) == ["coupling-found-between-rows"]
    added = int(np.searchsorted(rows.speed_ratio, rows.coupling))
    assert rows.torque_ratio[added] == 1.0
    # The capacity goes on as the rows before it: 0.017 to 0.014 in 0.2, so 0.0009 less in 0.06.
    assert rows.capacity[added] == pytest.approx(0.0131, rel=1e-9)
    assert np.array_equal(np.delete(rows.speed_ratio, added), nu)
    assert "0.8" in rows.notes[0].message
    assert "0.95" in rows.notes[0].message


def test_sheet_that_passes_below_one_is_crossed_between_its_rows():
    nu, mu, c = without(5)
    rows = one_way(nu, np.where(nu == 0.8, 1.10, np.where(nu > 0.8, 0.96, mu)), c)
    # A straight line from 1.10 at 0.80 to 0.96 at 0.95.
    assert rows.coupling == pytest.approx(0.80 + 0.15 * 0.10 / 0.14)
    assert codes(rows) == ["coupling-found-between-rows", "torque-ratio-below-one"]


def test_stated_between_rows_adds_the_row():
    rows = one_way(*without(5), given=0.86)
    assert (rows.coupling, rows.kinks, codes(rows)) == (0.86, (0.86,), ["kink-row-added"])
    added = int(np.searchsorted(rows.speed_ratio, 0.86))
    assert rows.torque_ratio[added] == 1.0
    assert C[6] <= rows.capacity[added] <= C[4]


def test_capacity_of_an_added_row_stays_between_its_neighbours():
    steep = C.copy()
    steep[3:5] = 0.019, 0.0065  # going on like that would fall below the next row, 0.006
    rows = one_way(
        NU[[0, 1, 2, 3, 4, 6, 7]], MU[[0, 1, 2, 3, 4, 6, 7]], steep[[0, 1, 2, 3, 4, 6, 7]], 0.86
    )
    assert rows.capacity[5] == 0.006


@pytest.mark.parametrize("given", [None, 0.86])
def test_sheet_that_ends_at_the_coupling_point_has_one_but_no_kink(given):
    rows = one_way(NU[:6], MU[:6], C[:6], given)
    assert (rows.coupling, rows.kinks) == (0.86, ())


def test_not_reached_is_said():
    rows = one_way(NU[:5], MU[:5], C[:5])
    assert (rows.coupling, rows.kinks, codes(rows)) == (None, (), ["coupling-not-reached"])
    assert "1.12" in rows.notes[0].message


@pytest.mark.parametrize("rows_kept", [slice(5, None), slice(6, None)])
def test_data_that_begin_beyond_the_coupling_point_are_not_called_not_reached(rows_kept):
    rows = one_way(NU[rows_kept], MU[rows_kept], C[rows_kept])
    assert (rows.coupling, rows.kinks, codes(rows)) == (None, (), ["coupling-before-data"])


def test_torque_ratio_of_one_from_stall_on_is_said():
    assert codes(one_way(mu=np.ones(8))) == ["coupling-before-data"]


@pytest.mark.parametrize("given", [None, 0.86])
def test_one_way_stator_whose_torque_ratio_falls_below_one_is_questioned(given):
    # A freewheeling stator takes no torque: the sheet looks like a fixed stator's.
    mu = np.array([2.2, 1.95, 1.7, 1.43, 1.12, 1.0, 0.7, 0.4])
    rows = one_way(mu=mu, given=given)
    assert codes(rows)[-1] == "torque-ratio-below-one"
    assert "0.4" in rows.notes[-1].message
    assert "torque-ratio-below-one" not in codes(one_way(mu=np.maximum(mu, 0.98), given=given))


def test_stated_row_that_is_off_one_is_used_and_noted():
    mu = np.where(NU == 0.86, 1.05, MU)
    rows = one_way(mu=mu, given=0.86)
    assert codes(rows) == ["coupling-torque-ratio-off"]
    assert np.array_equal(rows.torque_ratio, mu)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (0.8, "torque ratio at the stated coupling speed ratio is not 1.*1.12"),
        (0.5, "do not bracket 1"),
        (1.0, "inside the tabulated range"),
        (0.0, "inside the tabulated range"),
        (-0.2, "inside the tabulated range"),
        (0.995, "inside the tabulated range"),
        (np.nan, "inside the tabulated range"),
    ],
)
def test_stated_coupling_point_that_contradicts_the_rows_is_refused(given, message):
    with pytest.raises(InputError, match=f"coupling_speed_ratio: .*{message}"):
        one_way(given=given)


def test_fixed_stator_passes_one_smoothly():
    mu = np.array([2.2, 1.95, 1.7, 1.43, 1.12, 1.02, 0.8, 0.6])
    rows = resolve(NU, mu, C, "fixed", None)
    assert rows.kinks == ()
    assert 0.86 < rows.coupling < 0.95
    assert codes(rows) == ["unity-torque-ratio-found"]
    stated = resolve(NU, mu, C, "fixed", 0.87)
    assert stated.coupling == rows.coupling
    for wrong in (0.5, np.nan):
        with pytest.raises(InputError, match="not where the torque ratio passes 1"):
            resolve(NU, mu, C, "fixed", wrong)


@pytest.mark.parametrize(("given", "late"), [(0.86, False), (0.88, True), (0.95, True)])
def test_coupling_point_stated_beyond_rows_already_at_one_is_questioned(given, late):
    rows = one_way(NU, MU, C, given)
    assert rows.coupling == given
    assert ("coupling-stated-late" in codes(rows)) is late


def test_fixed_stator_that_stays_above_one_has_no_unity_point():
    rows = resolve(NU[:5], MU[:5], C[:5], "fixed", None)
    assert (rows.coupling, rows.kinks, rows.notes) == (None, (), ())
    with pytest.raises(InputError, match="expected no value"):
        resolve(NU[:5], MU[:5], C[:5], "fixed", 0.7)


def test_fluid_coupling_has_no_coupling_point_and_may_not_state_one():
    rows = resolve(NU, np.ones(8), C, "none", None)
    assert (rows.coupling, rows.kinks, codes(rows)) == (None, (), ["no-coupling-point"])
    with pytest.raises(InputError, match=r"coupling_speed_ratio: a fluid coupling.*found 0.9"):
        resolve(NU, np.ones(8), C, "none", 0.9)


def test_kink_keeps_the_torque_ratio_at_one_beyond_the_coupling_point():
    unit = converter(coupling_speed_ratio=None)
    beyond = np.linspace(unit.coupling, unit.domain[1], 200)
    assert np.array_equal(unit.torque_ratio_at(beyond), np.ones(200))
    assert np.all(unit.torque_ratio_at(np.linspace(0, unit.coupling - 1e-6, 200)) > 1)


@pytest.mark.parametrize("given", [None, 0.86])
def test_added_rows_cannot_be_changed_from_outside(given):
    nu, _, c = without(5)
    rows = one_way(nu, np.where(nu < 0.86, 1 + 1.4 * (1 - nu / 0.86), 1.0), c, given)
    assert rows.speed_ratio.size == 8
    for array in (rows.speed_ratio, rows.torque_ratio, rows.capacity):
        assert not array.flags.writeable
