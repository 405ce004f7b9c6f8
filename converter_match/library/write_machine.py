"""Machine, driveline and arrangement as the tables of their files; `write` makes text of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from converter_match.components.arrangement import Arrangement, HydraulicSharing, TorqueDivider
from converter_match.components.cooling import STEEL_SPECIFIC_HEAT, Cooler, Oil
from converter_match.components.driveline import Driveline
from converter_match.components.engine import SpeedTable
from converter_match.components.gear import Drag, DragTable, Gear, LockUp
from converter_match.components.machine import Balance, Machine, Slip, Tracks
from converter_match.components.parallel import Parallel
from converter_match.components.tyre import Tyre
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.exact import many, one, shortest_exact
from converter_match.library.toml_text import Inline
from converter_match.units import from_si, to_si

# Air temperatures at which coolers are usually rated [degC], common practice, no source.
_RATED_AIR = (40.0, 25.0, 20.0, 30.0, 35.0, 45.0, 15.0, 50.0, 38.0, 0.0)
_SPAN_OF_CONDUCTANCE = 60.0  # K, see `Cooler.from_conductance`


# --- driveline -----------------------------------------------------------------------------------


def driveline_tables(driveline: Driveline) -> dict[str, Any]:
    """Return the tables of a driveline file, without its head and notes."""
    limits = driveline.limits
    drags = [gear.drag for gear in driveline.gears]
    shared = drags[0] if all(drag == drags[0] for drag in drags) else None
    return {
        "shift_time": one(driveline.shift_time, "time"),
        "shift_hysteresis": one(driveline.shift_hysteresis, "ratio", "percent"),
        "speed_limit": one(driveline.speed_limit, "velocity"),
        "drag": _drag(shared),
        # Read back, gears without a drag would else be given the fall-back one.
        "assume_drag": False if None in drags and limits.turbine_torque is not None else None,
        "gear": [_gear(gear, shared) for gear in driveline.gears],
        "stage": [
            {"name": stage.name, "ratio": stage.ratio, "efficiency": stage.efficiency}
            for stage in driveline.stages
        ]
        or None,
        "limits": {
            "turbine_torque": one(limits.turbine_torque, "torque"),
            "turbine_speed": one(limits.turbine_speed, "angular_speed"),
            "input_power": one(limits.input_power, "power"),
            "lock_up_torque": one(limits.lock_up_torque, "torque"),
        },
        "inertia": {
            "input": one(driveline.input_inertia, "inertia"),
            "output": one(driveline.output_inertia, "inertia"),
        },
    }


def _gear(gear: Gear, shared: Drag | None) -> dict[str, Any]:
    return {
        "name": gear.name,
        "ratio": gear.ratio,
        "direction": None if gear.direction == "forward" else gear.direction,
        "efficiency": gear.efficiency,
        "lock_up": _rule(gear.lock_up),
        "upshift_turbine_speed": one(gear.upshift_turbine_speed, "angular_speed"),
        "downshift_turbine_speed": one(gear.downshift_turbine_speed, "angular_speed"),
        "drag": {} if shared is not None else _drag(gear.drag),
    }


def _rule(lock_up: LockUp) -> Inline | None:
    """Return the rule on one line; an empty one allows lock-up too."""
    if not lock_up.allowed:
        return None
    given = {
        "engage_speed_ratio": lock_up.engage_speed_ratio,
        "release_speed_ratio": lock_up.release_speed_ratio,
        "engage_turbine_speed": one(lock_up.engage_turbine_speed, "angular_speed"),
        "release_turbine_speed": one(lock_up.release_turbine_speed, "angular_speed"),
    }
    return Inline({key: value for key, value in given.items() if value is not None})


def _drag(drag: Drag | None) -> dict[str, Any]:
    if drag is None:
        return {}
    if isinstance(drag, DragTable):
        return {"speed": many(drag.speed, "angular_speed"), "torque": many(drag.value, "torque")}
    rises = drag.torque != 0.0
    return {
        "constant": one(drag.constant, "torque") if drag.constant or not rises else None,
        "rising": one(drag.torque, "torque") if rises else None,
        "at_speed": one(drag.at_speed, "angular_speed") if rises or drag.at_speed != 1.0 else None,
        "exponent": None if drag.exponent == 1.0 else drag.exponent,
    }


# --- machine -------------------------------------------------------------------------------------


def machine_tables(machine: Machine) -> dict[str, Any]:
    """Return the tables of a machine file, without its head and notes."""
    gear = machine.running_gear
    return {
        "mass_empty": one(machine.mass_empty, "mass"),
        "payload": one(machine.payload or None, "mass"),
        "frontal_area": one(machine.frontal_area, "area"),
        "drag_coefficient": machine.drag_coefficient,
        "running_drag": one(machine.running_drag or None, "force"),
        "wheel_inertia": one(machine.wheel_inertia, "inertia"),
        "tyre": _tyre(gear) if isinstance(gear, Tyre) else {},
        "tracks": (
            {"sprocket_radius": one(gear.sprocket_radius, "length")}
            if isinstance(gear, Tracks)
            else {}
        ),
        "slip": _slip(machine.slip),
        "balance": _balance(machine.balance),
        "cooler": _cooler(machine.cooler),
        "oil": _oil(machine.oil),
        "interface": dict(machine.interface),
    }


def _tyre(tyre: Tyre) -> dict[str, Any]:
    # What was assumed of the radius tells in which words it was given.
    assumed = {note.code for note in tyre.given_notes}
    radius = one(tyre.rolling_radius, "length")
    standing = "loaded-radius-as-rolling" in assumed
    return {
        "size": tyre.size or None,
        "rolling_radius": None if standing or "tyre-radius-estimated" in assumed else radius,
        "loaded_radius": radius if standing else None,
    }


def _slip(slip: Slip) -> dict[str, Any]:
    if slip.use is None or slip.slip is None:
        return {"value": slip.constant or None}
    return {"use": slip.use.tolist(), "slip": slip.slip.tolist()}


def _balance(balance: Balance) -> dict[str, Any]:
    own = balance.driven_axle != "all"

    def share(value: float) -> Inline | None:
        return one(value, "ratio", "percent") if own or value != 1.0 else None

    return {
        "driven_axle": balance.driven_axle,
        "driven_share_empty": share(balance.driven_share_empty),
        "driven_share_laden": share(balance.driven_share_laden),
        "wheelbase": one(balance.wheelbase, "length"),
        "gravity_height_empty": one(balance.gravity_height_empty, "length"),
        "gravity_height_laden": one(balance.gravity_height_laden, "length"),
    }


def _cooler(cooler: Cooler | None) -> dict[str, Any]:
    if cooler is None:
        return {}
    return {**_as_rated(cooler), "air_density": one(cooler.air_density, "density")}


def _as_rated(cooler: Cooler) -> dict[str, Any]:
    if not cooler.proportional:
        return {
            "difference": many(cooler.difference, "temperature_difference"),
            "heat": many(cooler.heat, "power"),
        }
    span, heat = float(cooler.difference[-1]), cooler.heat[-1:]
    for air in _RATED_AIR:
        # The rating whose temperatures differ by the span, to the last bit.
        cold = float(to_si(air, "degC", "temperature"))
        warm = one(cold + span, "temperature", "degC")
        assert warm is not None
        if float(to_si(warm["value"], warm["unit"], "temperature")) - cold != span:
            continue
        rated = _exact(heat, "power", ("kW", "hp", "W"), [lambda x: x / span * span])
        if rated is not None:
            return {
                "rated_heat": rated,
                "oil_temperature": warm,
                "air_temperature": Inline(unit="degC", value=air),
            }
    if span == _SPAN_OF_CONDUCTANCE:
        rated = _exact(heat / span, "conductance", ("W/K",), [lambda x: x])
        if rated is not None and to_si(rated["value"], "W/K", "conductance") * span == heat[0]:
            return {"conductance": rated}
    raise InputError(
        "a cooler whose heat is proportional comes from a rating or a conductance",
        field="cooler.difference",
        found=f"{heat[0]:.6g} W at {span:.6g} K",
        expected="Cooler.from_rating(...) or Cooler.from_conductance(...)",
    )


def _exact(
    target: FloatArray, dimension: str, units: Iterable[str], through: list[Any]
) -> Inline | None:
    """Return a number that leads, through a calculation, to exactly the target."""
    [calculated] = through
    for unit in units:

        def decode(x: FloatArray, unit: str = unit) -> FloatArray:
            return np.asarray(calculated(to_si(x, unit, dimension)))

        found = shortest_exact(target, np.asarray(from_si(target, unit, dimension)), decode)
        if found:
            return Inline(unit=unit, value=found[0])
    return None


def _oil(oil: Oil) -> dict[str, Any]:
    steel = oil.metal_specific_heat
    return {
        "volume": one(oil.volume, "volume"),
        "density": one(oil.density, "density"),
        "specific_heat": one(oil.specific_heat, "specific_heat"),
        "metal_mass": one(oil.metal_mass, "mass"),
        "metal_specific_heat": None
        if steel == STEEL_SPECIFIC_HEAT
        else one(steel, "specific_heat"),
        "metal_conductance": one(oil.metal_conductance, "conductance"),
        "temperature_limit": one(oil.temperature_limit, "temperature"),
        "working_temperature": one(oil.working_temperature, "temperature"),
        "charge_flow": one(oil.charge_flow, "volume_flow"),
        "outlet_temperature_limit": one(oil.outlet_temperature_limit, "temperature"),
    }


# --- arrangement ---------------------------------------------------------------------------------


def _parallel(parallel: Parallel | None) -> dict[str, Any]:
    if parallel is None:
        return {}
    return {
        "couples": parallel.couples,
        "engine": parallel.engine_name or None,
        "converter": parallel.converter_name or None,
        "ratio": list(parallel.ratio),
        "efficiency": list(parallel.efficiency),
    }


def arrangement_tables(arrangement: Arrangement) -> dict[str, Any]:
    """Return the tables of an arrangement file, without its head and notes."""
    impeller, overrun = arrangement.impeller_clutch, arrangement.overrun
    part_load, wheels = arrangement.part_load, arrangement.wheels
    allowed = arrangement.permissions
    return {
        "stator": arrangement.stator,
        "stall_capacity_factor": arrangement.stall_capacity_factor,
        "lock_up": _lock_up_clutch(arrangement),
        "impeller_clutch": impeller
        and {
            "torque_capacity": one(impeller.torque_capacity, "torque"),
            "engine_speed": one(impeller.engine_speed, "angular_speed"),
            "settings": many(impeller.settings, "ratio", "percent"),
            "turbine_torque_limit": one(impeller.turbine_torque_limit, "torque"),
            "tractive_effort_limit": one(impeller.tractive_effort_limit, "force"),
        },
        "torque_divider": _torque_divider(arrangement.torque_divider),
        "hydraulic_sharing": _hydraulic_sharing(arrangement.hydraulic_sharing),
        "overrun": overrun
        and {
            "exhaust_brake": overrun.exhaust_brake,
            "overspeed_limit": one(overrun.overspeed_limit, "angular_speed"),
        },
        "part_load": part_load
        and {
            "no_load_speed": many(part_load.no_load_speeds, "angular_speed")
            if part_load.no_load_speeds
            else None,
            "pedal": list(part_load.pedals) or None,
        },
        "parallel": _parallel(arrangement.parallel),
        "wheels": wheels
        and {
            "overall_ratio": wheels.overall_ratio,
            "rolling_radius": one(wheels.rolling_radius, "length"),
            "efficiency": one(wheels.efficiency, "ratio", "percent"),
        },
        "permission": {
            name: True
            for name in ("negative_speed_ratio", "overrun", "stator")
            if getattr(allowed, name)
        },
    }


def _lock_up_clutch(arrangement: Arrangement) -> dict[str, Any]:
    clutch = arrangement.lock_up
    if clutch is None:
        return {}

    def threshold(value: float) -> Any:
        if clutch.engage_by == "turbine-speed":
            return one(value, "angular_speed")
        return value if clutch.engage_by == "gear" else Inline(value=value)

    return {
        "engage_by": clutch.engage_by,
        "engage": threshold(clutch.engage),
        "release": threshold(clutch.release),
        "torque_capacity": one(clutch.torque_capacity, "torque"),
        "engagement_time": one(clutch.engagement_time, "time"),
    }


def _torque_divider(divider: TorqueDivider | None) -> dict[str, Any]:
    if divider is None:
        return {}
    gears = divider.planetary
    teeth = gears.sun_teeth is not None
    return {
        "sun_teeth": gears.sun_teeth,
        "ring_teeth": gears.ring_teeth,
        "ratio": None if teeth else Inline(value=gears.ratio),
        "connection": str(divider.connection),
    }


def _hydraulic_sharing(sharing: HydraulicSharing | None) -> dict[str, Any]:
    if sharing is None:
        return {}
    states: dict[str, SpeedTable] = {
        name: table
        for name in ("standby", "partial", "relief")
        if (table := getattr(sharing, name)) is not None
    }
    first = next(iter(states.values()))
    if any(not np.array_equal(table.speed, first.speed) for table in states.values()):
        raise InputError(
            "the states have rows at different speeds, and a file has one column of speeds",
            field="hydraulic_sharing.speed",
        )
    return {
        "speed": many(first.speed, "angular_speed"),
        **{name: many(table.value, "torque") for name, table in states.items()},
    }
