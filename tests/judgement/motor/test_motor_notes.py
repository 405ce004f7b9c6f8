"""What is warned of with a motor: on which side of which bound.

The motor gives 100 N.m at every speed up to 4500 rpm, 80 N.m for good; the converter absorbs
100 N.m at its stall of 60 sqrt(100) = 600 rpm and multiplies by 2.2.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from converter_match.components.converter import ConverterLimits
from converter_match.components.engine import Accessory
from converter_match.components.motor import Supply
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.components.winding import Winding
from converter_match.judgement.motor import acceleration, hold, route
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.solve import solve_motor
from converter_match.judgement.motor.stall import MotorStallSetup, expect_motor
from tests.examples import converter
from tests.machines import machine
from tests.motors import RPM, motor

SPEED = np.array([0.0, 500.0, 1500.0, 3000.0, 4500.0]) * RPM


def flat(**changes):
    fields = {
        "speed": SPEED, "peak": np.full(5, 100.0), "continuous": np.full(5, 80.0),
        "regenerative": None, "losses": None,
    }  # fmt: skip
    return motor(**(fields | changes))


def at(celsius, altitude=0.0):
    return Site(
        id="s", name="s", source="s", altitude=altitude, air_temperature=celsius + 273.15
    )  # fmt: skip


def said(result, code):
    return [dict(note.values) for note in result.notes if note.code == code]


# --- motor, voltage, coolant ---------------------------------------------------------------------

HOT = Winding(thermal_class="155", coolant=273.15 + 20.0, rise_at_continuous=100.0)


@pytest.mark.parametrize(
    ("celsius", "share"),
    # 125 degC are permitted, where 100 K lie above 20 degC: (125 - T) / 100, and its root.
    [(24.9, None), (25.1, 0.999**0.5), (61.0, 0.8)],
)
def test_air_that_leaves_less_than_the_rise_of_the_winding_takes_torque_away(celsius, share):
    setup = MotorSetup(flat(winding=HOT), at(celsius))
    found = said(setup, "motor-coolant-hot")
    assert len(found) == (share is not None)
    for values in found:
        assert values["share"] == pytest.approx(share)
        assert values["air"] == pytest.approx(celsius + 273.15)
        assert values["coolant"] == pytest.approx(293.15)


def test_air_of_a_motor_whose_class_is_not_known_is_held_against_its_rating():
    bare = Winding(coolant=273.15 + 30.0)
    for celsius, odd in ((29.9, False), (30.1, True)):
        found = said(MotorSetup(flat(winding=bare), at(celsius)), "motor-coolant-hot-class-unknown")
        assert len(found) == odd
    nowhere = MotorSetup(flat(winding=bare))
    assert said(nowhere, "motor-coolant-rated") == [{"coolant": 273.15 + 30.0}]
    assert said(MotorSetup(flat(winding=bare), at(20.0)), "motor-coolant-rated") == []


@pytest.mark.parametrize(("altitude", "odd"), [(999.0, False), (1001.0, True)])
def test_air_above_1000_m_cools_less(altitude, odd):
    # IEC 60034-1: not above 1000 m where nothing else is stated.
    found = said(MotorSetup(flat(), at(20.0, altitude)), "motor-altitude")
    assert found == ([{"altitude": altitude, "usual": 1000.0}] if odd else [])


@pytest.mark.parametrize(
    ("volts", "corner", "ends"), [(80.0, None, None), (72.0, 0.9, None), (60.0, 0.75, 3375.0)]
)
def test_voltage_moves_the_corner_in_proportion_and_may_end_the_curve(volts, corner, ends):
    given = motor(voltage=Supply(nominal=80.0, least=50.0, most=90.0), speed_limit=4050.0 * RPM)
    setup = MotorSetup(given, voltage=volts)
    moved = said(setup, "voltage-moves-corner")
    assert [values["corner"] / RPM for values in moved] == pytest.approx(
        [] if corner is None else [corner * 1500.0]
    )
    ended = said(setup, "voltage-ends-curve")
    assert [values["top"] / RPM for values in ended] == pytest.approx([ends] if ends else [])


def test_pump_on_the_motor_stops_with_it():
    names = ("Charge pump", "fan", "steering PUMP")
    accessories = tuple(
        Accessory(name=name, power=500.0, at_speed=2000 * RPM, exponent=1.0) for name in names
    )
    setup = MotorSetup(flat(accessories=accessories))
    assert said(setup, "pump-stops-with-the-motor") == [{"names": "Charge pump, steering PUMP"}]
    assert said(MotorSetup(flat(accessories=accessories[1:2])), "pump-stops-with-the-motor") == []


def test_battery_is_left_out_where_losses_are_known():
    assert len(said(MotorSetup(motor()), "battery-left-out")) == 1
    assert said(MotorSetup(flat()), "battery-left-out") == []


# --- the match -----------------------------------------------------------------------------------

TOP = 4500.0 * RPM


@pytest.mark.parametrize(
    ("limit", "value", "code"),
    [
        ("input_speed", TOP, "limit-input-speed"),
        ("input_torque", 100.0, "limit-input-torque"),
    ],
)
def test_limit_of_the_converter_is_broken_above_it_and_not_below(limit, value, code):
    for share, odd in ((0.999, True), (1.001, False)):
        unit = converter(limits=ConverterLimits(**{limit: share * value}))
        result = solve_motor(flat(), unit)
        found = said(result, code)
        assert len(found) == odd
        for values in found:
            assert values["limit"] == share * value
            assert values.get("highest", values.get("top")) == pytest.approx(value)


@pytest.mark.parametrize(("ratio", "odd"), [(1.49, True), (1.51, False)])
def test_converter_that_hardly_multiplies_is_a_warning(ratio, odd):
    # Common practice, no source: below one and a half.
    sheet = converter()
    mu = np.where(sheet.speed_ratio < 0.86, ratio - (ratio - 1.0) * sheet.speed_ratio / 0.86, 1.0)
    result = solve_motor(flat(), converter(torque_ratio=mu))
    found = said(result, "hardly-any-multiplication")
    assert len(found) == odd
    for values in found:
        assert values["ratio"] == pytest.approx(ratio)
        assert (values["motor"], values["turbine"]) == pytest.approx((100.0, 100.0 * ratio))


def tight(rpm):
    """The converter whose stall with 100 N.m is at that speed: C = T / omega^2."""
    base = converter()
    return base.replace(capacity=base.capacity * 100.0 / (rpm * RPM) ** 2 / base.capacity[0])


@pytest.mark.parametrize(("rpm", "odd"), [(4490.0, False), (5000.0, True)])
def test_stall_at_the_speed_limit_is_said(rpm, odd):
    for result in (
        solve_motor(flat(), tight(rpm)),
        expect_motor(MotorStallSetup(drive=MotorDrive(MotorSetup(flat()), tight(rpm)))),
    ):
        assert len(said(result, "stall-at-speed-limit")) == odd


@pytest.mark.parametrize(("continuous", "code"), [(99.0, "stall-is-overload"),
                                                  (100.0, "stall-within-continuous")])  # fmt: skip
def test_stall_with_more_than_the_continuous_torque_is_an_overload(continuous, code):
    result = solve_motor(flat(continuous=np.full(5, continuous)), converter())
    for each in ("stall-is-overload", "stall-within-continuous"):
        found = said(result, each)
        assert len(found) == (each == code)
        for values in found:
            assert values["torque"] == pytest.approx(100.0)
    if code == "stall-is-overload":
        [values] = said(result, code)
        assert values["share"] == pytest.approx(100.0 / 99.0)


@pytest.mark.parametrize(
    ("rpm", "without"), [(52.0, []), (48.0, ["continuous"]), (44.0, ["peak", "continuous"])]
)
def test_torque_that_stalls_below_a_hundredth_of_the_top_speed_has_no_stall(rpm, without):
    # 45 rpm; with 80 N.m the stall is at sqrt(0.8) of that with 100 N.m: 46.5, 42.9, 39.4 rpm.
    result = solve_motor(flat(), tight(rpm))
    assert [values["rating"] for values in said(result, "no-stall")] == without


# --- the stall test ------------------------------------------------------------------------------


def stall_of(**asked):
    return expect_motor(MotorStallSetup(drive=MotorDrive(MotorSetup(flat()), converter()), **asked))


def test_voltage_that_nobody_gave_is_said_and_oil_that_nobody_gave():
    bare = stall_of()
    assert said(bare, "stall-voltage-unknown") == [{}]
    assert said(bare, "motor-stall-oil") == [{"oil": bare.setup.oil}]
    assert said(stall_of(oil_temperature=353.15), "motor-stall-oil") == []


@pytest.mark.parametrize("side", [-1, 1])
def test_published_span_that_misses_the_band_is_a_warning(side):
    band = stall_of().bands["peak"]
    end = band.low if side < 0 else band.high
    for gap, odd in ((-0.5 * RPM, False), (0.5 * RPM, True)):
        near = end + side * gap
        span = (near - 10.0, near) if side < 0 else (near, near + 10.0)
        found = said(stall_of(published=span), "motor-published-elsewhere")
        assert found == ([{"low": span[0], "high": span[1]}] if odd else [])


# --- how long it is held -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("times", "oil_known", "expected"),
    [
        # 10 s to 30 s are common practice, no source; of the time to a limit 80 % are used.
        ({"winding": 100.0, "oil": 90.0}, True, (30.0, "common-practice")),
        ({"winding": 100.0}, False, (10.0, "no-oil-data")),
        ({"winding": 37.6, "oil": 90.0}, True, (30.0, "common-practice")),
        ({"winding": 37.4, "oil": 90.0}, True, (29.0, "winding")),
        ({"winding": 90.0, "oil": 20.0}, True, (16.0, "oil")),
        ({"winding": 12.0}, False, (9.0, "winding")),
        ({"winding": 1.2}, True, (0.0, "winding")),
    ],
)
def test_longest_hold_is_in_whole_seconds_and_says_what_sets_it(times, oil_known, expected):
    first = min(times, key=times.get)
    assert hold._longest(times, first, oil_known=oil_known) == expected


# --- acceleration and route: what was found is set by hand ----------------------------------------


def run_of(warmest_cold=0.5, warmest_warm=0.9, reached=("reached", "reached")):
    """What is said of a run whose windings got as warm as that, in units of the steady rise."""
    ended = [SimpleNamespace(ending=how, speed=np.array([0.0, 2.0, 3.0])) for how in reached]
    setup = MotorSetup(flat(winding=HOT), at(20.0))  # 105 K permitted, 100 K at the rating
    found = acceleration._notes(
        SimpleNamespace(
            drive=SimpleNamespace(setup=setup),
            machine=machine(),
            run=ended[0],
            steady=ended[1],
            surface=Surface(name="road", rolling_resistance=0.02, traction=0.9, source="test"),
            spent={"peak": SimpleNamespace(warmest_cold=warmest_cold, warmest_warm=warmest_warm)},
        )
    )
    return {note.code: dict(note.values) for note in found}


def test_run_that_heats_the_winding_beyond_its_class_from_cold_is_said():
    assert run_of(warmest_cold=1.06)["run-overheats-winding"] == {
        "rise": 1.06,
        "permitted": pytest.approx(1.05),
    }
    assert "run-overheats-winding" not in run_of(warmest_cold=1.04)


def test_run_that_only_a_cold_winding_stands_is_said():
    for warm, odd in ((1.049, False), (1.051, True)):
        assert ("run-from-cold-only" in run_of(warmest_warm=warm)) is odd
    assert "run-from-cold-only" not in run_of(warmest_cold=1.06, warmest_warm=2.0)


@pytest.mark.parametrize(
    ("reached", "speed"),
    [
        (("reached", "reached"), None),
        (("reached", "top"), 3.0),
        (("reached", "no-start"), 0.0),
        (("top", "top"), None),
    ],
)
def test_speed_that_only_the_peak_torque_reaches_is_said(reached, speed):
    assert run_of(reached=reached).get("speed-on-peak-only", {}).get("speed") == speed


def way(oil=350.0, settles=True, hottest=0.9, stuck=False, limit=393.15, spread=None):
    """What is said of a route on which oil and winding got as warm as that."""
    ground = Surface(name="road", rolling_resistance=0.02, traction=0.9, source="test")
    one = SimpleNamespace(
        assumed=(), stuck=stuck, oil_hottest=oil, oil_settles=settles,
        winding=SimpleNamespace(hottest=hottest, permitted=1.05, rms=0.8),
        energy=SimpleNamespace(returned_share=0.1),
    )  # fmt: skip
    drive = MotorDrive(MotorSetup(motor(), at(20.0)), converter())
    found = route._notes(
        SimpleNamespace(
            drive=drive, machine=machine(), runs={"peak": one, "continuous": one},
            driveline=SimpleNamespace(notes=()), route=SimpleNamespace(surface=(ground,)),
            oil_limit=limit, returned_spread=spread,
        ),
        1.0,
    )  # fmt: skip
    return [(note.code, dict(note.values)) for note in found]


@pytest.mark.parametrize(
    ("oil", "settles", "code"),
    [
        (393.1, True, None),
        (393.2, True, "oil-above-limit-on-route"),
        (393.2, False, "oil-never-settles"),
        (None, True, None),
    ],
)
def test_oil_of_a_route_is_held_against_its_limit_for_both_torques(oil, settles, code):
    given = way(oil, settles)
    for each in ("oil-above-limit-on-route", "oil-never-settles"):
        found = [values for name, values in given if name == each]
        assert [values["rating"] for values in found] == (
            ["peak", "continuous"] if each == code else []
        )
        for values in found:
            assert (values["oil"], values["limit"]) == (oil, 393.15)
    assert "oil-above-limit-on-route" not in dict(way(oil=500.0, limit=None))


def test_winding_of_a_route_is_held_against_its_class():
    assert "winding-above-limit-on-route" not in dict(way(hottest=1.05))
    found = dict(way(hottest=1.051))["winding-above-limit-on-route"]
    assert found == {"hottest": 1.051, "permitted": 1.05, "rms": 0.8}


def test_route_that_is_not_driven_and_energy_that_comes_back_are_said():
    said_of = way(stuck=True, spread=(0.05, 0.2))
    assert [v["rating"] for name, v in said_of if name == "route-not-driven"] == [
        "peak",
        "continuous",
    ]
    assert dict(said_of)["regeneration-band"] == {"low": 0.05, "high": 0.2}
    assert dict(said_of)["regeneration-through-converter"] == {"share": 0.1}
    assert {"route-not-driven", "regeneration-band"}.isdisjoint(dict(way()))
