"""Blades that give a sheet, against the sheet and against blades that are known."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.read import read_blading, read_converter
from converter_match.library.shipped import shipped
from converter_match.physics.converter.blading import characteristic_from_blading, operate
from converter_match.physics.converter.blading_for_sheet import blading_for_sheet
from tests.blading_examples import blading
from tests.examples import converter

SHAPE = read_blading(shipped("blading")["loader-390mm"])


@pytest.mark.parametrize("name", ["single-stage-345mm-tight", "single-stage-360mm"])
def test_stall_torque_ratio_capacity_and_coupling_point_are_those_of_the_sheet(name):
    sheet = read_converter(shipped("converters")[name])
    fit = blading_for_sheet(SHAPE, sheet)
    made = characteristic_from_blading(fit.geometry)
    assert float(made.torque_ratio_at(0.0)) == pytest.approx(float(sheet.torque_ratio_at(0.0)),
                                                             abs=2e-3)  # fmt: skip
    assert made.coupling == pytest.approx(sheet.coupling, abs=2e-3)
    assert float(made.capacity_at(0.0)) == pytest.approx(float(sheet.capacity_at(0.0)), rel=1e-9)
    assert fit.geometry.profile_diameter == pytest.approx(sheet.profile_diameter)
    assert "blading-for-sheet" in {note.code for note in fit.geometry.given_notes}
    nu = np.linspace(0.0, sheet.coupling, 50)
    off = np.abs(operate(fit.geometry, nu).torque_ratio - sheet.torque_ratio_at(nu))
    assert off.max() == pytest.approx(fit.torque_ratio_off, abs=0.01)


def test_blades_of_a_sheet_that_came_from_blades_are_those_blades():
    known = blading()
    sheet = characteristic_from_blading(known)
    made = blading_for_sheet(known, sheet).geometry
    for row in ("impeller", "turbine", "stator"):
        assert getattr(made, row).exit_angle == pytest.approx(
            getattr(known, row).exit_angle, abs=np.radians(0.1)
        )
    assert made.flow_area == pytest.approx(known.flow_area, rel=1e-3)


def test_capacity_goes_with_the_flow_area_and_the_fifth_power_of_the_size():
    # Similarity: with every length times s the capacity is s^5 times, torque ratio unchanged.
    known = blading()
    sheet = characteristic_from_blading(known)
    size = 1.3
    larger = sheet.replace(
        profile_diameter=size * known.profile_diameter, capacity=sheet.capacity * size**5
    )
    made = blading_for_sheet(known, larger).geometry
    assert made.impeller_exit_radius == pytest.approx(size * known.impeller_exit_radius)
    assert made.flow_area == pytest.approx(size**2 * known.flow_area, rel=1e-3)


def test_sheets_that_say_too_little_are_refused():
    nu = np.array([0.0, 0.5, 0.9])
    coupling = converter(
        stator="none", speed_ratio=nu, torque_ratio=np.ones(3), capacity=0.02 * (1 - nu**4),
        coupling_speed_ratio=None,
    )  # fmt: skip
    with pytest.raises(InputError, match=r"one-way stator, stall and coupling point.*stator none"):
        blading_for_sheet(SHAPE, coupling)
    with pytest.raises(InputError, match="no stator to shape"):
        blading_for_sheet(blading(mounting="none", stator=None, stator_exit_radius=None),
                          converter())  # fmt: skip


@pytest.mark.slow
def test_a_sheet_that_no_such_blades_give_is_refused_with_what_they_give():
    steep = converter(torque_ratio=[5.0, 3.8, 2.1, 1.5, 1.1, 1.0, 1.0, 1.0])
    with pytest.raises(InputError, match="blades of this shape do not give") as caught:
        blading_for_sheet(SHAPE, steep)
    assert "torque ratio 5.000" in str(caught.value.found)
    assert "nearer to torque ratio" in str(caught.value.expected)
