"""How long a stall may be held: one answer, the shortest that a fair reading of the data allows."""

import json
import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from converter_match.answer.noted import Answer
from converter_match.cli import main
from converter_match.components.converter import ConverterLimits
from converter_match.components.machine import Cooler, Oil
from converter_match.components.site import Site
from converter_match.judgement.stall.band import Band
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.hold import hold_in_band, stall_hold
from converter_match.judgement.stall.setup import StallSetup
from converter_match.library.shipped import shipped
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.machines import machine

# J/(kg K) of mineral oil and of steel, kg/m^3 where a file gives none: as the heat-up is tested.
OIL_HEAT, STEEL_HEAT, OIL_DENSITY = 2060.0, 470.0, 870.0
ZERO = 273.15
PAIRS = (
    ("six-cylinder-7l-185kw", "single-stage-345mm-tight"),
    ("six-cylinder-15l-400kw", "single-stage-420mm"),
    ("four-cylinder-2l5-45kw", "single-stage-420mm"),
)
# Keys of the answer that both verbs give.
SHARED = (
    "longest_hold_s", "set_by", "heat_kw", "oil_rise_k_per_s", "time_to_oil_limit_s",
    "time_to_oil_limit_oil_alone_s", "oil_start_degc", "oil_limit_degc", "oil_after_hold_degc",
    "cool_down_in_neutral_s", "stall_speed_rpm", "heat_at_speed_rpm", "first_rise_k_per_s",
    "time_to_limit_s", "time_to_limit_oil_alone_s", "time_to_149_degc_s", "balance_degc",
)  # fmt: skip


def setup(**changes):
    fields = {"engine": engine(), "converter": converter(), "machine": machine()}
    return StallSetup(**(fields | changes))


def held(heat=150e3, **changes):
    """Return the hold where the upper end of the band makes a heat [W]."""
    given = setup(**changes)
    speed = (heat / given.capacity()) ** (1 / 3)
    return hold_in_band(given, Band(0.98 * speed, 0.96 * speed, speed, 0.95))


# Through the converter [m^3/s]: so much that its oil is hardly warmer than the rest.
BRISK = 0.03


def oil_of(seconds, heat=150e3, kelvin=27.0, **changes):
    """Return the oil that takes so long from 93 to 120 degC with a heat, nothing else helping."""
    volume = seconds * heat / kelvin / OIL_HEAT / OIL_DENSITY
    fields = {"volume": volume, "temperature_limit": ZERO + 120, "charge_flow": BRISK}
    return Oil(**(fields | changes))


def outlet_time(heat, start, limit, oil, given):
    """Return the time until the oil in the converter is at a limit, by a general integrator [s].

    Two volumes and the flow between them; where a file is silent the least that is assumed: 0.4
    L/min per kW of rated power, and 0.12 times the cube of the diameter. Infinite after a minute.
    """
    power = given.engine.rated_power / 1e3
    flow = oil.charge_flow or 0.4e-3 / 60.0 * power
    inside = min(0.12 * given.converter.profile_diameter**3, 0.9 * (oil.volume or math.inf))
    per_volume = OIL_DENSITY * OIL_HEAT
    c, k = per_volume * inside, per_volume * flow
    r = per_volume * ((oil.volume or 1e9) - inside)

    def slope(_, y):
        over = k * (y[0] - y[1])
        return [(heat - over) / c, over / r]

    def there(_, y):
        return y[0] - limit

    there.terminal = True
    run = solve_ivp(slope, (0.0, 60.0), [start, start], events=there, rtol=1e-9, atol=1e-9)
    return float(run.t_events[0][0]) if run.t_events[0].size else math.inf


def codes(answer):
    return {note.code: note.kind for note in answer.notes}


# --- both verbs -----------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("truck", sorted(shipped("machines")))
@pytest.mark.parametrize("pair", PAIRS)
def test_both_verbs_give_the_same_hold_of_a_shipped_machine(capsys, truck, pair):
    words = ("--engine", pair[0], "--converter", pair[1], "--machine", truck, "--json")
    conditions = ("--altitude", "1500", "--air-temperature", "30")
    for more in ((), conditions):
        one = main(["hold", *words, *more])
        alone = json.loads(capsys.readouterr().out)
        other = main(["stall", *words, *more, "--expect"])
        told = json.loads(capsys.readouterr().out)["expectation"]
        assert {key: alone[key] for key in SHARED} == {key: told["hold"][key] for key in SHARED}
        assert one == other
        assert alone["heat_at_speed_rpm"] == told["expected"]["high_rpm"]
        assert alone["stall_speed_rpm"] == told["expected"]["as_on_the_sheets_rpm"] or (
            told["hold"]["longest_hold_s"] is None
        )
    assert main(["hold", *words, "--oil-start", "88"]) == main(
        ["stall", *words, "--oil-temperature", "88"]
    )


def random_setup(rng):
    metal = {}
    if rng.random() < 0.6:
        metal["metal_mass"] = rng.uniform(50, 800)
        if rng.random() < 0.5:
            metal["metal_conductance"] = rng.uniform(500, 8000)
    own, working = ZERO + rng.uniform(95, 160), ZERO + rng.uniform(60, 110)
    oil = Oil(
        volume=None if rng.random() < 0.15 else rng.uniform(0.008, 0.2),
        temperature_limit=None if rng.random() < 0.3 else own,
        working_temperature=None if rng.random() < 0.4 else min(working, own - 1.0),
        charge_flow=None if rng.random() < 0.4 else rng.uniform(0.5e-3, 6e-3),
        outlet_temperature_limit=None if rng.random() < 0.6 else ZERO + rng.uniform(126, 148),
        **metal,
    )
    cooler = None
    if rng.random() < 0.7:
        cooler = Cooler.from_rating(rng.uniform(20e3, 150e3), ZERO + 110, ZERO + 40)
    limit = None if rng.random() < 0.5 else ZERO + rng.uniform(100, 150)
    site = None
    if rng.random() < 0.6:
        site = Site(id="s", name="s", source="test", altitude=rng.uniform(0, 3500),
                    air_temperature=ZERO + rng.uniform(-20, 45))  # fmt: skip
    return setup(
        converter=converter(
            capacity=rng.uniform(0.5, 2.5) * converter().capacity,
            limits=ConverterLimits(oil_temperature=limit),
        ),
        machine=machine(oil=oil, cooler=cooler),
        site=site,
        oil_temperature=None if rng.random() < 0.5 else ZERO + rng.uniform(60, 125),
        hydraulic_torque=rng.uniform(0, 150),
        maker_hold=None if rng.random() < 0.6 else rng.uniform(2, 60),
    )


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(30))
def test_hold_of_a_random_machine_is_the_same_alone_and_in_its_expectation_and_is_safe(seed):
    given = random_setup(np.random.default_rng(seed))
    alone, expectation = stall_hold(given), expect(given)
    told = expectation.to_dict()["hold"]
    plain = alone.to_dict()
    assert {key: plain[key] for key in SHARED} == {key: told[key] for key in SHARED}
    assert alone.fails == (
        "limit" in {note.kind for note in expectation.hold.notes} or not expectation.stalls
    )
    if alone.seconds is None:
        return
    # By hand, whatever else the machine has: the oil alone, from the warmest that is known to the
    # lowest limit that is stated, with the heat of the highest stall speed; and the oil in the
    # converter to its own limit.
    oil = given.machine.oil
    warm = [ZERO + 93] + ([oil.working_temperature] if oil.working_temperature else [])
    start = max(warm) if given.oil_temperature is None else given.oil_temperature
    limits = [ZERO + 149, given.converter.limits.oil_temperature, oil.temperature_limit]
    room = min(limit for limit in limits if limit is not None) - start
    heat = given.capacity() * expectation.band.high**3
    longest = (
        10.0 if oil.volume is None else 0.8 * oil.volume * OIL_DENSITY * OIL_HEAT * room / heat
    )
    outlet = ZERO + 149 if oil.outlet_temperature_limit is None else oil.outlet_temperature_limit
    inside = 0.8 * outlet_time(heat, start, outlet, oil, given)
    longest = min(longest, inside, 30.0, given.maker_hold or math.inf)
    by_hand = max(longest if room > 0 else 0.0, 0.0)
    assert alone.seconds in {math.floor(by_hand - 1e-6), math.floor(by_hand + 1e-6)}
    if longest == inside and room > 0:
        assert alone.set_by == "converter-outlet"


# --- what sets it ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stated", "own", "limit"),
    [(None, None, 149.0), (None, 118.0, 118.0), (112.0, 118.0, 112.0), (125.0, None, 125.0),
     (125.0, 118.0, 118.0), (160.0, 170.0, 149.0)],
)  # fmt: skip
def test_lowest_limit_of_converter_machine_and_manual_counts(stated, own, limit):
    # US Army TM 9-2320-283-10: stop at 149 degC (300 degF).
    def kelvin(value):
        return None if value is None else ZERO + value

    answer = held(
        converter=converter(limits=ConverterLimits(oil_temperature=kelvin(stated))),
        machine=machine(oil=Oil(volume=0.04, temperature_limit=kelvin(own), charge_flow=BRISK)),
    )
    assert answer.limit == pytest.approx(ZERO + limit)
    assert ("oil-limit-not-given" in codes(answer)) is (stated is None and own is None)
    # The oil in the converter stops at 149 degC as well, where it is hotter by Q / (rho c V').
    ahead = 150e3 / (OIL_DENSITY * OIL_HEAT * BRISK) * (1 - 0.12 * 0.345**3 / 0.04)
    room = min(limit - 93, 149 - ahead - 93)
    assert answer.seconds == math.floor(0.8 * 0.04 * OIL_DENSITY * OIL_HEAT * room / 150e3)
    assert answer.set_by == ("oil-limit" if limit < 149 else "converter-outlet")


@pytest.mark.parametrize(
    ("asked", "working", "start", "code"),
    [
        (None, None, 93.0, "hold-from-warmest-oil"),
        (None, 85.0, 93.0, "hold-from-warmest-oil"),
        (None, 93.0, 93.0, "hold-from-warmest-oil"),
        (None, 104.0, 104.0, "hold-from-working-oil"),
        (80.0, 104.0, 80.0, None),
        (97.0, None, 97.0, None),
    ],
)
def test_hold_starts_from_the_warmest_oil_that_may_be_in_the_machine(asked, working, start, code):
    # US Army TM 10-3930-671-24: 82 to 93 degC before the test.
    answer = held(
        oil_temperature=None if asked is None else ZERO + asked,
        machine=machine(
            oil=Oil(
                volume=0.06,
                temperature_limit=ZERO + 120,
                working_temperature=None if working is None else ZERO + working,
            )
        ),
    )
    assert answer.start == pytest.approx(ZERO + start)
    said = {"hold-from-warmest-oil", "hold-from-working-oil"} & codes(answer).keys()
    assert said == ({code} if code else set())
    if code:
        [note] = [note for note in answer.notes if note.code == code]
        assert f"{start:.0f} °C" in note_text(note, "si")


@pytest.mark.parametrize(
    ("seconds", "longest", "set_by"),
    [(12.4, 9.0, "oil-limit"), (12.6, 10.0, "oil-limit"), (37.4, 29.0, "oil-limit"),
     (37.6, 30.0, "common-practice"), (80.0, 30.0, "common-practice")],
)  # fmt: skip
def test_hold_is_whole_seconds_of_four_fifths_and_at_most_thirty(seconds, longest, set_by):
    answer = held(machine=machine(oil=oil_of(seconds)))
    assert answer.to_limit == pytest.approx(seconds)
    assert (answer.seconds, answer.set_by) == (longest, set_by)


@pytest.mark.parametrize(
    ("maker", "longest", "set_by"),
    [(5.0, 5.0, "maker"), (5.9, 5.0, "maker"), (9.5, 9.0, "maker"), (20.0, 9.0, "oil-limit"),
     (None, 9.0, "oil-limit")],
)  # fmt: skip
def test_figure_of_the_machine_maker_only_shortens(maker, longest, set_by):
    answer = held(machine=machine(oil=oil_of(12.4)), maker_hold=maker)
    assert (answer.seconds, answer.set_by) == (longest, set_by)
    assert answer.end == pytest.approx(ZERO + 93 + 27 * longest / 12.4)


@pytest.mark.parametrize(("seconds", "fails"), [(3.7, True), (3.8, False)])
def test_less_than_three_seconds_is_no_hold(seconds, fails):
    # Four fifths of 3.7 s are 2.96 s: the speed has not settled.
    answer = held(machine=machine(oil=oil_of(seconds)))
    assert answer.fails is fails
    assert codes(answer).get("hold-too-short") == ("limit" if fails else None)


@pytest.mark.parametrize("flow", [None, 1e-3, 2e-3, 4e-3])
@pytest.mark.parametrize("limit", [None, 130.0])
@pytest.mark.parametrize("volume", [None, 0.025, 0.05])
def test_oil_in_the_converter_ends_a_hold_before_the_bulk_is_at_its_limit(flow, limit, volume):
    own = None if limit is None else ZERO + limit
    oil = Oil(volume=volume, temperature_limit=ZERO + 120, charge_flow=flow,
              outlet_temperature_limit=own)  # fmt: skip
    answer = held(heat=120e3, machine=machine(oil=oil))
    time = outlet_time(120e3, ZERO + 93, own or ZERO + 149, oil, answer.setup)
    told = answer.to_dict()
    assert told["time_to_outlet_limit_s"] == (
        None if math.isinf(time) and volume is None else pytest.approx(time, rel=1e-5)
    )
    bulk = 10.0 if volume is None else 0.8 * answer.to_limit
    assert answer.seconds == math.floor(min(bulk, 0.8 * time))
    assert (answer.set_by == "converter-outlet") is (0.8 * time < bulk)
    assert told["outlet_limit_degc"] == pytest.approx(limit or 149.0)
    assert told["charge_flow_assumed"] is (flow is None)
    assert ("charge-flow-assumed" in codes(answer)) is (flow is None)
    assert ("outlet-limit-not-given" in codes(answer)) is (limit is None)
    assert {"converter-oil-assumed", "outlet-levels"} <= codes(answer).keys()
    assert told["outlet_after_hold_degc"] >= told["outlet_after_hold_least_degc"]
    assert answer.fails is (answer.seconds < 3.0)


def test_outlet_is_the_same_from_both_ends_where_flow_and_volume_are_given():
    unit = converter(oil_volume=0.007)
    answer = held(converter=unit, machine=machine(oil=oil_of(12.4, charge_flow=0.0025)))
    told = answer.to_dict()
    assert told["outlet_after_hold_degc"] == told["outlet_after_hold_least_degc"]
    assert not {"charge-flow-assumed", "converter-oil-assumed"} & codes(answer).keys()
    assert "converter outlet after the longest hold: " in answer.text()
    assert "charge flow through the converter: 150 L/min" in answer.text()
    us = answer.text("us")
    assert "charge flow through the converter: 39.6 US gal/min" in us


@pytest.mark.parametrize("truck", [None, machine(oil=Oil(temperature_limit=ZERO + 120))])
def test_without_oil_volume_ten_seconds_stand_unless_the_oil_is_at_its_limit(truck):
    # A rated power of 0.4 L/min per kW takes 40 kW of heat away at no more than 149 degC.
    answer = held(heat=40e3, machine=truck, oil_temperature=ZERO + 119)
    assert (answer.seconds, answer.set_by) == (10.0, "no-oil-data")
    assert (answer.rate, answer.to_limit, answer.end, answer.warm_up) == (None,) * 4
    assert "hold-not-calculated" in codes(answer)
    assert not answer.fails
    hot = held(machine=truck, oil_temperature=ZERO + 150)
    assert (hot.seconds, hot.set_by) == (0.0, "oil-limit")
    assert hot.fails
    assert codes(hot)["oil-over-limit-at-start"] == "limit"


def test_heat_is_that_of_the_highest_stall_speed_in_the_oil_of_the_day():
    given = setup(oil_temperature=ZERO + 60)
    answer = stall_hold(given)
    # All of the power at stall is heat: C(0) omega^3. The sheet's capacity holds at 90 degC; oil
    # expands by 6.75e-4 a kelvin, so 30 K colder is 2.1 % denser.
    denser = 1 / (1 - 6.75e-4 * 30)
    assert answer.heat == pytest.approx(given.stall_capacity * denser * answer.band.high**3)
    assert answer.heat > given.stall_capacity * denser * answer.band.middle**3


# --- for information ------------------------------------------------------------------------------


def test_times_with_cooler_and_metal_start_from_the_same_heat_start_and_limit():
    steel = 400.0 * STEEL_HEAT
    answer = held(machine=machine(oil=oil_of(12.0, metal_mass=400.0)))
    run = answer.warm_up
    # One lump and a proportional cooler: t = C/G ln((T_inf - T_0) / (T_inf - T_lim)).
    g, air = 60e3 / 70.0, 25.0
    final = air + 150e3 / g
    alone = 12.0 * 150e3 / 27.0

    def time(capacity, limit):
        return capacity / g * math.log((final - 93) / (final - limit))

    assert run.to_limit_cooled == pytest.approx(time(alone, 120), rel=1e-6)
    assert run.to_limit == pytest.approx(time(alone + steel, 120), rel=1e-6)
    assert run.to_stop == pytest.approx(time(alone + steel, 149), rel=1e-6)
    assert run.balance == pytest.approx(ZERO + final)
    assert run.first_rate == pytest.approx((150e3 - g * (93 - air)) / (alone + steel))
    assert "metal-follows-oil" in codes(answer)
    assert answer.to_limit < run.to_limit_cooled < run.to_limit


def test_metal_with_a_conductance_takes_its_share_in_both_times():
    answer = held(machine=machine(oil=oil_of(12.0, metal_mass=400.0, metal_conductance=4e3)))
    assert answer.warm_up.to_limit_cooled == answer.warm_up.to_limit > 12.0
    assert "metal-follows-oil" not in codes(answer)


def test_cooler_that_keeps_up_is_said_and_changes_nothing_of_the_hold():
    strong = Cooler.from_rating(400e3, ZERO + 110, ZERO + 40)
    answer = held(machine=machine(oil=oil_of(12.4), cooler=strong))
    assert answer.warm_up.to_limit is None
    assert answer.seconds == 9.0
    assert "time to the limit, cooler and metal at work: not reached" in answer.text()
    assert answer.to_dict()["time_to_limit_s"] is None


def test_cool_down_is_an_exponential_towards_the_air_at_the_cooler():
    answer = held(machine=machine(oil=oil_of(12.4)))
    # No heat in neutral: the oil falls as exp(-G t / C) from the end of the hold to 2 K above the
    # start; in steps of 5 s, a minute at least.
    g, capacity = 60e3 / 70.0, 12.4 * 150e3 / 27.0
    end = 93 + 27 * 9 / 12.4
    time = capacity / g * math.log((end - 25) / (93 + 2 - 25))
    assert answer.cool_down == pytest.approx(max(5 * math.ceil(time / 5), 60.0))
    small = held(machine=machine(oil=oil_of(12.4, kelvin=27.0), cooler=None))
    assert small.cool_down is None
    hot_air = Site(id="hot", name="hot", source="test", altitude=0.0, air_temperature=ZERO + 45)
    slow = held(machine=machine(oil=oil_of(60.0)), site=hot_air)
    g_air = (ZERO + 93 + 27 * 30 / 60 - (ZERO + 45)) / (ZERO + 95 - (ZERO + 45))
    capacity = 60.0 * 150e3 / 27.0
    # Warm air is thin: at the same pressure its density is 288.15 / 318.15, and the cooler carries
    # that to the power 0.8 of what its data say.
    share = (288.15 / 318.15) ** 0.8
    by_hand = capacity / (g * share) * math.log(g_air)
    assert slow.cool_down == pytest.approx(5 * math.ceil(by_hand / 5))
    assert slow.cool_down > 60.0


# --- what is said ---------------------------------------------------------------------------------


def test_every_caution_and_assumption_stands_with_the_hold_alone():
    answer = stall_hold(setup())
    kinds = codes(answer)
    for code in ("stall-test-hazard", "stall-hold-is-hazardous", "hold-common-practice",
                 "towing-needs-care"):  # fmt: skip
        assert kinds[code] == "caution"
    for code in ("hold-heat", "hold-oil-alone", "tolerances-assumed", "oil-density", "no-site",
                 "cooler-air-temperature", "cooler-flow-at-stall"):  # fmt: skip
        assert kinds[code] == "assumption"
    assert isinstance(answer, Answer)
    lines = answer.text().splitlines()
    assert lines[0].startswith("CAUTION: A stall test can hurt people")
    assert sum("A stall test can hurt people" in line for line in lines) == 1


def test_units_of_the_reader_decide_nothing():
    answer = stall_hold(setup(oil_temperature=ZERO + 90))
    us = answer.text("us")
    assert f"longest hold: {answer.seconds:.0f} s" in us
    assert "oil at the start: 194 °F" in us
    rise = answer.rate * 1.8
    assert f"rise of the oil alone: {rise:.1f}" in us
    assert "°C" not in us


def test_no_stall_has_no_hold_whatever_the_oil():
    stuck = setup(converter=converter(capacity=20 * converter().capacity))
    answer = stall_hold(stuck)
    assert (answer.seconds, answer.heat, answer.set_by) == (None, None, "no-stall")
    assert answer.fails
    assert "longest hold: none: there is no stall to hold; do not test" in answer.text()
    assert "For information" not in answer.text()
    assert answer.to_dict()["time_to_limit_oil_alone_s"] is None


def test_upper_end_of_the_band_is_the_speed_that_is_shown():
    answer = stall_hold(setup())
    shown = answer.to_dict()
    assert shown["heat_at_speed_rpm"] == pytest.approx(answer.band.high / RPM)
    assert shown["stall_speed_rpm"] == pytest.approx(answer.band.middle / RPM)
