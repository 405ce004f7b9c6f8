"""Where a verdict turns: the ends of bands and spans, what is left to check, what is assumed."""

import json
from dataclasses import replace

import numpy as np
import pytest

from converter_match.components.reading import StallReading
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import Band, place_in
from converter_match.judgement.stall.checks import CHECKS, next_check
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.inversion import WITHIN_REASON, Inversion, invert
from converter_match.judgement.stall.notes import setup_notes, stuck_notes
from converter_match.judgement.stall.setup import WARM_OIL, StallSetup, Tolerances
from converter_match.physics.engine.supply import engine_supply
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.judgement.stall.test_stall import setup, shown
from tests.machines import driveline

LOW, HIGH = 1700 * RPM, 1800 * RPM


def codes(notes):
    return [note.code for note in notes]


def read(speed, **fields):
    return StallReading(engine_speed=speed, **({"brakes": "held"} | fields))


# --- where a reading lies -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("speed", "place"),
    [(1699.9, "below"), (1700, "inside"), (1750, "inside"), (1800, "inside"), (1800.1, "above")],
)
def test_ends_of_a_band_belong_to_it(speed, place):
    assert place_in(speed * RPM, 1700 * RPM, 1800 * RPM) == place
    assert Band(None, 1700 * RPM, 1800 * RPM, 0.95).place(speed * RPM) == place
    assert Band(None, None, None, 0.95, 0.9).place(speed * RPM) == "no-band"


@pytest.mark.parametrize(
    ("speed", "span", "outside", "published"),
    [
        (0.0, None, False, None),
        (0.0, (-200, 200), False, "inside"),
        # Inside the band, and below or above what the maker publishes: the maker comes first.
        (0.0, (30, 200), True, "below"),
        (0.0, (-200, -30), True, "above"),
        (-150.0, (-200, 200), True, "inside"),
        (150.0, None, True, None),
    ],
)
def test_machine_fails_outside_its_band_or_the_maker_s_span(speed, span, outside, published):
    middle = expect(setup()).band.middle
    ends = None if span is None else tuple(middle + end * RPM for end in span)
    diagnosis = diagnose(setup(published=ends), [read(middle + speed * RPM, gear="2")])
    assert diagnosis.outside is outside
    assert diagnosis.fails is outside
    assert diagnosis.judged[0].published == published


@pytest.mark.slow
def test_maker_s_span_stands_in_the_text_where_there_is_one():
    reading = read(1800 * RPM, gear="2")
    for span, shown_span in ((None, False), ((1650 * RPM, 1830 * RPM), True)):
        given = setup(published=span)
        diagnosis = diagnose(given, [reading]).text()
        for text in (expect(given).text(), diagnosis):
            assert ("maker's published span (comes first): 1650 .. 1830 rpm" in text) is shown_span
        assert ("in the maker's span" in diagnosis) is shown_span


def test_maker_s_span_is_of_the_converter_stall_only():
    given = setup(published=(1000 * RPM, 1100 * RPM))
    readings = [shown(given, gear="2", test="both"), shown(given, test="hydraulic")]
    assert [item.published for item in diagnose(given, readings).judged] == [None, None]


def test_band_of_a_reading_is_in_the_oil_and_the_air_of_the_reading():
    given = setup()
    hot = read(1900 * RPM, gear="2", oil_temperature=378.15)
    mild = read(1900 * RPM, gear="2")
    bands = [item.band for item in diagnose(given, [hot, mild]).judged]
    # Oil 15 K hotter is 1.0 % thinner (6.75e-4 a kelvin): the capacity follows, and the speed by
    # half of it over 1 - e/2.
    slope = expect(given).elasticity
    by_hand = 6.75e-4 * 15 / (2 - slope)
    assert bands[0].middle / bands[1].middle - 1 == pytest.approx(by_hand, rel=0.02)


# --- what adds to the width of the band -----------------------------------------------------------


def test_contributions_are_those_of_the_elasticity():
    given = setup()
    expectation = expect(given)
    w, tol = expectation.band.middle, given.tolerances
    supply = engine_supply(given.engine)
    gross, load = float(supply.source(np.asarray(w))), float(supply.load_torque(np.asarray(w)))
    # d ln w = d ln T_net / (2 - e), and capacity the other way; T_net = T - L.
    per_share = w / (2 - expectation.elasticity)
    by_hand = {
        "engine torque": tol.engine_torque * gross / (gross - load) * per_share,
        "converter capacity": tol.capacity * per_share,
        "air": tol.air * gross / (gross - load) * per_share,
        "oil temperature": 6.75e-4 * tol.oil_temperature * per_share,
        "loads": tol.loads * load / (gross - load) * per_share,
        "governor": 0.0,  # well below rated speed it has no say
        "tachometer": 20 * RPM,
    }
    ours = {one.name: one.half_width for one in expectation.contributions}
    # To first order: the engine's curve bends within the band.
    assert ours == pytest.approx(by_hand, rel=0.03)
    # Independent errors add as squares: half of the band.
    half = 0.5 * (expectation.band.high - expectation.band.low)
    assert np.sqrt(sum(value**2 for value in ours.values())) == pytest.approx(half, rel=0.03)


def test_wider_torque_band_of_the_engine_s_file_counts():
    assert setup().engine_tolerance == Tolerances().engine_torque
    vague = setup(engine=engine(torque_band=0.08))
    assert vague.engine_tolerance == 0.08
    sharp = setup(engine=engine(torque_band=0.01))
    assert sharp.engine_tolerance == Tolerances().engine_torque


def test_contribution_of_what_may_keep_the_engine_at_idle_has_no_number():
    # 250 of 1000 N.m at relief would be too much for some within the tolerances: by the test of the
    # band. Here the torque alone, 30 % down, leaves nothing over the converter's.
    late = engine(
        low_idle=700 * RPM, speed=np.array([700, 1000, 1400, 1800, 2200]) * RPM,
        torque=[140, 250, 900, 1000, 850], accessories=(),
    )  # fmt: skip
    given = setup(engine=late, relief_torque=None, tolerances=Tolerances(engine_torque=0.3))
    expectation = expect(given)
    ours = {one.name: one.half_width for one in expectation.contributions}
    stuck = 0.7 * 140 < given.capacity() * (700 * RPM) ** 2
    assert (ours["engine torque"] is None) == stuck
    assert ("engine torque: down to idle" in expectation.text()) == stuck


@pytest.mark.parametrize(
    ("share", "count"),
    [(0.0005, "fewer than 1"), (0.0049, "fewer than 1"), (0.005, "fewer than 1"), (0.016, "2"),
     (0.5, "50"), (0.994, "99"), (0.996, "more than 99"), (1.0, "100")],
)  # fmt: skip
def test_count_of_machines_that_stay_at_idle_is_never_rounded_to_none_or_all(share, count):
    band = Band(LOW, LOW, HIGH, 0.95, share)
    assert band.stuck_count == count
    [note] = stuck_notes({"converter": band})
    assert (note.code, note.kind) == ("may-not-leave-idle", "warning")
    assert note_text(note, "si").startswith(f"{count} of 100 healthy machines")
    none = Band(None, None, None, 0.95, share)
    assert [(n.code, n.kind) for n in stuck_notes({"both": none})] == [
        ("does-not-leave-idle-both", "limit")
    ]
    assert stuck_notes({"converter": replace(band, stuck_share=0.0)}) == []


@pytest.mark.slow
def test_published_span_that_meets_the_band_in_one_point_is_not_called_elsewhere():
    band = expect(setup()).band
    step = 1e-6 * RPM
    for span, elsewhere in (
        ((band.high - step, band.high + 50), False),
        ((band.high + step, band.high + 50), True),
        ((band.low - 50, band.low + step), False),
        ((band.low - 50, band.low - step), True),
    ):
        found = codes(expect(setup(published=span)).notes)
        assert ("published-elsewhere" in found) is elsewhere


# --- what a reading says --------------------------------------------------------------------------


def test_factors_of_a_reading_are_those_of_the_torque_balance():
    given = setup()
    w = 1500 * RPM
    supply = engine_supply(given.engine)
    torque, load = float(supply.source(np.asarray(w))), float(supply.load_torque(np.asarray(w)))
    taken = given.capacity() * w * w
    inversion = invert(given, read(w, gear="2"))
    # f T - L = g C w^2, with g = 1 and with f = 1.
    assert inversion.torque[0] == pytest.approx((taken + load) / torque)
    assert inversion.capacity[0] == pytest.approx((torque - load) / taken)
    # Nothing can be told from a speed at which the governor leaves no torque.
    assert invert(given, read(2390 * RPM, gear="2")) is None


def test_explanation_names_what_is_within_reason_and_no_more():
    flat = np.ones(3)

    def words_of(torque, capacity):
        ends = None if capacity is None else (capacity, 0.9 * capacity, 1.1 * capacity)
        inversion = Inversion((torque, 0.9 * torque, 1.1 * torque), ends, *([flat] * 4))
        return note_text(inversion.explanation(), "us"), inversion.to_dict()

    (t0, t1), (c0, c1) = WITHIN_REASON["torque"], WITHIN_REASON["capacity"]
    both, plain = words_of(0.8, 1.25)
    assert both == (
        "torque 80.0 % of a healthy engine (72.0 % to 88.0 %), or capacity 1.250 times the sheet "
        "(1.125 to 1.375), or both"
    )
    assert plain["torque_factor"] == pytest.approx({"value": 0.8, "low": 0.72, "high": 0.88})
    for torque, kept in ((t0, True), (t0 - 1e-6, False), (t1, True), (t1 + 1e-6, False)):
        said, plain = words_of(torque, 1.0)
        assert ("or both" in said) is kept
        assert ("no torque within reason explains it (torque 30 to 200 %)" in said) is not kept
        assert (plain["torque_factor"] is not None) is kept
    for capacity, kept in ((c0, True), (c0 - 1e-6, False), (c1, True), (c1 + 1e-6, False)):
        said, plain = words_of(1.0, capacity)
        assert ("or both" in said) is kept
        assert ("no capacity within reason explains it (capacity 0.3 to 3" in said) is not kept
        assert (plain["capacity_factor"] is not None) is kept
    neutral, plain = words_of(0.9, None)
    assert "capacity" not in neutral
    assert plain["capacity_factor"] is None
    nothing, _ = words_of(3.0, 9.0)
    assert nothing == (
        "no torque or capacity within reason explains it (torque 30 to 200 %, capacity 0.3 to 3 "
        "times the sheet)"
    )
    assert words_of(1.9, None)[0].endswith("(171.0 % to above 200.0 %)")
    assert "(below 30.0 % to 34.1 %)" in words_of(0.31, None)[0]


# --- what to do next ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "second", "check"),
    [
        ("clutch-slips", "engine-down", "other-gear"),
        ("stator-slips", "clutch-slips", "other-gear"),
        ("wrong-converter", "engine-down", "tag"),
        ("stator-slips", "engine-down", "air-fuel"),
        ("nothing-to-see", "engine-down", "repeat"),
        ("brakes-give-way", "clutch-slips", "mend-brakes"),
    ],
)
def test_next_check_bears_on_one_of_the_two_likeliest_findings_only(first, second, check):
    # By the minutes, doubled where the check bears on the second one only; the first of equals.
    answer = next_check([(first, 0.6), (second, 0.4)])
    assert answer.code == check
    minutes = {one.code: one.minutes for one in CHECKS} | {"mend-brakes": 30}
    assert answer.minutes == minutes[check]
    assert answer.words == words.CHECKS[check]
    if check != "mend-brakes":
        [chosen] = [one for one in CHECKS if one.code == check]
        assert (first in chosen.separates) != (second in chosen.separates)
        told = f"separates '{first.replace('-', ' ')}' from '{second.replace('-', ' ')}'"
        assert note_text(answer.reason, "si") == told


def test_check_that_is_done_is_not_asked_for_again():
    pair = [("clutch-slips", 0.6), ("engine-down", 0.4)]
    assert next_check(pair).code == "other-gear"
    assert next_check(pair, ["other-gear"]).code == "air-fuel"
    assert next_check(pair, ["other-gear", "air-fuel"]).code == "pressures"
    # The only finding is set against a sound machine.
    alone = next_check([("engine-down", 1.0)])
    assert alone.code == "air-fuel"
    assert note_text(alone.reason, "si") == "separates 'engine down' from 'nothing to see'"


@pytest.mark.slow
def test_readings_hold_the_checks_that_they_are():
    given = setup()
    slip = float(given.converter.capacity_at(0.7)) / given.stall_capacity
    one = diagnose(given, [shown(given, g=slip, gear="1")])
    assert one.next_check.code in ("oil-level", "other-gear")
    gears = [shown(given, g=slip, gear="1"), shown(given, gear="2")]
    assert diagnose(given, gears).next_check.code != "other-gear"
    sound = [shown(given, gear="1"), shown(given, gear="2")]
    assert diagnose(given, sound).next_check.code == "repeat"
    assert diagnose(given, 2 * sound).next_check.code not in ("repeat", "other-gear")
    low = [shown(given, 0.8, gear="2"), shown(given, 0.8, gear="2", test="both")]
    assert diagnose(given, low).next_check.code != "combined"


def test_stator_without_a_known_coupling_point_is_not_said_to_be_seized():
    # Data that end before the torque ratio has fallen to 1: nothing tells where it turns free.
    cut = converter(
        speed_ratio=[0, 0.2, 0.4, 0.6], torque_ratio=[2.2, 1.95, 1.7, 1.43],
        capacity=converter().capacity[:4], coupling_speed_ratio=None,
    )  # fmt: skip
    given = setup(converter=cut)
    road = StallReading(engine_speed=1950 * RPM, turbine_speed=1000 * RPM, test="road")
    held = converter(id="held", stator="fixed", coupling_speed_ratio=None)
    diagnosis = diagnose(given, [shown(given, gear="2"), road], [held])
    assert "stator-seized" not in [finding.family for finding in diagnosis.findings]
    slipping = next(f for f in diagnosis.findings if f.family == "stator-slips")
    assert note_text(slipping.detail, "si") == "common practice: about a third lower"


# --- what is assumed, and refused -----------------------------------------------------------------


@pytest.mark.parametrize(("celsius", "said"), [(59, True), (61, False), (104, False), (106, True)])
def test_oil_far_from_warm_is_said(celsius, said):
    assert ("oil-not-warm" in codes(setup_notes(setup(oil_temperature=273.15 + celsius)))) is said
    reading = read(1800 * RPM, oil_temperature=273.15 + celsius)
    assert ("oil-not-warm" in codes(setup_notes(setup(), [reading]))) is said


def test_only_what_a_reading_does_not_state_is_assumed_for_it():
    bare = setup(oil_temperature=None)
    # In neutral the oil of the converter plays no part.
    neutral = read(2240 * RPM, test="hydraulic", air_temperature=300.0)
    assert "oil-temperature-assumed" not in codes(setup_notes(bare, [neutral]))
    assert "no-site" not in codes(setup_notes(bare, [neutral]))
    stall = read(1800 * RPM, gear="1")
    assert {"oil-temperature-assumed", "no-site"} <= {*codes(setup_notes(bare, [neutral, stall]))}
    here = Site(id="s", name="s", source="test", altitude=0.0, air_temperature=298.15)
    assert "no-site" not in codes(setup_notes(setup(site=here), [stall]))
    [note] = [n for n in setup_notes(bare) if n.code == "oil-temperature-assumed"]
    # The middle of 82 to 93 degC, US Army TM 10-3930-671-24.
    assert dict(note.values) == {"oil": pytest.approx(WARM_OIL)}
    assert pytest.approx(273.15 + (82 + 93) / 2) == WARM_OIL


def test_tolerances_are_listed_as_they_are_taken():
    given = setup(
        engine=engine(torque_band=0.07),
        tolerances=Tolerances(capacity=0.04, reading=30 * RPM, oil_temperature=8.0),
    )
    [note] = [n for n in setup_notes(given) if n.code == "tolerances-assumed"]
    said = note_text(note, "si")
    for part in ("engine torque 7 %", "capacity 4 %", "loads 25 %", "at relief 5 %",
                 "correction 1 %", "temperature 8 K", "tachometer 30 rpm"):  # fmt: skip
        assert part in said
    assert "14.4 °F" in note_text(note, "us")


@pytest.mark.parametrize(
    ("rpm", "fits"), [(479, False), (481, True), (2736, True), (2738, False), (2380, True)]
)
def test_speed_of_another_engine_is_refused(rpm, fits):
    # 0.6 of 800 rpm low idle and 1.15 of 2380 rpm high idle: common practice, no source; a
    # tachometer may be off by a tenth, and that is a finding.
    given = setup()
    if fits:
        assert given.checked(read(rpm * RPM)).engine_speed == rpm * RPM
    else:
        with pytest.raises(InputError, match=r"^speed: this engine does not run at that speed"):
            given.checked(read(rpm * RPM))


def test_direction_follows_from_the_gear_and_may_not_contradict_it():
    given = setup(driveline=driveline())
    assert given.checked(read(1800 * RPM, gear="R")).direction == "reverse"
    assert given.checked(read(1800 * RPM, gear="2")).direction == "forward"
    assert given.checked(read(1800 * RPM)).direction is None
    with pytest.raises(InputError, match="gear R is a reverse gear"):
        given.checked(read(1800 * RPM, gear="R", direction="forward"))


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"coverage": 0.49}, "coverage"), ({"coverage": 0.9995}, "coverage"),
     ({"maker_hold": 0.9}, "maker_hold"), ({"maker_hold": 301.0}, "maker_hold"),
     ({"published": (HIGH, LOW)}, "published"), ({"published": (LOW, LOW)}, "published"),
     ({"published": (2400 * RPM, 2500 * RPM)}, "published"),
     ({"published": (500 * RPM, 700 * RPM)}, "published"),
     ({"oil_temperature": 230.0}, "oil_temperature"),
     ({"oil_temperature": 455.0}, "oil_temperature"), ({"relief_torque": 0.0}, "relief_torque")],
)  # fmt: skip
def test_set_up_that_no_test_has_is_refused(changes, field):
    with pytest.raises(InputError) as caught:
        setup(**changes)
    assert caught.value.field == field


@pytest.mark.parametrize(
    "changes",
    [{"coverage": 0.5}, {"coverage": 0.999}, {"maker_hold": 1.0}, {"maker_hold": 300.0},
     {"published": (2300 * RPM, 2500 * RPM)}, {"published": (600 * RPM, 900 * RPM)}],
)  # fmt: skip
def test_set_up_at_the_end_of_what_is_allowed_is_taken(changes):
    assert isinstance(setup(**changes), StallSetup)


# --- one answer for every reader ------------------------------------------------------------------


@pytest.mark.slow
def test_units_of_the_reader_change_no_verdict():
    given = setup(published=(1700 * RPM, 1900 * RPM))
    diagnosis = diagnose(given, [shown(given, 0.85, gear="2"), shown(given, gear="3")])
    expectation = expect(given)
    for answer in (diagnosis, expectation):
        plain = json.dumps(answer.to_dict())
        si, us = (answer.text(system).splitlines() for system in ("si", "us"))
        assert len(si) == len(us)
        assert json.dumps(answer.to_dict()) == plain
        for one, other in zip(si, us, strict=True):
            assert ("[" in one, "below" in one, "above" in one) == (
                "[" in other, "below" in other, "above" in other
            )  # fmt: skip
    assert [f.code for f in diagnosis.findings if f.code in diagnosis.text("us")] == [
        f.code for f in diagnosis.findings
    ]


def test_caution_is_the_first_line_and_said_once():
    given = setup()
    for answer in (expect(given), diagnose(given, [shown(given, gear="2")])):
        text = answer.text()
        assert text.startswith("CAUTION: A stall test can hurt people")
        assert text.count("A stall test can hurt people") == 1
        page = answer._repr_html_()
        assert page.startswith("<p>CAUTION: A stall test can hurt people")
        assert page.count("A stall test can hurt people") == 1


def test_every_sentence_names_its_values_and_every_code_is_used_once():
    # A template with a place that nobody fills, or a value that stands nowhere, would print oddly.
    given = setup(converter=converter(capacity=20 * converter().capacity), relief_torque=280.0)
    for answer in (expect(given), expect(setup()), diagnose(given, [read(900 * RPM, gear="2")])):
        for note in answer.notes:
            said = note_text(note, "si")
            assert "{" not in said, note.code
            assert "None" not in said, note.code


def test_joined_sentence_is_its_parts_side_by_side_in_any_units():
    parts = (
        words.note("of-reading", label="a {b}"),
        words.note("fits-span", low=LOW, high=HIGH),
        words.note("then"),
        words.note("oil-not-warm", oil=300.0),
        words.note("fits-span", low=1000 * RPM, high=1100 * RPM),
    )
    for system in ("si", "us"):
        expected = "".join(note_text(part, system) for part in parts)
        assert note_text(words.joined("x", *parts), system) == expected
    plain = words.joined("x", words.note("engine-down"), words.note("then"))
    assert note_text(plain, "si") == "engine down on torque; "
    nested = words.joined("y", words.joined("x", *parts), words.note("then"))
    assert note_text(nested, "si").startswith("a {b}: 1700 rpm to 1800 rpm; Oil at 27 °C")
