"""Lines of the stall answers, made of parts built by hand: labels, values, units."""

import pytest

from converter_match.components.reading import StallReading
from converter_match.errors import InputError
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import Band
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.hold import StallHold, WarmUp, stall_hold
from converter_match.judgement.stall.result import StallFinding
from converter_match.units import note_text
from tests.examples import RPM, converter
from tests.judgement.stall.test_stall import setup, shown
from tests.machines import machine

IDLE = 800 * RPM


def lines(answer, system="si"):
    return [line.strip() for line in answer.text(system).splitlines()]


# --- a finding ------------------------------------------------------------------------------------


def finding(code="engine-down", **fields):
    given = {"what": words.note("engine-down"), "share": 0.5, "weight": 4.0, "log_likelihood": -1.0}
    return StallFinding(code, **(given | fields))


def said(one, system="si"):
    head = note_text(one.what, system)
    text = note_text(one.note(), system)
    assert text.startswith(head)
    return text.removeprefix(head)


def test_finding_says_its_unknown_in_words_of_its_own():
    # Torque 0.85 of a healthy engine, 0.80 to 0.92: down by 15 %, 8 to 20 %.
    down = finding(unknown_name="torque_factor", unknown=(0.85, 0.80, 0.92))
    assert said(down) == " by 15.0 % (8.0 % to 20.0 %)"
    more = finding(unknown_name="capacity_factor", unknown=(1.2, 1.1, 1.35))
    assert said(more) == ": capacity 1.20 times the sheet (1.10 to 1.35)"
    slips = finding(unknown_name="turbine_speed_ratio", unknown=(0.5, 0.25, 0.75))
    assert said(slips) == ": turbine turning at 0.50 of impeller speed (0.25 to 0.75)"
    assert said(finding()) == ""


def test_finding_says_what_its_machines_would_read_each_span_once():
    span, other = (1700 * RPM, 1750 * RPM), (2200 * RPM, 2250 * RPM)
    one = finding(fits=(span, other, span))
    assert said(one) == (
        "; best-fitting machines would read 1700 rpm to 1750 rpm, 2200 rpm to 2250 rpm"
    )
    idle = finding(fits=(None, span))
    assert said(idle) == (
        "; best-fitting machines would read idle (lugging down), 1700 rpm to 1750 rpm"
    )


def test_finding_names_the_entries_that_explain_it_and_its_detail_last():
    one = finding(entries=(("big", 0.25), ("bigger", 0.125)), detail=words.note("brakes-not-noted"))
    assert said(one) == (
        "; explained by big (25.0 %), bigger (12.5 %); it was not noted whether they held"
    )
    told = dict((head.key, value) for head, value in one.facts())
    assert told["entries"] == [{"id": "big", "share": 0.25}, {"id": "bigger", "share": 0.125}]
    assert note_text(told["detail"], "si") == "it was not noted whether they held"
    bare = dict((head.key, value) for head, value in finding().facts())
    assert (bare["detail"], bare["unknown"], bare["entries"]) == ("", None, [])


def test_family_of_a_finding_is_its_code_without_what_it_concerns():
    assert finding("clutch-slips:gear 2").family == "clutch-slips"
    assert finding("clutch-slips:gear 2").note().code == "clutch-slips"
    assert finding().family == "engine-down"


def test_void_test_has_one_finding_that_is_certain_and_was_not_weighed():
    void = StallReading(engine_speed=1400 * RPM, gear="1", brakes="let-go")
    [only] = diagnose(setup(), [void]).findings
    assert (only.code, only.share, only.weight, only.log_likelihood) == (
        "brakes-give-way", 1.0, 1.0, 0.0
    )  # fmt: skip


# --- the lines of a diagnosis ---------------------------------------------------------------------


def test_findings_are_listed_by_share_and_what_is_hardly_any_is_only_named():
    given = setup()
    other = converter(id="other", name="Other", capacity=1.3 * converter().capacity)
    readings = [shown(given, 0.85, gear="1"), shown(given, 0.85, test="hydraulic")]
    found = diagnose(given, readings, [other])
    text = lines(found)
    at = text.index("Findings, most likely first (share of likelihood x weight)")
    listed = text[at + 1 : text.index("Next cheapest check") - 1]
    # Two in a thousand is what is listed by itself.
    shown_alone = [f for f in found.findings if f.share >= 0.002]
    rest = [f.code for f in found.findings if f.share < 0.002]
    assert [line.split("%")[0].strip() for line in listed[:-1]] == [
        f"{100 * f.share:.1f}" for f in shown_alone
    ]
    assert [line.split("[")[1].split("]")[0] for line in listed[:-1]] == [
        f.code for f in shown_alone
    ]
    assert rest
    assert listed[-1] == "below 0.2 %: " + ", ".join(rest)


def test_finding_that_is_all_but_certain_is_said_to_be_more_than_99_percent():
    given = setup()
    found = diagnose(given, [shown(given, 0.6), shown(given, 0.6, test="hydraulic")])
    assert found.findings[0].share > 0.99
    assert any(line.startswith("> 99 %  [engine-down]") for line in lines(found))


# --- the lines of a hold --------------------------------------------------------------------------

BAND = Band(middle=1800 * RPM, low=1700 * RPM, high=1900 * RPM, coverage=0.95, stuck_share=0.0)
WARM = WarmUp(
    first_rate=1.5, to_limit_cooled=40.0, to_limit=60.0, to_stop=None, balance=400.15
)  # fmt: skip


def hold(**fields):
    given = {
        "setup": setup(),
        "band": BAND,
        "seconds": 12.0,
        "set_by": "oil-limit",
        "start": 363.15,
        "limit": 393.15,
        "heat": 180e3,
        "heat_at": BAND.high,
        "rate": 2.0,
        "to_limit": 15.0,
        "end": 387.15,
        "cool_down": 90.0,
        "warm_up": WARM,
    }
    return StallHold(**(given | fields))


def test_lines_of_a_hold_are_what_it_holds():
    text = lines(hold())
    start = text.index("Longest hold")
    assert text[start : text.index("For information, not for use") - 1] == [
        "Longest hold",
        "longest hold: 12 s",
        "set by: oil temperature limit, four fifths of the calculated time",
        "stall speed as on the sheets: 1800 rpm",
        "that speed is with the oil at: 90 °C",
        "highest stall speed expected: 1900 rpm",
        "heat into the oil at that speed: 180 kW",
        "rise of the oil alone: 2.0 K/s",
        "oil at the start: 90 °C",
        "oil temperature limit: 120 °C",
        "time to the limit, oil alone: 15 s",
        "oil after the longest hold: 114 °C",
        "cool-down in neutral, or longer: 90 s",
    ]
    assert text[text.index("For information, not for use") :] == [
        "For information, not for use",
        "time to the limit, cooler at work: 40 s",
        "time to the limit, cooler and metal at work: 60 s",
        "stop value of US Army TM 9-2320-283-10: 149 °C",
        "time to the stop value, cooler and metal at work: not reached",
        "first rise, cooler and metal at work: 1.50 K/s",
        "oil temperature that the cooler can hold: 127 °C",
    ]
    assert text[:4] == [
        "CAUTION: " + note_text(words.STALL_TEST, "si"), "", "Test engine  +  Test converter",
        "machine: Test machine",
    ]  # fmt: skip


def test_plain_data_of_a_hold_are_what_it_holds():
    assert hold().to_dict() == {
        "engine": "test-engine",
        "converter": "test-converter",
        "machine": "test-machine",
        "longest_hold_s": 12.0,
        "set_by": "oil-limit",
        "stall_speed_rpm": pytest.approx(1800.0),
        "stall_speed_oil_temperature_degc": pytest.approx(90.0),
        "heat_at_speed_rpm": pytest.approx(1900.0),
        "heat_kw": pytest.approx(180.0),
        "oil_rise_k_per_s": 2.0,
        "oil_start_degc": pytest.approx(90.0),
        "oil_limit_degc": pytest.approx(120.0),
        "time_to_oil_limit_oil_alone_s": 15.0,
        "time_to_limit_oil_alone_s": 15.0,
        "oil_after_hold_degc": pytest.approx(114.0),
        "outlet_limit_degc": None,
        "time_to_outlet_limit_s": None,
        "outlet_after_hold_degc": None,
        "outlet_after_hold_least_degc": None,
        "charge_flow_l_per_min": None,
        "charge_flow_assumed": None,
        "cool_down_in_neutral_s": 90.0,
        "time_to_oil_limit_s": 40.0,
        "time_to_limit_s": 60.0,
        "time_to_149_degc_s": None,
        "first_rise_k_per_s": 1.5,
        "balance_degc": pytest.approx(127.0),
        "warnings": [],
        "assumptions": [],
    }


def test_without_a_cooler_the_metal_is_said_to_take_its_share_and_no_time_is_the_cooler_s():
    bare = hold(setup=setup(machine=machine(cooler=None)))
    text = bare.text()
    assert "time to the limit, metal taking its share: 60 s" in text
    assert "first rise, metal taking its share: 1.50 K/s" in text
    assert "cooler at work" not in text


def test_what_is_not_known_of_a_hold_has_no_line():
    text = hold(
        rate=None, to_limit=None, end=None, cool_down=None, warm_up=None, set_by="no-oil-data"
    ).text()
    for label in (
        "rise of the oil", "time to the limit", "oil after", "cool-down", "For information"
    ):  # fmt: skip
        assert label not in text
    assert "longest hold: 12 s" in text
    never = hold(warm_up=WarmUp(
        first_rate=1.5, to_limit_cooled=None, to_limit=60.0, to_stop=80.0, balance=None
    )).text()  # fmt: skip
    assert "time to the limit, cooler at work: not reached" in never
    assert "time to the stop value, cooler and metal at work: 80 s" in never
    assert "that the cooler can hold" not in never


def test_hold_of_no_stall_has_only_the_line_that_says_so():
    stuck = Band(middle=None, low=None, high=None, coverage=0.95, stuck_share=1.0)
    none = hold(band=stuck, seconds=None, set_by="no-stall", heat=None, rate=None, to_limit=None,
                end=None, cool_down=None, warm_up=None)  # fmt: skip
    text = lines(none)
    at = text.index("Longest hold")
    assert text[at + 1] == "longest hold: none: there is no stall to hold; do not test"
    assert not any(text[at + 2 :])
    told = none.to_dict()
    known = {key for key, value in told.items() if value not in (None, [])}
    assert known == {
        "engine", "converter", "machine", "set_by", "oil_start_degc", "oil_limit_degc"
    }  # fmt: skip


def test_hold_without_a_machine_says_that_none_is_given():
    assert "machine: not given" in lines(stall_hold(setup(machine=None)))


# --- the lines of an expectation ------------------------------------------------------------------


def test_lines_of_the_expectation_are_bands_contributions_and_shifts():
    found = expect(setup(published=(1700 * RPM, 1900 * RPM)))
    text = lines(found)
    at = text.index("Expected engine speed, 95 % of healthy machines")
    assert text[at + 1] == "maker's published span (comes first): 1700 .. 1900 rpm"
    assert text[at + 2].split("  ")[0] == "test"
    tests = (
        "converter stall (in gear)",
        "hydraulic stall (in neutral, pumps at relief)",
        "combined stall (in gear, pumps at relief)",
    )
    bands = (found.band, found.combined["hydraulic"], found.combined["both"])
    for line, label, band in zip(text[at + 4 : at + 7], tests, bands, strict=True):
        assert line.startswith(label + "  ")
        numbers = [float(word) for word in line.removeprefix(label).split()]
        expected = [band.low / RPM, band.high / RPM, band.middle / RPM]
        assert numbers == pytest.approx(expected, abs=0.51)
    at = text.index("Contributions (±, 95 %)")
    told = dict(line.split(": ") for line in text[at + 1 : at + 10])
    assert list(told) == [
        "engine torque", "converter capacity", "air", "oil temperature", "loads", "governor",
        "tachometer", "shift due to air", "shift due to oil density",
    ]  # fmt: skip
    assert told["tachometer"] == "20 rpm"
    # Oil and air are those of the sheets: no shift.
    assert (told["shift due to air"], told["shift due to oil density"]) == ("+0 rpm", "+0 rpm")


# --- what a test is set up with -------------------------------------------------------------------


@pytest.mark.parametrize("coverage", [0.5, 0.95, 0.999])
def test_share_of_healthy_machines_may_be_any_that_leaves_tails(coverage):
    assert setup(coverage=coverage).coverage == coverage


@pytest.mark.parametrize("coverage", [-0.95, 0.0, 0.499, 0.9991, 1.0, 1.001, 1.5, 95.0])
def test_share_of_healthy_machines_is_no_more_than_all_of_them(coverage):
    with pytest.raises(InputError) as refused:
        setup(coverage=coverage)
    assert (refused.value.field, refused.value.expected) == ("coverage", "0.5 to 0.999")
