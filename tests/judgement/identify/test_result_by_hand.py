"""What is told of an identified converter: nodes built by hand, figures and labels beside them."""

import itertools

import numpy as np
import pytest

from converter_match.judgement.identify.result import Estimate, Identification, Node
from tests.examples import RPM

# K of 60 rpm/sqrt(N.m) and of 58 and 62.5, as capacities.
C60, C58, C625 = (1.0 / (k * RPM) ** 2 for k in (60.0, 58.0, 62.5))
KNOWN = Node(
    speed_ratio=0.0,
    capacity=Estimate(C60, C625, C58),
    torque_ratio=Estimate(2.0, 1.9, 2.1),
    samples=40,
    episodes=5,
    sheet_capacity=1.05 * C60,
    sheet_torque_ratio=2.1,
)
OFF = Node(0.5, Estimate(C60, 0.98 * C60, 1.02 * C60), None, 30, 4, 1.1 * C60, None)
NO_SHEET = Node(0.9, Estimate(C60, C625, C58), None, 10, 3, None, None)


def bare(nu):
    return Node(nu, None, None, 2, 1, C60, None)


def found(*nodes, **changes):
    fields = {
        "basis_engine": "an-engine", "basis_converter": "a-converter", "coverage": 0.9,
        "nodes": nodes, "coupling_used": 0.86, "coupling_found": None, "stretches": 100,
        "steady": 60, "locked": 7, "cold": 5, "driven": 3, "outside": 2, "samples": 43,
        "sample_nu": np.zeros(1), "sample_capacity": np.zeros(1),
        "sample_torque_ratio": np.zeros(1), "notes": (),
    }  # fmt: skip
    return Identification(**(fields | changes))


def test_k_of_a_node_is_the_root_of_the_inverse_with_its_ends_the_other_way_round():
    assert [k / RPM for k in KNOWN.k_factor] == pytest.approx([60.0, 58.0, 62.5])
    assert bare(0.0).k_factor is None
    zero = Node(0.98, Estimate(C60, 0.0, C60), None, 5, 1, None, None)
    assert zero.k_factor is None


def test_sheet_lies_inside_the_band_up_to_its_ends():
    ratio = KNOWN.capacity_against_sheet
    assert ratio == pytest.approx((1 / 1.05, (60 / 62.5) ** 2 / 1.05, (60 / 58) ** 2 / 1.05))
    assert KNOWN.sheet_inside_band is True
    assert OFF.sheet_inside_band is False
    assert (NO_SHEET.sheet_inside_band, NO_SHEET.capacity_against_sheet) == (None, None)
    end = Node(0.1, Estimate(1.0, 0.9, 1.1), None, 5, 1, 1.1, None)
    assert end.sheet_inside_band is True


def test_plain_data_hold_the_log_the_nodes_and_the_comparison():
    told = found(KNOWN, bare(0.25), OFF, NO_SHEET).to_dict()
    assert told["log"] == {
        "stretches": 100, "steady": 60, "locked_up": 7, "cold_oil": 5, "not_driven": 3,
        "outside_engine_data": 2, "samples": 43,
    }  # fmt: skip
    assert (told["engine"], told["converter"], told["coverage"]) == (
        "an-engine", "a-converter", 0.9
    )  # fmt: skip
    assert told["coupling_speed_ratio"] == {"used": 0.86, "found": None}
    # Of three with a value two have a sheet, one of them inside; the median of 1/1.05 and 1/1.1.
    assert told["compared_with_sheet"] == {
        "nodes": 2, "sheet_inside_band": 1,
        "capacity_level": pytest.approx(0.5 * (1 / 1.05 + 1 / 1.1)),
    }  # fmt: skip
    first, empty = told["nodes"][:2]
    assert first == {
        "speed_ratio": 0.0,
        "capacity_nms2_per_rad2": pytest.approx({"value": C60, "low": C625, "high": C58}),
        "k_factor_rpm_per_sqrt_nm": pytest.approx({"value": 60.0, "low": 58.0, "high": 62.5}),
        "torque_ratio": {"value": 2.0, "low": 1.9, "high": 2.1},
        "sheet_capacity_nms2_per_rad2": pytest.approx(1.05 * C60),
        "sheet_torque_ratio": 2.1,
        "capacity_against_sheet": pytest.approx(dict(zip(
            ("value", "low", "high"), KNOWN.capacity_against_sheet, strict=True
        ))),
        "sheet_inside_band": True,
        "samples": 40,
        "episodes": 5,
    }  # fmt: skip
    assert empty["capacity_nms2_per_rad2"] is None
    assert empty["k_factor_rpm_per_sqrt_nm"] is None
    assert empty["sheet_inside_band"] is None
    assert told["notes"] == []


def test_text_says_the_log_and_the_characteristic_in_the_words_of_the_trade():
    lines = found(KNOWN, bare(0.25), OFF).text().splitlines()
    assert lines[:9] == [
        "engine: an-engine",
        "compared with: a-converter",
        "stretches of the log: 100",
        "of them steady: 60",
        "left out, locked up: 7",
        "left out, oil cold: 5",
        "left out, converter not driven: 3",
        "left out, outside the engine's speeds: 2",
        "samples: 43",
    ]
    assert "coupling point used, speed ratio: 0.860" in lines
    rows = [" ".join(line.split()) for line in lines]
    assert (
        "speed ratio K (90 % band) torque ratio (90 % band) capacity / sheet samples episodes"
        in rows
    )
    assert "0.000 60.0 (58.0 to 62.5) 2.000 (1.900 to 2.100) 0.952 40 5" in rows
    assert "0.250 not covered - - 2 1" in rows
    assert "speed ratios compared with the sheet: 2" in lines
    assert "of them with the sheet inside the band: 1" in lines
    assert "capacity / sheet (median): 0.931" in lines  # of 0.9524 and 0.9091


def test_without_a_sheet_nothing_is_compared():
    alone = found(NO_SHEET, basis_converter=None)
    assert alone.level is None
    assert "compared with the sheet" not in alone.text()
    assert alone.to_dict()["compared_with_sheet"] == {
        "nodes": 0, "sheet_inside_band": 0, "capacity_level": None
    }  # fmt: skip
    assert "To fill the gaps" not in alone.text()


def test_gap_is_cut_where_another_kind_of_driving_fills_it_and_ends_at_the_next_known_node():
    # Another kind of driving from 0.06, 0.4, 0.7 and 0.86 on.
    gaps = found(KNOWN, bare(0.2), bare(0.5), NO_SHEET).gaps
    ends = [0.0, 0.06, 0.4, 0.7, 0.86, 0.9]
    assert [(gap.low, gap.high) for gap in gaps] == list(itertools.pairwise(ends))
    assert len({gap.driving for gap in gaps}) == 5
    # A gap that nothing ends goes to the last node.
    open_end = found(KNOWN, OFF, bare(0.55), bare(0.65)).gaps
    assert [(gap.low, gap.high) for gap in open_end] == [(0.5, 0.65)]
    assert found(KNOWN, NO_SHEET).gaps == ()


def test_gaps_that_touch_and_want_the_same_driving_are_asked_for_as_one():
    known = Node(0.2, KNOWN.capacity, None, 9, 3, None, None)
    result = found(KNOWN, bare(0.1), known, bare(0.3), OFF)
    # To 0.2 and on from there: creep in both, pulls above 0.4.
    assert [(gap.low, gap.high) for gap in result.gaps] == [
        (0.0, 0.06), (0.06, 0.2), (0.2, 0.4), (0.4, 0.5)
    ]  # fmt: skip
    joined = result.to_fill
    assert [(gap.low, gap.high) for gap in joined] == [(0.0, 0.06), (0.06, 0.4), (0.4, 0.5)]
    for gap in joined:
        assert f"speed ratio {gap.low:.2f} .. {gap.high:.2f}: {gap.driving}" in result.text()
