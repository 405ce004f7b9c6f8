"""Blading built by hand for the tests: plausible shapes, no claim to be anybody's product."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
from hypothesis import strategies as st

from converter_match.components.blading import BladeRow, BladingGeometry


def row(entry: float, exit_: float, shock: float = 0.9) -> BladeRow:
    return BladeRow(entry_angle=radians(entry), exit_angle=radians(exit_), shock_factor=shock)


def blading(**changes: Any) -> BladingGeometry:
    fields: dict[str, Any] = {
        "id": "test-blading",
        "name": "Test blading",
        "source": "round numbers for a test",
        "mounting": "one-way",
        "impeller_exit_radius": 0.106,
        "turbine_exit_radius": 0.064,
        "stator_exit_radius": 0.062,
        "flow_area": 0.010,
        "profile_diameter": 0.245,
        "oil_density": 840.0,
        "impeller": row(-28, 5),
        "turbine": row(42, -54),
        "stator": row(2, 52),
        "friction_factor": 0.28,
    }
    return BladingGeometry(**(fields | changes))


@st.composite
def bladings(draw: Any, mounting: str | None = None) -> BladingGeometry:
    """Any circuit that looks like one: stator forwards, turbine backwards at their exits."""

    def angle(low: float, high: float) -> float:
        return draw(st.floats(low, high))

    def factor() -> float:
        return draw(st.floats(0.0, 2.0))

    outer = draw(st.floats(0.05, 0.30))
    return blading(
        mounting=mounting or draw(st.sampled_from(["one-way", "fixed", "free", "none"])),
        impeller_exit_radius=outer,
        turbine_exit_radius=outer * draw(st.floats(0.45, 0.75)),
        stator_exit_radius=outer * draw(st.floats(0.45, 0.75)),
        profile_diameter=2.3 * outer,
        flow_area=draw(st.floats(0.5, 1.2)) * outer**2,
        impeller=row(angle(-45, 20), angle(-40, 40), factor()),
        turbine=row(angle(0, 60), angle(-70, -20), factor()),
        stator=row(angle(-30, 30), angle(20, 70), factor()),
        friction_factor=draw(st.floats(0.05, 1.0)),
    )


def published_energy_equation(
    shape: BladingGeometry, w_p: float, w_t: float, w_s: float, flow: float
) -> float:
    """Right side of the energy equation of Hrovat and Tobler (J. Franklin Inst. 319, 1985, 93-114;
    second-hand), over rho, with the losses per unit of flow; typed from that form, not from ours.
    """
    rp, rt, rs = (
        shape.impeller_exit_radius,
        shape.turbine_exit_radius,
        shape.stator_exit_radius,
    )
    u, tan = flow / shape.flow_area, np.tan
    a_p, a_t, a_s = (
        shape.impeller.exit_angle,
        shape.turbine.exit_angle,
        shape.stator.exit_angle,
    )
    head = rp**2 * w_p**2 + rt**2 * w_t**2 + rs**2 * w_s**2
    head -= rs**2 * w_p * w_s + rp**2 * w_t * w_p + rt**2 * w_s * w_t
    head += w_p * u * (rp * tan(a_p) - rs * tan(a_s))
    head += w_t * u * (rt * tan(a_t) - rp * tan(a_p))
    head += w_s * u * (rs * tan(a_s) - rt * tan(a_t))
    shock_p = rs * (w_s - w_p) + u * (tan(a_s) - tan(shape.impeller.entry_angle))
    shock_t = rp * (w_p - w_t) + u * (tan(a_p) - tan(shape.turbine.entry_angle))
    shock_s = rt * (w_t - w_s) + u * (tan(a_t) - tan(shape.stator.entry_angle))
    lost = shape.impeller.shock_factor * shock_p**2
    lost += shape.turbine.shock_factor * shock_t**2
    lost += shape.stator.shock_factor * shock_s**2
    for angle in (a_p, a_t, a_s):
        lost += shape.friction_factor * u**2 * (1 + tan(angle) ** 2)
    return float(head - lost / 2)
