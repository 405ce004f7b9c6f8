"""Engine braking through the converter, against a closed form and the balance of power."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.engine import Accessory, SpeedTable
from converter_match.errors import InputError
from converter_match.physics.arrangement.overrun import (
    braking,
    braking_range,
    locked_braking,
    motoring_supply,
    overrun_spread,
    with_overrun,
)
from converter_match.physics.arrangement.overrun_shapes import PUBLISHED
from tests.examples import RPM, converter, engine

TABLE = np.array([700, 1200, 1800, 2600]) * RPM


def driven_engine(torque=(60.0, 80.0, 115.0, 170.0), **changes):
    fields = {
        "motoring": SpeedTable(speed=TABLE, value=torque, name="motoring"),
        "exhaust_brake": SpeedTable(speed=TABLE, value=3 * np.array(torque), name="exhaust brake"),
    }
    return engine(**(fields | changes))


def overrun_converter(stator="one-way", torque_ratio=1.0):
    """The test converter with measured-looking data beyond speed ratio 1."""
    base = converter()
    beyond = np.array([1.0, 1.04, 1.1, 1.2, 1.3])
    capacity = [0.0, -0.0048, -0.0108, -0.0200, -0.0270]
    if stator == "one-way":
        return base.replace(
            speed_ratio=np.concatenate([base.speed_ratio, beyond]),
            torque_ratio=np.concatenate([base.torque_ratio, np.full(5, torque_ratio)]),
            capacity=np.concatenate([base.capacity, capacity]),
        )
    # A fixed stator: torque ratio goes on falling, and capacity does not vanish at 1 but beyond.
    return base.replace(
        stator="fixed",
        speed_ratio=[0, 0.4, 0.8, 0.9, 1.0, 1.06, 1.1, 1.2, 1.3],
        torque_ratio=[2.2, 1.7, 1.08, 0.9, 0.7, 1.8, 1.6, 1.5, 1.45],
        capacity=[0.02, 0.018, 0.013, 0.009, 0.004, -0.002, -0.008, -0.018, -0.026],
        coupling_speed_ratio=None,
    )


@pytest.mark.slow
@given(st.floats(30.0, 160.0), st.floats(1.02, 1.25), st.floats(0.5, 0.99))
def test_constant_drag_and_straight_capacity_against_the_closed_form(drag, nu, share):
    # C = -c (nu - 1), drag D: c w^2 (w_t/w - 1) = D, so w = (w_t + sqrt(w_t^2 - 4 D/c)) / 2, the
    # larger root being the one near the turbine's speed.
    omega = share * 2600 * RPM
    c = drag / (omega**2 * (nu - 1.0))
    base = converter()
    unit = base.replace(
        speed_ratio=np.concatenate([base.speed_ratio, [1.0, 1.6]]),
        torque_ratio=np.concatenate([base.torque_ratio, [1.0, 1.0]]),
        capacity=np.concatenate([base.capacity, [0.0, -c * 0.6]]),
        kinks=(1.0,),
    )
    flat = driven_engine(torque=(drag,) * 4, accessories=())
    found = braking(motoring_supply(flat), unit, nu * omega)
    turbine = nu * omega
    closed = 0.5 * (turbine + np.sqrt(turbine**2 - 4 * drag / c))
    assert float(found.engine_speed) == pytest.approx(closed, rel=1e-9)
    assert float(found.turbine_torque) == pytest.approx(-drag, rel=1e-9)
    assert bool(found.stable)


@pytest.mark.parametrize("stator", ["one-way", "fixed"])
@pytest.mark.parametrize("brake", [False, True])
def test_retarding_power_is_what_the_engine_swallows_plus_heat(stator, brake):
    unit = overrun_converter(stator)
    supply = motoring_supply(driven_engine(), exhaust_brake=brake)
    low, high = braking_range(supply, unit)
    found = braking(supply, unit, np.linspace(low, high, 41))
    assert np.isfinite(found.engine_speed).all()
    assert found.stable.all()
    # What the engine swallows is what its curve says at its speed.
    omega = np.clip(found.engine_speed, *supply.domain)
    assert found.engine_power == pytest.approx(-supply.torque(omega) * omega, rel=1e-9)
    assert found.heat == pytest.approx(found.retarding_power - found.engine_power)
    assert np.all(found.heat > 0)
    assert np.all(found.turbine_torque < 0)
    assert np.all(np.diff(found.engine_speed) > 0)
    assert found.speed_ratio * found.engine_speed == pytest.approx(found.turbine_speed, rel=1e-11)


def test_a_fixed_stator_retards_and_heats_more_than_a_freewheeling_one():
    supply = motoring_supply(driven_engine())
    free, held = overrun_converter("one-way"), overrun_converter("fixed")
    ranges = [braking_range(supply, unit) for unit in (free, held)]
    speeds = np.linspace(max(r[0] for r in ranges), min(r[1] for r in ranges), 21)
    freewheeling, fixed = (braking(supply, unit, speeds) for unit in (free, held))
    assert np.all(fixed.turbine_torque < freewheeling.turbine_torque)
    assert np.all(fixed.heat > freewheeling.heat)


def test_locked_up_the_engine_brakes_at_turbine_speed_without_heat():
    supply = motoring_supply(driven_engine())
    speeds = np.array([1000, 1500, 2400]) * RPM
    found = locked_braking(supply, speeds)
    assert found.turbine_torque == pytest.approx(supply.torque(speeds))
    assert found.heat == pytest.approx(0.0, abs=1e-9)
    # The open converter lets the engine fall behind, so it drags less.
    opened = braking(supply, overrun_converter(), speeds)
    assert np.all(opened.engine_speed < speeds)
    assert np.all(np.abs(opened.turbine_torque) < np.abs(found.turbine_torque))
    assert np.isnan(locked_braking(supply, 3000 * RPM).turbine_torque)


def test_accessories_and_pumps_drag_as_well():
    pump = Accessory(name="pump", power=5e3, at_speed=2000 * RPM, exponent=1)
    bare = motoring_supply(driven_engine(accessories=()))
    laden = motoring_supply(driven_engine(accessories=(pump,)), hydraulic_torque=30.0)
    extra = 5e3 / (2000 * RPM) + 30.0
    assert laden.torque(200.0) == pytest.approx(float(bare.torque(200.0)) - extra)


def test_overspeed_limit_ends_the_range():
    supply = motoring_supply(driven_engine(), overspeed_limit=2300 * RPM)
    _, high = braking_range(supply, overrun_converter())
    found = braking(supply, overrun_converter(), [high, 1.01 * high])
    assert found.engine_speed[0] == pytest.approx(2300 * RPM, rel=1e-9)
    assert np.isnan(found.engine_speed[1])


def test_without_data_or_permission_overrun_is_refused():
    with pytest.raises(InputError, match=r"test-engine: motoring: engine braking needs"):
        motoring_supply(engine())
    with pytest.raises(InputError, match=r"motoring\.exhaust_brake"):
        motoring_supply(driven_engine(exhaust_brake=None), exhaust_brake=True)
    with pytest.raises(InputError, match="above the motoring table"):
        motoring_supply(driven_engine(), overspeed_limit=2700 * RPM)
    with pytest.raises(InputError, match=r"no data beyond speed ratio 1.*permission overrun"):
        with_overrun(converter())
    with pytest.raises(InputError, match="no data beyond speed ratio 1"):
        braking(motoring_supply(driven_engine()), converter(), 150.0)
    fixed = overrun_converter("fixed")
    short = fixed.replace(
        speed_ratio=fixed.speed_ratio[:5],
        torque_ratio=fixed.torque_ratio[:5],
        capacity=fixed.capacity[:5],
    )
    with pytest.raises(InputError, match="fixed stator they cannot be derived"):
        with_overrun(short, assume=True)


def test_assumed_overrun_is_the_middle_of_the_published_tables_and_says_so():
    unit = converter()
    found = with_overrun(unit, assume=True)
    assert "overrun-assumed" in {note.code for note in found.notes if note.kind == "assumption"}
    at_stall = float(unit.capacity_at(0.0))
    # At 1.1 and 2.0 two of the tables have a row of their own; the third is read between its rows.
    coasting = np.interp([1.1, 2.0], *PUBLISHED["coasting test"])
    model = np.interp(2.0, [1.833, 2.2], [-0.828, -1.306])
    middle = -np.cbrt([-0.099 * -0.132 * -coasting[0], -model * 0.684 * -coasting[1]])
    assert found.capacity_at([1.1, 2.0]) / at_stall == pytest.approx(middle, rel=1e-9)
    assert float(found.capacity_at(1.0)) == 0.0
    assert found.domain[1] == 2.0
    assert found.torque_ratio_at([1.1, 1.5, 2.0]).tolist() == [1.0, 1.0, 1.0]
    assert with_overrun(found) is found


def test_a_weaker_table_turns_the_engine_slower_and_heats_more():
    supply = motoring_supply(driven_engine())
    middle, *others = with_overrun(converter(), assume=True), *overrun_spread(converter())
    ranges = [braking_range(supply, unit) for unit in (middle, *others)]
    speeds = np.linspace(max(r[0] for r in ranges), min(r[1] for r in ranges), 21)
    found = [braking(supply, unit, speeds) for unit in (middle, *others)]
    # The two weak tables cross each other; the middle lies above both, below the strong one.
    strong = found[1 + list(PUBLISHED).index("coasting test")]
    weak = [item for item in found[1:] if item is not strong]
    for slow, fast in ((found[0], strong), *((item, found[0]) for item in weak)):
        assert np.all(slow.engine_speed < fast.engine_speed)
        assert np.all(slow.retarding_power < fast.retarding_power)
        assert np.all(slow.heat > fast.heat)


def test_measured_overrun_and_a_mirrored_coupling_have_no_spread():
    assert overrun_spread(overrun_converter()) == ()
    coupling = converter(
        stator="none", speed_ratio=[0.0, 0.5, 0.9], torque_ratio=np.ones(3),
        capacity=[0.02, 0.015, 0.006], coupling_speed_ratio=None,
    )  # fmt: skip
    assert overrun_spread(coupling) == ()


def test_data_that_never_reach_the_drag_are_refused():
    base = converter()
    weak = base.replace(
        speed_ratio=np.concatenate([base.speed_ratio, [1.0, 1.05]]),
        torque_ratio=np.concatenate([base.torque_ratio, [1.0, 1.0]]),
        capacity=np.concatenate([base.capacity, [0.0, -1e-6]]),
    )
    with pytest.raises(InputError, match="nowhere in the data"):
        braking_range(motoring_supply(driven_engine()), weak)
