"""A motor as the tables of its file; `write` makes text of them."""

from __future__ import annotations

from typing import Any

from converter_match.components.motor import Motor
from converter_match.components.motor_losses import EfficiencyMap, LossModel
from converter_match.components.winding import RATED_COOLANT
from converter_match.library.exact import many, one
from converter_match.library.toml_text import Inline


def motor_tables(motor: Motor) -> dict[str, Any]:
    """Return the tables of a motor file, without its head and notes."""
    voltage, winding, losses = motor.voltage, motor.winding, motor.losses
    regenerative = motor.regenerative
    return {
        "speed_limit": one(motor.speed_limit, "angular_speed"),
        "losses_cover": motor.covers if losses is not None or motor.covers != "motor" else None,
        "torque": {
            "speed": many(motor.speed, "angular_speed"),
            "peak": many(motor.peak, "torque"),
            "continuous": many(motor.continuous, "torque"),
            "regenerative": None if regenerative is None else many(regenerative, "torque"),
        },
        "duty": {"peak_time": one(motor.peak_time, "time"), "peak_from": motor.peak_from},
        "voltage": voltage
        and {
            "nominal": one(voltage.nominal, "voltage"),
            "least": one(voltage.least, "voltage"),
            "most": one(voltage.most, "voltage"),
        },
        "losses": _model(losses) if isinstance(losses, LossModel) else None,
        "efficiency_map": _map(losses) if isinstance(losses, EfficiencyMap) else None,
        "thermal": {
            "thermal_class": winding.thermal_class,
            "rise_at_continuous": one(winding.rise_at_continuous, "temperature_difference"),
            "coolant": one(winding.coolant, "temperature")
            if winding.coolant != RATED_COOLANT
            else None,
            "time_constant": one(winding.time_constant, "time"),
        },
        "inertia": {"value": one(motor.inertia, "inertia")},
        "accessory": accessory_tables(motor),
        "interface": dict(motor.interface),
    }


def accessory_tables(mover: Any) -> list[dict[str, Any]] | None:
    """Return what an engine or a motor drives beside the converter; None where it is nothing."""
    return [
        {
            "name": accessory.name,
            "power": one(accessory.power, "power"),
            "at_speed": one(accessory.at_speed, "angular_speed"),
            "exponent": accessory.exponent,
        }
        for accessory in mover.accessories
    ] or None


def _model(losses: LossModel) -> dict[str, Any]:
    turning = None
    if losses.speed_power or losses.at_speed != 1.0:
        turning = Inline(
            power=one(losses.speed_power, "power"),
            at_speed=one(losses.at_speed, "angular_speed"),
            exponent=losses.exponent,
        )
    return {
        "standing": one(losses.standing or None, "power"),
        "copper": Inline(
            power=one(losses.copper_power, "power"),
            at_torque=one(losses.copper_torque, "torque"),
        ),
        "turning": turning,
    }


def _map(losses: EfficiencyMap) -> dict[str, Any]:
    return {
        "speed": many(losses.speed, "angular_speed"),
        "torque": many(losses.torque, "torque"),
        "efficiency": losses.efficiency.tolist(),
    }
