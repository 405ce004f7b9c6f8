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
        ({"sun_teeth": 30, "ring_teeth": 10_001}, "ring_teeth: .*from 1 to 10000"),
        ({"sun_teeth": 30, "ring_teeth": 10**400}, "ring_teeth: not a number of teeth"),
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


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"ratio": 1.0}, "ratio"),
        ({"ratio": float("inf")}, "ratio"),
        ({}, "ratio"),
        ({"sun_teeth": 30, "ring_teeth": 30}, "ring_teeth"),
        ({"sun_teeth": 30}, "ring_teeth"),
        ({"ring_teeth": 75}, "sun_teeth"),
        ({"sun_teeth": 30, "ratio": 2.5}, "ring_teeth"),
        ({"sun_teeth": 0, "ring_teeth": 75}, "sun_teeth"),
        ({"sun_teeth": -30, "ring_teeth": -75}, "sun_teeth"),
        ({"sun_teeth": True, "ring_teeth": 75}, "sun_teeth"),
        ({"sun_teeth": 30, "ring_teeth": 75.5}, "ring_teeth"),
        ({"sun_teeth": 30, "ring_teeth": 75, "ratio": 2.6}, "ratio"),
    ],
)
def test_impossible_planetary_is_refused_by_its_field(fields, field):
    assert refusal(lambda: Planetary(**fields)).field == field


@pytest.mark.parametrize(
    ("ratio", "hinted"), [(0.4, True), (5e-324, True), (0.0, False), (-0.4, False), (1.0, False)]
)
def test_ratio_turned_over_is_suspected_between_nothing_and_one(ratio, hinted):
    assert (refusal(lambda: Planetary(ratio=ratio)).hint is not None) is hinted


def test_any_ratio_above_one_and_one_tooth_will_do():
    assert Planetary(ratio=1.0 + 2**-52).ratio == 1.0 + 2**-52
    assert Planetary(sun_teeth=1, ring_teeth=2).ratio == 2.0
    assert Planetary(sun_teeth=1, ring_teeth=10_000).ratio == 10_000.0
    assert isinstance(Planetary(ratio=3).ratio, float)


@pytest.mark.parametrize("off", [-0.0051, -0.0049, 0.0049, 0.0051])
def test_ratio_beside_the_teeth_may_be_rounded_by_half_a_percent(off):
    # 10 : 80, so that a share of the ratio and a share of its inverse are far apart.
    stated = 8.0 * (1 + off)
    if abs(off) > 0.005:
        with pytest.raises(InputError, match="contradicts the tooth counts"):
            Planetary(sun_teeth=10, ring_teeth=80, ratio=stated)
    else:
        assert Planetary(sun_teeth=10, ring_teeth=80, ratio=stated).ratio == 8.0


def test_member_that_is_none_is_refused():
    gears = Planetary(ratio=2.0)
    assert refusal(lambda: gears.coefficient("rim")).field == "member"
    assert refusal(lambda: gears.torque("sun", of="planet", torque=1.0)).field == "member"
    assert refusal(lambda: gears.speed("planet", sun=1.0, ring=1.0)).field == "member"
    for given_speeds in ({}, {"ring": 1.0}, {"sun": 1.0, "ring": 1.0, "carrier": 1.0}):
        error = refusal(lambda given_speeds=given_speeds: gears.speed("sun", **given_speeds))
        assert error.field == "others"


def test_arrays_of_any_kind_become_double_precision():
    gears = Planetary(ratio=2.5)
    single = np.float32([0.1, 0.7])
    exact = single.astype(float)
    # Ring held: carrier = sun / (1 + k). Torque: carrier = -(1 + k) sun.
    np.testing.assert_allclose(gears.speed("carrier", sun=single, ring=0), exact / 3.5, rtol=1e-15)
    torque = gears.torque("carrier", of="sun", torque=single)
    np.testing.assert_allclose(torque, -3.5 * exact, rtol=1e-15)


@pytest.mark.parametrize("place", range(3))
def test_connection_with_an_unknown_word_is_refused(place):
    members = ["sun", "ring", "carrier"]
    names = ("engine", "hydraulic", "output")
    assert (
        refusal(
            lambda: Connection(split="inputsplit", **dict(zip(names, members, strict=True)))
        ).field
        == "connection"
    )
    members[place] = "planet"
    error = refusal(
        lambda: Connection(split="input-split", **dict(zip(names, members, strict=True)))
    )
    assert (error.field, error.found) == ("connection", "planet")
    members[place] = members[(place + 1) % 3]
    error = refusal(
        lambda: Connection(split="input-split", **dict(zip(names, members, strict=True)))
    )
    assert (error.field, error.problem) == ("connection", "two shafts on one member")


@pytest.mark.parametrize(
    "text",
    [
        "engine on sun",
        "enginee -> sun, turbine -> ring, output -> carrier",
        "turbine -> sun, turbine -> ring, output -> carrier",
        "engine -> sun, turbine -> ring, output -> carrier",
        "",
    ],
)
def test_text_that_is_no_connection_is_refused_by_its_field(text):
    assert refusal(lambda: Connection.parse(text)).field == "connection"


def test_order_and_space_in_a_connection_do_not_matter():
    text = "output->carrier ,turbine  ->  ring,  engine-and-impeller -> sun"
    assert Connection.parse(text) == CLASSIC
