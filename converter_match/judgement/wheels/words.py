"""What is said of a machine at the wheels: notes by code, and what sets a speed or a grade."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

LIMITED_BY = {
    "balance": "balance",
    "governor": "governor",
    "limiter": "speed limiter",
    "data end": "end of data",
    "lock-up engages": "lock-up engages",
    "grip": "traction",
    "too weak": "effort",
    "effort": "effort",
    "cooler": "cooling capacity",
    "cannot start": "cannot start",
    "none": "none",
    "": "",
}
"""Code -> what sets a top speed, a startability or a continuous grade."""

EVERY_BALANCE = "Every balance on these grades: the engine has several matches"

WORDS = Catalogue(
    {
        "grades-and-brakes": (
            "caution",
            "Pulling up a grade is not the same as standing on it or coming down it: whether "
            "brakes hold, and whether the machine stays upright lengthways and sideways, is not "
            "judged here. The machine maker's limits and the rules of the site come first.",
        ),
        "grade-not-reached-from-rest": (
            "warning",
            "On {grade:grade .0f} the machine could hold {fastest:velocity .1f} in gear {how}; "
            "from rest its gearbox comes to {speed:velocity .1f} in gear {gear}. To get to the "
            "faster one, {what}.",
        ),
        "grade-not-started": (
            "warning",
            "On {grade:grade .0f} the machine could hold {fastest:velocity .1f} in gear {how}, "
            "but it does not get there from rest: it has to come with that speed.",
        ),
        "held-only-slowed-down": (
            "warning",
            "On {grade:grade .0f} there is a further state that lasts, {speed:velocity .1f} in "
            "gear {how} with the engine at {engine:angular_speed .0f}: it is held only by a "
            "machine that is slowed down to it. One that speeds up through this speed has its "
            "engine at another match.",
        ),
        "towing-needs-care": (
            "caution",
            "With the engine stopped the transmission gets no oil: do not tow with the driven "
            "wheels on the ground unless the machine maker says how.",
        ),
        "stall-effort-is-short": (
            "caution",
            "Stall effort is available for seconds only: all engine power then turns into heat "
            "in the oil. "
            "Watch the oil temperature and follow the machine maker's procedure.",
        ),
        "limit-turbine-torque": (
            "limit",
            "The turbine torque reaches {highest:torque .0f}, above the driveline's rating of "
            "{limit:torque .0f}.",
        ),
        "limit-input-power": (
            "limit",
            "The power at the gearbox input reaches {highest:power .0f}, above the driveline's "
            "rating of {limit:power .0f}.",
        ),
        "limit-lock-up-torque": (
            "limit",
            "The torque in lock-up reaches {highest:torque .0f}, above the driveline's rating of "
            "{limit:torque .0f}.",
        ),
        "limit-turbine-speed": (
            "limit",
            "The turbine speed reaches {highest:angular_speed .0f}, above the driveline's rating "
            "of {limit:angular_speed .0f}.",
        ),
        "wheels-slip-before-stall": (
            "warning",
            "In gear {gears} the wheels spin before converter stall: the stall effort cannot be "
            "used there, and the converter cannot be stalled by pushing.",
        ),
        "cannot-climb-too-weak": ("warning", "On {grades} no gear has the effort to climb."),
        "cannot-climb-grip": (
            "warning",
            "On {grades} the machine is traction-limited: the wheels spin and it does not climb.",
        ),
        "speed-at-data-end": (
            "warning",
            "Where a speed is set by 'end of data' the machine would go faster than the "
            "converter's data reach: the true speed lies between that and the governor's.",
        ),
        "cooling-not-known": (
            "assumption",
            "No {missing} is given: nothing is said about which grades are within continuous "
            "cooling capacity.",
        ),
        "oil-heat-of-converter-and-gearbox": (
            "assumption",
            "The oil is taken to carry the heat of converter and gearbox at full throttle, without "
            "the power of the charge pump. Axles and final drives have oil of their own, and the "
            "cooler gets the flow it was rated at.",
        ),
        "cooler-curve-short": (
            "assumption",
            "The cooler's curve ends below the oil's limit in this air: its last value is used, "
            "which is on the safe side.",
        ),
        "no-cooling": (
            "warning",
            "The air is as hot as the oil may be: the cooler rejects no heat.",
        ),
        "cooler-too-small": (
            "warning",
            "On {grades} at full throttle the heat is above the continuous cooling capacity with "
            "the oil at its limit ({capacity:power .0f}): for a limited time only, or in a lower "
            "gear.",
        ),
        "cooler-needed-at": (
            "assumption",
            "Oil into the cooler at its limit of {limit:temperature .0f}, air at "
            "{air:temperature .0f}; the cooler as its data in standard air at sea level state it.",
        ),
        "outlet-hot": (
            "warning",
            "On {grades} at full throttle the oil at the converter outlet settles above "
            "{warns:temperature .0f}, the usual level for lasting work (common practice, no "
            "source): for a limited time only, or in a lower gear.",
        ),
        "shift-hunting": (
            "warning",
            "Between gear {gears} the gearbox may hunt on a grade: while the drive is interrupted "
            "the machine loses up to {needed:velocity .1f}, more than the hysteresis.",
        ),
        "shift-hunting-band": (
            "warning",
            "The upshift from gear {lower} comes before gear {upper} gives equal effort: on "
            "grades from {least:grade .1f} to {greatest:grade .1f} neither gear holds its speed "
            "and the gearbox hunts.",
        ),
        "shift-time-not-given": (
            "assumption",
            "No shift time is given: whether the gearbox hunts is not judged.",
        ),
        "shift-hysteresis-not-given": (
            "assumption",
            "No hysteresis between upshift and downshift is given: the column 'hysteresis needed' "
            "says how much it takes at full resistance.",
        ),
        "does-not-start": (
            "limit",
            "The machine does not start on {grade:grade g}: it would need {need:force .1f}, and "
            "engine or "
            "traction gives less.",
        ),
    }
)
note = WORDS.note

# A code that is said in two ways.
SHIFT_WITHOUT_HYSTERESIS = Catalogue(
    {
        "shift-hunting": (
            "warning",
            "Between gear {gears} the downshift is not below the upshift: the gearbox would hunt.",
        )
    }
)
SPEED_NOT_REACHED = {
    "balance": Catalogue(
        {
            "speed-not-reached": (
                "limit",
                "The target speed is not reached: at {speed:velocity .1f} the effort is down "
                "to the resistance, {need:force .1f}.",
            )
        }
    ),
    "end-of-data": Catalogue(
        {
            "speed-not-reached": (
                "limit",
                "The target speed is not reached: at {speed:velocity .1f}, in gear {gear}, the "
                "data of the converter end, before an upshift or the lock-up. There is effort "
                "left, and nothing is computed beyond the data: a table that goes further is "
                "needed.",
            )
        }
    ),
    "end-of-gears": Catalogue(
        {
            "speed-not-reached": (
                "limit",
                "The target speed is not reached: the last gear that can be used ends at "
                "{speed:velocity .1f}.",
            )
        }
    ),
}

# What a machine must do to get to the fastest state that it can hold.
GEAR_HELD = "come to the grade with that speed, gear {gear} held"
AND_LOCKED = "its lock-up closed"
MORE_SPEED = "come to the grade with more speed"
LOCK_UP_CLOSED = "lock-up has to be closed, or come to the grade with it closed"
LOCK_UP_OPEN = "lock-up has to be kept open"
