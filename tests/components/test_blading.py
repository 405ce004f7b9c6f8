import math
import pickle

import pytest

from converter_match.components.blading import BladeRow
from converter_match.errors import InputError
from tests.blading_examples import blading, row


def test_blading_is_a_value():
    assert blading() == blading()
    assert hash(blading()) == hash(blading())
    assert blading() != blading(flow_area=0.0101)
    assert pickle.loads(pickle.dumps(blading())) == blading()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"mounting": "oneway"}, "mounting.*one-way"),
        ({"flow_area": 0.0}, "flow_area"),
        ({"flow_area": 0.03}, "flow_area.*does not fit"),
        ({"impeller_exit_radius": 0.13}, "impeller_exit_radius.*half the profile diameter"),
        ({"turbine_exit_radius": 0.11}, "turbine_exit_radius.*impeller_exit_radius"),
        ({"stator_exit_radius": 0.11}, "stator_exit_radius.*impeller_exit_radius"),
        ({"stator": None}, "stator.*needs its blading.*'none'"),
        ({"stator_exit_radius": None}, "stator_exit_radius.*needs its blading"),
        ({"friction_factor": 0.0}, "friction_factor.*above zero"),
        ({"friction_factor": -0.1}, "friction_factor.*loss factor"),
        ({"friction_factor": math.nan}, "friction_factor.*loss factor"),
        ({"oil_density": -840.0}, "oil_density"),
        ({"profile_diameter": math.inf}, "profile_diameter"),
        ({"turbine_inertia": 0.0}, "turbine_inertia"),
    ],
)
def test_impossible_blading_is_refused_by_field(changes, words):
    with pytest.raises(InputError, match=words):
        blading(**changes)


@pytest.mark.parametrize("angle", [86.0, -90.0, math.nan])
def test_blade_too_steep_is_refused_in_degrees(angle):
    with pytest.raises(InputError, match=r"exit_angle.*degrees.*-85 \.\. 85"):
        row(0, angle)


def test_shock_factor_out_of_range_is_refused():
    with pytest.raises(InputError, match=r"shock_factor.*0 \.\. 10"):
        BladeRow(entry_angle=0.0, exit_angle=0.0, shock_factor=-0.1)


def test_coupling_needs_no_stator():
    coupling = blading(mounting="none", stator=None, stator_exit_radius=None)
    with pytest.raises(InputError, match="needs its blading"):
        coupling.mounted("one-way")


def test_stator_can_be_taken_out_and_put_back():
    assert blading().mounted("none").mounted("one-way") == blading()


def test_losses_are_changed_one_by_one():
    changed = blading().with_losses(impeller=0.5, friction=0.4)
    assert (changed.impeller.shock_factor, changed.friction_factor) == (0.5, 0.4)
    assert changed.turbine == blading().turbine
    with pytest.raises(InputError, match="no stator"):
        blading(mounting="none", stator=None).with_losses(stator=1.0)


@pytest.mark.parametrize("mounting", ["one-way", "fixed", "free"])
def test_stator_that_is_mounted_is_needed_whole(mounting):
    for name in ("stator", "stator_exit_radius"):
        with pytest.raises(InputError) as caught:
            blading(mounting=mounting, **{name: None})
        assert caught.value.field == name
        assert blading(mounting="none", **{name: None}).mounting == "none"
    assert blading().mounted(mounting).mounting == mounting


def test_mounting_that_is_none_is_refused_by_its_field():
    with pytest.raises(InputError, match="'one-way'") as caught:
        blading(mounting="oneway")
    assert caught.value.field == "mounting"


def test_each_loss_goes_to_its_row():
    changed = blading().with_losses(impeller=0.1, turbine=0.2, stator=0.3, friction=0.4)
    factors = [changed.impeller, changed.turbine, changed.stator]
    assert [element.shock_factor for element in factors] == [0.1, 0.2, 0.3]
    assert changed.friction_factor == 0.4
    for element in ("impeller", "turbine", "stator"):
        before, after = getattr(blading(), element), getattr(changed, element)
        assert (after.entry_angle, after.exit_angle) == (before.entry_angle, before.exit_angle)
    assert blading().with_losses() == blading()
    assert blading().with_losses(stator=0.0).stator.shock_factor == 0.0
    coupling = blading(mounting="none", stator=None)
    assert coupling.with_losses(turbine=0.5).stator is None
    with pytest.raises(InputError) as caught:
        coupling.with_losses(stator=1.0)
    assert caught.value.field == "stator"


@pytest.mark.parametrize("factor", [10.0, 10.1])
def test_loss_factor_that_fits_nothing_is_refused(factor):
    if factor <= 10.0:
        blading().with_losses(impeller=factor, friction=factor)
    else:
        for name, field in (("impeller", "shock_factor"), ("friction", "friction_factor")):
            with pytest.raises(InputError) as caught:
                blading().with_losses(**{name: factor})
            assert caught.value.field == field
