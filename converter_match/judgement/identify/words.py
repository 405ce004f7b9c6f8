"""The sentences of what a log tells of a converter."""

from __future__ import annotations

from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

WORDS = Catalogue(
    {
        "far-from-sheet": (
            "warning",
            "Capacity {level:.3f} times the sheet is far from the sheet: is this the engine and "
            "converter that made the log, and its reference torque the engine's?",
        ),
        "torque-unit-doubted": (
            "warning",
            "The torque in the log goes up to {share:.2f} of the engine's full load, and {meant} "
            "under a head that says {head} would be read as {slip:.2f} of the torque: is the unit "
            "in the head right, and was the engine never at full load?",
        ),
        "torque-unit-doubted-by-sheet": (
            "warning",
            "The capacity is {share:.2f} times the sheet, and {meant} under a head that says "
            "{head} would be read as {slip:.2f} of the torque: is the unit in the head right?",
        ),
        "torque-signal": (
            "warning",
            "The torque is what the engine's controller reports. It can be wrong by several "
            "percent at every load alike (common practice), which scales C and no band here shows; "
            "the shape over the speed ratio is surer than the level. Check it by a stall test.",
        ),
        "torque-taken-as-impeller": (
            "assumption",
            "No engine is given: the torque in the log is taken to reach the impeller in full; "
            "nothing is deducted for fan and pumps.",
        ),
        "loads-as-listed": (
            "assumption",
            "The loads that the engine's file lists are deducted from the torque, at their power "
            "laws; implement work while the log ran is not known and would look like capacity.",
        ),
        "inertia-not-known": (
            "assumption",
            "Inertia of engine or impeller is not given: torque that goes into acceleration "
            "within steady stretches is not deducted.",
        ),
        "oil-not-logged": (
            "assumption",
            "No oil temperature in the log: the oil is taken as at {oil:temperature .0f}.",
        ),
        "oil-to-90": (
            "assumption",
            "Capacity is converted to oil at {oil:temperature .0f} by density; stretches with oil "
            "below {cold:temperature .0f} are left out, because viscosity is not known.",
        ),
        "no-torque-ratio": (
            "warning",
            "The turbine torque is not known (its column, or a grade column with machine, "
            "driveline and gear): the torque ratio is not identified.",
        ),
        "torque-ratio-from-grade": (
            "assumption",
            "Turbine torque from grade and mass, rolling resistance {rolling:weight_share .3g} of "
            "weight: an error there goes straight into the torque ratio.",
        ),
        "torque-ratio-below-one": (
            "warning",
            "More than one stretch of ten has a torque ratio below {least:.1f} where the stator "
            "should raise it: wrong gear, mass or grade, brakes dragging, a dead turbine signal.",
        ),
        "pump-work-suspected": (
            "warning",
            "At one speed ratio the capacity has a long tail upwards, by {tail:share .0f} in one "
            "stretch of twenty: something else took torque while the log ran, such as implement "
            "pumps. Log it (pump torque [N.m]), or drive for the log with the implements at rest.",
        ),
        "friction-in-torque": (
            "warning",
            "The torque is in percent and no friction torque was logged. The actual percent torque "
            "of SAE J1939 contains the engine's friction (from memory): 8 % of it too much are 13 "
            "to 36 % too much capacity, the more the lighter the load. Log the nominal friction "
            "percent torque as well (friction torque [percent]).",
        ),
        "fleet-of-one-kind": (
            "assumption",
            "All machines are taken to have this engine and this converter; one that stands apart "
            "may have another, or another torque signal, before anything is wrong with it.",
        ),
        "log-not-used": ("warning", "The log of {machine} is not used: {what}."),
        "part-not-used": (
            "warning",
            "Of the log of {machine} one part of {of:.0f}, {part}, is not used: {what}.",
        ),
        "parts-not-used": (
            "warning",
            "Of the log of {machine} {count:.0f} parts of {of:.0f} are not used; the first, "
            "{part}: {what}.",
        ),
        "trend-against-itself": (
            "assumption",
            "Over the months each machine is held against its own curve of all months. A torque "
            "signal that drifts looks like a converter that does; and of many sound machines some "
            "move by chance (the band leaves out as many as it says).",
        ),
        "months-too-few": (
            "warning",
            "Where fewer than {fewest:.0f} months have enough steady driving, no trend is told.",
        ),
        "fleet-too-small": (
            "warning",
            "{count} machines are too few to tell which stands apart: it takes {fewest:.0f}.",
        ),
        "takes-more-than-the-fleet": (
            "warning",
            "{machine}: its converter takes {off:share .0f} more torque than the middle of the "
            "fleet. A slipping stator, unlogged pump work or a torque signal that is too high: do "
            "a stall test.",
        ),
        "takes-less-than-the-fleet": (
            "warning",
            "{machine}: its converter takes {off:share .0f} less torque than the middle of the "
            "fleet. Aerated or low oil, another converter, or a torque signal that is too low: do "
            "a stall test.",
        ),
        "coupling-found": ("assumption", "Coupling point found from the data: {found:.3f}."),
        "coupling-not-found": (
            "assumption",
            "No coupling point is given or found: one smooth curve is laid over it, which is "
            "wrong on both sides near it.",
        ),
        "gap": ("warning", "speed ratio {low:.2f} .. {high:.2f}: {driving}"),
    }
)
# Upper end of a range of speed ratio -> what driving gives readings there.
DRIVING = (
    (0.06, "short stall holds by the machine maker's procedure (see the stall test), or pushing "
           "against a face until the wheels almost stop, a few seconds each"),
    (0.4, "heavy pushing or climbing at creep speed at full throttle, several seconds at one "
    "speed"),
    (0.7, "steady pulls and climbs at full throttle in a gear too high for the grade"),
    (0.86, "steady climbs at full throttle at half to full speed of the gear, lock-up off"),
    (1.0, "light steady driving near the top speed of a gear, converter open, lock-up off"),
)  # fmt: skip

RUN = Catalogue(
    {
        "road-assumed": (
            "assumption",
            "Not measured, common practice, no source: turning parts {turning:weight_share .0f} of "
            "the mass, rolling resistance {rolling:weight_share .1f} of the weight, drag area "
            "{area:.1f} m2, air of 1.225 kg/m3.",
        ),
        "engine-ends-held": (
            "assumption",
            "Beyond the engine speeds of the first gear the fitted torque is held at its ends.",
        ),
        "inertia-in-fit": (
            "assumption",
            "The engine's inertia is not known: what speeding it up takes in first gear is taken "
            "off the fitted torque. The next gear, where it speeds up more slowly, has that much "
            "too little.",
        ),
    }
)
"""What a full-throttle run against a bench curve rests on."""

RUN_TITLE = "First gear: driveline efficiency and engine torque"
NEXT_TITLE = "The next gear, predicted from the first"
ORIGINS = MappingProxyType(
    {
        "mass": "mass of the vehicle",
        "turning": "turning parts, share of the mass",
        "rolling": "rolling resistance, share of the weight",
        "drag_area": "drag area [m2]",
        "reduction": "turbine speed over road speed [rad/m]",
        "rows": "rows that tell of the torque",
        "efficiency": "driveline efficiency",
        "scatter": "its scatter from row to row",
        "slowest": "engine torque at the slowest row",
        "fastest": "engine torque at the fastest row",
    }
)
"""Number of a run -> what it is."""
