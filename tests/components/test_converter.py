import copy
import pickle
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from converter_match.components.converter import Converter, ConverterLimits
from converter_match.errors import InputError
from converter_match.notes import Note
from tests.examples import converter

NU = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95, 0.99])
MU = np.array([2.2, 1.95, 1.7, 1.43, 1.12, 1.0, 1.0, 1.0])
C = np.array([0.020, 0.0195, 0.019, 0.017, 0.014, 0.012, 0.006, 0.001])


def unit(nu=NU, mu=MU, c=C, **changes):
    return converter(
        speed_ratio=nu, torque_ratio=mu, capacity=c, **{"coupling_speed_ratio": None} | changes
    )


def codes(component):
    return [note.code for note in component.notes]


@st.composite
def converters(draw):
    """Converters whose torque ratio falls to 1 at a row and whose capacity falls to almost 0."""
    at = draw(st.floats(0.75, 0.93))
    before = draw(st.lists(st.floats(0.03, 0.97), min_size=2, max_size=8, unique=True))
    nu = np.concatenate([[0.0], np.sort(before) * at, [at, 0.96, 0.99]])
    stall, shape = draw(st.floats(1.5, 3.5)), draw(st.floats(0.8, 1.3))
    mu = 1.0 + (stall - 1.0) * np.maximum(1.0 - nu / at, 0.0) ** shape
    # Keep clear of efficiency 1, which the rows of real converters do.
    mu = np.minimum(mu, np.maximum(1.0, 0.9 / np.maximum(nu, 1e-9)))
    c = draw(st.floats(0.001, 0.1)) * (1.0 - nu ** draw(st.floats(2.0, 6.0)))
    try:
        return unit(nu, mu, c)
    except InputError:  # rows too far apart by chance
        return unit()


# --- values --------------------------------------------------------------------------------------


def test_curves_are_exact_at_the_rows_and_efficiency_is_their_product():
    made = unit()
    assert np.array_equal(made.torque_ratio_at(NU), MU)
    assert np.array_equal(made.capacity_at(NU), C)
    assert np.array_equal(made.efficiency_at(NU), NU * MU)
    assert made.domain == (0.0, 0.99)


def test_nothing_is_known_outside_the_rows():
    for ask in (unit().torque_ratio_at, unit().capacity_at, unit().efficiency_at):
        with pytest.raises(InputError, match=r"speed ratio: .*0 \.\. 0.99"):
            ask([0.5, 1.0])


def test_further_kinks_are_used():
    corner = unit(kinks=(0.6,))
    before, after = corner.capacity_curve.with_slope([0.6 - 1e-9, 0.6])[1]
    assert abs(after - before) > 1e-3
    assert corner.capacity_curve.kinks == (0.6, 0.86)
    assert unit(kinks=(0.86,)).capacity_curve.kinks == (0.86,)


# --- efficiency ----------------------------------------------------------------------------------


@given(converters(), st.floats(0.0, 0.6), st.floats(0.7, 0.98))
def test_best_efficiency_is_the_highest_on_a_dense_grid(made, low, high):
    nu, eta = made.best_efficiency(low, high)
    grid = np.linspace(low, high, 2001)
    assert low <= nu <= high
    assert eta == made.efficiency_at(nu)
    assert eta >= np.max(made.efficiency_at(grid)) - 1e-14
    # Between grid points a maximum is missed by about curvature x step^2.
    assert eta <= np.max(made.efficiency_at(grid)) + 1e-3


def test_best_efficiency_of_a_known_parabola():
    # Torque ratio 2 - nu: efficiency nu (2 - nu), highest at the end of the range tried.
    nu = np.linspace(0, 0.9, 10)
    line = unit(nu, 2.0 - nu, 0.02 - 0.02 * nu, stator="fixed")
    assert line.best_efficiency(0.0, 0.7) == pytest.approx((0.7, 0.7 * 1.3))
    # 1.5 - nu: highest inside, at 0.75, where it is 0.75^2.
    line = unit(nu, 1.5 - nu, 0.02 - 0.02 * nu, stator="fixed")
    assert line.best_efficiency() == pytest.approx((0.75, 0.5625), rel=1e-12)


def test_best_efficiency_outside_the_rows_is_refused():
    with pytest.raises(InputError, match=r"no characteristic data.*0 \.\. 0.86"):
        unit(NU[:6], MU[:6], C[:6]).best_efficiency(0.9, 1.0)


@given(converters(), st.floats(0.05, 0.98))
def test_efficiency_crossings_agree_with_a_reference_root_finder(made, level):
    rows = made.characteristic.speed_ratio
    grid = np.unique(np.concatenate([np.linspace(0, rows[-1], 1001), rows]))
    eta = made.efficiency_at(grid) - level
    if np.min(np.abs(eta)) < 1e-9:
        return
    expected = [
        brentq(lambda nu: float(made.efficiency_at(nu)) - level, a, b, xtol=1e-14)
        for (a, b), (at_a, at_b) in zip(pairwise(grid), pairwise(eta), strict=True)
        if at_a * at_b < 0
    ]
    found = made.efficiency_crossings(level)
    np.testing.assert_allclose(made.efficiency_at(found), level, atol=1e-13)
    near = [nu for nu in found if not expected or np.min(np.abs(nu - np.array(expected))) > 1e-8]
    # A level that just tops a crest crosses twice within one step of the grid.
    assert len(near) % 2 == 0
    assert all(np.min(np.abs(found - nu)) < 1e-8 for nu in expected)


def test_efficiency_crossings_of_a_known_parabola():
    nu = np.linspace(0, 0.9, 10)
    line = unit(nu, 1.5 - nu, 0.02 - 0.02 * nu, stator="fixed")
    # nu (1.5 - nu) = 0.5 at 0.5 and 1.0 (outside the rows); 0.56 at 0.7 and 0.8.
    assert line.efficiency_crossings(0.5) == pytest.approx([0.5], abs=1e-12)
    assert line.efficiency_crossings(0.56) == pytest.approx([0.7, 0.8], abs=1e-12)
    assert line.efficiency_crossings(0.6).size == 0
    # The crest itself is touched once, if rounding lets it be touched at all.
    assert line.efficiency_crossings(0.5625).size <= 2


def test_beyond_the_coupling_point_efficiency_is_the_speed_ratio():
    made = unit()
    assert made.efficiency_crossings(0.97) == pytest.approx([0.97], abs=1e-12)
    # Falling just before the coupling point, rising after it: the level is met on both sides.
    assert made.efficiency_crossings(0.88).size == 3


# --- validation ----------------------------------------------------------------------------------


def changed(array, row, value):
    array = array.copy()
    array[row] = value
    return array


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"nu": changed(NU, 3, 0.3)}, "speed_ratio does not increase at row 4"),
        ({"nu": changed(NU, 3, 0.4)}, "speed_ratio repeats at row 4"),
        ({"mu": changed(MU, 2, np.nan)}, "torque_ratio: row 3 is not a finite number"),
        ({"c": changed(C, 7, np.inf)}, "capacity: row 8 is not a finite number"),
        ({"mu": MU[:-1]}, "7 values of torque_ratio for 8 of speed_ratio"),
        ({"c": changed(C, 1, 0.0)}, r"capacity \(row 2\): the impeller must absorb torque"),
        ({"c": changed(C, 1, -0.01)}, r"capacity \(row 2\): .*-0.01 at speed ratio 0.2"),
        ({"mu": changed(MU, 7, -0.1)}, r"torque_ratio \(row 8\): torque ratio below zero"),
        (
            {"mu": changed(MU, 4, 1.26)},
            r"torque_ratio \(row 5\): efficiency above 1.*at most 1.2500",
        ),
        ({"mu": list("abcdefgh")}, "torque_ratio: not a list of numbers"),
        ({"stator": "one-wey"}, "stator: not a known choice.*did you mean 'one-way'"),
        ({"stator": None}, "stator: not a known choice"),
        ({"stator": "none"}, r"torque_ratio \(row 1\): without a stator the torque ratio is 1"),
        ({"stator": "none", "mu": np.ones(8), "coupling_speed_ratio": 0.9}, "a fluid coupling"),
        ({"kinks": (0.83,)}, "kink must be one of the given points.*nearest given point is 0.8"),
        ({"kinks": (0.0,)}, "kink must be one of the given points, inside the range"),
        ({"profile_diameter": 0.0}, "profile_diameter: out of range; found 0"),
        ({"oil_density": np.nan}, "oil_density: out of range"),
        ({"impeller_inertia": -1.0}, "impeller_inertia: out of range"),
        ({"turbine_inertia": "0.2"}, "turbine_inertia: not a number"),
    ],
)
def test_bad_data_are_refused_by_name(fields, message):
    with pytest.raises(InputError, match=message):
        unit(**fields)


@pytest.mark.parametrize("name", ["input_torque", "input_speed", "input_power", "oil_temperature"])
def test_limits_must_be_above_zero(name):
    with pytest.raises(InputError, match=f"limits.{name}: out of range"):
        ConverterLimits(**{name: 0.0})


def test_efficiency_above_one_between_rows_is_refused():
    # Each row is possible (efficiency 0.95 and 1), the curve between them gives 1.19 at 0.77.
    with pytest.raises(
        InputError, match=r"torque_ratio \(row 2\) .. torque_ratio \(row 3\): efficiency abo"
    ):
        unit([0.0, 0.5, 1.0], [2.0, 1.9, 1.0], [0.02, 0.018, 0.0])


def test_energy_is_conserved_in_overrun_too():
    # At and beyond speed ratio 1 with capacity below zero the turbine drives: it must give at least
    # what the impeller returns, nu mu >= 1.
    nu, c = np.append(NU, [1.0, 1.1]), np.append(C, [-0.001, -0.01])
    overrun = unit(nu, np.append(MU, [1.0, 1.0]), c)
    assert overrun.efficiency_at(1.1) == pytest.approx(1.1)
    for last in ([0.5, 1.0], [1.0, 0.9]):
        with pytest.raises(InputError, match="in overrun the heat would be below zero"):
            unit(nu, np.append(MU, last), c)
    # A fixed stator drags: the turbine puts in more than the impeller returns.
    assert unit(nu, np.append(MU, [1.3, 1.5]), c).capacity_at(1.0) == -0.001


def test_rows_with_the_turbine_turning_backwards_are_taken():
    made = unit(np.append([-0.3], NU), np.append([2.6], MU), np.append([0.021], C))
    assert made.efficiency_at(-0.3) == pytest.approx(-0.78)


def test_a_fluid_coupling_has_torque_ratio_one():
    made = unit(mu=np.ones(8), stator="none")
    assert made.coupling is None
    assert codes(made) == ["no-coupling-point"]
    assert np.array_equal(made.efficiency_at([0.3, 0.97]), [0.3, 0.97])


# --- a converter is a value ----------------------------------------------------------------------


def test_equal_content_is_equal_and_hashes_alike():
    assert unit() == unit(NU.tolist(), list(MU), tuple(C))
    assert hash(unit()) == hash(unit(NU.tolist()))
    assert unit() != "converter"
    assert len({unit(), unit(), unit(c=C * 1.001)}) == 2


@pytest.mark.parametrize(
    "other",
    [
        {"id": "other"},
        {"c": changed(C, 7, np.nextafter(C[7], 1))},
        {"coupling_speed_ratio": 0.86},
        {"kinks": (0.6,)},
        {"profile_diameter": 0.346},
        {"oil_density": None},
        {"limits": ConverterLimits(input_torque=900.0)},
        {"interface": (("housing", "2"),)},
        {"given_notes": (Note("a", "b"),)},
    ],
    ids=lambda fields: next(iter(fields)),
)
def test_any_difference_makes_it_another_converter(other):
    assert unit() != unit(**other)


def test_lists_are_frozen_into_tuples():
    made = unit(kinks=[0.6], interface=[["housing", "2"]], given_notes=[Note("a", "b")])
    assert made == unit(kinks=(0.6,), interface=(("housing", "2"),), given_notes=(Note("a", "b"),))
    assert isinstance(hash(made), int)
    assert made.interface == (("housing", "2"),)


def test_arrays_are_copies_and_read_only():
    mine = C.copy()
    made = unit(c=mine)
    mine[0] = 99.0
    assert made.capacity_at(0.0) == C[0]
    with pytest.raises(ValueError, match="read-only"):
        made.capacity[0] = 1.0
    with pytest.raises(AttributeError):
        made.capacity = mine


@pytest.mark.parametrize("carry", [copy.deepcopy, lambda c: pickle.loads(pickle.dumps(c))])
def test_converter_survives_copying_and_stays_read_only(carry):
    made = unit(limits=ConverterLimits(input_torque=900.0), kinks=(0.6,))
    made.best_efficiency()  # fills what is cached
    back = carry(made)
    assert back == made
    assert back.characteristic.kinks == made.characteristic.kinks
    assert back.notes == made.notes
    nu = np.linspace(0, 0.99, 50)
    assert np.array_equal(back.capacity_at(nu), made.capacity_at(nu))
    assert not back.capacity.flags.writeable


def test_replace_validates_again():
    assert unit().replace(oil_density=870.0).oil_density == 870.0
    with pytest.raises(InputError, match="oil_density"):
        unit().replace(oil_density=-1.0)


# --- scaling -------------------------------------------------------------------------------------


@given(st.floats(0.5, 2.0), st.floats(700, 1000))
def test_scaled_capacity_goes_with_density_and_diameter_to_the_fifth(ratio, density):
    made = unit()
    bigger = made.scaled(profile_diameter=0.345 * ratio, oil_density=density)
    np.testing.assert_allclose(bigger.capacity, C * ratio**5 * density / 840.0, rtol=1e-14)
    assert np.array_equal(bigger.torque_ratio, made.torque_ratio)
    assert (bigger.profile_diameter, bigger.oil_density) == (0.345 * ratio, density)
    # Dimensionless, it is the same converter: that is what similar means.
    lam = [c.capacity_in("performance_coefficient", NU) for c in (made, bigger)]
    np.testing.assert_allclose(lam[1], lam[0], rtol=1e-14)


def test_scaling_is_noted_as_an_estimate_and_far_scaling_as_a_stretch():
    near = unit().scaled(profile_diameter=0.345 * 1.09)
    assert [code for code in codes(near) if code.startswith("scaled")] == ["scaled-by-diameter"]
    far = unit().scaled(profile_diameter=0.345 * 1.11, oil_density=870.0)
    assert [code for code in codes(far) if code.startswith("scaled")] == [
        "scaled-by-diameter",
        "scaled-far",
        "scaled-by-density",
    ]
    assert "Estimate" in far.given_notes[0].message
    assert "coupling-found" in codes(far)


def test_what_belongs_to_the_size_is_dropped_with_it():
    made = unit(
        limits=ConverterLimits(input_torque=900.0, oil_temperature=393.0),
        impeller_inertia=0.2,
        turbine_inertia=0.1,
        interface=(("flex plate pattern", "as measured"),),
    )
    bigger = made.scaled(profile_diameter=0.36)
    assert bigger.limits == ConverterLimits(oil_temperature=393.0)
    assert bigger.impeller_inertia is bigger.turbine_inertia is None
    assert bigger.interface == ()
    thicker = made.scaled(oil_density=870.0)
    assert thicker.limits == made.limits
    assert (thicker.impeller_inertia, thicker.interface) == (0.2, made.interface)


@pytest.mark.parametrize("what", ["profile_diameter", "oil_density"])
def test_scaling_needs_to_know_the_present_value(what):
    with pytest.raises(InputError, match=f"test-converter: {what}: scaling needs the present"):
        unit(**{what: None}).scaled(**{what: 1.0})
    with pytest.raises(InputError, match=f"{what}: out of range"):
        unit().scaled(**{what: 0.0})


def test_every_field_takes_part_in_the_fingerprint():
    changes = {"name": "x", "source": "y", "stator": "fixed", "impeller_inertia": 0.1}
    seen = {unit().fingerprint(), *(unit(**{k: v}).fingerprint() for k, v in changes.items())}
    assert len(seen) == 1 + len(changes)
    assert Converter.__hash__ is not None


def test_rows_at_almost_the_same_speed_ratio_are_refused():
    with pytest.raises(InputError, match="almost the same speed ratio"):
        converter(
            speed_ratio=[0, 0.4, 0.4 + 5e-17 + 1e-12, 0.86, 0.95],
            torque_ratio=[2.2, 1.7, 1.7, 1.0, 1.0],
            capacity=[0.03, 0.03, 0.03, 0.02, 0.01],
        )


@pytest.mark.parametrize("far", [1264.0, -1e9])
def test_speed_ratio_that_no_gearing_makes_is_refused(far):
    # An answer has a point every hundredth of speed ratio: this one would have no end.
    nu = NU.copy()
    nu[0 if far < 0 else -1] = far
    with pytest.raises(InputError, match=r"speed_ratio \(row \d\): out of range; found"):
        unit(nu)


def test_data_that_begin_past_stall_are_refused_where_stall_is_needed():
    converter().require_stall()
    rows = slice(1, None)
    past = converter(
        speed_ratio=converter().speed_ratio[rows],
        torque_ratio=converter().torque_ratio[rows],
        capacity=converter().capacity[rows],
    )
    with pytest.raises(InputError, match="does not include stall") as caught:
        past.require_stall()
    assert (caught.value.source, caught.value.found) == ("test-converter", 0.2)


def test_oil_volume_goes_into_the_converter_and_is_lost_with_another_size():
    # A cylinder as wide as the profile and half as long holds pi/8 D^3: 16.1 L at 345 mm.
    with pytest.raises(InputError, match="more oil than the converter can hold"):
        converter(oil_volume=0.017)
    full = converter(oil_volume=0.007)
    assert full.scaled(profile_diameter=0.345).oil_volume == 0.007
    assert full.scaled(profile_diameter=0.36).oil_volume is None
    assert converter().fingerprint() != full.fingerprint()
