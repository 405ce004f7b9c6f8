"""Tables that stand against what people believe of converters, worked out by hand.

The engine has 500 N.m at every speed from 800 to 2200 rpm; the converter has K = 60 at stall, where
it multiplies by 2.2, and K = 82 at its coupling point at speed ratio 0.86.
"""

import math

import pytest

from converter_match.errors import InputError
from converter_match.judgement.lesson.misconceptions import misconceptions
from tests.examples import RPM, converter
from tests.study_examples import flat_engine, loose

STALL, COUPLED = 60.0 * math.sqrt(500.0), 82.0 * math.sqrt(500.0)


def told(belief, *others, made=None, unit=None, system="si"):
    items = misconceptions(
        made or flat_engine(500.0), unit or converter(), other_engines=others, system=system
    )
    return next(item for item in items if belief in item.belief)


def kw(torque, rpm):
    return f"{torque * rpm * RPM / 1e3:.1f}"


def test_torque_is_multiplied_and_power_is_not():
    found = told("stronger")
    assert found.head == ("", "torque ratio", "power in (kW)", "power out (kW)", "heat (kW)")
    rows = {row[0]: row[1:] for row in found.rows}
    # At stall all of it is heat; at the coupling point 14 % of it.
    assert rows["stall"] == ("2.20", kw(500, STALL), "0.0", kw(500, STALL))
    into = kw(500, COUPLED)
    assert rows["coupling point"] == (
        "1.00",
        into,
        kw(500, 0.86 * COUPLED),
        kw(500, 0.14 * COUPLED),
    )
    # Beyond the coupling point nothing is multiplied: those points are left out.
    assert not any("governed" in name for name in rows)


def test_stall_speed_belongs_to_the_pair():
    found = told("has a stall speed", flat_engine(900.0, name="Stronger"))
    assert found.head == ("engine", "torque at stall (N·m)", "stall speed (rpm)")
    assert found.rows == (
        ("Test engine", "500", f"{STALL:.0f}"),
        ("Stronger", "900", "1800"),
    )
    heavy = told("has a stall speed", flat_engine(100.0, name="Weak", low_idle=800 * RPM))
    # 800 / 60 squared is 178 N.m at idle: 100 N.m do not hold it.
    assert heavy.rows[1] == ("Weak", "none", "no stall match")
    assert not any("has a stall speed" in item.belief
                   for item in misconceptions(flat_engine(500.0), converter()))  # fmt: skip


def test_slip_goes_on_past_the_coupling_point():
    found = told("no longer slips")
    assert found.head == ("", "torque ratio", "slip (%)", "slip (rpm)", "heat (kW)")
    first, second = found.rows
    assert first == (
        "coupling point", "1.00", "14.0", f"{0.14 * COUPLED:.0f}", kw(500, 0.14 * COUPLED)
    )  # fmt: skip
    name, ratio, slip, rpm, heat = second
    assert (name, ratio) == ("governed limit", "1.00")
    # At 2200 rpm the slip is what is left of it, and carries the torque of 500 N.m.
    assert 0.0 < float(slip) < 14.0
    assert float(rpm) == pytest.approx(22.0 * float(slip), abs=1.7)
    assert float(heat) == pytest.approx(500.0 * float(rpm) * RPM / 1e3, abs=0.06)


def test_lock_up_takes_the_multiplication_away():
    found = told("more pull")
    assert found.head == (
        "turbine speed (rpm)", "torque open (N·m)", "torque locked (N·m)", "heat open (kW)"
    )  # fmt: skip
    speeds = [float(row[0]) for row in found.rows]
    assert speeds == sorted(speeds)
    for speed, opened, locked, heat in found.rows:
        # Locked the turbine has the engine's 500 N.m from idle on.
        assert locked == ("500" if float(speed) >= 800.0 else "none")
        assert float(opened) >= 500.0
        assert float(heat) > 0.0
    assert "never pulls more" in found.truth or "pulls less at every speed" in found.truth


def test_units_of_the_reader_head_the_tables():
    # 745.6999 W in a horsepower, 1.355818 N.m in a pound-foot (NIST SP 811).
    found = told("stronger", system="us")
    assert found.head[2:] == ("power in (hp)", "power out (hp)", "heat (hp)")
    stall = next(row for row in found.rows if row[0] == "stall")
    assert stall[2] == f"{500 * STALL * RPM / 745.6999:.1f}"
    pair = told("has a stall speed", flat_engine(900.0), system="us")
    assert pair.rows[0][1] == f"{500 / 1.355818:.0f}"


def test_pair_without_a_stall_has_no_lesson():
    with pytest.raises(InputError, match="no match at stall to speak of"):
        misconceptions(flat_engine(500.0), loose(20.0))


def test_data_that_end_before_the_coupling_point_have_no_table_of_it():
    bare = converter()
    short = bare.replace(
        speed_ratio=bare.speed_ratio[:5],
        torque_ratio=bare.torque_ratio[:5],
        capacity=bare.capacity[:5],
        coupling_speed_ratio=None,
    )
    beliefs = [item.belief for item in misconceptions(flat_engine(500.0), short)]
    assert len(beliefs) == 4
    assert "stronger" in beliefs[0]
    assert not any("coupling point" in belief for belief in beliefs)
