"""What is said of an arrangement: the headings of its parts, and their notes."""

from __future__ import annotations

from converter_match.answer.block import Heading
from converter_match.answer.catalogue import Catalogue

TURBINE = Heading("turbine_speed", "turbine", "angular_speed")
ENGINE = Heading("engine_speed", "engine", "angular_speed")
TURBINE_TORQUE = Heading("turbine_torque", "turbine torque", "torque")
INPUT_TORQUE = Heading("input_torque", "input torque", "torque")
TORQUE_CAPACITY = Heading("torque_capacity", "torque capacity", "torque")
OUTPUT = Heading("output_power", "output", "power")
HEAT = Heading("heat", "heat", "power")
WHEELS = (
    Heading("travel_speed", "travel speed", "velocity"),
    Heading("tractive_effort", "tractive effort", "force"),
)

NOTES = Catalogue(
    {
        # --- two on one shaft
        "parallel-stiff": (
            "assumption",
            "Two on one shaft: joined stiffly, both at full throttle. How two governors share a "
            "part load, torsional vibration, and one of them shut off, driven or failed are not "
            "modelled; the table of points above is that of the first pair alone.",
        ),
        "parallel-first-drives-pumps": (
            "assumption",
            "What is deducted for hydraulics is taken from the first engine; the second drives "
            "only what its own file lists.",
        ),
        "parallel-no-stall": (
            "limit",
            "Two on one shaft: an engine cannot hold its converter at idle in gear.",
        ),
        "parallel-uneven": (
            "warning",
            "Two on one shaft share unevenly: at stall the first {what} gives {first:share .0f} "
            "of the torque at the {where}, the second {second:share .0f}. Hold each against its "
            "own limits.",
        ),
        "parallel-ends": (
            "warning",
            "Above {speed:angular_speed .0f} of the shaft one pair would be driven by the other; "
            "what it takes then is not known here, and the table ends.",
        ),
        # --- lock-up clutch
        "engagement-heat-not-known": (
            "warning",
            "The engine's inertia is not given: the heat of a lock-up engagement is not estimated.",
        ),
        "machine-keeps-its-speed": (
            "assumption",
            "Heat of engagement: the machine is taken to keep its speed while the engine is pulled "
            "down to it.",
        ),
        "impeller-inertia-not-counted": (
            "assumption",
            "The impeller's inertia is not given and not counted in the heat of engagement.",
        ),
        "lock-up-by-gear": (
            "assumption",
            "By gear alone nothing keeps the clutch open at low speed: its engagement is "
            "calculated at the lowest turbine speed at which the engine can be tied to it.",
        ),
        "engagement-not-followed": (
            "warning",
            "What the converter carries beside the closing clutch is not known: its data do not "
            "reach up to speed ratio 1, nor near enough. Only the ideal engagement is given.",
        ),
        "lock-up-capacity": (
            "limit",
            "Locked up, the clutch has to carry up to {torque:torque .0f}, more than its capacity "
            "of {capacity:torque .0f}: it will slip and burn.",
        ),
        "lock-up-heavy-pull": (
            "warning",
            "The clutch still holds when a long pull has brought the engine down to "
            "{low:angular_speed .0f}, below the {peak:angular_speed .0f} from which on it has "
            "99 % of its peak torque: a sustained heavy pull overloads the clutch and lugs the "
            "engine. Release earlier, or shift down.",
        ),
        "no-engagement-at-full-load": (
            "warning",
            "At full load there is no turbine speed at which the clutch could engage out of "
            "converter drive.",
        ),
        "lock-up-costs-pull": (
            "warning",
            "Where the clutch engages ({speed:angular_speed .0f}) the turbine torque is "
            "{open:torque .0f} in converter drive and {locked:torque .0f} locked up: the machine "
            "loses pull at every engagement.",
        ),
        "lock-up-shock-above-capacity": (
            "warning",
            "To engage in its time the clutch would have to carry {torque:torque .0f}, more than "
            "its capacity of {capacity:torque .0f}: it engages more slowly and gets hotter.",
        ),
        # --- impeller clutch
        "impeller-clutch-speed-not-held": (
            "warning",
            "From about {setting:share .0f} setting the engine has not the torque to keep "
            "{speed:angular_speed .0f}; it lugs down to {lowest:angular_speed .0f}.",
        ),
        "impeller-clutch-engine-stays-low": (
            "warning",
            "From about {setting:share .0f} setting it depends on what went before: closing on an "
            "engine at its speed leaves it there, but one that was pulled down with the clutch "
            "closed stays low, down to {speed:angular_speed .0f}, until the clutch is let out "
            "further than that.",
        ),
        "impeller-clutch-engine-stalls": (
            "warning",
            "From about {setting:share .0f} setting an engine at its speed lives with the clutch, "
            "but one that comes up from idle with that much on it does not.",
        ),
        "impeller-clutch-slips-at-full": (
            "warning",
            "Even at full pressure the clutch slips with the wheels held: its capacity of "
            "{capacity:torque .0f} is below what the converter absorbs there.",
        ),
        "impeller-clutch-heat": (
            "caution",
            "Slipping, the clutch turns up to {heat:power .0f} into heat; how much it can take, "
            "and for how long, is for its maker to say.",
        ),
        # --- stator
        "coupling-loses-multiplication": (
            "warning",
            "As a fluid coupling it does not multiply torque: {lost:torque .0f} of turbine torque "
            "are lost at stall.",
        ),
        "coupling-gains-nothing": (
            "warning",
            "Past the coupling point it gains nothing on this converter, whose stator freewheels "
            "there: it is a fluid coupling itself.",
        ),
        "coupling-gains-past": (
            "warning",
            "From turbine speed {speed:angular_speed .0f} on its turbine torque is higher than "
            "with the stator in place.",
        ),
        "stator-out-capacity": (
            "assumption",
            "Without its stator the converter is taken to absorb {factor:.2f} times as much "
            "at stall: {grounds} The engine would stall between {low:angular_speed .0f} and "
            "{high:angular_speed .0f}, with {less:torque .0f} to {most:torque .0f} at the turbine; "
            "with the capacity unchanged at {same:angular_speed .0f}, with "
            "{same_torque:torque .0f}. A stator whose one-way clutch slips does the same.",
        ),
        "stator-out-stalls": (
            "assumption",
            "Without its stator the converter is taken to absorb {factor:.2f} times as much "
            "at stall: {grounds} Within what that may be, the engine does not come up against it.",
        ),
        # --- torque divider
        "turbine-driven-backwards": (
            "warning",
            "Up to output ratio {highest:.2f} the gears drive the turbine backwards (speed ratio "
            "{lowest:.3g} at output stall); there {power:power .0f} go that way into the oil on "
            "top of the impeller's power.",
        ),
        "limit-impeller-torque": (
            "limit",
            "Inside the torque divider the impeller's torque reaches {highest:torque .0f}, above "
            "the converter's limit of {limit:torque .0f}.",
        ),
        "limit-impeller-power": (
            "limit",
            "Inside the torque divider the impeller's power reaches {highest:power .0f}, above the "
            "converter's limit of {limit:power .0f}.",
        ),
        "limit-impeller-speed": (
            "limit",
            "Inside the torque divider the impeller's speed reaches {highest:angular_speed .0f}, "
            "above the converter's limit of {limit:angular_speed .0f}.",
        ),
        # --- hydraulics: one code for each state of the pumps
        "engine-pulled-down-at-without": (
            "limit",
            "With the wheels held and no load from the pumps the engine cannot accelerate from "
            "idle: the converter lugs it down.",
        ),
        **{
            f"engine-pulled-down-at-{state}": (
                "limit",
                f"With the wheels held and the pumps at {state} the engine cannot accelerate from "
                "idle: implement and wheels stalled together lug it down.",
            )
            for state in ("standby", "partial", "relief")
        },
        # --- engine braking
        "overrun-highest-speed": (
            "warning",
            "Above turbine speed {turbine:angular_speed .0f} the machine would drive the engine "
            "faster than {engine:angular_speed .0f}, {end}{already}.",
        ),
        "overrun-band": (
            "warning",
            "Bands are the least and the most of the published tables. Below the turbine speed at "
            "which a table begins to turn the engine, no retarding is counted from it.",
        ),
        "overrun-no-holding": (
            "caution",
            "Engine braking slows a machine down; it does not hold it. Downhill speed and gear are "
            "for the machine maker's procedure and the site's rules, with service brakes in order.",
        ),
        # --- part load
        "idle-not-held-in-gear": (
            "limit",
            "The engine has not the torque to stay at low idle in gear with the wheels held: it "
            "stalls unless the operator gives it fuel or takes it out of gear. Brakes on and "
            "wheels chocked before anyone goes near it.",
        ),
        "creep-at-idle": (
            "caution",
            "In gear at low idle the turbine torque is {torque:torque .0f}: it takes that at the "
            "turbine shaft (times the overall ratio at the wheels, losses not counted on) to hold "
            "the machine. Brakes on and wheels chocked before anyone goes near it.",
        ),
    }
)
note = NOTES.note

GROUNDS = Catalogue(
    {
        "as-given": ("assumption", "as the arrangement's file says."),
        "by-blades": ("assumption", "by the blades of {name}, with the stator free."),
        "by-practice": (
            "assumption",
            "by a rule of thumb, a stall speed about a third lower (common practice, no source).",
        ),
        "by-estimates": (
            "assumption",
            "the middle of its coupling range, where the stator turns free anyway, carried to "
            "stall ({low:.2f} to {high:.2f}), and of a rule of thumb, a stall speed "
            "about a third lower ({practice:.2f}; common practice, no source).",
        ),
        "no-coupling-point": (
            "assumption",
            "unchanged, since the data do not reach the coupling point from which on it is known.",
        ),
    }
)
"""Where the capacity without a stator comes from."""

OVERSPEED_LIMIT, DATA_END = "its overspeed limit", "where its data end"
ABOVE_HIGH_IDLE = ". That is above high idle already"

PARALLEL = {
    "pairs": "Two pairs of engine and converter on one shaft, full throttle",
    "engines": "Two engines on one converter, full throttle",
    "converters": "Two converters on one engine, full throttle",
}
