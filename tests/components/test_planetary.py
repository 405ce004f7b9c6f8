"""The planetary against a second derivation, from the forces and speeds at the teeth."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.planetary import CLASSIC, MEMBERS, SHAFTS, Connection, Planetary
from converter_match.errors import InputError

ratios = st.floats(1.05, 12.0)
speeds = st.floats(-400.0, 400.0)


def at_the_teeth(k):
    """Speeds and torques from rolling contact and the balance of one planet; no Willis.

    With sun radius 1, ring radius k, planet radius p = (k - 1) / 2 and carrier radius
    c = (k + 1) / 2: the pitch points of sun and ring have the planet's speed there,
    w_s 1 = w_c c - w_p p and w_r k = w_c c + w_p p (w_p: planet's absolute spin). A tooth force F
    on the planet at the sun needs the same F at the ring (its moments balance) and 2 F at its pin.
    """
    p, c = 0.5 * (k - 1.0), 0.5 * (k + 1.0)
    # Unknowns (w_s, w_r, w_c, w_p).
    rolling = np.array([[1.0, 0.0, -c, p], [0.0, k, -c, -p]])
    force = 1.0
    torques = {"sun": force * 1.0, "ring": force * k, "carrier": -2.0 * force * c}
    return rolling, torques


@given(ratios, speeds, speeds, st.sampled_from(MEMBERS))
def test_speeds_are_those_of_rolling_contact(k, first, second, wanted):
    rolling, _ = at_the_teeth(k)
    column = {"sun": 0, "ring": 1, "carrier": 2}
    known = [member for member in MEMBERS if member != wanted]
    given_speeds = dict(zip(known, (first, second), strict=True))
    unknown = [column[wanted], 3]
    right = -sum(rolling[:, column[name]] * omega for name, omega in given_speeds.items())
    expected = np.linalg.solve(rolling[:, unknown], right)[0]
    found = float(Planetary(ratio=k).speed(wanted, **given_speeds))
    # Twelve digits of the largest speed involved: double precision through one division.
    assert found == pytest.approx(expected, abs=1e-11 * (1 + abs(first) + abs(second)) * (1 + k))


@given(ratios, st.floats(-900.0, 900.0), st.sampled_from(MEMBERS))
def test_torques_are_those_of_the_tooth_forces(k, torque, at):
    _, expected = at_the_teeth(k)
    gears = Planetary(ratio=k)
    for member in MEMBERS:
        found = float(gears.torque(member, of=at, torque=torque))
        assert found == pytest.approx(torque * expected[member] / expected[at], rel=1e-12)


@given(ratios, speeds, speeds, st.floats(-900.0, 900.0))
def test_torques_and_powers_add_up_to_zero(k, sun, ring, torque):
    gears = Planetary(ratio=k)
    omega = {"sun": sun, "ring": ring, "carrier": float(gears.speed("carrier", sun=sun, ring=ring))}
    acting = {member: float(gears.torque(member, of="sun", torque=torque)) for member in MEMBERS}
    scale = 1e-12 * (1 + abs(torque)) * (1 + k)
    assert sum(acting.values()) == pytest.approx(0.0, abs=scale)
    power = sum(acting[member] * omega[member] for member in MEMBERS)
    assert power == pytest.approx(0.0, abs=scale * (1 + abs(sun) + abs(ring)))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"ratio": 1.0}, "ring surrounds the sun"),
        ({"ratio": 0.4}, "not sun / ring"),
        ({"ratio": -2.0}, "ratio"),
        ({"ratio": float("inf")}, "ratio"),
        ({"sun_teeth": 0, "ring_teeth": 75}, "sun_teeth: not a number of teeth; found 0"),
        ({"sun_teeth": 30, "ring_teeth": 0}, "ring_teeth: not a number of teeth"),
        ({"sun_teeth": 30.5, "ring_teeth": 75}, "whole number"),
        ({"sun_teeth": 75, "ring_teeth": 30}, "ring_teeth: .*more teeth"),
        ({"sun_teeth": 30}, "come in pairs"),
        ({"sun_teeth": 30, "ring_teeth": 75, "ratio": 3.0}, "contradicts"),
        ({}, "neither teeth nor a ratio"),
    ],
)
def test_impossible_planetary_is_refused(fields, words):
    with pytest.raises(InputError, match=words):
        Planetary(**fields)


def test_speed_needs_exactly_the_two_others():
    with pytest.raises(InputError, match="carrier and ring"):
        Planetary(ratio=2.0).speed("sun", ring=1.0)


@pytest.mark.parametrize("split", SHAFTS)
def test_connection_reads_what_it_writes(split):
    shafts = SHAFTS[split]
    text = ", ".join(
        f"{shaft} -> {member}"
        for shaft, member in zip(shafts, ("ring", "carrier", "sun"), strict=True)
    )
    found = Connection.parse(text)
    assert (found.split, found.members) == (split, ("ring", "carrier", "sun"))
    assert str(found) == text
    assert Connection.parse(str(CLASSIC)) == CLASSIC


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("engine on sun", "not a connection"),
        ("enginee -> sun, turbine -> ring, output -> carrier", "did you mean"),
        ("engine-and-impeller -> sun, turbine -> ring", "do not make an arrangement"),
        ("engine -> sun, turbine -> ring, output -> carrier", "do not make an arrangement"),
        ("engine-and-impeller -> sun, turbine -> sun, output -> carrier", "two shafts on one"),
        ("engine-and-impeller -> sun, turbine -> rim, output -> carrier", "did you mean 'ring'"),
        ("turbine -> sun, turbine -> ring, output -> carrier", "connected twice"),
    ],
)
def test_connection_that_cannot_be_is_refused(text, words):
    with pytest.raises(InputError, match=words):
        Connection.parse(text)
