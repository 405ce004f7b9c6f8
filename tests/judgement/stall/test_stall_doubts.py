"""What a stall test cannot do, cannot tell, or contradicts: said, and no number given for it."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from converter_match.components.reading import StallReading
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.inversion import WITHIN_REASON, together
from converter_match.judgement.stall.setup import StallSetup
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
    read_site,
)
from converter_match.library.shipped import shipped
from converter_match.physics.stall.settling import ReadingCondition, separate
from converter_match.present.stall.sheet import sheet_html, sheet_of
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.judgement.stall.test_stall import setup, shown

WEAK = ("four-cylinder-2l5-45kw", "single-stage-420mm")
LOOSE = ("six-cylinder-15l-400kw", "single-stage-260mm")
LATE = ("six-cylinder-8l-205kw-late-boost", "single-stage-380mm-tight")
SHIPPED = ("six-cylinder-7l-185kw", "single-stage-345mm-tight")
HAULER = ("six-cylinder-9l-240kw", "single-stage-390mm-full-range")


def of_library(pair, **changes):
    return StallSetup(
        **{
            "engine": read_engine(shipped("engines")[pair[0]]),
            "converter": read_converter(shipped("converters")[pair[1]]),
            "driveline": read_driveline(shipped("drivelines")["four-speed-loader"]),
            "machine": read_machine(shipped("machines")["wheel-loader-17t"]),
            "site": read_site(shipped("sites")["plateau-quarry-hot-day"]),
            "oil_temperature": 358.15,
            "relief_torque": 250.0,
        }
        | changes
    )


def explanations(found):
    return [note_text(note, "si") for note in found.explanations()]


def read(speed, test="converter", **fields):
    return StallReading(engine_speed=speed * RPM, test=test, **fields)


LOW = read(1600, gear="3", brakes="held")
THREE = [LOW, read(2262, "hydraulic"), read(1335, "both", gear="3", brakes="held")]


def surplus(given, f=1.0, g=1.0, relief=0.0, low=None):
    """Return the most net torque left over the converter's at any speed from idle on [N.m]."""
    supply = given.supply()
    w = np.linspace(supply.domain[0] if low is None else low, supply.domain[1] * (1 - 1e-9), 600)
    left = f * supply.factor * supply.source(w) - supply.load_torque(w) - relief
    return float(np.max(left - g * given.capacity() * w**2))


# --- a test that cannot be done -------------------------------------------------------------------


def test_machine_that_stays_at_idle_gets_neither_band_nor_hold():
    given = of_library(WEAK)
    # By hand: at no speed has the engine what the converter takes with the turbine held.
    assert surplus(given) < 0
    found = expect(given)
    assert not found.stalls
    assert found.fails
    told = json.loads(json.dumps(found.to_dict()))
    for band in (told["expected"], *told["expected_combined"].values()):
        assert (band["low_rpm"], band["high_rpm"], band["as_on_the_sheets_rpm"]) == (None,) * 3
        assert band["share_that_cannot_leave_idle"] == 1.0
    hold = told["hold"]
    assert (hold["longest_hold_s"], hold["heat_kw"], hold["set_by"]) == (None, None, "no-stall")
    assert found.text().count("(lugs down); do not test") == 3
    assert "longest hold: none: there is no stall to hold; do not test" in found.text()


def test_sheet_of_a_machine_that_stays_at_idle_asks_for_no_hold():
    page = sheet_of(expect(of_library(WEAK)))
    expected = dict(page.pairs(page.expected))
    assert "30 s" not in sheet_html(page)
    assert "820" not in sheet_html(page)
    assert expected["longest hold"] == "none: there is no stall to hold"
    assert "do not test" in expected["expected stall speed today"]
    assert "do not test" in expected["neutral, pumps at relief"]
    assert [row.cells for row in page.rows] == [("none: do not test",)]
    assert not any("Full throttle" in step for step in page.items(page.steps))


@pytest.mark.parametrize(("pair", "relief"), [(SHIPPED, 500.0), (SHIPPED, 700.0), (LATE, 250.0)])
def test_pumps_that_hold_the_engine_at_idle_leave_only_the_test_without_them(pair, relief):
    given = of_library(pair, relief_torque=relief)
    # With the sheets' torque and capacity nothing is left at any speed, by hand.
    assert surplus(given, relief=relief) < 0 < surplus(given)
    found = expect(given)
    assert found.stalls
    assert found.hold.seconds > 0
    both = found.combined["both"]
    assert both.ends is None
    assert both.stuck_share > 0.9
    assert "does-not-leave-idle-both" in [note.code for note in found.notes]
    assert (
        "combined stall (in gear, pumps at relief): none. The engine cannot accelerate from idle "
        "in gear with the pumps at relief (lugs down); do not test." in found.text()
    )
    named = {row.cells[0] for row in sheet_of(found).rows}
    assert named == {"stall", "stall again", "neutral, pumps at relief"}


@pytest.mark.slow
def test_machines_that_stay_at_idle_are_counted_and_left_out_of_the_band():
    given = setup(relief_torque=540.0)
    found = expect(given)
    both = found.combined["both"]
    # Drawn anew with another generator, and told by hand: nothing left at any speed above idle.
    tol, rng, n = given.tolerances, np.random.default_rng(5), 3000
    f = 1 + tol.sigma("engine_torque") * rng.standard_normal(n)
    f *= 1 + tol.sigma("air") * rng.standard_normal(n)
    g = 1 + tol.sigma("capacity") * rng.standard_normal(n)
    relief = 540.0 * (1 + tol.sigma("relief") * rng.standard_normal(n))
    stuck = [surplus(given, *draw) < 0 for draw in zip(f, g, relief, strict=True)]
    assert both.stuck_share == pytest.approx(np.mean(stuck), abs=0.03)
    assert 0.1 < both.stuck_share < 0.5
    # The last machine to come up stands on a hump of surplus well above idle: no band reaches down.
    assert both.low > 1000 * RPM > given.engine.low_idle + 100 * RPM
    assert (
        f"{100 * both.stuck_share:.0f} of 100 healthy machines of these tolerances cannot "
        "accelerate from idle in gear with the pumps at relief" in found.text()
    )
    assert "may-not-leave-idle-both" in [note.code for note in found.notes]


def test_what_does_not_come_up_in_gear_does_not_do_so_with_the_pumps_on_top():
    # Weak at idle and strong above: coming down from high idle there would be a place to settle.
    late = engine(
        low_idle=700 * RPM, speed=np.array([700, 1000, 1400, 1800, 2200]) * RPM,
        torque=[100, 150, 900, 1000, 850], accessories=(),
    )  # fmt: skip
    given = setup(engine=late, relief_torque=5.0)
    assert surplus(given, relief=5.0) > 0
    found = expect(given)
    assert not found.stalls
    assert found.combined["both"].ends is None


def test_reading_where_a_healthy_machine_stays_at_idle_has_no_band():
    found = diagnose(of_library(WEAK), [LOW])
    [item] = found.judged
    assert item.place == "no-band"
    assert found.outside
    [told] = found.to_dict()["readings"]
    assert told["expected"]["low_rpm"] is None
    assert (
        "converter, gear 3, brakes held: none. The engine cannot accelerate from idle in gear "
        "(lugs down); do not test." in found.text()
    )
    # Nothing that wants the test again.
    assert found.next_check.code not in ("watch-wheels", "other-gear", "repeat", "combined")
    assert "see the combined test" not in found.text()


# --- what a finding would read --------------------------------------------------------------------


def test_span_of_a_finding_is_of_machines_that_fit_the_reading():
    # The torque lost is drawn evenly, and one reading is normal about what the machine shows: the
    # machines that fit show the reading, give or take its error. Closed form.
    given = of_library(SHIPPED)
    found = diagnose(given, [LOW])
    best = found.findings[0]
    assert best.code == "engine-down"
    half = norm.ppf(0.95) * given.reading_sigma()
    assert best.fits[0] == pytest.approx((1600 * RPM - half, 1600 * RPM + half), abs=4 * RPM)
    # Solved by hand with the ends of the loss: the span lies inside.
    _, low, high = best.unknown
    supply = given.supply()

    def settles(f):
        return brentq(
            lambda w: f * supply.factor * float(supply.source(np.asarray(w)))
            - float(supply.load_torque(np.asarray(w))) - given.capacity() * w * w,
            1000 * RPM, 2000 * RPM,
        )  # fmt: skip

    assert settles(low) < best.fits[0][0] < best.fits[0][1] < settles(high)
    a, b = (end / RPM for end in best.fits[0])
    assert f"best-fitting machines would read {a:.0f} rpm to {b:.0f} rpm" in found.text()
    assert found.to_dict()["findings"][0]["fits_span_rpm"][0] == pytest.approx([a, b])


@pytest.mark.slow
def test_machines_that_stay_at_idle_are_left_out_of_what_a_finding_would_read():
    given = of_library(SHIPPED)
    down = next(f for f in diagnose(given, THREE).findings if f.code == "engine-down")
    idle = given.engine.low_idle
    assert all(span is None or span[0] > 1.05 * idle for span in down.would_read_span)
    findings = diagnose(of_library(WEAK), [LOW]).to_dict()["findings"]
    weak = next(f for f in findings if f["code"] == "engine-down")
    assert weak["would_read_rpm"] == [None]


# --- readings that contradict each other ----------------------------------------------------------


def test_readings_that_fit_no_one_pair_get_no_pair_and_the_worst_is_named():
    found = diagnose(of_library(HAULER, driveline=None, machine=None), THREE)
    assert found.separated is None
    words = explanations(found)[-1]
    assert "do not fit one torque and one capacity: repeat the worst one (hydraulic" in words
    assert "±" not in words
    told = found.to_dict()
    assert told["separated"] is None
    assert (told["tests_together"]["fits"], told["tests_together"]["worst"]) == (False, "hydraulic")
    assert "readings-do-not-fit" in [note.code for note in found.notes]


def test_misfit_is_the_distance_from_the_nearest_pair_in_standard_errors():
    # Three lines, two unknowns: with n across both columns, n A = 0, what is left is
    # (n b)^2 / sum (n sigma)^2, whatever the pair. Closed form of least squares.
    given = of_library(SHIPPED)
    conditions = tuple(
        ReadingCondition(given.supply(r), given.capacity(r), r.engine_speed, 1e-9, load)
        for r, load in zip(THREE, (5.0, 9.0, 12.0), strict=True)
    )
    at = [np.asarray(c.speed) for c in conditions]
    torque = [
        float(c.supply.factor * c.supply.source(w)) for c, w in zip(conditions, at, strict=True)
    ]
    taken = [-c.capacity * c.speed**2 for c in conditions]
    load = [float(c.supply.load_torque(w)) for c, w in zip(conditions, at, strict=True)]
    across, b = np.cross(torque, taken), np.array(load)
    expected = float(across @ b) ** 2 / float(across**2 @ np.array([5.0, 9.0, 12.0]) ** 2)
    found = separate(conditions)
    assert found.misfit == pytest.approx(expected, rel=1e-6)
    assert sum(r * r for r in found.residuals) == pytest.approx(found.misfit)


@pytest.mark.slow
def test_true_readings_are_called_contradictory_once_in_a_hundred():
    # 300 times a machine that is down by a fifth, read with the stated error of the tachometer and
    # no other: at most one in a hundred. Three standard errors of one percent are 1.7 points.
    given = setup()
    rng = np.random.default_rng(11)
    true = [
        shown(given, 0.8, gear="2"), shown(given, 0.8, test="hydraulic"),
        shown(given, 0.8, gear="2", test="both"),
    ]  # fmt: skip
    called = 0
    for _ in range(300):
        noise = given.reading_sigma() * rng.standard_normal(3)
        readings = [replace(r, engine_speed=r.engine_speed + e)
                    for r, e in zip(true, noise, strict=True)]  # fmt: skip
        called += not together(given, readings).fits
    assert called / 300 < 0.01 + 0.017
    far = [true[0], replace(true[1], engine_speed=true[1].engine_speed - 90 * RPM), true[2]]
    assert not together(given, far).fits


# --- what nobody would believe --------------------------------------------------------------------


@pytest.mark.parametrize("pair", [WEAK, LOOSE])
def test_nothing_beyond_reason_is_offered_as_an_explanation(pair):
    given = of_library(pair)
    reading = read(1335, "both", gear="3", brakes="held") if pair is WEAK else LOW
    found = diagnose(given, [reading])
    [line] = explanations(found)[:1]
    assert "no torque or capacity within reason explains it" in line
    told = found.to_dict()["readings"][0]["inversion"]
    assert (told["torque_factor"], told["capacity_factor"]) == (None, None)
    # By hand: what it would take, all of it at the engine or all of it at the converter.
    supply, w = given.supply(reading), reading.engine_speed
    torque = float(supply.factor * supply.source(np.asarray(w)))
    load = float(supply.load_torque(np.asarray(w)))
    taken = given.capacity(reading) * w * w
    for name, factor in (
        ("torque", (taken + load) / torque),
        ("capacity", (torque - load) / taken),
    ):
        low, high = WITHIN_REASON[name]
        assert not low <= factor <= high


def test_end_of_an_interval_beyond_reason_is_not_a_number():
    found = diagnose(of_library(HAULER, driveline=None, machine=None), THREE)
    [line] = [one for one in explanations(found) if one.startswith("hydraulic: ")]
    assert line.startswith("hydraulic: torque 137.1 % of a healthy engine (")
    assert line.endswith(" to above 200.0 %)")


def test_capacity_of_a_slipping_stator_is_within_reason():
    # A third lower on a flat torque curve (common practice, no source): C (1/0.67)^2 times.
    given = setup()
    found = diagnose(given, [shown(given, g=1 / 0.67**2, gear="2")])
    assert found.judged[0].inversion.capacity[0] == pytest.approx(1 / 0.67**2, rel=1e-6)
    assert "capacity 2.228 times the sheet" in explanations(found)[0]


def test_pair_beyond_reason_is_not_given_either():
    given = setup(converter=converter(capacity=converter().capacity / 5.0))
    strong = [shown(given, 1.0, 5.0, gear="2"), shown(given, 1.0, test="hydraulic"),
              shown(given, 1.0, 5.0, gear="2", test="both")]  # fmt: skip
    found = diagnose(given, strong)
    assert found.together.fits
    assert found.together.separated.capacity_factor == pytest.approx(5.0, rel=1e-6)
    assert found.separated is None
    assert "no torque and capacity within reason explain them" in explanations(found)[-1]
