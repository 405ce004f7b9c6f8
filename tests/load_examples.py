"""Loads and drives built by hand for the tests, in round numbers with closed forms."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from converter_match.components.adjustment import Adjustment
from converter_match.components.converter import Converter
from converter_match.components.converter_family import with_family
from converter_match.components.load import Driven, ShaftLoad, Winch
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.load.shaft import Unit
from tests.examples import converter
from tests.study_examples import flat_engine

TORQUE, CAPACITY = 800.0, 0.02
# Of a flat engine on constant capacity, at every speed ratio [rad/s].
SPEED = float(np.sqrt(TORQUE / CAPACITY))


def load(driven: Driven, **changes: Any) -> ShaftLoad:
    fields: dict[str, Any] = {"id": "load", "name": "A load", "source": "round numbers for a test"}
    return ShaftLoad(**(fields | {"driven": driven} | changes))


def winch(**changes: Any) -> Winch:
    fields = {"line_pull": 50e3, "drum_diameter": 0.4, "rope_diameter": 0.02, "layers": 3}
    return Winch(**(fields | {"work": "hoist"} | changes))


def made(torque_ratio: Callable[[Any], Any], last: float = 0.99, first: float = 0.0) -> Converter:
    """A converter of constant capacity with a torque ratio of one's own."""
    nu = np.linspace(first, last, 12)
    return converter(
        speed_ratio=nu,
        torque_ratio=torque_ratio(nu),
        capacity=np.full(12, CAPACITY),
        coupling_speed_ratio=None,
        stator="fixed",
    )


def flat(torque_ratio: Callable[[Any], Any] = lambda nu: 2.0 - nu, **changes: Any) -> Unit:
    """A flat engine on constant capacity: its speed is the same at every speed ratio."""
    return Unit(engine_supply(flat_engine(TORQUE)), made(torque_ratio, **changes))


def straight(coupling: float, stall_ratio: float, capacity: float) -> Converter:
    """Torque ratio and capacity in straight lines to the coupling point, and from there to 1."""
    nu = np.array([0.0, 0.5 * coupling, coupling, 0.5 * (1.0 + coupling), 1.0])
    mu = np.array([stall_ratio, 0.5 * (1.0 + stall_ratio), 1.0, 1.0, 1.0])
    c = capacity * np.array([1.0, 0.95, 0.9, 0.45, 0.0])
    return converter(speed_ratio=nu, torque_ratio=mu, capacity=c, coupling_speed_ratio=coupling)


def family(between: Any = "linear", nominal: float = 0.0, **members: Converter) -> Converter:
    """An adjustable converter; members by their settings, as in m10."""
    members = members or {"m10": straight(0.7, 1.8, 0.02)}
    others = {float(key[1:]): unit for key, unit in members.items()}
    how = Adjustment(
        parameter="stator angle",
        unit="deg",
        between=between,
        settings=sorted([nominal, *others]),
        setting=nominal,
    )
    return with_family(straight(0.85, 2.2, 0.03), how, others)
