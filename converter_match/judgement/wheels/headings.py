"""What the columns of a machine at the wheels are: keys, words and amounts."""

from __future__ import annotations

from converter_match.answer.block import Facts, Heading, facts_of
from converter_match.components.base import Component

GEAR = (
    Heading("gear", "gear"),
    Heading("direction", ""),
    Heading("drive", "drive"),
    Heading("overall_ratio", "ratio", form=".1f"),
    Heading("stall_effort", "stall effort", "force"),
    Heading("stall_heat", "heat at stall", "power", ".0f"),
    Heading("stall_slips", ""),
    Heading("coupling_effort", "effort at coupling", "force"),
    Heading("coupling_speed", "speed there", "velocity"),
    Heading("coupling_heat", "heat there", "power", ".0f"),
    Heading("best_efficiency", "best efficiency", form=".2f"),
    Heading("best_efficiency_speed", "", "velocity"),
    Heading("greatest_drawbar", "drawbar pull", "force"),
    Heading("top_speed", "top speed", "velocity"),
    Heading("top_limited_by", ""),
    Heading("top_engine_speed", "", "angular_speed"),
    Heading("top_heat", "heat at top speed", "power", ".0f"),
    Heading("steepest_start", "startability", "grade", ".0f"),
    Heading("start_limited_by", ""),
    Heading("steepest_cooled", "continuous grade", "grade"),
    Heading("cooled_limited_by", ""),
)
"""Attributes of a `GearRow`."""

GRADE = (
    Heading("grade", "grade", "grade", "g"),
    Heading("resistance", "resistance", "force"),
    Heading("gear", "gear"),
    Heading("drive", "drive"),
    Heading("speed", "speed", "velocity"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("heat", "heat", "power", ".0f"),
    Heading("converter_heat", "", "power"),
    Heading("oil_temperature", "steady oil temperature", "temperature"),
    Heading("outlet_temperature", "converter outlet", "temperature"),
    Heading("cooled", "continuous"),
    Heading("limited_by", ""),
)
"""Attributes of a `GradeRow`."""

REACHED = (
    Heading("grade", "grade", "grade", "g"),
    Heading("gear", "gear"),
    Heading("drive", "drive"),
    Heading("speed", "speed", "velocity"),
    Heading("fastest_gear", "fastest in gear"),
    Heading("fastest_drive", "fastest in drive"),
    Heading("fastest_speed", "fastest", "velocity"),
)
"""Attributes of a `ReachedRow`."""

COOLER = (
    Heading("grade", "grade", "grade", "g"),
    Heading("gear", "gear"),
    Heading("drive", "drive"),
    Heading("heat", "heat to be rejected", "heat_rejection"),
    Heading("cooler_needed", "cooler needed", "cooler_size"),
)
"""Of a `GradeRow`: the cooler that would carry its heat."""

SET_BY = Heading("", "set by")
"""Beside what ends with ``limited_by``, which is a code: its words."""

SHIFT = (
    Heading("lower", ""),
    Heading("upper", ""),
    Heading("best_speed", "best shift at", "velocity"),
    Heading("crosses", ""),
    Heading("effort", "effort", "force"),
    Heading("upshift_speed", "upshift given", "velocity"),
    Heading("downshift_speed", "downshift", "velocity"),
    Heading("needed_hysteresis", "hysteresis needed", "velocity"),
    Heading("hunts", "hunts"),
    Heading("band", "", "grade"),
)
"""Attributes of a `ShiftPoint`."""

EQUILIBRIUM = (
    Heading("gear", "gear"),
    Heading("drive", "drive"),
    Heading("grade", "grade", "grade"),
    Heading("speed", "speed", "velocity"),
    Heading("tractive_effort", "tractive effort", "force"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("heat", "heat", "power"),
    Heading("stable", "stable"),
    Heading("in_force", "active"),
    Heading("within_grip", "within traction"),
    Heading("coming_up", "reached speeding up"),
    Heading("coming_down", "reached slowed down"),
)

GRADEABILITY = (
    Heading("speed", "speed", "velocity"),
    Heading("tractive_effort", "tractive effort", "force"),
    Heading("drawbar_pull", "drawbar pull", "force"),
    Heading("grade", "grade", "grade"),
    Heading("slips", "wheels spin"),
)

CURVE = (
    Heading("gear", "gear"),
    Heading("direction", "direction"),
    Heading("drive", "drive"),
    Heading("in_force", "active"),
    Heading("speed", "speed", "velocity"),
    Heading("tractive_effort", "tractive effort", "force"),
    Heading("within_grip", "within traction"),
    Heading("level_resistance", "level resistance", "force"),
    Heading("grade_held", "gradeability", "grade"),
    Heading("speed_ratio", "speed ratio"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("turbine_speed", "turbine", "angular_speed"),
    Heading("input_torque", "input torque", "torque"),
    Heading("turbine_torque", "turbine torque", "torque"),
    Heading("efficiency", "efficiency"),
    Heading("converter_heat", "heat in the converter", "power"),
    Heading("gearbox_heat", "heat in the gearbox", "power"),
)

MILESTONE = (
    Heading("speed", "speed", "velocity"),
    Heading("time", "time", "time"),
    Heading("distance", "distance", "distance"),
)

STAGE = (
    Heading("gear", "gear"),
    Heading("drive", "drive"),
    Heading("from_speed", "from", "velocity"),
    Heading("to_speed", "to", "velocity"),
    Heading("time", "time", "time"),
    Heading("distance", "distance", "distance"),
)

MOTION = (
    Heading("time", "time", "time"),
    Heading("speed", "speed", "velocity"),
    Heading("distance", "distance", "distance"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("gear", "gear"),
)

_IDENTITY = tuple(Heading(key, "") for key in ("id", "name", "source"))


def identity(component: Component) -> Facts:
    """Return what a component is, for plain data."""
    digest = (Heading("fingerprint", ""), component.fingerprint())
    return (*facts_of(component, _IDENTITY), digest)
