"""Energy: what the engine gives is what arrives plus the heat, in every arrangement.

What the engine gives is worked out here from its sheet (full load less accessories), and the rest
from the torques, speeds and powers of the answer as plain data.
"""

from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.library.read import read_arrangement, read_converter, read_engine
from converter_match.library.shipped import find
from tests.examples import ARRANGED, RPM
from tests.properties.depth import depth
from tests.properties.plain import survives_json


@cache
def parts(which):
    engine, converter, arrangement = ARRANGED[which]
    return (
        read_engine(find("engines", engine)),
        read_converter(find("converters", converter)),
        read_arrangement(find("arrangements", arrangement)),
    )


def from_sheet(engine, hydraulic):
    """Return (engine speed in rpm) -> power that is left at the flywheel [kW]."""

    def power(rpm):
        omega = rpm * RPM
        torque = float(engine.full_load(omega)) - hydraulic
        for item in engine.accessories:
            share = (omega / item.at_speed) ** item.exponent
            torque -= item.power * share / omega
        return torque * omega / 1e3

    return power


def kw(torque_nm, rpm):
    return torque_nm * rpm * RPM / 1e3


def same(left, right, scale):
    assert left == pytest.approx(right, rel=1e-9, abs=1e-9 * scale)


def check_match(plain, given_power, scale):
    for at in plain["points"]:
        if at["engine_speed_rpm"] is None:
            continue
        put_in = kw(at["input_torque_nm"], at["engine_speed_rpm"])
        same(put_in, given_power(at["engine_speed_rpm"]), scale)
        out = kw(at["turbine_torque_nm"], at["turbine_speed_rpm"])
        same(put_in, out + at["heat_kw"], scale)
        assert at["heat_kw"] >= -1e-9 * scale


def check_torque_divider(row, given_power, scale):
    if row["engine_speed_rpm"] is None:
        return
    # The match is one of the combined curve, which is tabulated: good to parts in a million.
    given = given_power(row["engine_speed_rpm"])
    assert row["engine_power_kw"] == pytest.approx(given, rel=1e-5, abs=1e-5 * scale)
    same(row["engine_power_kw"], row["output_power_kw"] + row["heat_kw"], scale)
    same(row["heat_kw"], row["impeller_power_kw"] - row["turbine_power_kw"], scale)
    assert row["heat_kw"] >= -1e-9 * scale


def check_lock_up(row, given_power, scale):
    for side in ("open", "locked"):
        if row[f"{side}_output_power_kw"] is None:
            continue
        out = kw(row[f"{side}_turbine_torque_nm"], row["turbine_speed_rpm"])
        same(row[f"{side}_output_power_kw"], out, scale)
        assert row[f"{side}_heat_kw"] >= -1e-9 * scale
    if row["locked_output_power_kw"] is not None:
        same(row["locked_output_power_kw"], given_power(row["turbine_speed_rpm"]), scale)


def check_impeller_clutch(row, given_power, scale):
    if row["engine_speed_rpm"] is None:
        return
    at_clutch = kw(row["clutch_torque_nm"], row["engine_speed_rpm"])
    same(at_clutch + row["power_left_kw"], given_power(row["engine_speed_rpm"]), scale)
    out = kw(row["turbine_torque_nm"], row["turbine_speed_rpm"])
    same(at_clutch, out + row["clutch_heat_kw"] + row["converter_heat_kw"], scale)
    assert min(row["clutch_heat_kw"], row["converter_heat_kw"]) >= -1e-9 * scale


def check_hydraulic_sharing(row, given_power, scale):
    if row["engine_speed_rpm"] is None:
        return
    put_in = kw(row["input_torque_nm"], row["engine_speed_rpm"])
    same(put_in + row["pump_power_kw"], given_power(row["engine_speed_rpm"]), scale)
    pumped = kw(row["pump_torque_nm"], row["engine_speed_rpm"])
    same(pumped, row["pump_power_kw"], scale)
    assert -1e-9 * scale <= row["heat_kw"] <= put_in * (1 + 1e-9)


def check_part_load(row, given_power, scale):
    if row["engine_speed_rpm"] is None:
        return
    out = kw(row["turbine_torque_nm"], row["turbine_speed_rpm"])
    same(row["output_power_kw"], out, scale)
    assert row["heat_kw"] >= -1e-9 * scale
    if not row["at_idle"]:  # no pedal gives more than the whole one
        # The governed curve is tabulated anew: good to a ten-thousandth.
        assert out + row["heat_kw"] <= given_power(row["engine_speed_rpm"]) + 1e-4 * scale


def check_stator(row, given_power, scale):
    if row["efficiency"] is None or row["turbine_torque_nm"] is None:
        return
    out = kw(row["turbine_torque_nm"], row["turbine_speed_rpm"])
    same(out, row["efficiency"] * (out + row["heat_kw"]), scale)
    assert row["heat_kw"] >= -1e-9 * scale


def check_overrun(row, given_power, scale):
    if row["engine_speed_rpm"] is None:
        return
    taken = -kw(row["turbine_torque_nm"], row["turbine_speed_rpm"])
    same(row["retarding_power_kw"], taken, scale)
    # What the driveline loses is heat in the oil and what the engine drags; neither is below zero.
    assert -1e-9 * scale <= row["heat_kw"] <= taken * (1 + 1e-9)


CHECKS = {
    "torque_divider": check_torque_divider,
    "lock_up": check_lock_up,
    "impeller_clutch": check_impeller_clutch,
    "hydraulic_sharing": check_hydraulic_sharing,
    "part_load": check_part_load,
    "stator": check_stator,
    "overrun": check_overrun,
}


def check(which, torque=1.0, capacity=1.0, hydraulic=0.0):
    """Return how many rows were checked."""
    engine, converter, arrangement = parts(which)
    engine = engine.replace(torque=engine.torque * torque)
    converter = converter.replace(capacity=converter.capacity * capacity)
    result = solve_arranged(engine, converter, arrangement, hydraulic_torque=hydraulic)
    survives_json(result)
    plain = result.to_dict()
    power, scale = from_sheet(engine, hydraulic), engine.rated_power / 1e3
    check_match(plain, power, scale)
    count = len(plain["points"])
    for name, part in plain["arrangement"]["parts"].items():
        for row in part["rows"]:
            CHECKS[name](row, power, scale)
            count += 1
    return count


@pytest.mark.parametrize("which", range(len(ARRANGED)), ids=[names[2] for names in ARRANGED])
def test_shipped_arrangement_conserves_energy(which):
    assert check(which) > 50


def test_every_kind_of_part_is_among_them():
    kinds = {name for names in range(len(ARRANGED)) for name in CHECKS
             if getattr(parts(names)[2], name) is not None}  # fmt: skip
    assert kinds == set(CHECKS)


@depth(25, 2000)
@given(
    which=st.integers(0, len(ARRANGED) - 1),
    torque=st.floats(0.6, 1.4),
    capacity=st.floats(0.6, 1.6),
    hydraulic=st.one_of(st.just(0.0), st.floats(0.0, 150.0)),
)
def test_any_arrangement_conserves_energy(which, torque, capacity, hydraulic):
    try:
        check(which, torque, capacity, hydraulic)
    except InputError:  # a pair that cannot be answered: said, and nothing is wrong with that
        return


def test_most_drawn_pairs_are_answered():
    # Else the property above would hold of nothing.
    draws = np.random.default_rng(1)
    answered = 0
    for which in range(len(ARRANGED)):
        for _ in range(2):
            try:
                answered += check(which, draws.uniform(0.6, 1.4), draws.uniform(0.6, 1.6)) > 50
            except InputError:
                continue
    assert answered >= 12
