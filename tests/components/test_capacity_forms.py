from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.capacity_forms import (
    AS_SPEED,
    AT_SPEED,
    AT_TORQUE,
    DIMENSIONS,
    FORMS,
    WORDS,
    CapacityBasis,
    from_capacity,
    to_capacity,
)
from converter_match.errors import InputError
from tests.examples import RPM, converter

BASIS = CapacityBasis(
    reference_speed=1000 * RPM,
    profile_diameter=0.345,
    oil_density=840.0,
    reference_torque=100.0,
)
positive = st.floats(1e-6, 1e6)


@given(
    st.sampled_from(FORMS),
    st.sampled_from(FORMS),
    st.lists(positive, min_size=1, max_size=5),
    st.builds(
        CapacityBasis,
        reference_speed=st.floats(10, 500),
        profile_diameter=st.floats(0.1, 1.0),
        oil_density=st.floats(700, 1000),
        reference_torque=st.floats(10, 1000),
    ),
)
def test_any_form_to_any_other_and_back(first, second, values, basis):
    there = from_capacity(second, to_capacity(first, values, basis), basis)
    back = from_capacity(first, to_capacity(second, there, basis), basis)
    np.testing.assert_allclose(back, values, rtol=1e-14)


def test_each_form_is_its_definition():
    omega, torque = 150.0, 340.0
    capacity = torque / omega**2
    reference = BASIS.reference_speed
    # The same impeller torque, worked out for the reference speed by T ~ omega^2.
    at_reference = torque * (reference / omega) ** 2
    expected = {
        "capacity_coefficient": torque / omega**2,
        "k_factor": omega / np.sqrt(torque),  # definition of 40 CFR 1037.570
        "torque_at_speed": at_reference,
        "power_at_speed": at_reference * reference,
        # T = lambda rho omega^2 D^5 (VDI 2153; from memory)
        "performance_coefficient": torque / (840.0 * omega**2 * 0.345**5),
        # The speed at which the reference torque is absorbed, by T ~ omega^2.
        "speed_at_torque": omega * np.sqrt(BASIS.reference_torque / torque),
    }
    assert set(expected) == set(FORMS)
    for form, value in expected.items():
        np.testing.assert_allclose(from_capacity(form, capacity, BASIS), value, rtol=1e-14)
        np.testing.assert_allclose(to_capacity(form, value, BASIS), capacity, rtol=1e-14)


@given(st.floats(0.1, 0.6), st.floats(0.5, 2.0), st.floats(700, 1000), st.floats(0.8, 1.2))
def test_similar_converters_share_lambda_so_capacity_goes_with_density_and_diameter_to_the_fifth(
    diameter, size, density, thinner
):
    def capacity(d, rho):
        basis = CapacityBasis(profile_diameter=d, oil_density=rho)
        return float(to_capacity("performance_coefficient", 0.004, basis))

    ratio = capacity(size * diameter, thinner * density) / capacity(diameter, density)
    assert ratio == pytest.approx(size**5 * thinner, rel=1e-13)


def test_k_factor_falls_with_the_square_root_of_capacity():
    # Four times the torque at the same speed: half the K.
    one, four = from_capacity("k_factor", [0.01, 0.04], BASIS)
    assert one / four == pytest.approx(2.0, rel=1e-15)


def test_torque_and_power_columns_scale_with_speed_squared_and_cubed():
    fast = CapacityBasis(reference_speed=2 * BASIS.reference_speed)
    assert from_capacity("torque_at_speed", 0.02, fast) == 4 * from_capacity(
        "torque_at_speed", 0.02, BASIS
    )
    assert from_capacity("power_at_speed", 0.02, fast) == 8 * from_capacity(
        "power_at_speed", 0.02, BASIS
    )


@pytest.mark.parametrize("shape", [(), (0,), (3,), (2, 3)])
@pytest.mark.parametrize("form", FORMS)
def test_shape_is_kept(form, shape):
    assert to_capacity(form, np.full(shape, 2.0), BASIS).shape == shape
    assert from_capacity(form, np.full(shape, 2.0), BASIS).shape == shape


@pytest.mark.parametrize("zero", [0.0, -0.0])
def test_k_factor_is_infinite_where_nothing_is_absorbed(zero):
    assert from_capacity("k_factor", zero, BASIS) == np.inf
    assert to_capacity("k_factor", np.inf, BASIS) == 0.0


@pytest.mark.parametrize("form", [form for form in FORMS if form not in AS_SPEED])
def test_overrun_can_be_written_in_every_form_but_k(form):
    assert to_capacity(form, from_capacity(form, -0.01, BASIS), BASIS) == pytest.approx(-0.01)


def test_overrun_has_no_speed_at_a_torque():
    with pytest.raises(InputError, match=r"no input speed where the capacity is below zero.*-0.01"):
        from_capacity("speed_at_torque", [0.01, -0.01], BASIS)


def test_overrun_has_no_k_factor():
    with pytest.raises(InputError, match=r"no K-factor where the capacity is below zero.*-0.01"):
        from_capacity("k_factor", [0.01, -0.01], BASIS)


@pytest.mark.parametrize("value", [0.0, -70.0, np.nan])
def test_k_factor_not_above_zero_is_refused(value):
    with pytest.raises(InputError, match=r"capacity.values: a K-factor must be above zero"):
        to_capacity("k_factor", [70.0, value], BASIS)


@pytest.mark.parametrize(
    ("form", "given", "missing"),
    [
        ("torque_at_speed", {}, "capacity.reference_speed"),
        ("power_at_speed", {"oil_density": 840.0}, "capacity.reference_speed"),
        ("performance_coefficient", {"oil_density": 840.0}, "profile_diameter"),
        ("performance_coefficient", {"profile_diameter": 0.3}, "oil_density"),
        ("speed_at_torque", {"reference_speed": 100.0}, "capacity.reference_torque"),
    ],
)
def test_missing_basis_is_named(form, given, missing):
    for convert in (to_capacity, from_capacity):
        with pytest.raises(InputError, match=f"{missing}: .*{form}"):
            convert(form, 1.0, CapacityBasis(**given))


def test_every_form_has_its_dimension_and_its_words():
    assert set(DIMENSIONS) == set(WORDS) == set(FORMS)


@pytest.mark.parametrize("form", FORMS)
def test_a_reference_speed_moves_the_forms_that_hold_at_one_and_no_other(form):
    slow, fast = (
        float(from_capacity(form, 0.02, replace(BASIS, reference_speed=speed)))
        for speed in (100.0, 200.0)
    )
    # T = C omega^2 and P = T omega, so twice the speed is 4 times the torque, 8 times the power.
    expected = {"torque_at_speed": 4.0, "power_at_speed": 8.0}.get(form, 1.0)
    assert fast / slow == pytest.approx(expected, rel=1e-12)
    assert (form in AT_SPEED) == (expected > 1.0)


@pytest.mark.parametrize("form", FORMS)
def test_a_reference_torque_moves_the_form_that_holds_at_one_and_no_other(form):
    light, heavy = (
        float(from_capacity(form, 0.02, replace(BASIS, reference_torque=torque)))
        for torque in (100.0, 400.0)
    )
    # T = C omega^2, so four times the torque is twice the speed.
    expected = 2.0 if form == "speed_at_torque" else 1.0
    assert heavy / light == pytest.approx(expected, rel=1e-12)
    assert (form in AT_TORQUE) == (expected > 1.0)


def test_unknown_form_names_the_nearest():
    for convert in (to_capacity, from_capacity):
        with pytest.raises(InputError, match="did you mean 'k_factor'"):
            convert("k-factor", 1.0, BASIS)


@pytest.mark.parametrize(
    "name", ["reference_speed", "profile_diameter", "oil_density", "reference_torque"]
)
@pytest.mark.parametrize("value", [0.0, -1.0, np.nan, np.inf, "840"])
def test_basis_must_be_above_zero(name, value):
    with pytest.raises(InputError, match=name):
        CapacityBasis(**{name: value})


def test_converter_shows_its_capacity_in_every_form():
    unit = converter()
    nu = np.array([0.0, 0.43, 0.86])
    for form in FORMS:
        shown = unit.capacity_in(form, nu, reference_speed=1000 * RPM, reference_torque=100.0)
        np.testing.assert_allclose(
            to_capacity(form, shown, BASIS), unit.capacity_at(nu), rtol=1e-14
        )
    with pytest.raises(InputError, match="reference_speed"):
        unit.capacity_in("torque_at_speed", nu)
    with pytest.raises(InputError, match="profile_diameter"):
        converter(profile_diameter=None).capacity_in("performance_coefficient", nu)
