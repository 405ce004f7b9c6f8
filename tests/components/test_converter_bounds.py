"""A converter's rows at the edge of what is taken, and what scaling keeps, drops and says."""

import math

import numpy as np
import pytest

from converter_match.components.capacity_forms import FORMS, CapacityBasis, from_capacity
from converter_match.components.converter import ConverterLimits
from converter_match.errors import InputError
from converter_match.notes import Note
from tests.examples import converter

NU = np.array([0.0, 0.25, 0.5, 0.75, 0.875, 1.0])
MU = np.array([2.0, 1.75, 1.5, 1.25, 1.0, 1.0])
C = np.array([0.020, 0.019, 0.018, 0.016, 0.012, 0.004])


def unit(nu=NU, mu=MU, c=C, **changes):
    fields = {"coupling_speed_ratio": None} | changes
    return converter(speed_ratio=nu, torque_ratio=mu, capacity=c, **fields)


def changed(values, row, value):
    new = np.array(values, float)
    new[row] = value
    return new


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


def codes(notes):
    return [note.code for note in notes]


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"stator": "oneway"}, "stator"),
        ({"nu": changed(NU, 2, 0.2)}, "speed_ratio"),
        ({"nu": ["x"] * 6}, "speed_ratio"),
        ({"mu": ["x"] * 6}, "torque_ratio"),
        ({"c": ["x"] * 6}, "capacity"),
        ({"mu": MU[:-1]}, "torque_ratio"),
        ({"c": C[:-1]}, "capacity"),
        ({"mu": changed(MU, 2, np.nan)}, "torque_ratio"),
        ({"c": changed(C, 2, np.nan)}, "capacity"),
        ({"nu": changed(NU, 5, 100.5)}, "speed_ratio[5]"),
        ({"nu": changed(NU, 0, -100.5)}, "speed_ratio[0]"),
        ({"nu": changed(NU, 2, 0.25 + 9e-7)}, "speed_ratio[2]"),
        ({"c": changed(C, 2, 0.0)}, "capacity[2]"),
        ({"c": changed(C, 0, -1.0)}, "capacity[0]"),
        ({"mu": changed(MU, 5, -5e-324)}, "torque_ratio[5]"),
        ({"mu": changed(MU, 3, 1.34)}, "torque_ratio[3]"),
        ({"mu": changed(MU, 5, 1.0 + 2e-9)}, "torque_ratio[5]"),
        ({"stator": "none", "mu": [1, 1, 1, 1.06, 1, 1]}, "torque_ratio[3]"),
        ({"stator": "none", "mu": [1, 1, 0.97, 1, 1, 0.94]}, "torque_ratio[5]"),
    ],
)
def test_bad_rows_are_refused_by_column_and_row(fields, field):
    assert refusal(lambda: unit(**fields)).field == field


@pytest.mark.parametrize(
    "fields",
    [
        {"nu": changed(NU, 0, -100.0)},
        {"nu": changed(NU, 2, 0.25 + 1.1e-6)},
        {"c": changed(C, 5, 0.0)},  # at speed ratio 1 the impeller need not absorb torque
        {"mu": changed(MU, 5, 0.0)},
        {"mu": changed(MU, 5, 1.0 + 0.5e-9)},
        {"stator": "none", "mu": [1.04, 1, 0.96, 1, 1, 1]},
    ],
)
def test_rows_at_the_edge_of_what_is_right_are_taken(fields):
    unit(**fields)


def test_kinds_of_overrun_rows():
    nu, c = [*NU, 1.25], [*C, -0.01]
    # Turbine power / impeller power: 1.25 mu has to be 1 or more where the turbine drives.
    for good in (0.8, 1.0, 5.0):
        unit(nu, [*MU, good], c)
    error = refusal(lambda: unit(nu, [*MU, 0.79], c))
    assert error.field == "torque_ratio[6]"
    # Above synchronism with capacity above zero the impeller drives: efficiency up to 1.
    unit(nu, [*MU, 0.8], [*C, 0.002])
    assert refusal(lambda: unit(nu, [*MU, 0.81], [*C, 0.002])).field == "torque_ratio[6]"
    # A torque ratio below zero there: no power from the turbine, all heat.
    unit(nu, [*MU, -0.2], [*C, 0.002])


def test_efficiency_between_rows_is_held_to_one_and_the_rows_are_named():
    # A straight torque ratio from 2 to 1.25 at 0.8: 1.0 there; between, at nu = 0.75 by
    # nu (2 - 0.9375 nu): 0.97. Rows that bulge: 1.9 held to 0.5, then down to 1.2 at 0.8.
    error = refusal(lambda: unit([0.0, 0.2, 0.5, 0.8, 0.95], [2.0, 1.99, 1.98, 1.24, 1.0], C[:5]))
    assert error.field == "torque_ratio[2] .. torque_ratio[3]"
    nu = float(error.found.split()[-1])
    assert 0.5 < nu < 0.8
    assert float(error.found.split("= ")[1].split()[0]) > 1.0


def test_rows_that_are_all_behind_stall_or_in_overrun_have_no_efficiency_to_check():
    back = unit([-0.9, -0.5, -0.1], [2.4, 2.2, 2.0], [0.02, 0.021, 0.02])
    assert back.domain == (-0.9, -0.1)
    driven = unit([1.1, 1.5, 2.0], [1.0, 1.0, 1.0], [-0.01, -0.02, -0.03])
    assert driven.domain == (1.1, 2.0)


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.8), (-0.3, 0.8), (-0.3, 0.0)])
def test_stall_lies_inside_the_rows_ends_included(low, high):
    nu = np.linspace(low, high, 5)
    unit(nu, np.full(5, 1.2), np.full(5, 0.02)).require_stall()


@pytest.mark.parametrize(("low", "high"), [(5e-3, 0.8), (-0.3, -1e-3)])
def test_data_without_stall_are_refused_by_their_source(low, high):
    nu = np.linspace(low, high, 5)
    made = unit(nu, np.full(5, 1.2), np.full(5, 0.02))
    error = refusal(made.require_stall)
    assert (error.source, error.field) == ("test-converter", "speed_ratio")
    assert error.found == low


def test_single_precision_speed_ratios_are_computed_in_double():
    made = unit()
    asked = np.float32([0.1, 0.7])
    exact = asked.astype(float)
    for name in ("torque_ratio_at", "capacity_at", "efficiency_at"):
        at = getattr(made, name)
        np.testing.assert_array_equal(at(asked), at(exact))
        assert at(asked).dtype == np.float64
        assert at([[0.1], [0.7]]).shape == (2, 1)
    np.testing.assert_allclose(
        made.efficiency_at(exact), exact * made.torque_ratio_at(exact), rtol=1e-15
    )


@pytest.mark.parametrize("form", FORMS)
def test_capacity_comes_in_every_form(form):
    made = unit()
    basis = CapacityBasis(
        reference_speed=150.0,
        reference_torque=120.0,
        profile_diameter=made.profile_diameter,
        oil_density=made.oil_density,
    )
    nu = np.array([0.0, 0.3, 0.9])
    expected = from_capacity(form, made.capacity_at(nu), basis)
    shown = made.capacity_in(form, nu, reference_speed=150.0, reference_torque=120.0)
    np.testing.assert_array_equal(shown, expected)


@pytest.mark.parametrize(
    ("form", "changes", "field"),
    [
        ("torque_at_speed", {}, "capacity.reference_speed"),
        ("speed_at_torque", {}, "capacity.reference_torque"),
        ("performance_coefficient", {"profile_diameter": None}, "profile_diameter"),
        ("performance_coefficient", {"oil_density": None}, "oil_density"),
    ],
)
def test_form_that_lacks_its_basis_is_refused(form, changes, field):
    assert refusal(lambda: unit(**changes).capacity_in(form, 0.0)).field == field


# --- efficiency ----------------------------------------------------------------------------------


def straight(top=1.5):
    """Torque ratio top - nu on ten rows: efficiency nu (top - nu)."""
    nu = np.linspace(0.0, 0.9, 10)
    return unit(nu, top - nu, 0.02 - 0.02 * nu, stator="fixed")


@pytest.mark.parametrize(
    ("low", "high", "at"),
    [(0.0, 1.0, 0.75), (0.1, 0.5, 0.5), (0.8, 0.88, 0.8), (0.75, 0.75, 0.75), (-1.0, 5.0, 0.75)],
)
def test_best_efficiency_lies_inside_or_at_an_end(low, high, at):
    nu, eta = straight().best_efficiency(low, high)
    assert (nu, eta) == pytest.approx((at, at * (1.5 - at)), rel=1e-12)
    assert isinstance(nu, float)
    assert isinstance(eta, float)


@pytest.mark.parametrize(("low", "high"), [(0.9001, 1.0), (-1.0, -0.01), (0.6, 0.5)])
def test_range_without_data_is_refused(low, high):
    error = refusal(lambda: straight().best_efficiency(low, high))
    assert error.field == "speed_ratio"
    assert "0 .. 0.9" in error.expected


def test_range_that_touches_the_data_is_answered_at_the_end():
    assert straight().best_efficiency(0.9, 1.0)[0] == 0.9
    assert straight().best_efficiency(-1.0, 0.0) == (0.0, 0.0)


@pytest.mark.parametrize("level", [0.0, 0.3, 0.54, 0.56, 0.5625, 0.6])
def test_efficiency_crossings_are_the_roots_of_the_quadratic(level):
    # nu^2 - 1.5 nu + level = 0, inside the rows.
    roots = np.roots([1.0, -1.5, level])
    expected = sorted({float(r.real) for r in roots if abs(r.imag) < 1e-9 and r.real <= 0.9 + 1e-9})
    found = straight().efficiency_crossings(level)
    if level == 0.5625:  # touched, not crossed: one point or the two that rounding makes of it
        np.testing.assert_allclose(found, 0.75, atol=1e-6)
    else:
        np.testing.assert_allclose(found, expected, atol=1e-9)


def test_efficiency_crossings_keep_to_nothing_to_one():
    # Torque ratio 1.2 from -0.5 to 0.8: efficiency 1.2 nu, -0.24 at -0.2.
    made = unit(np.linspace(-0.5, 0.8, 6), np.full(6, 1.2), np.full(6, 0.02))
    assert made.efficiency_crossings(-0.24).size == 0
    np.testing.assert_allclose(made.efficiency_crossings(0.24), [0.2], rtol=1e-12)
    np.testing.assert_allclose(made.efficiency_crossings(0.0), [0.0], atol=1e-12)
    over = unit([0.0, 0.5, 1.0, 1.5], [1.0, 1.0, 1.0, 1.0], [0.02, 0.01, 0.0, -0.01])
    assert over.efficiency_crossings(1.2).size == 0
    np.testing.assert_allclose(over.efficiency_crossings(1.0), [1.0], rtol=1e-12)


# --- scaling -------------------------------------------------------------------------------------

SIZED = {
    "limits": ConverterLimits(
        input_torque=900.0, input_speed=260.0, input_power=2e5, oil_temperature=390.0
    ),
    "impeller_inertia": 0.4,
    "turbine_inertia": 0.1,
    "interface": (("flange", "SAE 3"),),
}


@pytest.mark.parametrize(("factor", "good"), [(0.1, True), (10.0, True), (0.0999, False),
                                             (10.01, False)])  # fmt: skip
def test_size_farther_than_ten_times_is_no_size_of_the_family(factor, good):
    made = unit(profile_diameter=0.125)
    if good:
        found = made.scaled(profile_diameter=0.125 * factor)
        np.testing.assert_allclose(found.capacity, C * factor**5, rtol=1e-14)
    else:
        error = refusal(lambda: made.scaled(profile_diameter=0.125 * factor))
        assert error.field == "profile_diameter"
        assert error.found == f"{125 * factor:.4g} mm"
        assert error.expected.startswith("within 10 times the diameter")
        assert error.expected.endswith("125 mm")


def test_another_size_drops_what_belongs_to_the_size_and_says_so():
    told = Note("told", "Told.")
    made = unit(**SIZED, profile_diameter=0.5, given_notes=(told,))
    found = made.scaled(profile_diameter=0.525)
    np.testing.assert_allclose(found.capacity, C * 1.05**5, rtol=1e-14)
    assert (found.profile_diameter, found.oil_density) == (0.525, made.oil_density)
    assert found.limits == ConverterLimits(oil_temperature=390.0)
    assert (found.impeller_inertia, found.turbine_inertia, found.interface) == (None, None, ())
    assert codes(found.given_notes) == ["told", "scaled-by-diameter", "size-limits-dropped"]
    assert {note.kind for note in found.given_notes[1:]} == {"assumption"}
    assert "ratio 1.0500 to the fifth" in found.given_notes[1].message
    only_oil = unit(profile_diameter=0.5, limits=ConverterLimits(oil_temperature=390.0))
    assert "size-limits-dropped" not in codes(only_oil.scaled(profile_diameter=0.525).given_notes)


def test_the_same_size_keeps_everything():
    made = unit(**SIZED, profile_diameter=0.5)
    found = made.scaled(profile_diameter=0.5)
    assert found.replace(given_notes=()) == made
    assert codes(found.given_notes) == ["scaled-by-diameter"]
    assert made.scaled() == made


def test_another_oil_keeps_the_size_and_changes_the_capacity_in_proportion():
    made = unit(**SIZED, profile_diameter=0.5, oil_density=800.0)
    found = made.scaled(oil_density=880.0)
    np.testing.assert_allclose(found.capacity, C * 1.1, rtol=1e-14)
    assert found.replace(capacity=C, oil_density=800.0, given_notes=()) == made
    assert codes(found.given_notes) == ["scaled-by-density"]
    assert "density ratio 1.1000" in found.given_notes[0].message
    both = made.scaled(profile_diameter=0.55, oil_density=880.0)
    np.testing.assert_allclose(both.capacity, C * 1.1**6, rtol=1e-14)
    assert (both.profile_diameter, both.oil_density) == (0.55, 880.0)


@pytest.mark.parametrize(("ratio", "far"), [(1.099, 0), (1.101, 1), (0.901, 0), (0.899, 1)])
def test_ten_percent_of_diameter_is_a_stretch(ratio, far):
    notes = unit(profile_diameter=0.5).scaled(profile_diameter=0.5 * ratio).given_notes
    stretched = [note for note in notes if note.code == "scaled-far"]
    assert len(stretched) == far
    for note in stretched:
        assert note.kind == "warning"
        assert f"by {100 * (ratio - 1):+.0f} %: beyond about 10 %" in note.message


@pytest.mark.parametrize("name", ["profile_diameter", "oil_density"])
def test_scaling_names_what_it_lacks(name):
    error = refusal(lambda: unit(**{name: None}).scaled(**{name: 0.4}))
    assert (error.source, error.field) == ("test-converter", name)
    assert name.replace("_", " ") in error.problem


def test_lists_become_tuples_and_nan_sizes_are_refused():
    made = unit(kinks=[0.5], interface=[["flange", "SAE 3"]], given_notes=[])
    assert (made.kinks, made.interface, made.given_notes) == ((0.5,), (("flange", "SAE 3"),), ())
    assert refusal(lambda: unit().scaled(profile_diameter=math.nan)).field == "profile_diameter"


def test_efficiency_is_checked_up_to_the_last_row_at_which_the_impeller_drives():
    # From 1.98 at 0.5 to 1 at 1, where the impeller takes nothing: above 1 between the two.
    error = refusal(lambda: unit([0.0, 0.25, 0.5, 1.0], [2.0, 1.99, 1.98, 1.0], [*C[:3], 0.0]))
    assert error.field == "torque_ratio[2] .. torque_ratio[3]"
    # Between there and overrun nobody knows which of the two drives.
    unit([0.0, 0.5, 0.9, 1.2], [2.0, 1.4, 1.0, 5.0], [0.02, 0.018, 0.01, -0.01])
