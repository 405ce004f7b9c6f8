"""Governor settings, pedal positions, and the site effect in its less common forms."""

import numpy as np
import pytest

from converter_match.components.engine import SiteCorrection, SpeedTable
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.library.read import read_engine
from converter_match.library.shipped import shipped
from converter_match.physics.engine.part_load import governed_curve, part_load_supply
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine


def test_full_setting_is_the_full_load_curve():
    machine = engine()
    assert governed_curve(machine, machine.high_idle) is machine.full_load


def test_a_lower_setting_gives_full_torque_up_to_its_onset_and_none_at_no_load():
    machine = engine()
    no_load = 0.75 * machine.high_idle
    onset = 0.75 * machine.rated_speed
    curve = governed_curve(machine, no_load)
    # At the rows of the sheet and at the onset the curve is the full-load curve.
    rows = machine.speed[machine.speed <= onset]
    assert curve(rows) == pytest.approx(machine.full_load(rows), rel=1e-12)
    assert curve(onset) == pytest.approx(machine.full_load(onset), rel=1e-12)
    assert curve(no_load) == 0.0
    middle = 0.5 * (onset + no_load)
    assert curve(middle) == pytest.approx(0.5 * machine.full_load(onset), rel=1e-12)


@pytest.mark.parametrize("name", sorted(shipped("engines")))
def test_below_the_onset_no_setting_gives_another_torque_than_full_throttle(name):
    # By definition of the governor. The curve is tabulated anew: good to a ten-thousandth.
    made = read_engine(shipped("engines")[name])
    onset = 0.83 * made.rated_speed
    speed = np.linspace(made.full_load.domain[0], onset, 500, endpoint=False)
    at_part = governed_curve(made, 0.83 * made.high_idle)(speed)
    np.testing.assert_allclose(at_part, made.full_load(speed), rtol=1e-4)


def test_stall_speed_follows_the_setting_until_full_torque_limits_it():
    machine, unit = engine(), converter()
    speeds = []
    for share in (0.5, 0.6, 0.8, 0.95, 1.0):
        supply, notes = part_load_supply(machine, setting=share * machine.high_idle)
        # Nobody states the droop of a setting below full: it is assumed, and said.
        assert [note.code for note in notes] == ["droop-as-at-full-setting"][: share < 1.0]
        speeds.append(float(match(supply, unit, 0.0).from_idle().engine_speed))
    assert speeds == sorted(speeds)
    # Full torque stalls the converter at about 1785 rpm; settings above that change nothing.
    assert speeds[-2] == pytest.approx(speeds[-1], rel=1e-3)
    assert speeds[0] < 0.5 * machine.high_idle


@pytest.mark.parametrize("share", [0.2, 1.2])
def test_a_setting_out_of_range_is_refused(share):
    machine = engine()
    with pytest.raises(InputError, match="no_load_speed"):
        governed_curve(machine, share * machine.high_idle)


def test_pedal_moves_the_torque_between_motoring_and_full_load():
    drag = SpeedTable(speed=[600 * RPM, 2400 * RPM], value=[60.0, 140.0], name="motoring.torque")
    machine = engine(governing="torque", motoring=drag, accessories=())
    supply, notes = part_load_supply(machine, setting=0.4)
    assert notes == ()
    omega = np.linspace(*supply.domain, 41)
    expected = 0.4 * machine.full_load(omega) - 0.6 * drag.curve(omega)
    assert supply.torque(omega) == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_pedal_without_motoring_data_is_flagged():
    supply, notes = part_load_supply(engine(governing="torque", accessories=()), setting=0.5)
    assert [note.code for note in notes] == ["motoring-not-known"]
    assert supply.torque(1400 * RPM) == pytest.approx(500.0, rel=1e-12)


@pytest.mark.parametrize("pedal", [0.0, -0.1, 1.01])
def test_a_pedal_out_of_range_is_refused(pedal):
    with pytest.raises(InputError, match="pedal"):
        part_load_supply(engine(governing="torque"), setting=pedal)


@pytest.mark.parametrize(("factor", "hydraulic"), [(0.0, 0.0), (-1.0, 0.0), (1.0, -5.0)])
def test_a_supply_refuses_nonsense(factor, hydraulic):
    with pytest.raises(InputError, match=r"torque_factor|hydraulic_torque"):
        engine_supply(engine(), torque_factor=factor, hydraulic_torque=hydraulic)


def site(**fields):
    return Site(id="site", name="site", source="test", **fields)


def test_the_makers_table_beats_the_formula_and_is_linear_between_rows():
    table = SiteCorrection(derate_altitude=[0, 1500, 3000], derate_factor=[1.0, 1.0, 0.85])
    machine = engine(site_correction=table)
    assert site_effect(machine, site(altitude=1000.0)).torque_factor == 1.0
    effect = site_effect(machine, site(altitude=2250.0))
    assert effect.torque_factor == pytest.approx(0.925)
    assert effect.method == "maker's derate table"
    assert "derate-altitude-only" in {note.code for note in effect.notes}
    with pytest.raises(InputError, match="altitude"):
        site_effect(machine, site(altitude=3500.0))


def test_the_makers_table_takes_its_altitude_from_the_pressure_if_it_must():
    table = SiteCorrection(derate_altitude=[0, 3000], derate_factor=[1.0, 0.7])
    machine = engine(site_correction=table)
    # 79.501 kPa is the 1976 standard atmosphere at 2000 m.
    effect = site_effect(machine, site(air_pressure=79_501.0))
    assert effect.torque_factor == pytest.approx(0.8, abs=1e-4)
    assert "altitude-from-pressure" in {note.code for note in effect.notes}


def test_an_engine_that_compensates_is_not_corrected():
    machine = engine(site_correction=SiteCorrection(method="none"))
    effect = site_effect(machine, site(altitude=2500.0))
    assert effect.torque_factor == 1.0
    assert "no-site-correction" in {note.code for note in effect.notes}


@pytest.mark.parametrize("method", ["diesel-iso-1585", "iso-3046", "sae-j1349-spark"])
def test_every_formula_gives_less_torque_in_thinner_and_warmer_air(method):
    machine = engine(site_correction=SiteCorrection(method=method))
    factors = [
        site_effect(machine, site(altitude=altitude, air_temperature=celsius + 273.15))
        for altitude, celsius in ((0.0, 15.0), (1000.0, 15.0), (1000.0, 35.0), (2500.0, 35.0))
    ]
    values = [effect.torque_factor for effect in factors]
    assert values == sorted(values, reverse=True)
    assert len(set(values)) == 4


def test_a_correction_outside_its_validity_says_so():
    machine = engine(
        aspiration="naturally-aspirated",
        site_correction=SiteCorrection(method="diesel-iso-1585", engine_factor=1.2),
    )
    effect = site_effect(machine, site(altitude=3000.0, air_temperature=293.15))
    assert "site-correction-outside-validity" in {note.code for note in effect.notes}


def test_humid_air_costs_torque():
    machine = engine(site_correction=SiteCorrection(method="diesel-iso-1585", engine_factor=0.5))
    dry = site(altitude=0.0, air_temperature=308.15, relative_humidity=0.0)
    humid = site(altitude=0.0, air_temperature=308.15, relative_humidity=0.9)
    assert site_effect(machine, humid).torque_factor < site_effect(machine, dry).torque_factor


def test_what_the_factor_is_applied_to_is_said():
    table = SiteCorrection(derate_altitude=[0, 3000], derate_factor=[1.0, 0.7])
    for machine in (engine(), engine(site_correction=table)):
        effect = site_effect(machine, site(altitude=1000.0))
        assert "site-factor-on-whole-curve" in {note.code for note in effect.notes}
    plain = engine(site_correction=SiteCorrection(method="none"))
    effect = site_effect(plain, site(altitude=1000.0))
    assert "site-factor-on-whole-curve" not in {note.code for note in effect.notes}
