"""What a log cannot say of a converter is refused; what it may hide is asked about."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.identify.doubts import LoadSeen, gears_of, torque_unit_doubt
from converter_match.judgement.identify.identify import LogBasis, identify
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine

UNIT = converter()


def log(turns, *, rate=10.0, dwell=8.0, seed=1, **columns):
    """Steady stretches at speed ratios, the torque as the converter takes it; columns by ratio."""
    rng = np.random.default_rng(seed)
    nu = np.repeat(np.asarray(turns, dtype=float), int(rate * dwell))
    speed = 1800 * RPM * np.ones(nu.size)
    torque = UNIT.capacity_at(nu) * speed**2 * (1 + 0.004 * rng.standard_normal(nu.size))
    out = {"time": np.arange(nu.size) / rate, "engine speed": speed, "turbine speed": nu * speed,
           "engine torque": torque}  # fmt: skip
    return out | {name.replace("_", " "): make(nu, out) for name, make in columns.items()}


TURNS = np.tile(np.linspace(0.2, 0.7, 11), 6)


def grade_for(nu, out, gear):
    """The grade on which the machine would go so: by hand, from the torque at the turbine."""
    line = driveline()
    mu = np.asarray(UNIT.torque_ratio_at(nu))
    torque = mu * UNIT.capacity_at(nu) * out["engine speed"] ** 2
    own = line.gear(gear)
    ratio, eta = own.ratio * 20.0, own.efficiency * 0.95
    speed = out["turbine speed"]
    drag = 5.0 + 15.0 * speed / (2000 * RPM)
    force = (torque - drag) * ratio * eta / 0.75
    road = speed * 0.75 / ratio
    air = 0.5 * 1.225 * 7.0 * 0.9 * road**2 + 800.0
    weight = 20_000.0 * 9.80665
    # sin a + 0.02 cos a = share of the weight.
    share = (force - air) / weight / np.hypot(1.0, 0.02)
    return np.tan(np.arcsin(share) - np.arctan(0.02))


def basis(**changes):
    return LogBasis(
        **({"converter": UNIT, "machine": machine(), "driveline": driveline()} | changes)
    )


def test_one_gear_for_a_log_of_several_is_refused_because_it_breaks_energy():
    # Driven in first gear, said to be in third: the turbine torque comes out 4.0 / 1.2 times.
    made = log(TURNS, grade=lambda nu, out: grade_for(nu, out, "1"))
    with pytest.raises(InputError, match=r"breaks energy.*log the gear as a column"):
        identify([made], basis(gear="3"))
    assert identify([made], basis(gear="1")).nodes


@pytest.mark.parametrize("gear", ["1", "2"])
def test_gear_of_each_stretch_is_taken_from_its_column(gear):
    number = float(gear)
    made = log(
        TURNS, grade=lambda nu, out: grade_for(nu, out, gear), gear=lambda nu, _: 0 * nu + number
    )
    found = identify([made], basis())
    off = [
        node.torque_ratio.value / node.sheet_torque_ratio - 1
        for node in found.nodes
        if node.torque_ratio is not None
    ]
    assert len(off) > 5
    # The torque scatters by 0.4 %; a wrong gear would be off by 1.8 times.
    assert np.abs(off).max() < 0.01


def test_gears_are_numbered_as_named_or_by_their_order():
    mean = {"gear": np.array([1.0, -1.0, 0.0, 3.0]), "turbine speed": np.zeros(4)}
    told = {gear.name: rows.tolist() for gear, rows in gears_of(mean, driveline(), None)}
    assert told == {"R": [1], "1": [0], "3": [3]}
    with pytest.raises(InputError, match="a gear that the driveline does not have"):
        list(gears_of({"gear": np.array([7.0]), "turbine speed": np.zeros(1)}, driveline(), None))


def test_stretches_across_a_shift_and_locked_ones_are_left_out():
    shifted = log(TURNS, gear=lambda nu, _: np.where(np.arange(nu.size) % 80 < 45, 1.0, 2.0))
    locked = log(TURNS, **{"lock-up": lambda nu, _: np.where(np.arange(nu.size) < 2000, 1.0, 0.0)})
    found, whole = identify([shifted]), identify([log(TURNS)])
    assert found.steady < whole.steady
    assert identify([locked]).locked > 150


@pytest.mark.parametrize("name", ["friction torque", "pump torque"])
def test_friction_and_pumps_that_were_logged_are_taken_off(name):
    taken = 60.0
    plain, more = log(TURNS), log(TURNS)
    more["engine torque"] = more["engine torque"] + taken
    more[name] = np.full(more["time"].size, taken)
    one, other = identify([plain]), identify([more])
    for a, b in zip(one.nodes, other.nodes, strict=True):
        if a.capacity is not None:
            assert b.capacity.value == pytest.approx(a.capacity.value, rel=1e-9)


def codes(found):
    return [note.code for note in found.notes]


def test_percent_torque_without_friction_is_asked_about():
    assert "friction-in-torque" in codes(identify([log(TURNS)], LogBasis(torque_in_percent=True)))
    assert "friction-in-torque" not in codes(identify([log(TURNS)]))
    with_it = log(TURNS, friction_torque=lambda nu, _: 0 * nu)
    told = identify([with_it], LogBasis(torque_in_percent=True))
    assert "friction-in-torque" not in codes(told)


POUND_FOOT = 1.3558179483  # N.m, NIST SP 811, appendix B.8


@pytest.mark.parametrize(("unit", "factor"), [(1.0, 1 / POUND_FOOT), (POUND_FOOT, POUND_FOOT)])
def test_a_torque_in_another_unit_than_its_head_says_is_asked_about(unit, factor):
    known = LogBasis(converter=UNIT, torque_unit=unit)
    sound, slipped = log(TURNS), log(TURNS)
    slipped["engine torque"] = slipped["engine torque"] * factor
    assert "torque-unit-doubted-by-sheet" in codes(identify([slipped], known))
    assert "torque-unit-doubted-by-sheet" not in codes(identify([sound], known))


def test_the_full_load_of_the_engine_tells_the_unit_of_a_torque():
    motor = engine()
    rng = np.random.default_rng(4)
    speed = rng.uniform(motor.speed[0], motor.rated_speed, 400)
    full = np.asarray(motor.full_load(speed)) * np.minimum(1.0, rng.uniform(0.3, 1.6, 400))
    tops = {}
    for name, factor in (("sound", 1.0), ("lbf.ft", 1 / POUND_FOOT), ("N.m", POUND_FOOT)):
        seen = LoadSeen(motor)
        for part in range(4):
            seen = seen.plus(speed[part::4], full[part::4] * factor)
        tops[name] = seen.top
        assert seen.top == pytest.approx(factor, rel=0.01)
    assert torque_unit_doubt(1.0, tops["sound"], 1.0) is None
    assert torque_unit_doubt(1.0, tops["lbf.ft"], None).code == "torque-unit-doubted"
    assert torque_unit_doubt(POUND_FOOT, tops["N.m"], None).code == "torque-unit-doubted"
    assert torque_unit_doubt(POUND_FOOT, tops["sound"], 1.0) is None
    assert torque_unit_doubt(None, tops["lbf.ft"], 0.74) is None  # percent: no unit to mistake
    # At full load the unit is right; the capacity then is what it is.
    assert torque_unit_doubt(1.0, tops["sound"], 0.74) is None


def test_torque_that_pumps_took_unseen_is_suspected():
    made = log(np.tile(np.linspace(0.2, 0.7, 11), 12))
    rng = np.random.default_rng(3)
    # Pumps at work in one turn of eight, a fifth of the torque.
    work = np.repeat(rng.random(made["time"].size // 80) < 0.125, 80)
    made["engine torque"] = made["engine torque"] * np.where(work, 1.2, 1.0)
    assert "pump-work-suspected" in codes(identify([made]))
    assert "pump-work-suspected" not in codes(identify([log(np.tile(TURNS, 2))]))


def test_turbine_that_is_dead_at_zero_is_refused():
    made = log(TURNS)
    made["turbine speed"] = np.zeros_like(made["time"])
    made["engine torque"] = made["engine torque"] * np.linspace(0.6, 1.0, made["time"].size)
    with pytest.raises(InputError, match="turbine signal is dead"):
        identify([made])
    holds = log(np.zeros(40))
    assert identify([holds]).nodes[0].samples > 200


def test_turbine_that_gives_more_than_the_impeller_is_refused():
    def torque(nu, out):
        return 2.6 * out["engine torque"]  # 1.8 of the power at speed ratio 0.7

    with pytest.raises(InputError, match=r"turbine torque: .*breaks energy"):
        identify([log(TURNS, turbine_torque=torque)])
