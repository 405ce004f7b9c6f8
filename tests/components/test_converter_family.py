"""An adjustable converter: its characteristic between two settings, and what is refused."""

import numpy as np
import pytest

from converter_match.components.adjustment import Adjustment
from converter_match.components.converter_family import at_setting
from converter_match.errors import InputError
from tests.examples import converter
from tests.load_examples import family, straight

CODES = ("family-at-nominal", "family-interpolated")


def codes(unit):
    return [note.code for note in unit.notes if note.code in CODES]


@pytest.mark.parametrize("setting", [0.0, 2.5, 5.0, 9.0, 10.0])
def test_between_two_settings_everything_moves_evenly(setting):
    # Straight lines between straight lines, by hand: at equal shares of the way.
    t = setting / 10.0
    unit = at_setting(family(), setting)
    point = (1.0 - t) * 0.85 + t * 0.7
    assert unit.coupling == pytest.approx(point)
    assert float(unit.torque_ratio_at(0.0)) == pytest.approx((1.0 - t) * 2.2 + t * 1.8)
    assert float(unit.capacity_at(0.0)) == pytest.approx((1.0 - t) * 0.03 + t * 0.02)
    assert float(unit.capacity_at(point)) == pytest.approx(0.9 * ((1.0 - t) * 0.03 + t * 0.02))
    assert float(unit.torque_ratio_at(point)) == pytest.approx(1.0)
    assert float(unit.capacity_at(1.0)) == pytest.approx(0.0, abs=1e-12)
    half = 0.5 * point
    mean = (1.0 - t) * 0.5 * 3.2 + t * 0.5 * 2.8
    assert float(unit.torque_ratio_at(half)) == pytest.approx(mean)


def test_at_a_setting_of_the_sheet_it_is_the_sheet_and_between_it_says_so():
    whole = family()
    assert codes(whole) == ["family-at-nominal"]
    given = at_setting(whole, 10.0)
    assert codes(given) == []
    assert np.array_equal(given.torque_ratio, straight(0.7, 1.8, 0.02).torque_ratio)
    between = at_setting(whole, 4.0)
    assert codes(between) == ["family-interpolated"]
    # From anywhere to anywhere.
    assert at_setting(between, 10.0) == given
    assert "stator angle 4 deg" in between.name


@pytest.mark.parametrize("setting", [-0.1, 10.1, float("nan")])
def test_outside_the_settings_nothing_is_extrapolated(setting):
    with pytest.raises(InputError, match=r"0 \.\. 10 \(stator angle, deg\)"):
        at_setting(family(), setting)


def test_a_second_turbine_is_coupled_or_not_and_nothing_between():
    whole = family(between="none")
    assert at_setting(whole, 10.0).coupling == pytest.approx(0.7)
    with pytest.raises(InputError, match="one of 0, 10"):
        at_setting(whole, 5.0)


def test_a_converter_without_a_family_cannot_be_set():
    with pytest.raises(InputError, match="not adjustable"):
        at_setting(converter(), 1.0)


def test_size_and_oil_go_through_the_whole_family():
    whole = family()
    bigger = at_setting(whole.scaled(profile_diameter=0.345 * 1.05), 4.0)
    assert float(bigger.capacity_at(0.0)) == pytest.approx(
        1.05**5 * float(at_setting(whole, 4.0).capacity_at(0.0))
    )
    looser = whole.changed(lambda unit: unit.replace(capacity=0.9 * unit.capacity))
    assert float(at_setting(looser, 10.0).capacity_at(0.0)) == pytest.approx(0.9 * 0.02)
    # A characteristic that is changed by itself has no family any more.
    assert whole.replace(capacity=0.9 * whole.capacity).adjustment is None


def test_members_of_two_kinds_are_not_interpolated():
    short = straight(0.85, 2.2, 0.03)
    rows = slice(0, 2)
    without = short.replace(
        speed_ratio=short.speed_ratio[rows],
        torque_ratio=short.torque_ratio[rows],
        capacity=short.capacity[rows],
        coupling_speed_ratio=None,
    )
    assert without.coupling is None
    with pytest.raises(InputError, match="no coupling point and others have"):
        family(m10=without)
    assert family(between="none", m10=without).adjustment is not None


def test_a_family_without_a_second_setting_is_none():
    with pytest.raises(InputError, match="one setting is no family"):
        Adjustment(parameter="filling", unit="%", between="linear", settings=(1.0,), setting=1.0)
    with pytest.raises(InputError, match="two members have one setting"):
        Adjustment(parameter="a", unit="", between="linear", settings=(1.0, 1.0), setting=1.0)


def test_a_family_makes_another_converter_and_none_leaves_fingerprints_alone():
    plain = straight(0.85, 2.2, 0.03)
    assert family().fingerprint() != plain.fingerprint()
    assert at_setting(family(), 3.0).fingerprint() != at_setting(family(), 4.0).fingerprint()
