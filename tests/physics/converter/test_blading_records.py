"""The characteristic made from blading: its rows, what it carries over, and what it says."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.converter.blading import (
    characteristic_from_blading,
    coupling_speed_ratio,
    operate,
)
from tests.blading_examples import blading, row

HELD = {
    "one-way": "with a stator on a one-way clutch",
    "fixed": "with a fixed stator",
    "free": "with a stator that turns freely",
    "none": "with no stator",
}


@pytest.mark.parametrize("mounting", sorted(HELD))
def test_identity_size_and_inertia_are_those_of_the_blading(mounting):
    shape = blading(
        impeller_inertia=0.3,
        turbine_inertia=0.1,
        given_notes=(assumption("of-the-blading", "Something assumed before."),),
    )
    made = characteristic_from_blading(shape, mounting=mounting)
    assert made.id == "test-blading"
    assert made.name == "Test blading (estimated from blade angles)"
    assert made.source == "mean-streamline estimate from: round numbers for a test"
    assert (made.profile_diameter, made.oil_density) == (0.245, 840.0)
    assert (made.impeller_inertia, made.turbine_inertia) == (0.3, 0.1)
    codes = [note.code for note in made.given_notes]
    assert codes[:2] == ["of-the-blading", "estimated-from-blading"]
    # Near 1 a stator's losses leave no flow.
    assert codes[2:] == (["blading-no-flow"] if mounting in ("one-way", "free") else [])
    assert HELD[mounting] in made.given_notes[1].message
    assert made.coupling_speed_ratio == (
        coupling_speed_ratio(shape) if mounting == "one-way" else None
    )
    assert made.kinks == ()


@pytest.mark.parametrize("mounting", ["fixed", "none"])
def test_rows_run_from_the_lowest_to_the_highest_and_lie_closer_towards_one(mounting):
    made = characteristic_from_blading(blading(), mounting=mounting, lowest=-0.3, rows=40)
    nu = made.speed_ratio
    assert (nu[0], nu[-1]) == (-0.3, 1.0)
    # Half of the rows evenly up to a middle, the other half with steps that shrink towards 1; the
    # middle is in both.
    assert nu.size == 39
    steps = np.diff(nu)
    assert steps[:19] == pytest.approx(np.full(19, steps[0]), rel=1e-9)
    assert np.all(np.diff(steps[19:]) < 0)
    assert nu[19] == pytest.approx(0.8, rel=1e-12)
    # Steps of a parabola that ends flat: the last is 1 / n^2 of the stretch.
    assert 1 - nu[-2] == pytest.approx(0.2 / 19**2, rel=1e-9)
    with_corner = characteristic_from_blading(blading(), lowest=-0.3, rows=40)
    assert with_corner.speed_ratio[19] == coupling_speed_ratio(blading())
    # From far up, the middle is half-way.
    upper = characteristic_from_blading(blading(), mounting=mounting, lowest=0.7, rows=40)
    assert upper.speed_ratio[19] == pytest.approx(0.85, rel=1e-12)


@pytest.mark.parametrize("rows", [8, 9])
def test_few_rows_are_enough_for_both_halves(rows):
    made = characteristic_from_blading(blading(), rows=rows)
    assert made.speed_ratio.size == 7
    assert made.coupling_speed_ratio in made.speed_ratio
    with pytest.raises(InputError, match="too few rows") as caught:
        characteristic_from_blading(blading(), rows=7)
    assert (caught.value.field, caught.value.found) == ("rows", 7)


@pytest.mark.parametrize("mounting", ["one-way", "none"])
def test_rows_end_below_one_where_they_are_asked_to(mounting):
    made = characteristic_from_blading(blading(), mounting=mounting, highest=0.6, rows=20)
    assert made.domain == (0.0, 0.6)
    assert made.coupling_speed_ratio is None
    assert made.kinks == ()
    at = operate(blading(), made.speed_ratio, mounting=mounting)
    assert made.capacity == pytest.approx(at.capacity, rel=1e-12)
    assert made.torque_ratio == pytest.approx(at.torque_ratio, rel=1e-12)


def test_coupling_point_outside_the_range_is_no_row_and_not_stated():
    nu_c = coupling_speed_ratio(blading())
    made = characteristic_from_blading(blading(), lowest=nu_c + 0.01, rows=20)
    assert made.coupling_speed_ratio is None
    assert made.domain == (nu_c + 0.01, 1.0)
    # Begun exactly there, it is the first row, and no corner inside the data.
    made = characteristic_from_blading(blading(), lowest=nu_c, rows=20)
    assert made.coupling_speed_ratio is None
    assert made.domain[0] == nu_c
    made = characteristic_from_blading(blading(), highest=nu_c, rows=20)
    assert made.domain == (0.0, nu_c)


@pytest.mark.parametrize("mounting", ["one-way", "free", "none"])
def test_overrun_has_a_corner_at_one_and_rows_that_open_up_beyond(mounting):
    made = characteristic_from_blading(blading(), mounting=mounting, highest=1.4, rows=40)
    assert made.kinks == (1.0,)
    nu = made.speed_ratio
    at_one = int(np.flatnonzero(nu == 1.0)[0])
    assert made.capacity[at_one] == 0.0
    assert made.torque_ratio[at_one] == 1.0
    beyond = np.diff(nu[at_one + 1 :])
    assert np.all(np.diff(beyond) > 0)
    assert nu[-1] == 1.4
    assert nu[-2] == pytest.approx(1 + 0.4 * (18 / 19) ** 2, rel=1e-12)
    assert np.all(made.capacity[at_one + 1 :] < 0)


def test_rows_without_flow_are_left_out_and_the_gap_is_named():
    made = characteristic_from_blading(blading(), highest=1.3)
    [note] = [note for note in made.notes if note.code == "blading-no-flow"]
    assert note.kind == "assumption"
    nu = made.speed_ratio
    below, above = nu[nu < 1.0].max(), nu[nu > 1.0].min()
    words = note.message.replace(";", " ").split()
    first, last = (float(w) for w in words if w[0].isdigit() and len(w) > 2)
    assert below < first < 1.0 < last < above
    at = operate(blading(), [below, first, last, above])
    assert at.circulates.tolist() == [True, False, False, True]
    assert operate(blading(), nu[nu != 1.0]).circulates.all()


def test_fixed_stator_table_holds_only_rows_that_drive():
    made = characteristic_from_blading(blading(), mounting="fixed", highest=1.4)
    assert np.all(made.capacity > 0)
    assert np.all(made.torque_ratio >= 0)
    [note] = [note for note in made.notes if note.code == "blading-table-ends"]
    assert f"at speed ratio {made.domain[1]:.4g}:" in note.message
    assert note.kind == "warning"
    # The next row of the grid would not: 1 + 0.4 s^2 with s in twenty-ninths.
    share = np.sqrt((made.domain[1] - 1) / 0.4) * 29
    assert share == pytest.approx(round(share), abs=1e-9)
    after = operate(blading(), 1 + 0.4 * ((round(share) + 1) / 29) ** 2, mounting="fixed")
    assert not (after.capacity > 0 and after.torque_ratio >= 0)
    whole = characteristic_from_blading(blading(), mounting="fixed")
    assert whole.domain == (0.0, 1.0)
    assert "blading-table-ends" not in {note.code for note in whole.notes}


@pytest.mark.parametrize(
    ("lowest", "highest"),
    [(1.0, 1.2), (0.5, 0.5), (0.5, 0.4), (np.nan, 1.0), (0.0, np.inf), (-np.inf, 1.0)],
)
def test_range_that_is_none_is_refused(lowest, highest):
    with pytest.raises(InputError, match="not a range") as caught:
        characteristic_from_blading(blading(), lowest=lowest, highest=highest)
    assert caught.value.field == "lowest, highest"
    assert caught.value.found == f"{lowest:.6g} .. {highest:.6g}"


def test_refusal_of_a_blading_without_torque_names_it():
    shape = blading(
        mounting="fixed",
        impeller_exit_radius=0.0645,
        impeller=row(68.75, -74.5, 2.0),
    )
    with pytest.raises(InputError, match="passes no torque") as caught:
        characteristic_from_blading(shape, lowest=-0.0)
    assert (caught.value.source, caught.value.field) == ("test-blading", "speed_ratio")
    assert caught.value.found == 0.0


def test_coupling_has_neither_stator_torque_nor_stator_speed():
    at = operate(blading(), [[0.0, 0.4], [0.8, 1.2]], mounting="none")
    for name in ("flow", "stator_torque", "stator_speed", "shock_loss", "friction_loss"):
        assert getattr(at, name).shape == (2, 2)
    assert not at.stator_torque.any()
    assert not at.stator_speed.any()
    assert not at.stator_turns.any()


def test_points_keep_the_geometry_as_mounted_and_the_speed_ratios():
    at = operate(blading(), [0.0, 0.5], mounting="fixed")
    assert at.geometry == blading(mounting="fixed")
    assert at.speed_ratio.tolist() == [0.0, 0.5]
    assert at.efficiency == pytest.approx([0.0, 0.5] * at.torque_ratio, rel=1e-15)
    assert at.heat == pytest.approx(at.shock_loss + at.friction_loss, rel=1e-15)
    shape = at.geometry
    # Lambda = C / (rho D^5), VDI 2153.
    assert at.performance_coefficient == pytest.approx(at.capacity / (840.0 * 0.245**5), rel=1e-12)
    assert at.torque_ratio == pytest.approx(-at.turbine_torque / at.impeller_torque, rel=1e-15)
    assert shape.mounting == "fixed"


def test_free_stator_carries_no_torque_and_follows_the_oil():
    at = operate(blading(), [0.0, 0.3, 0.8], mounting="free")
    assert at.stator_torque == pytest.approx(np.zeros(3), abs=1e-12 * at.capacity.max())
    # The swirl leaves as it came: R_s (R_s w_s + u tan a_s) = R_t (R_t w_t + u tan a_t).
    u = at.flow / 0.010
    came = 0.064 * (0.064 * at.speed_ratio + u * np.tan(np.radians(-54)))
    left = 0.062 * (0.062 * at.stator_speed + u * np.tan(np.radians(52)))
    assert left == pytest.approx(came, rel=1e-9)


def test_coupling_point_needs_a_stator_and_is_the_same_however_it_is_held():
    assert coupling_speed_ratio(blading(mounting="fixed")) == coupling_speed_ratio(blading())
    with pytest.raises(InputError, match="no stator") as caught:
        coupling_speed_ratio(blading(mounting="none"))
    assert caught.value.field == "mounting"
