"""The coupling point on both sides of every bound: how near to 1, how far before a row.

The bounds are stated in `converter_match.components.coupling`; the rows here are exact enough in
binary that each side of a bound can be told.
"""

import numpy as np
import pytest

from converter_match.components.coupling import resolve
from converter_match.errors import InputError

NU = np.array([0.0, 0.25, 0.5, 0.75, 0.875, 1.0])
MU = np.array([2.0, 1.75, 1.5, 1.25, 1.0, 1.0])
C = np.array([0.020, 0.019, 0.018, 0.016, 0.012, 0.004])


def one_way(nu=NU, mu=MU, c=C, given=None):
    return resolve(
        np.asarray(nu, float), np.asarray(mu, float), np.asarray(c, float), "one-way", given
    )


def fixed(mu, given=None):
    return resolve(NU, np.asarray(mu, float), C, "fixed", given)


def codes(rows):
    return [note.code for note in rows.notes]


def changed(values, **rows):
    """Values with some rows changed, as in changed(MU, r3=1.2)."""
    new = np.array(values, float)
    for key, value in rows.items():
        new[int(key[1:])] = value
    return new


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


# --- found ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("mu", "found"), [(1.005, True), (1.0051, False), (0.995, True)])
def test_row_counts_as_one_within_five_thousandths(mu, found):
    rows = one_way(mu=changed(MU, r4=mu, r5=1.2))
    assert (rows.coupling == 0.875) is found
    assert rows.kinks == ((0.875,) if found else ())
    if not found:
        # At speed ratio 1 there is nothing beyond it to hold a coupling range.
        assert codes(rows) == ["coupling-not-reached"]
        assert "1.2 at the last speed ratio, 1)" in rows.notes[0].message


def test_found_note_names_the_row_and_the_one_before():
    [note] = one_way(mu=changed(MU, r4=1.003)).notes
    assert (note.code, note.kind) == ("coupling-found", "assumption")
    for part in ("found as 0.875", "it is 1.003 there", "before is at 0.75"):
        assert part in note.message


def test_row_below_one_is_crossed_by_the_chord():
    # From 1.25 at 0.75 to 0.75 at 0.875: 1 half way.
    rows = one_way(mu=changed(MU, r4=0.75, r5=0.75))
    assert rows.coupling == pytest.approx(0.8125, rel=1e-14)
    assert rows.kinks == (rows.coupling,)
    assert codes(rows)[0] == "coupling-found-between-rows"
    added = int(np.flatnonzero(rows.speed_ratio == rows.coupling)[0])
    assert added == 4
    assert rows.torque_ratio[added] == 1.0
    # Capacity goes on as from 0.5 to 0.75, 0.002 in 0.25: 0.0005 less at 0.0625 further.
    assert rows.capacity[added] == pytest.approx(0.0155, rel=1e-12)
    assert "found as 0.8125" in rows.notes[0].message
    assert "neighbours 0.75 and 0.875" in rows.notes[0].message


@pytest.mark.parametrize(("lead", "added"), [(0.22, True), (0.18, False)])
def test_row_is_added_if_the_trend_meets_one_a_fifth_of_a_step_early(lead, added):
    # The three rows before lie on a straight line that meets 1 at 0.875 less a share of the step.
    meets = 0.875 - lead * 0.125
    mu = np.where(NU < meets, 1 + (meets - NU), 1.0)
    rows = one_way(mu=mu)
    assert (codes(rows) == ["coupling-found-between-rows"]) is added
    assert rows.coupling == pytest.approx(meets if added else 0.875, rel=1e-9)


@pytest.mark.parametrize(("lead", "added"), [(0.0085, True), (0.0075, False)])
def test_row_is_not_added_for_a_lead_of_less_than_eight_thousandths(lead, added):
    # Rows 0.02 apart: a fifth of a step would be 0.004.
    nu = np.array([0.0, 0.80, 0.82, 0.84, 0.86, 0.95])
    meets = 0.86 - lead
    rows = one_way(nu=nu, mu=np.where(nu < meets, 1 + 2 * (meets - nu), 1.0))
    assert (codes(rows) == ["coupling-found-between-rows"]) is added


def test_trend_is_the_parabola_of_the_last_three_rows():
    # Rows before those three are far off it and play no part.
    nu = np.array([0.0, 0.4, 0.5, 0.6, 0.7, 0.9, 0.95])
    mu = np.where(nu < 0.8, 1 + (0.8 - nu) + (0.8 - nu) ** 2, 1.0)
    mu[:2] += 0.3
    rows = one_way(nu, mu, np.linspace(0.02, 0.01, 7))
    assert rows.coupling == pytest.approx(0.8, abs=1e-12)


def test_two_rows_before_give_a_straight_trend_and_one_gives_none():
    nu, mu = np.array([0.0, 0.5, 0.9, 0.95]), np.array([1.7, 1.2, 1.0, 1.0])
    # 0.5 in 0.5 falls on to 1 at 0.7.
    rows = one_way(nu, mu, [0.02, 0.018, 0.01, 0.006])
    assert rows.coupling == pytest.approx(0.7, rel=1e-12)
    # Capacity: 0.002 in 0.5 goes on for 0.2.
    assert rows.capacity[2] == pytest.approx(0.0172, rel=1e-12)
    alone = one_way(nu[[0, 2, 3]], mu[[0, 2, 3]], [0.02, 0.01, 0.006])
    assert (alone.coupling, codes(alone)) == (0.9, ["coupling-found"])


def test_capacity_of_an_added_row_with_one_row_before_is_that_row_s():
    # 1.2 at 0 to 0.8 at 0.5: 1 at 0.25, and no slope is known before.
    rows = one_way([0.0, 0.5, 0.9], [1.2, 0.8, 0.8], [0.02, 0.018, 0.01])
    assert rows.coupling == pytest.approx(0.25, rel=1e-14)
    assert rows.capacity[1] == 0.02


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [(0.0205, 0.012, 0.0205), (0.016, 0.0159, 0.0159), (0.016, 0.017, 0.016)],
)
def test_capacity_of_an_added_row_is_kept_between_its_neighbours(before, after, expected):
    c = changed(C, r3=before, r4=after)
    if before > C[2]:
        c[2] = 0.018  # rising before: going on would lie above both
    rows = one_way(mu=changed(MU, r4=0.75, r5=0.75), c=c)
    assert rows.capacity[4] == expected


def test_torque_ratio_down_to_one_before_stall_or_beyond_synchronism_does_not_count():
    back = one_way([-0.5, 0.0, 0.5], [1.0, 1.9, 1.5], [0.02, 0.02, 0.01])
    assert codes(back) == ["coupling-not-reached"]
    over = one_way(mu=changed(MU, r4=1.1))
    assert (over.coupling, codes(over)) == (None, ["coupling-not-reached"])


def test_data_that_begin_at_one_have_their_coupling_point_before_them():
    rows = one_way([0.9, 0.95, 0.99], [1.0, 1.0, 1.0], [0.01, 0.006, 0.001])
    assert (rows.coupling, codes(rows)) == (None, ["coupling-before-data"])
    assert "up to speed ratio 0.9)" in rows.notes[0].message
    for note in rows.notes:
        assert note.kind == "warning"
    # From stall on: the row before the first candidate is at one already.
    flat = one_way(mu=np.ones(6))
    assert codes(flat) == ["coupling-before-data"]
    assert "0.25)" in flat.notes[0].message


@pytest.mark.parametrize(("mu", "questioned"), [(0.98, False), (0.979, True)])
def test_one_way_torque_ratio_below_one_is_questioned_from_two_hundredths_on(mu, questioned):
    for given in (None, 0.875):
        rows = one_way(mu=changed(MU, r5=mu), given=given)
        assert ("torque-ratio-below-one" in codes(rows)) is questioned
    late = one_way([*NU, 1.2], [*MU, 0.5], [*C, -0.02])  # beyond synchronism: overrun
    assert "torque-ratio-below-one" not in codes(late)


def test_lowest_row_below_one_is_the_one_that_is_named():
    nu = [0.0, 0.5, 0.75, 0.8, 0.9, 0.95]
    rows = one_way(nu, [2.0, 1.5, 1.0, 0.9, 0.7, 0.8], C, 0.75)
    [note] = [note for note in rows.notes if note.code == "torque-ratio-below-one"]
    assert "falls to 0.7 (at speed ratio 0.9)" in note.message
    assert note.kind == "warning"


# --- stated --------------------------------------------------------------------------------------


def test_stated_at_a_row_and_at_the_last_row():
    rows = one_way(given=0.875)
    assert (rows.coupling, rows.kinks, rows.notes) == (0.875, (0.875,), ())
    last = one_way(NU[:5], MU[:5], C[:5], 0.875)
    assert (last.coupling, last.kinks) == (0.875, ())
    near = one_way(NU[:5], MU[:5], C[:5], 0.875 + 5e-10)
    assert near.coupling == 0.875


@pytest.mark.parametrize("given", [0.0, -0.1, 1.0, 1.1, np.nan])
def test_stated_outside_nothing_to_one_is_refused(given):
    assert refusal(lambda: one_way(given=given)).field == "coupling_speed_ratio"


def test_stated_outside_the_rows_is_refused():
    upper = (NU[2:5], MU[2:5], C[2:5])
    for given in (0.5, 0.4, 0.88, 0.875 + 3e-9):
        error = refusal(lambda given=given: one_way(*upper, given))
        assert error.field == "coupling_speed_ratio"
        assert error.expected == "within 0.5 .. 0.875"
    assert one_way(given=0.875).coupling == 0.875
    over = refusal(lambda: one_way([*NU, 1.25], [*MU, 1.0], [*C, -0.01], 1.1))
    assert over.expected == "within 0 .. 1"


@pytest.mark.parametrize(
    ("before", "after", "good"),
    [(1.25, 1.1, True), (1.25, 1.11, False), (0.981, 1.0, True), (0.979, 1.0, False)],
)
def test_stated_between_rows_needs_one_to_be_passed_there(before, after, good):
    mu = changed(MU, r3=before, r4=after)
    if good:
        rows = one_way(mu=mu, given=0.8125)
        assert rows.coupling == 0.8125
        assert rows.kinks == (0.8125,)
        assert rows.torque_ratio[4] == 1.0
        assert rows.speed_ratio[4] == 0.8125
        assert rows.capacity[4] == pytest.approx(0.0155, rel=1e-12)
        assert "kink-row-added" in codes(rows)
        assert "ratio 0.8125:" in rows.notes[0].message
    else:
        error = refusal(lambda: one_way(mu=mu, given=0.8125))
        assert (error.field, error.found) == ("coupling_speed_ratio", 0.8125)


@pytest.mark.parametrize(
    ("mu", "outcome"),
    [(1.019, []), (1.021, ["off"]), (0.981, []), (0.979, ["off"]), (1.099, ["off"]),
     (0.901, ["off"]), (1.101, None), (0.899, None)],
)  # fmt: skip
def test_stated_at_a_row_that_is_off_one_is_noted_and_then_refused(mu, outcome):
    rows = changed(MU, r4=mu, r5=min(mu, 1.0))
    if outcome is None:
        assert refusal(lambda: one_way(mu=rows, given=0.875)).field == "coupling_speed_ratio"
        return
    found = one_way(mu=rows, given=0.875)
    assert found.coupling == 0.875
    assert [c for c in codes(found) if c == "coupling-torque-ratio-off"] == [
        f"coupling-torque-ratio-{word}" for word in outcome
    ]
    for note in found.notes:
        assert note.kind == "warning"


@pytest.mark.parametrize(("mu", "late"), [(1.005, True), (1.006, False)])
def test_stated_behind_a_row_at_one_is_called_late(mu, late):
    for given in (0.875, 0.85):
        rows = one_way(mu=changed(MU, r3=mu), given=given)
        assert ("coupling-stated-late" in codes(rows)) is late
        for note in rows.notes:
            if note.code == "coupling-stated-late":
                assert f"stated as {given:g}" in note.message
                assert "1.005 at 0.75 already" in note.message
    # A row at or before stall says nothing about it.
    back = one_way([-0.5, 0.0, 0.5, 0.875, 0.95], [1.0, 1.0, 1.4, 1.0, 1.0], C[:5], 0.875)
    assert codes(back) == []


# --- fixed and none ------------------------------------------------------------------------------

FALLING = [2.0, 1.75, 1.5, 1.25, 1.0, 0.6]


@pytest.mark.parametrize(("off", "good"), [(0.0199, 1), (-0.0199, 1), (0.0201, 0), (-0.0201, 0)])
def test_stated_unity_point_of_a_fixed_stator_may_be_two_hundredths_off(off, good):
    if good:
        rows = fixed(FALLING, 0.875 + off)
        assert rows.coupling == pytest.approx(0.875, abs=1e-12)
        assert rows.kinks == ()
    else:
        error = refusal(lambda: fixed(FALLING, 0.875 + off))
        assert error.field == "coupling_speed_ratio"
        assert error.expected == "about 0.875"


def test_fixed_stator_notes_where_it_passes_one():
    [note] = fixed(FALLING).notes
    assert (note.code, note.kind) == ("unity-torque-ratio-found", "assumption")
    assert "speed ratio 0.875;" in note.message


def test_unity_of_a_fixed_stator_is_looked_for_between_stall_and_synchronism():
    only_late = fixed([2.0, 1.8, 1.6, 1.4, 1.2, 1.0])
    assert (only_late.coupling, only_late.notes) == (None, ())
    only_stall = fixed([1.0, 0.9, 0.8, 0.7, 0.6, 0.5])
    assert only_stall.coupling is None
    error = refusal(lambda: fixed([2.0, 1.8, 1.6, 1.4, 1.2, 1.1], 0.9))
    assert (error.field, error.expected) == ("coupling_speed_ratio", "no value")


def same_rows(rows, mu):
    for found, given in ((rows.speed_ratio, NU), (rows.torque_ratio, mu), (rows.capacity, C)):
        np.testing.assert_array_equal(found, given)


def test_rows_to_which_none_is_added_are_kept_as_they_are():
    same_rows(fixed(FALLING), FALLING)
    same_rows(fixed(FALLING, 0.875), FALLING)
    same_rows(resolve(NU, np.ones(6), C, "none", None), np.ones(6))
    for given in (None, 0.875):
        same_rows(one_way(given=given), MU)
    for unresolved in (changed(MU, r4=1.2, r5=1.1), np.ones(6)):
        same_rows(one_way(mu=unresolved), unresolved)


def test_added_row_stands_between_the_others_which_are_kept():
    for given in (None, 0.8125):
        rows = one_way(mu=changed(MU, r4=0.99 if given else 0.75, r5=0.75), given=given)
        others = rows.speed_ratio != rows.coupling
        np.testing.assert_array_equal(rows.speed_ratio[others], NU)
        np.testing.assert_array_equal(rows.capacity[others], C)
        assert np.all(np.diff(rows.speed_ratio) > 0)


def test_coupling_without_a_stator_says_so():
    rows = resolve(NU, np.ones(6), C, "none", None)
    assert (rows.coupling, rows.kinks) == (None, ())
    assert rows.notes[0].kind == "assumption"
    error = refusal(lambda: resolve(NU, np.ones(6), C, "none", 0.5))
    assert (error.field, error.found) == ("coupling_speed_ratio", 0.5)
