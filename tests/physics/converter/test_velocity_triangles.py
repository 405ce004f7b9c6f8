import math

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.physics.converter.blading import coupling_speed_ratio, operate
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from tests.blading_examples import blading

SPEED = 200.0  # rad/s


@pytest.mark.parametrize("nu", [0.0, 0.5, 0.95, 1.2])
def test_torque_from_the_triangles_is_eulers(nu):
    """T = rho Q times the change of r V_theta (Euler's turbine equation; any textbook)."""
    result = velocity_triangles(blading(), nu, SPEED)
    flow = abs(float(result.points.flow)) * SPEED
    carried = {t.row: t.radius * t.swirl for t in result.triangles}
    names = [t.row for t in result.triangles]
    for k, name in enumerate(names):
        torque = 840.0 * flow * (carried[name] - carried[names[k - 1]])
        per_square = float(getattr(result.points, f"{name}_torque"))
        assert torque == pytest.approx(per_square * SPEED**2, rel=1e-9, abs=1e-7)


def test_oil_leaves_along_the_blade():
    impeller, turbine, stator = velocity_triangles(blading(), 0.6, SPEED).triangles
    for triangle, degrees in ((impeller, 5), (turbine, -54), (stator, 52)):
        angle = math.degrees(math.atan2(triangle.relative_swirl, triangle.meridional))
        assert angle == pytest.approx(degrees, abs=1e-9)


def test_shock_is_what_the_loss_is_made_of():
    result = velocity_triangles(blading(), 0.4, SPEED)
    mass_flow = 840.0 * float(result.points.flow) * SPEED
    lost = sum(0.9 / 2 * mass_flow * t.shock**2 for t in result.triangles)
    assert lost == pytest.approx(float(result.points.shock_loss) * SPEED**3, rel=1e-12)


def test_oil_enters_the_stator_near_its_blade_somewhere_below_coupling():
    """At stall it comes from behind the blade, at coupling from before it: the shock turns."""
    nu_c = coupling_speed_ratio(blading())
    shocks = [
        velocity_triangles(blading(), nu, SPEED).triangles[1].shock
        for nu in np.linspace(0, nu_c, 9)
    ]
    assert shocks[0] < 0 < shocks[-1]


def test_in_overrun_the_oil_meets_the_rows_in_the_other_order():
    result = velocity_triangles(blading(), 1.2, SPEED)
    assert [t.row for t in result.triangles] == ["impeller", "stator", "turbine"]
    assert float(operate(blading(), 1.2).flow) < 0


def test_nothing_is_drawn_where_nothing_flows():
    with pytest.raises(InputError, match="no oil circulates"):
        velocity_triangles(blading(mounting="none"), 1.0, SPEED)


@pytest.mark.parametrize("speed", [0.0, -10.0, math.nan, math.inf])
def test_impeller_has_to_turn(speed):
    with pytest.raises(InputError, match="impeller_speed"):
        velocity_triangles(blading(), 0.5, speed)
