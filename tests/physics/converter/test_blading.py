"""The mean-streamline model against its own laws, a second derivation, and the usual spans.

No published parameter set could be verified, so no curve is compared with one.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from converter_match.components.blading import BladeRow
from converter_match.errors import InputError
from converter_match.physics.converter.blading import (
    characteristic_from_blading,
    coupling_speed_ratio,
    operate,
)
from converter_match.physics.converter.equations import (
    backward,
    circuit_of,
    element_torques,
    energy_residual,
    loss_powers,
)
from tests.blading_examples import blading, bladings, published_energy_equation, row

RPM = np.pi / 30
NU = np.concatenate([np.linspace(-0.5, 0.98, 38), [1.0, 1.05, 1.2]])


# --- identities ----------------------------------------------------------------------------------


@given(bladings())
def test_element_torques_sum_to_zero(shape):
    circuit = circuit_of(shape)
    speeds = np.array([180.0, 110.0, 35.0])[: len(circuit.rows)]
    torques = element_torques(circuit, 0.07, speeds)
    assert sum(torques) == pytest.approx(0.0, abs=1e-12 * np.max(np.abs(torques)))


@given(bladings())
def test_power_balance_is_the_energy_equation(shape):
    """At any flow and speeds, steady or not: shaft power less losses = rho Q times the residual."""
    for circuit in (circuit_of(shape), backward(circuit_of(shape))):
        speeds = np.array([180.0, 110.0, 35.0])[: len(circuit.rows)]
        torques = element_torques(circuit, 0.07, speeds)
        shock, friction = loss_powers(circuit, 0.07, speeds)
        put_in = float(np.dot(torques, speeds))
        lost = shock.sum() + friction.sum()
        residual = circuit.density * 0.07 * energy_residual(circuit, 0.07, speeds)
        assert put_in - lost == pytest.approx(float(residual), abs=1e-11 * (abs(put_in) + lost))


@given(bladings(mounting="fixed"))
def test_energy_residual_is_the_published_right_side(shape):
    ours = energy_residual(circuit_of(shape), 0.05, (170.0, 90.0, 20.0))
    theirs = published_energy_equation(shape, 170.0, 90.0, 20.0, 0.05)
    assert float(ours) == pytest.approx(theirs, rel=1e-9, abs=1e-8)


@pytest.mark.slow
@given(bladings())
def test_heat_is_shaft_power_in_less_out_and_never_below_zero(shape):
    at = operate(shape, NU)
    # Power into the fluid; a stator fixed or free takes none: its speed or its torque is zero.
    balance = at.impeller_torque + NU * at.turbine_torque + at.stator_speed * at.stator_torque
    scale = np.abs(at.impeller_torque) + np.abs(NU * at.turbine_torque)
    np.testing.assert_allclose(at.heat, balance, rtol=0, atol=1e-9 * scale.max())
    assert np.all(at.heat >= 0)
    torques = at.impeller_torque + at.turbine_torque + at.stator_torque
    np.testing.assert_allclose(torques, 0, atol=1e-11 * scale.max())


@given(bladings(mounting="one-way"))
@pytest.mark.slow
def test_one_way_clutch_holds_or_lets_go_but_never_both(shape):
    at = operate(shape, NU)
    scale = np.abs(at.turbine_torque).max()
    assert np.all(at.stator_torque >= -1e-10 * scale)
    assert np.all(at.stator_speed >= -1e-9)
    product = np.abs(at.stator_torque * at.stator_speed)
    np.testing.assert_allclose(product, 0, atol=1e-9 * scale)


# --- a second derivation -------------------------------------------------------------------------


@pytest.mark.parametrize("nu", [-0.3, 0.0, 0.35, 0.7, 0.85])
def test_flow_is_the_root_that_a_bracketing_search_finds_in_the_published_form(nu):
    shape = blading(mounting="fixed")
    flow = brentq(
        lambda q: published_energy_equation(shape, 150.0, nu * 150.0, 0.0, q), 1e-4, 1.0, xtol=1e-14
    )
    assert 150.0 * float(operate(shape, nu).flow) == pytest.approx(flow, rel=1e-9)


def test_flow_returned_is_the_one_that_comes_back_after_a_disturbance():
    """rho (L/A) dQ/dt is the residual (inertia term of the energy equation): it falls with Q."""
    for mounting in ("fixed", "none"):
        shape = blading(mounting=mounting)
        circuit = circuit_of(shape)
        for nu in (0.0, 0.5, 0.95):
            flow = float(operate(shape, nu).flow)
            speeds = (1.0, nu, 0.0)[: len(circuit.rows)]
            assert energy_residual(circuit, 0.99 * flow, speeds) > 0
            assert energy_residual(circuit, 1.01 * flow, speeds) < 0


def test_similar_converters_scale_with_density_and_the_fifth_power_of_size():
    """T = lambda rho omega^2 D^5 (VDI 2153; from memory)."""
    small, s = blading(), 1.6
    large = small.replace(
        impeller_exit_radius=s * small.impeller_exit_radius,
        turbine_exit_radius=s * small.turbine_exit_radius,
        stator_exit_radius=s * small.stator_exit_radius,
        profile_diameter=s * small.profile_diameter,
        flow_area=s**2 * small.flow_area,
        oil_density=0.95 * small.oil_density,
    )
    nu = np.linspace(0, 0.95, 20)
    a, b = operate(small, nu), operate(large, nu)
    np.testing.assert_allclose(b.capacity, 0.95 * s**5 * a.capacity, rtol=1e-12)
    np.testing.assert_allclose(b.torque_ratio, a.torque_ratio, rtol=1e-12)
    np.testing.assert_allclose(b.performance_coefficient, a.performance_coefficient, rtol=1e-12)


# --- coupling ------------------------------------------------------------------------------------


def test_stator_torque_passes_zero_at_the_coupling_point():
    shape = blading()
    nu_c = coupling_speed_ratio(shape)
    held = operate(shape, [nu_c - 1e-4, nu_c, nu_c + 1e-4], mounting="fixed")
    assert held.stator_torque[0] > 0 > held.stator_torque[2]
    assert held.stator_torque[1] == pytest.approx(0, abs=1e-12)
    # Torque ratio 1 where the stator carries nothing: the torques sum to zero.
    assert held.torque_ratio[1] == pytest.approx(1, abs=1e-9)
    one_way = operate(shape, [nu_c - 1e-4, nu_c + 1e-4])
    assert list(one_way.stator_turns) == [False, True]


def test_one_way_stator_is_the_fixed_one_below_coupling_and_the_free_one_above():
    shape = blading()
    nu_c = coupling_speed_ratio(shape)
    below, above = np.linspace(0, nu_c - 1e-6, 9), np.linspace(nu_c + 1e-6, 0.99, 9)
    for nu, other in ((below, "fixed"), (above, "free")):
        np.testing.assert_array_equal(
            operate(shape, nu).capacity, operate(shape, nu, mounting=other).capacity
        )


@given(bladings(mounting="none"))
def test_without_a_stator_the_torque_ratio_is_one_and_slip_alone_drives_the_oil(shape):
    at = operate(shape, [0.0, 0.5, 0.9, 0.999999, 1.0])
    moving = at.circulates
    np.testing.assert_allclose(at.torque_ratio[moving], 1, rtol=1e-9)
    assert at.capacity[-1] == 0  # both turn alike: nothing circulates, nothing is carried
    # The flow goes with the root of the slip; lambda is of the order of 1e-2 at stall.
    assert abs(at.performance_coefficient[-2]) < 1e-3


def test_free_stator_makes_a_coupling_even_at_stall():
    at = operate(blading(), [0.0, 0.4, 0.8], mounting="free")
    np.testing.assert_allclose(at.torque_ratio, 1, rtol=1e-12)
    assert np.all(at.stator_speed[:2] < 0)  # the oil pushes it backwards, and it gives way


def test_slipping_one_way_clutch_lowers_the_stall_speed():
    """Stall speed goes with K = 1/sqrt(C): a third lower is the rule of thumb (common practice, no
    source); the model must at least go the same way, and by as much.
    """
    held, slips = operate(blading(), [0.0]), operate(blading(), [0.0], mounting="free")
    assert np.sqrt(held.capacity / slips.capacity)[0] < 0.70


def test_coupling_without_multiplication_has_no_coupling_point():
    assert coupling_speed_ratio(blading(stator=row(-60, -60))) is None
    with pytest.raises(InputError, match="no stator"):
        coupling_speed_ratio(blading(mounting="none"))


def test_in_overrun_the_turbine_drives_and_the_oil_flows_backwards():
    at = operate(blading(), [1.05, 1.2])
    assert np.all(at.flow < 0)
    assert np.all(at.capacity < 0)
    assert np.all(at.efficiency >= 1)  # turbine power over the lesser power that reaches the engine


@given(bladings(mounting="none"), st.floats(1.02, 2.0))
def test_coupling_in_overrun_is_the_one_with_impeller_and_turbine_exchanged(shape, nu):
    """Oil that flows backwards leaves each wheel at its entry edge, along the other side of the
    blade: the turbine then pumps, the impeller is driven, and every angle changes its sign.
    """
    impeller, turbine = shape.impeller, shape.turbine
    exchanged = shape.replace(
        impeller=turbine.replace(entry_angle=-turbine.exit_angle, exit_angle=-turbine.entry_angle),
        turbine=impeller.replace(
            entry_angle=-impeller.exit_angle, exit_angle=-impeller.entry_angle
        ),
    )
    driven, forward = operate(shape, nu), operate(exchanged, 1 / nu)
    if driven.flow < 0:
        # Torque on the impeller per impeller speed^2, from torque per turbine speed^2.
        expected = -float(forward.capacity) * nu**2
        assert float(driven.capacity) == pytest.approx(expected, rel=1e-9)
    else:
        assert driven.flow > 0 or not forward.circulates


# --- trends and spans ----------------------------------------------------------------------------


def test_steeper_stator_exit_raises_the_stall_torque_ratio():
    stall = [
        float(operate(blading(stator=row(2, angle)), 0.0).torque_ratio)
        for angle in (30, 40, 50, 55, 60)
    ]
    assert np.all(np.diff(stall) > 0)


def test_backward_leaning_impeller_is_looser():
    """Less swirl at the impeller's exit, less torque at the same speed: K goes up."""
    capacity = [
        float(operate(blading(impeller=row(-28, angle)), 0.0).capacity) for angle in (-30, -10, 10)
    ]
    assert np.all(np.diff(capacity) > 0)


def test_more_friction_costs_flow_torque_and_efficiency():
    low, high = operate(blading(), 0.7), operate(blading().with_losses(friction=0.6), 0.7)
    assert high.flow < low.flow
    assert high.efficiency < low.efficiency


# --- the characteristic --------------------------------------------------------------------------


@pytest.mark.parametrize("mounting", ["one-way", "fixed", "free", "none"])
def test_characteristic_reproduces_the_model_and_calls_itself_an_estimate(mounting):
    shape = blading()
    converter = characteristic_from_blading(shape, mounting=mounting)
    assert converter.stator == ("none" if mounting == "free" else mounting)
    [note] = [note for note in converter.notes if note.code == "estimated-from-blading"]
    assert note.kind == "assumption"
    nu = np.linspace(0, 0.99, 200)
    at = operate(shape, nu, mounting=mounting)
    # 61 rows interpolated: a thousandth is far below what the model is good for.
    scale = at.capacity[0]
    np.testing.assert_allclose(converter.capacity_at(nu), at.capacity, atol=1e-3 * scale)
    np.testing.assert_allclose(converter.torque_ratio_at(nu), at.torque_ratio, atol=1e-3)


def test_characteristic_has_its_kink_exactly_at_the_coupling_point():
    converter = characteristic_from_blading(blading())
    assert converter.coupling == coupling_speed_ratio(blading())
    assert converter.characteristic.kinks == (converter.coupling,)
    assert converter.torque_ratio_at(0.95) == pytest.approx(1, abs=1e-12)


def test_characteristic_reaches_into_overrun_and_backward_rotation_when_asked():
    converter = characteristic_from_blading(blading(), lowest=-0.5, highest=1.3)
    assert converter.domain == (-0.5, 1.3)
    assert converter.capacity_at(1.2) < 0 < converter.capacity_at(-0.4)


def test_fixed_stator_table_ends_where_the_flow_turns_round_and_says_so():
    converter = characteristic_from_blading(blading(), mounting="fixed", highest=1.4)
    assert converter.domain[1] < 1.4
    assert "blading-table-ends" in {note.code for note in converter.notes}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"lowest": 1.0}, "lowest, highest"),
        ({"lowest": 0.5, "highest": 0.4}, "lowest, highest"),
        ({"highest": np.nan}, "lowest, highest"),
        ({"rows": 3}, "too few rows"),
        ({"mounting": "loose"}, "mounting"),
    ],
)
def test_bad_request_is_refused(arguments, words):
    with pytest.raises(InputError, match=words):
        characteristic_from_blading(blading(), **arguments)


def test_speed_ratio_that_is_not_finite_is_refused():
    with pytest.raises(InputError, match="speed_ratio"):
        operate(blading(), [0.0, np.nan])


def test_blading_that_passes_no_torque_at_stall_is_refused():
    # Impeller exit hardly outside its entry and blades set against the flow: nothing circulates.
    shape = blading(
        mounting="fixed",
        impeller_exit_radius=0.0645,
        impeller=BladeRow(entry_angle=1.2, exit_angle=-1.3, shock_factor=2.0),
    )
    assert not operate(shape, 0.0).circulates
    with pytest.raises(InputError, match="passes no torque"):
        characteristic_from_blading(shape)
