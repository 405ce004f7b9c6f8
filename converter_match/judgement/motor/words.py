"""What is said of an electric motor as the prime mover: notes, points, what does not apply."""

from __future__ import annotations

from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

NOTES = Catalogue(
    {
        "motor-match-from": (
            "assumption",
            "A motor has torque at standstill, where there is no match to look for: matches are "
            "looked for from {speed:angular_speed .0f} up.",
        ),
        "motor-coolant-rated": (
            "assumption",
            "No air temperature is given: the motor is taken to be cooled as in its rating, at "
            "{coolant:temperature .0f}.",
        ),
        "motor-coolant-hot": (
            "warning",
            "The air ({air:temperature .0f}) is above the {coolant:temperature .0f} of the rating: "
            "{share:share} of the continuous torque is left, and the peak is held for less.",
        ),
        "motor-coolant-hot-class-unknown": (
            "warning",
            "The air ({air:temperature .0f}) is above the {coolant:temperature .0f} of the rating, "
            "and without the thermal class of the winding nothing can be said of what is left of "
            "the continuous torque. Ask the maker.",
        ),
        "motor-too-hot": (
            "limit",
            "The air ({air:temperature .0f}) is at or above the limit of the winding "
            "({limit:temperature .0f}): the motor can hold no torque.",
        ),
        "motor-altitude": (
            "warning",
            "The site lies at {altitude:altitude .0f}. Motors are rated for up to "
            "{usual:altitude .0f} as a rule (IEC 60034-1, from memory); thinner air cools less, "
            "and no correction is made. Ask the maker.",
        ),
        "voltage-moves-corner": (
            "assumption",
            "At {voltage:voltage .4g} the torque curve is that of {nominal:voltage .4g}, stretched "
            "along the speed: the corner moves to {corner:angular_speed .0f}. Resistance is "
            "neglected.",
        ),
        "voltage-ends-curve": (
            "warning",
            "At {voltage:voltage .4g} the rows end at {top:angular_speed .0f}, below the speed "
            "limit: nothing is known beyond, and no torque is counted there.",
        ),
        "battery-left-out": (
            "assumption",
            "Electric power and energy are counted at the terminals of {where}: what battery, "
            "charger and cables lose comes on top.",
        ),
        "pump-stops-with-the-motor": (
            "warning",
            "At standstill the motor turns no pump: {names}. A power-shift gearbox has no clutch "
            "pressure there unless another pump gives it.",
        ),
        "limit-input-speed": (
            "limit",
            "The motor's speed limit ({top:angular_speed .0f}) is above the converter's speed "
            "limit of {limit:angular_speed .0f}.",
        ),
        "stall-is-overload": (
            "caution",
            "At stall the motor gives {torque:torque .0f}, {share:share} of its continuous torque "
            "there: from cold its winding stands it for {time:time .0f}, unless the oil or the "
            "maker's limit comes first. Stall testing can hurt people; follow the machine maker's "
            "procedure and local rules.",
        ),
        "stall-within-continuous": (
            "caution",
            "At stall the motor gives {torque:torque .0f}, within its continuous torque: the oil "
            "is what limits a hold. Stall testing can hurt people; follow the machine maker's "
            "procedure and local rules.",
        ),
        "no-stall": (
            "limit",
            "With the {rating} torque motor and converter have no match at stall.",
        ),
        "stall-at-speed-limit": (
            "warning",
            "With the peak torque, stall is at the motor's speed limit: the converter is too loose "
            "to load it fully.",
        ),
        "hardly-any-multiplication": (
            "warning",
            "The converter raises the peak torque at standstill from {motor:torque .0f} to "
            "{turbine:torque .0f} at the turbine: less than a plain reduction of {ratio:.2f} would "
            "do without its heat.",
        ),
        "grade-on-peak-only": (
            "warning",
            "On {grades} the machine climbs with the peak torque only: from cold the winding "
            "stands that for {time:time .0f} at the least, and then the machine stops there.",
        ),
        "oil-hot-on-continuous": (
            "warning",
            "At the continuous torque on {grades} the oil takes more heat than the cooler carries "
            "({capacity:power .0f}): the oil, not the motor, limits the climb.",
        ),
        "motor-towing": (
            "caution",
            "With the motor stopped the transmission gets no oil, and a motor that is turned from "
            "outside may feed voltage back: do not tow with the driven wheels on the ground unless "
            "the machine maker says how.",
        ),
        "rest-on-the-oil": (
            "caution",
            "With the wheels held the motor turns and its power goes into the oil: for seconds "
            "only. Watch the oil temperature and follow the machine maker's procedure.",
        ),
        "rest-on-the-winding": (
            "caution",
            "With the wheels held the motor stands still, and its winding takes the whole loss, "
            "some of its parts more than the rest: the times stated are those of the winding as "
            "one body. Do not hold a machine on a grade by its motor; the machine maker's limits "
            "and the rules of the site come first.",
        ),
        "winding-from-warm": (
            "assumption",
            "The longest hold counts on a winding that is as warm as long work at the continuous "
            "torque leaves it.",
        ),
        "winding-from-cold": (
            "assumption",
            "From the warmth of the continuous torque, as far as it is known, the winding has no "
            "room for an overload: the hold is counted from cold. Let the motor cool down first, "
            "and again after each hold.",
        ),
        "no-time-to-hold": (
            "limit",
            "Winding or oil is so near to its limit that there is no time for a hold.",
        ),
        "route-driven-hard": (
            "assumption",
            "The route is driven at full torque wherever limits allow, and slowed down at "
            "{braking:acceleration .2f} ahead of them; the motor brakes first, the service brakes "
            "take what is left. A driver uses less, and brakes with his foot.",
        ),
        "route-not-driven": (
            "limit",
            "With the {rating} torque the machine stops on the way and does not get on.",
        ),
        "oil-above-limit-on-route": (
            "limit",
            "With the {rating} torque, lap after lap, the oil reaches {oil:temperature .0f}, above "
            "its limit of {limit:temperature .0f}.",
        ),
        "oil-never-settles": (
            "limit",
            "With the {rating} torque the oil gets hotter with every lap, above its limit of "
            "{limit:temperature .0f}.",
        ),
        "winding-above-limit-on-route": (
            "limit",
            "Driven at the peak torque lap after lap, the winding comes to {hottest:share} of its "
            "rise at the continuous torque, where {permitted:share} are permitted (rms torque "
            "{rms:share} of the continuous one): it has to be driven with less.",
        ),
        "oil-above-limit-in-cycle": (
            "limit",
            "With the {rating} torque, cycle after cycle, the transmission oil reaches its limit "
            "of {limit:temperature .0f} after {time:minutes .0f}: the heat of {heat:power .0f} is "
            "above the continuous cooling capacity.",
        ),
        "motor-leaves-pumps-short": (
            "warning",
            "In the phase {phase}, with the {rating} torque, the pumps ask for {asked:power .0f} "
            "and get {given:power .0f}: what the motor gives at its speed there. The implement is "
            "so much slower, and the energy of the cycle is without that work.",
        ),
        "motor-cycle-driven-hard": (
            "assumption",
            "Each drive starts and ends at rest, with the full torque up to its speed limit. "
            "Standing with pumps at work the motor turns at the corner of its peak torque, else "
            "not at all; direction is changed with the motor at rest, without heat in the "
            "clutches. In a phase the pumps take a torque that is the same at every speed, as much "
            "as gives them their power at the motor's mean speed.",
        ),
        "regeneration-through-converter": (
            "warning",
            "Through the converter {share:share .1f} of the energy drawn comes back. A "
            "freewheeling converter transmits against its direction with the square of speed, and "
            "loses its slip: something in a low gear at speed, next to nothing near a stop or in a "
            "high gear. The service brakes do the rest.",
        ),
        "regeneration-band": (
            "assumption",
            "By each of the published overrun tables, from which the converter's torque beyond "
            "speed ratio 1 is taken, {low:electric_energy .3g} to {high:electric_energy .3g} come "
            "back.",
        ),
        "motor-stops-at-stops": (
            "assumption",
            "Where the machine stands the motor stands too: nothing is counted but its standing "
            "loss, and no pump turns.",
        ),
        "downhill-brakes": (
            "caution",
            "What a motor brakes with is no service brake: a full battery takes nothing back, and "
            "a fault takes it away. Whether the brakes hold on a descent is not judged here; the "
            "machine maker's limits and the rules of the site come first.",
        ),
        "reduction-efficiency": (
            "assumption",
            "No efficiency of the reduction is given: {efficiency:share} is taken, that of one "
            "stage of gears (common practice, no source).",
        ),
        "no-torque-at-speed": (
            "limit",
            "the motor's peak torque ends at {top:angular_speed .0f}: no converter holds it at "
            "{speed:angular_speed .0f}.",
        ),
        "no-settling-there": (
            "limit",
            "a motor that comes up from standstill does not settle at {speed:angular_speed .0f} "
            "with such a converter.",
        ),
        "sized-at-peak": (
            "assumption",
            "The size holds for the peak torque, at the voltage and the accessories stated.",
        ),
        "speed-on-peak-only": (
            "warning",
            "The speed is reached with the peak torque only, which is held for a time; for good "
            "the machine gets to {speed:velocity .1f}.",
        ),
        "run-overheats-winding": (
            "limit",
            "On the way the winding comes to {rise:share} of its rise at the continuous torque, "
            "from cold, where {permitted:share} are permitted.",
        ),
        "run-from-cold-only": (
            "warning",
            "From the warmth of long work at the continuous torque the winding has no room for "
            "this run at the peak torque: the controller will give less.",
        ),
        "motor-stall-tolerances": (
            "assumption",
            "The motor's torque is taken to be as sure as an engine's; what its controller limits "
            "otherwise (a hot motor, a weak battery, a fault) lowers the reading and is no band.",
        ),
        "motor-stall-oil": (
            "assumption",
            "No oil temperature of the test is given: {oil:temperature .0f} is taken.",
        ),
        "stall-goes-with-voltage": (
            "warning",
            "The stall speed goes with the voltage where the motor stalls above its corner: read "
            "the battery's voltage with the speed, under load.",
        ),
        "stall-voltage-unknown": (
            "warning",
            "No voltage of the motor is given: what a low battery does to the stall speed is not "
            "known.",
        ),
        "motor-published-elsewhere": (
            "warning",
            "The maker's published span, {low:angular_speed .0f} to {high:angular_speed .0f}, and "
            "the expected band with the peak torque do not meet: motor, converter, voltage or "
            "conditions on the sheets are not those of the machine. The published span comes "
            "first.",
        ),
        "load-with-a-motor": (
            "assumption",
            "The load runs in the converter, at the peak and at the continuous torque; it is taken "
            "as steady, and shocks and gusts are not in it. The run-up is not timed with a motor.",
        ),
        "motor-does-not-start-load": (
            "limit",
            "{load} does not start: from rest it takes {needed:torque .0f} at the turbine, and "
            "the peak torque of the motor gives {given:torque .0f} there.",
        ),
        "load-runs-off-motor": (
            "limit",
            "{load} is lighter than what the turbine gives as far as there are data: it speeds up, "
            "and where it settles is not known.",
        ),
        "load-started-on-peak": (
            "warning",
            "{load} is carried for good by the continuous torque, but started by the peak only.",
        ),
        "load-on-peak-only": (
            "limit",
            "{load} is carried by the peak torque only, for as long as the table says: nothing for "
            "steady work.",
        ),
        "hanging-with-a-motor": (
            "warning",
            "Holding and lowering are not looked at with a motor: what it gives backwards goes by "
            "its controller.",
        ),
        "motor-estimate-middle": (
            "warning",
            "The converter is an estimate: the figures are those of its middle, and no band is "
            "computed behind a motor.",
        ),
    }
)

POINTS = MappingProxyType({"speed_limit": "speed limit of the motor"})
"""Points that a motor has and an engine has not; the others are those of a match."""

DOES_NOT_APPLY = (
    "low idle and creep in gear at idle",
    "governor droop and governed limit",
    "correction for intake air",
    "gross or net rating",
)
"""What is asked of an engine and means nothing with a motor."""

NOT_IN_A_STALL_TEST = (
    "low idle in gear, and whether the engine comes up from it",
    "top governed speed in neutral (high idle)",
    "governor droop",
    "correction for intake air",
)
"""What the stall test of an engine looks at and a motor has not."""

DIRECT = "coupled directly, no converter"
REDUCTION = "coupled directly, no converter, reduction {ratio:g}"
FIRST_LIMIT = MappingProxyType(
    {
        "oil": "oil temperature",
        "converter-outlet": "oil temperature at the converter outlet",
        "winding": "temperature of the motor's winding",
        "none": "none of those that are known",
    }
)
HOLD_SET_BY = MappingProxyType(
    {
        "oil": "oil temperature limit, four fifths of the calculated time",
        "converter-outlet": "limit at the converter outlet, four fifths of the calculated time",
        "winding": "limit of the winding, four fifths of the calculated time",
        "maker": "the machine maker's figure",
        "common-practice": "common practice (no source)",
        "no-oil-data": "shortest customary hold (no oil data)",
    }
)
"""Code -> what a hold is limited by."""
FOR_GOOD = "for good"
NOT_KNOWN = "not known"

note = NOTES.note

FACTS = Catalogue(
    {
        "peak-from-cold": (
            "assumption",
            "held for {time:time .0f} from cold (duty type S2, IEC 60034-1)",
        ),
        "peak-from-warm": (
            "assumption",
            "held for {time:time .0f} from the temperature of the continuous torque",
        ),
    }
)
"""Short texts that stand as the value of a fact."""
