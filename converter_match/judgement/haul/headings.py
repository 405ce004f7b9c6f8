"""What the columns of a machine on a route are: keys, words and amounts."""

from __future__ import annotations

from converter_match.answer.block import Heading

STANDSTILL = (
    Heading("segment", "segment"),
    Heading("distance", "distance", "distance"),
    Heading("into_segment", "distance into segment", "distance"),
    Heading("grade", "grade", "grade"),
    Heading("effort", "effort", "force"),
    Heading("resistance", "resistance", "force"),
    Heading("limited_by", "limited by"),
)
"""Attributes of a `Standstill`."""

SEGMENT = (
    Heading("segment", "segment"),
    Heading("length", "length", "distance"),
    Heading("grade", "grade", "grade"),
    Heading("surface", ""),
    Heading("load", "load"),
    Heading("direction", ""),
    Heading("speed_limit", "", "velocity"),
    Heading("mean_speed", "mean speed", "velocity"),
    Heading("top_speed", "top speed", "velocity"),
    Heading("time", "time", "time", ".0f"),
    Heading("gears", ""),
    Heading("", "gears"),
    Heading("fuel", "", "mass", ".2f"),
    Heading("converter_heat", "heat in the converter", "energy"),
    Heading("oil_end", "oil at end of segment", "temperature"),
    Heading("service_brake_work", "service brake work", "energy"),
    Heading("retarding_needed", "retarding power required", "power", ".0f"),
    Heading("retarding_available", "engine retarding available", "power", ".0f"),
)
"""Of a `SegmentRow`, whose attributes they are but for the gears in words."""

STEP = (
    Heading("distance", "distance", "distance"),
    Heading("segment", "segment"),
    Heading("time", "time", "time"),
    Heading("grade", "grade", "grade"),
    Heading("speed", "speed", "velocity"),
    Heading("allowed_speed", "allowed speed", "velocity"),
    Heading("gear", "gear"),
    Heading("lock_up", "lock-up"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("engine_torque", "engine torque", "torque"),
    Heading("converter_heat", "heat in the converter", "power"),
    Heading("oil_heat", "heat into the oil", "power"),
    Heading("oil", "oil", "temperature"),
    Heading("oil_first_lap", "oil in the first lap", "temperature"),
    Heading("outlet", "converter outlet", "temperature"),
    Heading("service_brake_force", "service brake force", "force"),
    Heading("fuel", "fuel", "mass"),
)

PHASE = (
    Heading("phase", "phase"),
    Heading("kind", ""),
    Heading("time", "time", "time"),
    Heading("fuel", "fuel", "fuel_mass"),
    Heading("oil_heat", "heat into the oil", "energy"),
    Heading("mean_engine_speed", "engine", "angular_speed"),
    Heading("top_speed", "top speed", "velocity"),
    Heading("push", "crowding effort", "force", ".0f"),
    Heading("", "crowding limited by"),
    Heading("grip_limited", ""),
    Heading("arrives", ""),
    Heading("gear", "gear"),
    Heading("hydraulic_power", "pumps", "power"),
    Heading("clutch_heat", "heat in clutches", "energy"),
    Heading("lag", "", "time"),
)
