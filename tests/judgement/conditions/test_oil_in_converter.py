"""What oil is taken to be in a converter, how much of it flows, and what its outlet may read."""

import math

import pytest

from converter_match.components.converter import ConverterLimits
from converter_match.components.machine import Oil
from converter_match.judgement.conditions.outlet import (
    known_oil_in_converter,
    oil_in_converter,
    outlet_levels,
    outlet_limit,
    stated_oil_limit,
)
from tests.examples import converter
from tests.machines import machine

POWER = 200e3  # W
CUBE = 0.345**3  # m^3, of the profile diameter
OIL = Oil(volume=0.06)


def codes(notes):
    return [note.code for note in notes]


def test_flow_that_no_file_gives_is_taken_by_the_power_of_the_engine():
    # Common practice, no source: 0.4 to 1.0 L/min per kW, so 80 to 200 L/min of 200 kW.
    found = oil_in_converter(OIL, converter(oil_volume=5e-3), POWER)
    assert found.flow == pytest.approx((80e-3 / 60.0, 200e-3 / 60.0))
    assert found.assumed
    assert codes(found.notes)[0] == "charge-flow-assumed"
    values = dict(found.notes[0].values)
    assert (values["low"], values["high"]) == pytest.approx(found.flow)
    given = oil_in_converter(Oil(volume=0.06, charge_flow=1.5e-3), converter(oil_volume=5e-3), 1.0)
    assert given.flow == (1.5e-3, 1.5e-3)
    assert not given.assumed
    assert "charge-flow-assumed" not in codes(given.notes)


def test_oil_in_a_converter_that_no_file_gives_is_taken_by_its_diameter():
    # 12 to 20 % of the cube of the profile diameter: 4.9 to 8.2 L of 345 mm.
    flow = Oil(volume=0.06, charge_flow=1.5e-3)
    found = oil_in_converter(flow, converter(), POWER)
    [note] = [note for note in found.notes if note.code == "converter-oil-assumed"]
    values = dict(note.values)
    assert (values["low"], values["high"]) == pytest.approx((0.12 * CUBE, 0.20 * CUBE))
    assert found.assumed
    # The least oil and the least flow are the hottest: it takes longer to get there with the most.
    heat, start, most = 100e3, 350.0, 400.0
    assert found.hottest.time_to(heat, start, most) < found.coolest.time_to(heat, start, most)
    bare = oil_in_converter(flow, converter(profile_diameter=None), POWER)
    assert "converter-oil-left-out" in codes(bare.notes)
    assert bare.assumed


def test_with_both_given_the_two_ends_are_one():
    found = oil_in_converter(
        Oil(volume=0.06, charge_flow=1.5e-3), converter(oil_volume=5e-3), POWER
    )  # fmt: skip
    assert found.hottest == found.coolest
    assert not {"charge-flow-assumed", "converter-oil-assumed"} & set(codes(found.notes))


def test_outlet_is_known_only_with_a_flow_that_is_given():
    inside, notes = known_oil_in_converter(OIL, converter())
    assert inside is None
    assert codes(notes) == ["charge-flow-not-given"]
    flow = Oil(volume=0.06, charge_flow=1.5e-3)
    inside, notes = known_oil_in_converter(flow, converter())
    assert codes(notes) == ["converter-oil-assumed"]
    assert inside == oil_in_converter(flow, converter(), POWER).hottest  # the least of it
    inside, notes = known_oil_in_converter(flow, converter(oil_volume=5e-3))
    assert notes == ()
    assert inside == oil_in_converter(flow, converter(oil_volume=5e-3), POWER).coolest


@pytest.mark.parametrize(
    ("own", "unit", "lowest"),
    [(380.0, 390.0, 380.0), (390.0, 380.0, 380.0), (None, 390.0, 390.0), (380.0, None, 380.0),
     (None, None, None)],
)  # fmt: skip
def test_lower_of_the_stated_limits_of_machine_and_converter_holds(own, unit, lowest):
    sheet = converter(limits=ConverterLimits(oil_temperature=unit))
    body = machine(oil=Oil(volume=0.04, temperature_limit=own))
    assert stated_oil_limit(body, sheet) == lowest
    assert stated_oil_limit(None, sheet) == unit


STOP = 149.0 + 273.15  # US Army TM 9-2320-283-10


@pytest.mark.parametrize(
    ("stated", "limit"), [(400.0, 400.0), (STOP - 0.1, STOP - 0.1), (STOP + 0.1, STOP)]
)
def test_stated_limit_of_the_outlet_holds_up_to_149_degrees(stated, limit):
    assert outlet_limit(Oil(volume=0.04, outlet_temperature_limit=stated)) == (limit, ())


@pytest.mark.parametrize("oil", [None, OIL])
def test_limit_of_the_outlet_that_nobody_states_is_149_degrees_and_said(oil):
    limit, notes = outlet_limit(oil)
    assert math.isclose(limit, STOP)
    assert [(note.code, dict(note.values)["limit"]) for note in notes] == [
        ("outlet-limit-not-given", limit)
    ]


def test_gauges_at_the_outlet_warn_at_120_degrees_and_stop_at_149():
    # Common practice, no source, for the first: about 250 degF.
    values = dict(outlet_levels().values)
    assert values["warns"] == pytest.approx(120.0 + 273.15)
    assert values["stops"] == pytest.approx(STOP)
