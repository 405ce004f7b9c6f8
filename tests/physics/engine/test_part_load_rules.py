"""Settings, pedals, pumps and clutches at their bounds, and every quantity that comes back."""

import numpy as np
import pytest

from converter_match.components.arrangement import HydraulicSharing, ImpellerClutch
from converter_match.components.engine import SpeedTable
from converter_match.errors import InputError
from converter_match.physics.arrangement.impeller_clutch import setting_for_torque, through_clutch
from converter_match.physics.engine.hydraulic_sharing import pump_curve, shared_supplies
from converter_match.physics.engine.part_load import governed_curve, part_load_supply
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.part_load_map import default_settings, idle_creep, part_load_map
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from tests.examples import RPM, converter, engine

SUPPLY, UNIT = engine_supply(engine()), converter()
HIGH, LOW = 2380 * RPM, 800 * RPM


def pedal_engine(**changes):
    drag = SpeedTable(speed=[600 * RPM, 2300 * RPM], value=[60.0, 140.0], name="motoring")
    return engine(governing="torque", accessories=(), **({"motoring": drag} | changes))


# --- governor and pedal ---------------------------------------------------------------------------


def test_setting_is_at_most_high_idle_and_its_onset_above_the_first_row():
    made = engine()
    for setting in (HIGH * (1 + 1e-12), HIGH * (1 - 1e-12)):
        assert governed_curve(made, setting) is made.full_load
    with pytest.raises(InputError, match="above high idle") as caught:
        governed_curve(made, HIGH * (1 + 3e-12))
    assert (caught.value.field, caught.value.found) == ("no_load_speed", HIGH * (1 + 3e-12))
    assert caught.value.expected == f"at most {HIGH:.6g} rad/s"
    least = LOW * HIGH / (2200 * RPM)
    with pytest.raises(InputError, match="below the first full-load row") as caught:
        governed_curve(made, least * (1 - 1e-9))
    assert (caught.value.field, caught.value.found) == ("no_load_speed", least * (1 - 1e-9))
    assert caught.value.expected == f"above {least:.6g} rad/s"
    assert governed_curve(made, least * 1.001).domain == pytest.approx((LOW, least * 1.001))


def test_curve_of_a_setting_has_its_corner_at_the_onset_and_names_itself():
    curve = governed_curve(engine(), 0.8 * HIGH)
    assert curve.kinks == pytest.approx((0.8 * 2200 * RPM,))
    assert (curve.name, curve.x_name) == ("governed torque", "speed")
    assert curve.domain == pytest.approx((LOW, 0.8 * HIGH))
    # Rows of the sheet, two hundred of its curve, and the two ends of the droop line.
    assert np.isin(engine().speed[:5], curve.x).all()
    onset = 0.8 * 2200 * RPM
    below = curve.x[curve.x <= onset * (1 + 1e-12)]
    assert np.diff(below).max() <= (onset - LOW) / 199 * (1 + 1e-9)
    assert np.diff(below).min() > 1e-6 * onset
    assert curve.x.size <= 210
    assert float(curve(0.8 * HIGH)) == 0.0
    assert curve.y[-1] == 0.0


def test_onset_at_a_row_of_the_sheet_is_one_row():
    made = engine()
    curve = governed_curve(made, 2000 * RPM * HIGH / (2200 * RPM))
    assert np.sum(np.abs(curve.x - 2000 * RPM) < 1e-6) == 1
    assert float(curve(2000 * RPM)) == pytest.approx(880.0)


@pytest.mark.parametrize(
    ("share", "codes"), [(1.0, []), (1 - 1e-13, []), (0.999, ["droop-as-at-full-setting"])]
)
def test_droop_is_noted_below_the_full_setting(share, codes):
    supply, notes = part_load_supply(engine(), setting=share * HIGH)
    assert [note.code for note in notes] == codes
    assert all(note.kind == "assumption" for note in notes)
    assert supply.domain[0] == pytest.approx(LOW)


def test_site_and_pumps_act_at_part_load_too():
    omega = np.array([100.0, 150.0])
    made = engine(accessories=())
    supply, _ = part_load_supply(made, setting=0.9 * HIGH, torque_factor=0.8, hydraulic_torque=70.0)
    full = governed_curve(made, 0.9 * HIGH)(omega)
    assert supply.torque(omega) == pytest.approx(0.8 * full - 70.0, rel=1e-12)
    made = pedal_engine()
    supply, _ = part_load_supply(made, setting=0.5, torque_factor=0.8, hydraulic_torque=70.0)
    expected = 0.4 * made.full_load(omega) - 0.5 * made.motoring.curve(omega) - 70.0
    assert supply.torque(omega) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("pedal", [0.0, -0.1, float(np.nextafter(1, 2)), np.nan])
def test_pedal_is_above_zero_and_at_most_one(pedal):
    with pytest.raises(InputError, match="pedal out of range") as caught:
        part_load_supply(pedal_engine(), setting=pedal)
    assert caught.value.field == "setting"
    assert caught.value.found == pytest.approx(pedal, nan_ok=True)


def test_full_pedal_does_not_look_at_the_motoring_table():
    # Which ends at 2300 rpm, below high idle.
    supply, notes = part_load_supply(pedal_engine(), setting=1.0)
    assert (supply.domain[1], notes) == (pytest.approx(HIGH), ())
    supply, notes = part_load_supply(pedal_engine(), setting=0.999)
    assert (supply.domain[1], notes) == (pytest.approx(2300 * RPM), ())
    assert [table.name for table in supply.tables] == ["motoring torque"]
    assert supply.tables[0].x_name == "speed"
    supply, notes = part_load_supply(pedal_engine(motoring=None), setting=0.5)
    assert [(n.code, n.kind) for n in notes] == [("motoring-not-known", "assumption")]
    assert supply.tables == ()


# --- the map --------------------------------------------------------------------------------------


def test_map_holds_each_setting_and_what_it_was_asked():
    nu, settings = [0.0, 0.5, 0.9], [0.7 * HIGH, 0.9 * HIGH, HIGH]
    found = part_load_map(
        engine(), UNIT, settings, nu, torque_factor=0.9, hydraulic_torque=20.0
    )  # fmt: skip
    assert found.governing == "speed"
    assert found.setting.tolist() == settings
    assert found.speed_ratio.tolist() == nu
    assert [note.code for note in found.notes] == ["droop-as-at-full-setting"]
    for row, setting in enumerate(settings):
        supply, _ = part_load_supply(
            engine(), setting=setting, torque_factor=0.9, hydraulic_torque=20.0
        )
        plain = match(supply, UNIT, nu).from_idle()
        for name in ("speed_ratio", "torque_ratio", "engine_speed", "input_torque", "stable"):
            assert getattr(found.points, name)[row].tolist() == getattr(plain, name).tolist()
    assert not found.at_idle.any()
    assert found.at_idle.shape == (3, 3)
    with pytest.raises(InputError, match="no setting is given") as caught:
        part_load_map(engine(), UNIT, [], nu)
    assert caught.value.field == "settings"


def test_idle_governor_feeds_the_engine_up_to_full_load_and_not_in_overrun():
    # Converter at stall takes (800/60)^2 = 178 N.m at idle: more than a pedal of 0.15 gives.
    unit = UNIT.replace(
        speed_ratio=[*UNIT.speed_ratio, 1.0, 1.2],
        torque_ratio=[*UNIT.torque_ratio, 1.0, 1.0],
        capacity=[*UNIT.capacity, 0.0, -0.001],
    )
    found = part_load_map(pedal_engine(), unit, [0.15], [0.0, 0.4, 1.2])
    assert found.at_idle.tolist() == [[True, True, False]]
    nu = np.array([0.0, 0.4])
    idle = engine().low_idle
    assert found.points.engine_speed[0, :2] == pytest.approx([idle, idle])
    assert found.points.input_torque[0, :2] == pytest.approx(UNIT.capacity_at(nu) * idle**2)
    assert found.points.stable[0, :2].all()
    # What the engine has left at full load, site and pumps counted, is the bound: 700 N.m.
    for factor, pumps, holds in ((1.0, 520.0, True), (1.0, 525.0, False), (0.5, 150.0, True),
                                 (0.5, 180.0, False)):  # fmt: skip
        found = part_load_map(
            pedal_engine(), UNIT, [0.15], [0.0], torque_factor=factor, hydraulic_torque=pumps
        )
        assert bool(found.at_idle[0, 0]) is holds
        creep = idle_creep(pedal_engine(), UNIT, torque_factor=factor, hydraulic_torque=pumps)
        assert bool(creep.can_hold[0]) is holds


def test_creep_comes_back_at_idle_and_is_held_by_the_torque_at_stall():
    nu = np.array([0.6, 0.0, 0.4])
    creep = idle_creep(engine(), UNIT, nu)
    assert creep.points.speed_ratio.tolist() == nu.tolist()
    assert creep.points.engine_speed == pytest.approx([LOW] * 3)
    assert creep.points.torque_ratio == pytest.approx([1.43, 2.2, 1.7])
    assert creep.points.input_torque == pytest.approx(UNIT.capacity_at(nu) * LOW**2)
    assert creep.points.stable.tolist() == creep.can_hold.tolist() == [True] * 3
    assert creep.holding_torque == creep.points.turbine_torque[1]
    assert idle_creep(engine(), UNIT).points.speed_ratio.tolist() == [0.0]


def test_settings_by_default_are_even_and_end_at_the_full_one():
    assert default_settings(pedal_engine()) == pytest.approx((0.2, 0.4, 0.6, 0.8, 1.0))
    assert default_settings(pedal_engine(), 2) == pytest.approx((0.5, 1.0))
    # A third of the way up from 800 to 2380 rpm: 1326.7.
    expected = np.linspace(800 + 1580 / 3, 2380, 4) * RPM
    assert default_settings(engine(), 4) == pytest.approx(expected)
    assert len(default_settings(engine())) == 5
    # A sheet that begins at 1400 rpm: no lower than 2 % above 1400 x 2380 / 2200.
    late = engine(speed=np.array([1400, 1800, 2200]) * RPM, torque=[1000, 940, 803])
    assert default_settings(late)[0] == pytest.approx(1.02 * 1400 * 2380 / 2200 * RPM)
    governed_curve(late, default_settings(late)[0])


# --- pumps ----------------------------------------------------------------------------------------


def pumps(low, high, torque=100.0):
    return SpeedTable(speed=[low, high], value=[torque, torque], name="pump torque")


@pytest.mark.parametrize(
    ("low", "high", "covers"),
    [
        (LOW, HIGH, True),
        (LOW * (1 + 1e-9), HIGH, True),
        (LOW * (1 + 1.1e-9), HIGH, False),
        (LOW, HIGH * (1 - 1e-9), True),
        (LOW, HIGH * (1 - 1.1e-9), False),
        (0.5 * LOW, 1.5 * HIGH, True),
    ],
)
def test_pump_table_covers_low_idle_to_high_idle(low, high, covers):
    made = engine(low_idle=LOW, high_idle=HIGH)
    table = pumps(low, high)
    if covers:
        assert pump_curve(made, table, "relief") is table.curve
        return
    with pytest.raises(InputError, match="does not cover the engine") as caught:
        pump_curve(made, table, "relief")
    assert caught.value.field == "hydraulic_sharing.relief"
    assert caught.value.found == "800 .. 2380 rpm"
    assert caught.value.expected == "800 .. 2380 rpm (low idle to high idle)"


def test_pump_table_need_not_begin_before_the_engine_s():
    late = engine(speed=np.array([1400, 1800, 2200]) * RPM, torque=[1000, 940, 803])
    assert pump_curve(late, pumps(1400 * RPM, HIGH), "partial").domain[0] == 1400 * RPM
    with pytest.raises(InputError):
        pump_curve(late, pumps(1401 * RPM, HIGH), "partial")


def test_each_state_carries_site_and_constant_torque():
    sharing = HydraulicSharing(standby=pumps(LOW, HIGH, 25.0), relief=pumps(LOW, HIGH, 200.0))
    found = shared_supplies(engine(), sharing, torque_factor=0.9, hydraulic_torque=40.0)
    plain = engine_supply(engine(), torque_factor=0.9, hydraulic_torque=40.0)
    omega = np.array([100.0, 200.0])
    assert [state.state for state in found] == ["without", "standby", "relief"]
    assert [state.pump for state in found] == [None, sharing.standby, sharing.relief]
    for state, torque in zip(found, (0.0, 25.0, 200.0), strict=True):
        assert state.supply.torque(omega) == pytest.approx(plain.torque(omega) - torque)


# --- impeller clutch ------------------------------------------------------------------------------

HELD = ImpellerClutch(torque_capacity=900.0, engine_speed=1700 * RPM)
FULL = ImpellerClutch(torque_capacity=1500.0)


@pytest.mark.parametrize("nu", [0.0, 0.4, 0.8])
def test_slipping_clutch_by_hand_and_its_inverse(nu):
    # T = 360 N.m through the clutch; the impeller turns at sqrt(T / C).
    mu, c = float(UNIT.torque_ratio_at(nu)), float(UNIT.capacity_at(nu))
    impeller, omega = np.sqrt(360.0 / c), 1700 * RPM
    found = through_clutch(SUPPLY, UNIT, HELD, 0.4, nu * impeller)
    near = {"rel": 1e-9, "abs": 1e-9}
    assert float(found.setting) == 0.4
    assert float(found.speed_ratio) == pytest.approx(nu, **near)
    assert float(found.torque_ratio) == pytest.approx(mu, **near)
    assert float(found.impeller_speed) == pytest.approx(impeller, **near)
    assert float(found.engine_speed) == omega
    assert float(found.torque) == 360.0
    assert float(found.spare_torque) == pytest.approx(float(SUPPLY.torque(omega)) - 360.0)
    assert float(found.power_left) == pytest.approx(float(found.spare_torque) * omega)
    assert float(found.turbine_speed) == pytest.approx(nu * impeller, **near)
    assert float(found.turbine_torque) == pytest.approx(mu * 360.0, **near)
    assert float(found.engine_power) == 360.0 * omega
    assert float(found.clutch_heat) == pytest.approx(360.0 * (omega - impeller), **near)
    assert float(found.converter_heat) == pytest.approx(360.0 * impeller * (1 - nu * mu), **near)
    assert (bool(found.slipping), bool(found.held)) == (True, True)
    back = setting_for_torque(SUPPLY, UNIT, HELD, mu * 360.0, nu * impeller)
    assert back.setting.shape == ()
    assert float(back.setting) == pytest.approx(0.4, rel=1e-8)
    assert float(back.torque) == pytest.approx(360.0, rel=1e-8)


def test_converter_that_takes_less_than_the_clutch_runs_without_slip_at_the_speed_held():
    nu, omega = 0.9, 1700 * RPM
    absorbed = float(UNIT.capacity_at(nu)) * omega**2
    found = through_clutch(SUPPLY, UNIT, HELD, 1.0, nu * omega)
    assert absorbed < 900.0
    assert float(found.torque) == pytest.approx(absorbed, rel=1e-9)
    assert float(found.impeller_speed) == float(found.engine_speed) == pytest.approx(omega)
    assert (bool(found.slipping), bool(found.held)) == (False, True)
    assert float(found.spare_torque) == pytest.approx(float(SUPPLY.torque(omega)) - absorbed)


def test_turbine_faster_than_can_be_is_blank_in_every_field():
    for clutch, setting in ((HELD, 0.5), (FULL, 0.5), (HELD, 0.0)):
        found = through_clutch(SUPPLY, UNIT, clutch, setting, [400.0])
        for name in ("speed_ratio", "torque_ratio", "engine_speed", "impeller_speed", "torque",
                     "spare_torque", "turbine_torque"):  # fmt: skip
            assert np.isnan(getattr(found, name)).tolist() == [True], name
        assert found.setting.tolist() == [setting]
        assert found.slipping.tolist() == found.held.tolist() == [False]
    unheld = setting_for_torque(SUPPLY, UNIT, HELD, 500.0, [400.0, 0.0])
    assert unheld.setting == pytest.approx([1.0, 500.0 / 2.2 / 900.0])


def test_open_clutch_lets_the_impeller_turn_with_the_turbine():
    omega = 1700 * RPM
    found = through_clutch(SUPPLY, UNIT, HELD, 0.0, [0.0, 100.0, omega])
    assert found.speed_ratio.tolist() == found.torque_ratio.tolist() == [1.0, 1.0, 1.0]
    assert found.impeller_speed.tolist() == [0.0, 100.0, omega]
    assert found.engine_speed.tolist() == [omega] * 3
    assert found.torque.tolist() == [0.0, 0.0, 0.0]
    assert found.slipping.tolist() == found.held.tolist() == [True] * 3
    assert found.spare_torque == pytest.approx([float(SUPPLY.torque(omega))] * 3)
    # At full throttle nothing holds the engine: it runs up to where it has no torque left.
    free = through_clutch(SUPPLY, UNIT, FULL, 0.0, 0.0)
    assert not bool(free.held)
    assert float(free.spare_torque) == pytest.approx(0.0, abs=1e-6)
    assert float(SUPPLY.torque(free.engine_speed)) == pytest.approx(0.0, abs=1e-6)


def test_full_throttle_never_counts_as_held():
    plain = match_at_turbine_speed(SUPPLY, UNIT, [50.0, 100.0])
    found = through_clutch(SUPPLY, UNIT, FULL, 1.0, [50.0, 100.0])
    assert not found.held.any()
    assert not found.slipping.any()
    assert found.torque == pytest.approx(plain.input_torque, rel=1e-9)
    assert found.spare_torque == pytest.approx([0.0, 0.0], abs=1e-6)


@pytest.mark.parametrize(
    ("setting", "found"),
    [([0.5, float(np.nextafter(1, 2))], float(np.nextafter(1, 2))), (-1e-12, -1e-12),
     ([0.2, np.nan], np.nan)],
)  # fmt: skip
def test_setting_outside_its_range_is_named(setting, found):
    with pytest.raises(InputError, match="out of range") as caught:
        through_clutch(SUPPLY, UNIT, HELD, setting, 0.0)
    assert caught.value.field == "setting"
    assert caught.value.found == pytest.approx(found, nan_ok=True)
    assert through_clutch(SUPPLY, UNIT, HELD, [0.0, 1.0], 0.0).setting.tolist() == [0.0, 1.0]


def test_engine_is_held_within_its_speeds_only():
    low, high = SUPPLY.domain
    for speed in (low, high):
        made = ImpellerClutch(torque_capacity=900.0, engine_speed=speed)
        assert through_clutch(SUPPLY, UNIT, made, 0.0, 0.0).setting == 0.0
    for speed in (float(np.nextafter(low, 0)), float(np.nextafter(high, 1e9))):
        made = ImpellerClutch(torque_capacity=900.0, engine_speed=speed)
        for ask in (
            lambda made: through_clutch(SUPPLY, UNIT, made, 0.5, 0.0),
            lambda made: setting_for_torque(SUPPLY, UNIT, made, 500.0, 0.0),
        ):
            with pytest.raises(InputError, match="cannot be held") as caught:
                ask(made)
            assert caught.value.field == "impeller_clutch.engine_speed"
            assert caught.value.expected == "800 .. 2380 rpm"
    with pytest.raises(InputError) as caught:
        setting_for_torque(SUPPLY, UNIT, HELD, 0.0, 0.0)
    assert caught.value.field == "turbine_torque"
