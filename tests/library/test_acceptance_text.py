"""Readings of the commissioning day, as a person writes them in a line."""

import math
from dataclasses import asdict

import pytest

from converter_match.errors import InputError
from converter_match.library.acceptance_text import parse_acceptance
from converter_match.study.acceptance import AcceptanceReading

RPM = math.pi / 30.0


def test_every_part_of_a_line_has_its_place():
    text = "Stall speed = 2060 rpm; gear=2; oil=85 degC; engine=2100; brakes=let-go"
    assert asdict(parse_acceptance(text)) == dict(
        quantity="stall-speed", value=pytest.approx(2060 * RPM), given="2060 rpm", gear="2",
        oil_temperature=pytest.approx(358.15), engine_speed=pytest.approx(2100 * RPM),
        brakes="let-go",
    )  # fmt: skip


def test_what_is_not_written_is_not_known():
    read = parse_acceptance("speed on grade=9 km/h")
    bare = AcceptanceReading(quantity="speed-on-grade", value=2.5, given="9 km/h")
    assert asdict(read) == asdict(bare)


def test_a_stall_speed_without_a_unit_is_in_rpm_and_a_speed_needs_one():
    assert parse_acceptance("stall speed=1700").value == pytest.approx(1700 * RPM)
    with pytest.raises(InputError, match="unit"):
        parse_acceptance("speed on grade=8")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("stal speed=1700 rpm", r"reading 3: not a reading.*stal speed.*stall-speed"),
        ("stall speed", r"reading 3: not a reading of the acceptance.*found 'stall speed'"),
        ("stall speed=-3 rpm", r"reading 3: stall-speed: out of range.*'-3 rpm'"),
        ("stall speed=0 rpm", r"reading 3: stall-speed: out of range"),
        ("stall speed=1700 rpm; oil=85", r"reading 3: oil.*unit"),
        ("stall speed=1700 rpm; engine=0", r"reading 3: engine: out of range"),
        ("stall speed=1700 rpm; brakes=gone", r"not known here.*'brakes=gone'"),
        ("stall speed=1700 rpm; gear=", r"not known here.*'gear='"),
        ("stall speed=1700 rpm; ois=85 degC", r"not known here.*oil"),
        ("stall speed=1700 rpm; tyre=3", r"not known here.*'tyre=3'"),
    ],
)
def test_a_line_that_is_no_reading_is_refused_by_its_part(text, said):
    with pytest.raises(InputError, match=f"(?s){said}"):
        parse_acceptance(text, source="reading 3")
