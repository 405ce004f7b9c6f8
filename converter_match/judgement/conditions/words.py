"""The sentences on the air, the oil and the ground around a machine, by code."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

WORDS = Catalogue(
    {
        "cooler-flow-at-stall": (
            "assumption",
            "The cooler is taken to reject as much heat at stall as at working speed. Where a "
            "slower engine drives its pump it rejects less, and the time is shorter.",
        ),
        "air-density-standard": (
            "assumption",
            "No site is given: air drag is that of the standard atmosphere at sea level.",
        ),
        "cooler-air-temperature": (
            "assumption",
            "No air temperature is given: the cooler is taken to work in air of "
            "{air:temperature .0f}.",
        ),
        "cooler-in-thin-air": (
            "assumption",
            "The cooler carries {share:share} of the heat that its data say: the air of the site "
            "has {density:density .3f} against {reference:density .3f} there, and heat goes with "
            "the power 0.8 of it (a fan at an even speed; effectiveness-NTU method, finned core, "
            "Kays and London, from memory). By the core it is {low:share} to {high:share}.",
        ),
        "cooler-air-standard": (
            "assumption",
            "The machine's file does not say in what air the cooler's data hold: that of the "
            "standard atmosphere at sea level is taken.",
        ),
        "oil-starts-cold": (
            "assumption",
            "No working temperature of the oil is given: it starts at the temperature of the air. "
            "Warm oil reaches its limit sooner.",
        ),
        "charge-flow-not-given": (
            "assumption",
            "The machine's file gives no charge flow (charge_flow of [oil]): the oil temperature "
            "at the converter outlet is not known. It is above that of the bulk.",
        ),
        "charge-flow-assumed": (
            "assumption",
            "The machine's file gives no charge flow (charge_flow of [oil]): {low:volume_flow .0f} "
            "to {high:volume_flow .0f} through the converter are taken, by the rated power of the "
            "engine (common practice, no source). What may be acted upon counts with the less.",
        ),
        "converter-oil-assumed": (
            "assumption",
            "The converter's file gives no oil volume: {low:volume .1f} to {high:volume .1f} are "
            "taken to stand in it, by the cube of the profile diameter (a torus; common practice, "
            "no source). What may be acted upon counts with the less.",
        ),
        "converter-oil-left-out": (
            "assumption",
            "The converter's file gives neither oil volume nor profile diameter: the oil at its "
            "outlet is taken to follow the heat at once, hotter than it will be in the first "
            "seconds.",
        ),
        "outlet-limit-not-given": (
            "assumption",
            "No limit at the converter outlet is given: {limit:temperature .0f} is taken, at which "
            "US Army TM 9-2320-283-10 says to stop.",
        ),
        "outlet-levels": (
            "assumption",
            "A gauge reads the converter outlet on many machines. Usual levels there: no lasting "
            "work above {warns:temperature .0f}, stop at {stops:temperature .0f} (common practice, "
            "no source); the machine maker's marks come first.",
        ),
        "cooler-at-bulk": (
            "assumption",
            "The cooler is taken to get oil of the bulk temperature. Where it sits in the line "
            "from the converter outlet it gets hotter oil, carries more heat, and bulk and outlet "
            "are cooler than given here.",
        ),
        "traction-not-known": (
            "assumption",
            "No traction coefficient is known for this surface: nothing here says whether the "
            "wheels spin.{slip}",
        ),
        "surface-from-table": (
            "assumption",
            "Surface {name}: rolling resistance {rolling:weight_share .3g} of the weight, traction "
            "coefficient {traction}; source: {source}.{vehicle} The actual ground may "
            "differ by a factor.",
        ),
        "surface-for-other-vehicle": (
            "warning",
            "The surface values hold for wheels. The machine runs on tracks, whose resistance and "
            "traction differ.",
        ),
        "rolling-resistance-low": (
            "warning",
            "Surface {name}: a rolling resistance of {rolling:weight_share .2g} of the weight is "
            "less than any ground has under tyres or tracks (common practice, no source: below "
            "{lowest:weight_share g} it is steel on rails). A ratio typed where percent is meant? "
            "0.04 is 4 %.",
        ),
        # What stands behind "site:".
        "site-method": ("assumption", "{method}"),
        "site-named-air-ignored": (
            "assumption",
            "{name}; this engine's torque does not follow the air (its data)",
        ),
        "site-altitude-air-ignored": (
            "assumption",
            "{altitude:altitude .4g}, {temperature:temperature .0f}; this engine's torque does not "
            "follow the air (its data)",
        ),
        "site-pressure-air-ignored": (
            "assumption",
            "{pressure:pressure .4g}, {temperature:temperature .0f}; this engine's torque does not "
            "follow the air (its data)",
        ),
    }
)
note = WORDS.note

NO_START = Catalogue(
    {
        "grip": ("limit", "does not start: traction-limited"),
        "effort": ("limit", "does not start: insufficient tractive effort"),
    }
)
"""Why a machine stays where it is, by what limits its effort."""

RESPONSE = Catalogue(
    {
        "ideal-engine": (
            "assumption",
            "Ideal engine: its torque is taken to be there at once. From light load a turbocharged "
            "engine takes about a second to give all of it, and the machine is so much later.",
        ),
        "engine-response": (
            "assumption",
            "Asked for full throttle, the engine gives {share:share} of its torque at once; the "
            "rest rises with a time constant of {time:time .2f}.",
        ),
        "engine-response-typical": (
            "assumption",
            "Asked for full throttle, the engine gives {share:share} of its torque at once; the "
            "rest rises with a time constant of {time:time .2f}. That is usual for its aspiration "
            "({aspiration}; common practice, no source).",
        ),
    }
)
"""How fast the engine's torque is there."""
