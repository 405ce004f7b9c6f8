"""Keys of the plain data: a promise to scripts (DEVELOPERS.md), whatever the words become."""

import json

import pytest

from converter_match.components.reading import StallReading
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.hold import stall_hold
from tests.examples import RPM, converter
from tests.judgement.stall.test_stall import setup, shown

BAND = {"as_on_the_sheets_rpm", "low_rpm", "high_rpm", "coverage", "gap_rpm",
        "share_that_cannot_leave_idle"}  # fmt: skip
HOLD = {
    "longest_hold_s", "set_by", "heat_kw", "oil_rise_k_per_s", "time_to_oil_limit_s",
    "time_to_oil_limit_oil_alone_s", "oil_start_degc", "oil_limit_degc", "oil_after_hold_degc",
    "cool_down_in_neutral_s", "stall_speed_rpm", "first_rise_k_per_s", "time_to_limit_s",
    "stall_speed_oil_temperature_degc",
    "time_to_limit_oil_alone_s", "time_to_149_degc_s", "balance_degc", "heat_at_speed_rpm",
    "outlet_limit_degc", "time_to_outlet_limit_s", "outlet_after_hold_degc",
    "outlet_after_hold_least_degc", "charge_flow_l_per_min", "charge_flow_assumed",
}  # fmt: skip
FACTOR = {"value", "low", "high"}


def plain(answer):
    """Return the answer as a script reads it."""
    return json.loads(json.dumps(answer.to_dict(), allow_nan=False))


@pytest.mark.parametrize("heavy", [False, True])
def test_keys_of_the_expectation(heavy):
    # A converter that is too large, so that nothing accelerates from idle: the same keys, null.
    given = setup(converter=converter(capacity=20 * converter().capacity)) if heavy else setup()
    told = plain(expect(given))
    assert told.keys() == {
        "engine", "converter", "machine", "site", "oil", "expected", "expected_combined",
        "published_rpm", "widened_by", "share_that_cannot_leave_idle", "elasticity",
        "idle_in_gear", "hold", "gears", "notes",
    }  # fmt: skip
    for part in ("engine", "converter"):
        component = getattr(given, part)
        assert told[part] == {"id": component.id, "fingerprint": component.fingerprint()}
    assert told["machine"] == given.machine.id
    assert told["site"].keys() == {
        "method", "torque_factor", "air_temperature_degc", "stall_speed_change_rpm"
    }  # fmt: skip
    assert told["oil"].keys() == {"temperature_degc", "capacity_factor", "stall_speed_change_rpm"}
    assert told["oil"]["temperature_degc"] == pytest.approx(90.0)
    assert told["expected"].keys() == BAND
    assert {key: band.keys() for key, band in told["expected_combined"].items()} == {
        "hydraulic": BAND, "both": BAND
    }  # fmt: skip
    assert told["widened_by"].keys() == {
        "engine torque", "converter capacity", "air", "oil temperature", "loads", "governor",
        "tachometer",
    }  # fmt: skip
    assert told["widened_by"]["tachometer"] == pytest.approx(20.0)
    assert told["hold"].keys() == HOLD
    assert told["published_rpm"] is None
    if heavy:
        assert told["idle_in_gear"] is None
        assert {key for key, value in told["hold"].items() if value is not None} == {
            "set_by", "oil_start_degc", "oil_limit_degc"
        }  # fmt: skip
    else:
        assert told["idle_in_gear"].keys() == {
            "engine_speed_rpm", "input_torque_nm", "turbine_torque_nm", "heat_kw"
        }  # fmt: skip
    assert all(note.keys() == {"code", "message", "kind"} for note in told["notes"])


def test_expectation_without_combined_tests_machine_or_span_says_so_by_null():
    told = plain(expect(setup(machine=None, relief_torque=None)))
    assert (told["machine"], told["expected_combined"], told["published_rpm"]) == (None, {}, None)
    span = plain(expect(setup(published=(1700 * RPM, 1900 * RPM))))["published_rpm"]
    assert span == pytest.approx([1700, 1900])


def test_keys_of_the_hold_alone():
    told = plain(stall_hold(setup()))
    assert told.keys() == HOLD | {"engine", "converter", "machine", "warnings", "assumptions"}
    assert (told["engine"], told["converter"], told["machine"]) == (
        "test-engine", "test-converter", "test-machine"
    )  # fmt: skip


def test_keys_of_the_diagnosis():
    given = setup(published=(1700 * RPM, 1900 * RPM))
    readings = [
        shown(given, 0.85, gear="2", oil_temperature=358.15, air_temperature=298.15),
        shown(given, 0.85, test="hydraulic"),
        shown(given, 0.85, gear="2", test="both"),
    ]
    told = plain(diagnose(given, readings, [converter(id="other", name="Other")]))
    assert told.keys() == {
        "readings", "findings", "separated", "tests_together", "next_check", "scoring", "notes"
    }  # fmt: skip
    for row, reading in zip(told["readings"], readings, strict=True):
        assert row.keys() == {
            "engine_speed_rpm", "test", "gear", "direction", "brakes", "pump",
            "oil_temperature_degc", "air_temperature_degc", "turbine_speed_rpm", "expected",
            "place", "place_in_published", "inversion",
        }  # fmt: skip
        assert row["engine_speed_rpm"] == pytest.approx(reading.engine_speed / RPM)
        assert row["expected"].keys() == BAND
        assert row["inversion"].keys() == {"torque_factor", "capacity_factor", "either_or_both"}
        assert row["inversion"]["torque_factor"].keys() == FACTOR
        curve = row["inversion"]["either_or_both"]
        assert curve.keys() == {
            "capacity_factor", "torque_factor", "torque_factor_low", "torque_factor_high"
        }  # fmt: skip
        assert {len(values) for values in curve.values()} == {33}
    first = told["readings"][0]
    assert (first["oil_temperature_degc"], first["air_temperature_degc"]) == pytest.approx((85, 25))
    assert (first["direction"], first["gear"], first["pump"]) == ("forward", "2", "standby")
    assert told["readings"][1]["inversion"]["capacity_factor"] is None
    for finding in told["findings"]:
        assert finding.keys() == {
            "code", "title", "share", "weight", "log_likelihood", "unknown", "would_read_rpm",
            "would_read_span_rpm", "fits_span_rpm", "detail", "entries", "words",
        }  # fmt: skip
        assert len(finding["would_read_rpm"]) == len(readings)
    down = next(one for one in told["findings"] if one["code"] == "engine-down")
    assert down["unknown"].keys() == {"name", "median", "p05", "p95"}
    assert down["unknown"]["name"] == "torque_factor"
    assert down["words"].startswith(f"{down['title']} by ")
    # Medians before any reading: a loss of 3 to 60 % lies far below what was read.
    assert down["would_read_rpm"][0] < first["engine_speed_rpm"]
    low, high = down["would_read_span_rpm"][0]
    assert low < down["would_read_rpm"][0] < high
    assert told["separated"].keys() == {
        "torque_factor", "capacity_factor", "torque_sigma", "capacity_sigma", "correlation",
        "misfit", "surplus", "residuals",
    }  # fmt: skip
    assert (told["separated"]["surplus"], len(told["separated"]["residuals"])) == (1, 3)
    assert told["tests_together"].keys() == {"misfit", "misfit_at_most", "fits", "worst"}
    assert told["tests_together"]["fits"] is True
    assert told["next_check"].keys() == {"code", "words", "minutes", "why"}
    assert "mean" in told["scoring"]


def test_void_test_has_no_numbers_but_all_keys():
    void = StallReading(engine_speed=1400 * RPM, gear="1", brakes="let-go")
    told = plain(diagnose(setup(), [void]))
    assert (told["separated"], told["tests_together"]) == (None, None)
    assert (told["readings"][0]["place"], told["readings"][0]["inversion"]) == ("void", None)
    [finding] = told["findings"]
    assert (finding["code"], finding["would_read_rpm"], finding["fits_span_rpm"]) == (
        "brakes-give-way", [], None
    )  # fmt: skip
    assert (finding["unknown"], finding["detail"], finding["entries"]) == (None, "", [])
