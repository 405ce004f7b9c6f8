"""Torque divider against published formulas, a matrix of all its equations, and limits."""

import itertools

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from converter_match.components.arrangement import TorqueDivider
from converter_match.components.planetary import CLASSIC, MEMBERS, SHAFTS, Connection, Planetary
from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.physics.arrangement.torque_divider import (
    combine,
    combined_converter,
    free_stator_factor,
    impeller_points,
    inner_speed_ratio,
    power_split,
    reaching,
    stall_speed_ratio,
)
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from tests.examples import converter, engine, full_range

CONNECTIONS = [
    Connection(split=split, engine=a, hydraulic=b, output=c)
    for split in SHAFTS
    for a, b, c in itertools.permutations(MEMBERS)
]


def divider(k, connection=CLASSIC):
    return TorqueDivider(planetary=Planetary(ratio=k), connection=connection)


@given(st.floats(1.2, 8.0), st.floats(-0.65, 0.98))
def test_classic_connection_follows_the_published_formulas(k, nu):
    # r = Z_ring/Z_sun: SR = (1 + r nu)/(1 + r); TR = (1 + r) mu/(r + mu);
    # K_overall = K sqrt(r/(r + mu)); sun's share of engine torque mu/(r + mu). Theory of the
    # input-split torque divider as taught; derived again by the matrix below.
    unit = full_range()
    mu, c = float(unit.torque_ratio_at(nu)), float(unit.capacity_at(nu))
    rows = combine(unit, divider(k), nu)
    assert float(rows.output_ratio) == pytest.approx((1 + k * nu) / (1 + k), rel=1e-13, abs=1e-15)
    assert float(rows.torque_ratio) == pytest.approx((1 + k) * mu / (k + mu), rel=1e-13)
    k_overall = c**-0.5 * (k / (k + mu)) ** 0.5
    assert float(rows.capacity) ** -0.5 == pytest.approx(k_overall, rel=1e-13)
    assert float(rows.mechanical_share) == pytest.approx(mu / (k + mu), rel=1e-13)


@given(
    st.floats(1.2, 8.0), st.floats(-0.65, 0.98), st.sampled_from(CONNECTIONS), st.floats(80, 300)
)
def test_every_connection_solves_the_equations_of_its_parts(k, nu, connection, omega):
    """Second derivation: all shafts and gears as one linear system, engine speed given.

    Unknowns: speeds of sun, ring, carrier, impeller, turbine; gear torques of sun, ring, carrier;
    engine and output torque. Torques act on the gears, except engine and output.
    """
    unit = full_range()
    mu, c = float(unit.torque_ratio_at(nu)), float(unit.capacity_at(nu))
    at = {name: i for i, name in enumerate((*MEMBERS, "impeller", "turbine"))}
    tq = {name: 5 + i for i, name in enumerate((*MEMBERS, "engine", "output"))}
    a, b = np.zeros((10, 10)), np.zeros(10)
    e, h, o = connection.members
    # Gears: rolling contact; torques in the ratio of the lever arms 1 : k : -(1 + k).
    a[0, [at["sun"], at["ring"], at["carrier"]]] = 1, k, -(1 + k)
    a[1, [tq["ring"], tq["sun"]]] = 1, -k
    a[2, [tq["carrier"], tq["sun"]]] = 1, 1 + k
    a[3, at[e]], b[3] = 1, omega
    a[4, [at["turbine"], at["impeller"]]] = 1, -nu
    if connection.split == "input-split":
        a[5, [at["impeller"], at[e]]] = 1, -1
        a[6, [at["turbine"], at[h]]] = 1, -1
        a[7, tq[h]], b[7] = 1, mu * c * omega**2
        a[8, [tq["engine"], tq[e]]], b[8] = (1, -1), c * omega**2
        a[9, [tq["output"], tq[o]]] = 1, 1
    else:
        a[5, [at["impeller"], at[h]]] = 1, -1
        a[6, [at["turbine"], at[o]]] = 1, -1
        speeds_only = np.linalg.matrix_rank(a[[0, 3, 4, 5, 6]][:, :5])
        assume(speeds_only == 5)
        found = np.linalg.solve(a[[0, 3, 4, 5, 6]][:, :5], b[[0, 3, 4, 5, 6]])
        assume(np.abs(found).max() < 1e3 * omega)  # near a pole every digit is lost
        impeller = found[at["impeller"]]
        a[7, tq[h]], b[7] = 1, -c * impeller**2
        a[8, [tq["engine"], tq[e]]] = 1, -1
        a[9, [tq["output"], tq[o]]], b[9] = (1, 1), mu * c * impeller**2
    x = np.linalg.solve(a, b)
    rows = combine(unit, divider(k, connection), nu)
    near = {"rel": 1e-8, "abs": 1e-9}
    assert float(rows.output_ratio) == pytest.approx(x[at[o]] / omega, **near)
    assert float(rows.impeller_ratio) == pytest.approx(x[at["impeller"]] / omega, **near)
    torque = x[tq["engine"]]
    assert float(rows.capacity) * omega**2 == pytest.approx(torque, **near)
    assume(abs(torque) > 1e-3 * c * omega**2)
    assert float(rows.torque_ratio) == pytest.approx(x[tq["output"]] / torque, **near)


@given(
    st.floats(1.2, 8.0),
    st.lists(st.floats(-0.65, 0.98), min_size=1, max_size=8),
    st.sampled_from(CONNECTIONS),
    st.floats(80, 300),
)
@pytest.mark.slow
def test_power_in_is_power_out_plus_heat_in_every_connection(k, nu, connection, omega):
    gears = divider(k, connection)
    rows = combine(full_range(), gears, np.array(nu))
    if np.any(~(rows.impeller_ratio > 0)):
        with pytest.raises(InputError, match="turns the impeller backwards"):
            power_split(full_range(), gears, nu, omega)
        return
    split = power_split(full_range(), gears, nu, omega)
    scale = np.abs(split.engine) + np.abs(split.hydraulic_in) + np.abs(split.mechanical)
    assume(np.isfinite(scale).all())
    assert np.all(np.abs(split.engine - split.output - split.heat) <= 1e-9 * scale)
    assert np.all(split.heat >= -1e-9 * scale)
    assert np.all(split.circulating >= 0)
    if connection.split == "input-split":
        np.testing.assert_allclose(split.engine, split.hydraulic_in + split.mechanical, rtol=1e-9)
    else:
        both = split.hydraulic_out + split.mechanical
        np.testing.assert_allclose(split.output, both, rtol=1e-9, atol=1e-6)


@pytest.mark.parametrize(
    "connection",
    [
        CLASSIC,
        Connection.parse("engine-and-impeller -> ring, turbine -> sun, output -> carrier"),
        Connection.parse("engine -> carrier, impeller -> ring, turbine-and-output -> sun"),
        Connection.parse("engine -> carrier, impeller -> sun, turbine-and-output -> ring"),
    ],
    ids=str,
)
def test_tabulated_characteristic_is_as_good_as_the_formula(connection):
    gears = divider(2.5, connection)
    unit = full_range()
    whole = combined_converter(unit, gears, assume_negative=True)
    base = reaching(unit, stall_speed_ratio(gears), assume_negative=True)
    nu = np.linspace(stall_speed_ratio(gears), 0.989, 977)
    rows = combine(base, gears, nu)
    # Interpolation over a step of 0.005: error of third order, a few parts in a hundred thousand.
    found = whole.torque_ratio_at(np.clip(rows.output_ratio, 0.0, None))
    assert found == pytest.approx(rows.torque_ratio, rel=5e-5)
    found = whole.capacity_at(np.clip(rows.output_ratio, 0.0, None))
    assert found == pytest.approx(rows.capacity, rel=2e-4)
    assert inner_speed_ratio(gears, rows.output_ratio) == pytest.approx(nu, abs=1e-12)


def test_combined_coupling_point_is_the_inner_one_on_the_output_scale():
    whole = combined_converter(full_range(), divider(2.5))
    assert whole.stator == "one-way"
    assert whole.coupling == pytest.approx((1 + 2.5 * 0.86) / 3.5, rel=1e-12)
    assert float(whole.torque_ratio_at(whole.coupling)) == pytest.approx(1.0, rel=1e-12)


def test_a_very_large_ring_leaves_the_plain_converter():
    unit = full_range()
    whole = combined_converter(unit, divider(1e7))
    nu = np.linspace(0.0, 0.98, 60)
    # 1/k of the engine torque goes through the gears: parts in ten million.
    assert whole.torque_ratio_at(nu) == pytest.approx(unit.torque_ratio_at(nu), rel=5e-5)
    assert whole.capacity_at(nu) == pytest.approx(unit.capacity_at(nu), rel=5e-5)
    plain, divided = solve(engine(), unit), solve(engine(), whole)
    assert divided.stall.engine_speed == pytest.approx(plain.stall.engine_speed, rel=1e-5)
    assert divided.coupling.turbine_torque == pytest.approx(plain.coupling.turbine_torque, rel=1e-5)


def test_combined_converter_goes_through_the_ordinary_match():
    unit, gears = full_range(), divider(2.5)
    whole = combined_converter(unit, gears)
    result = solve(engine(), whole)
    split = power_split(unit, gears, -0.4, result.stall.engine_speed)
    assert result.stall.input_power == pytest.approx(float(split.engine), rel=1e-6)
    supply = engine_supply(engine())
    points = match(supply, whole, np.linspace(0, 0.95, 20)).from_idle()
    speed, torque = impeller_points(unit, gears, points)
    assert speed == pytest.approx(points.engine_speed, rel=1e-12)
    assert np.all(torque < points.input_torque)


def test_missing_backward_data_are_refused_unless_they_may_be_assumed():
    with pytest.raises(InputError, match=r"data down to -0\.4, or the permission") as caught:
        combined_converter(converter(), divider(2.5))
    assert caught.value.source == "test-converter"
    whole = combined_converter(converter(), divider(2.5), assume_negative=True)
    notes = {note.code: note.kind for note in whole.notes}
    assert notes["negative-speed-ratio-assumed"] == "assumption"
    # Held at the stall values: TR = (1 + k) mu0 / (k + mu0) at output stall.
    assert float(whole.torque_ratio_at(0.0)) == pytest.approx(3.5 * 2.2 / (2.5 + 2.2), rel=1e-9)
    with_data = combined_converter(full_range(), divider(2.5))
    assert "negative-speed-ratio-assumed" not in {note.code for note in with_data.notes}
    with pytest.raises(InputError, match="down to"):
        power_split(converter(), divider(2.5), -0.3, 150.0)


@pytest.mark.parametrize(
    ("connection", "words"),
    [
        ("engine-and-impeller -> carrier, turbine -> ring, output -> sun", "stand still only"),
        (
            "engine -> sun, impeller -> ring, turbine-and-output -> carrier",
            "engine would be driven",
        ),
    ],
)
def test_connection_that_cannot_drive_is_refused(connection, words):
    with pytest.raises(InputError, match=words):
        combined_converter(
            full_range(), divider(1.5, Connection.parse(connection)), assume_negative=True
        )


def test_overrun_data_beyond_a_pole_of_the_gears_are_left_out():
    # engine -> sun, impeller -> carrier, output -> ring: s = 1/((1 + k) - k nu) has its pole at
    # nu = (1 + k)/k = 1.25 for k = 4.
    base = converter()
    unit = base.replace(
        speed_ratio=[*base.speed_ratio, 1.0, 1.1, 1.3],
        torque_ratio=[*base.torque_ratio, 1.0, 1.0, 1.0],
        capacity=[*base.capacity, 0.0, -0.002, -0.005],
    )
    connection = Connection.parse("engine -> sun, impeller -> carrier, turbine-and-output -> ring")
    whole = combined_converter(unit, divider(4.0, connection))
    assert np.all(np.diff(whole.speed_ratio) > 0)
    assert inner_speed_ratio(divider(4.0, connection), whole.domain[1]) < 1.25
    assert 1.0 in whole.speed_ratio


@pytest.mark.slow
@pytest.mark.parametrize("k", [1.3, 1.8, 2.1, 2.6, 3.3, 4.7, 5.9])
def test_where_all_turns_as_one_the_output_ratio_is_exactly_one(k):
    # A rounding error below 1 with a capacity of zero would be refused as an impeller that
    # absorbs nothing.
    base = converter()
    unit = base.replace(
        speed_ratio=[-0.8, *base.speed_ratio, 1.0],
        torque_ratio=[2.6, *base.torque_ratio, 1.0],
        capacity=[0.8 * base.capacity[0], *base.capacity, 0.0],
    )
    made = [
        combined_converter(unit, divider(k, connection), assume_negative=True)
        for connection in CONNECTIONS
        if stall_speed_ratio(divider(k, connection)) < 1
        and combine(unit, divider(k, connection), 0.9).capacity > 0
    ]
    assert len(made) >= 6
    assert {whole.speed_ratio[-1] for whole in made} == {1.0}


def test_fluid_coupling_in_a_divider_stays_without_multiplication():
    # mu = 1 gives TR = (1 + r)/(r + 1) = 1 at every output speed.
    slip = np.array([0.0, 0.3, 0.6, 0.8, 0.9, 0.97])
    coupling = converter(
        stator="none",
        speed_ratio=slip,
        torque_ratio=np.ones(6),
        capacity=0.02 * (1 - slip**4),
        coupling_speed_ratio=None,
    )
    whole = combined_converter(coupling, divider(2.5), assume_negative=True)
    assert whole.stator == "none"
    assert whole.torque_ratio == pytest.approx(np.ones(whole.torque_ratio.size), rel=1e-12)


@pytest.mark.parametrize("k", [1.5, 2.5, 4.0])
def test_stator_that_turns_free_changes_the_whole_by_less_than_the_converter_inside(k):
    # By hand, classic connection: T_engine = T_impeller + T_turbine / k, with mu = 1 for a stator
    # that carries no torque: per unit of C, 1 + 1/k in place of 1 + mu/k.
    unit = full_range()
    mu = float(unit.torque_ratio_at(-1.0 / k)) if -1.0 / k >= unit.domain[0] else None
    if mu is None:
        mu = float(unit.torque_ratio_at(unit.domain[0]))
    factor = free_stator_factor(unit, divider(k))
    assert factor == pytest.approx((1 + 1 / k) / (1 + mu / k))
    assert (k + 1) / (k + 4) < factor < 1
