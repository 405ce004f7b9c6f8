"""Every sentence of the stall test, by code: notes, findings, checks, explanations."""

from __future__ import annotations

from string import Formatter

from converter_match.answer.catalogue import Catalogue, alike
from converter_match.notes import Kind, Note, Value

_Sentences = dict[str, tuple[Kind, str]]

# What a test is called, by the word for it in a reading.
TESTS = {
    "converter": "converter stall (in gear)",
    "hydraulic": "hydraulic stall (in neutral, pumps at relief)",
    "both": "combined stall (in gear, pumps at relief)",
    "road": "road reading (converter open)",
    "governed": "top governed speed (in neutral, nothing taken)",
}
OR_IN = "    or, with nothing between"
SET_BY = {
    "oil-limit": "oil temperature limit, four fifths of the calculated time",
    "converter-outlet": "limit at the converter outlet, four fifths of the calculated time",
    "common-practice": "common practice (no source)",
    "maker": "machine maker",
    "no-oil-data": "shortest customary hold (no oil data)",
    "no-stall": "no stall",
}
SCORING = (
    "Each finding is a small model of the machine with one unknown of its own. Machines are drawn "
    "within the tolerances (normal errors, stated half widths), each is solved for the speed it "
    "would show at every reading, and the likelihood of the finding is the mean, over the draws, "
    "of the product of normal densities of all readings about those speeds, with the stated error "
    "of a reading. Shares are likelihood times weight, over all findings."
)
REPEAT = "repeat the worst one"
DO_NOT_REPEAT = "do not repeat the worst one, check data and parts"
CHECKS = {
    "mend-brakes": "brakes: find out why they did not hold, repair and test them; until then no "
    "stall test",
    "oil-level": "transmission oil: level at working temperature as the maker says, foam or "
    "milkiness on the dipstick, the right oil",
    "watch-wheels": "wheels and output shaft: somebody at a safe distance to the side watches for "
    "movement in the next hold; a machine that creeps voids the test",
    "other-gear": "the same hold in another gear, and in the other direction, after cooling down",
    "repeat": "repeat the hold after cooling down, oil at working temperature, with another "
    "tachometer",
    "governed": "top governed speed: full throttle in neutral with nothing taken, beside the high "
    "idle of the engine's sheet (test=governed); a wrong tachometer is wrong there as well",
    "tachometer": "tachometer: hold a second one beside it",
    "loads": "what else the engine drives: implement pumps at standby pressure, fan drive, "
    "compressor, each uncoupled or read at its test port",
    "air-fuel": "engine: air filter restriction, boost at full load, fuel supply pressure, "
    "throttle at its stop, top governed speed",
    "tag": "converter: read the part number or tag on the converter or the transmission and "
    "compare it with the papers",
    "combined": "combined test: full throttle in neutral with the pumps at relief, and in gear "
    "with the pumps at relief; together with the stall they separate engine from converter",
    "pressures": "clutch and converter pressures at the maker's test ports, gear by gear",
    "road": "road reading: full throttle, converter open, on a safe stretch, engine and output "
    "speed at a high speed ratio; note whether the oil runs hot (a seized stator shows only there)",
    "screen": "debris in the transmission screen and filter; converter outlet temperature and "
    "pressure",
}

_CAUTIONS = alike(
    "caution",
    {
        "stall-test-hazard": "A stall test can hurt people: the machine can break loose. The "
        "machine maker's procedure, local codes and site rules come first. Trained people; a clear "
        "zone with nobody in front, behind or under; open level ground, wheels chocked, parking "
        "brake on, brakes tested; oil level and temperature right; short holds, cooling down in "
        "neutral between them. Stop at once if it moves, if the speed goes above its limit, or at "
        "the limit of the oil.",
        "towing-needs-care": "The charge pump turns with the engine: with the engine stopped the "
        "transmission gets no oil and no lubrication. Do not tow with the driven wheels on the "
        "ground unless the machine maker says how, and do not count on starting the engine by "
        "towing.",
    },
)
_SETUP: _Sentences = {
    "tolerances-assumed": (
        "assumption",
        "Tolerances taken (±, 95 %): engine torque {engine_torque:share .3g}, converter capacity "
        "{capacity:share .3g}, loads {loads:share .3g} (pumps at relief {relief:share .3g}), air "
        "correction {air:share .3g}, oil temperature {oil:temperature_difference .3g}, tachometer "
        "{reading:angular_speed .3g}, governor {governor:share .2g} of high idle. Defaults are "
        "common practice, no source.",
    ),
    "oil-density": (
        "assumption",
        "Capacity goes with oil density; the sheet is taken to hold at {oil:temperature .0f} (40 "
        "CFR 1037.570 tests at {low:temperature .0f} to {high:temperature .0f}), the oil to expand "
        "by 6.75e-4 per kelvin (from memory).",
    ),
    "oil-temperature-assumed": (
        "assumption",
        "No oil temperature is given: {oil:temperature .0f} is taken, the middle of the span "
        "that US Army TM "
        "10-3930-671-24 calls for before the test.",
    ),
    "oil-not-warm": (
        "warning",
        "Oil at {oil:temperature .0f} is far from where sheets and limits hold. Viscosity is not "
        "in the band: cold thick oil drags and shifts the stall speed by an amount that no "
        "standard states. "
        "Warm the oil first.",
    ),
    "no-site": (
        "assumption",
        "No site is given: the engine is taken to run in its reference air.",
    ),
}
_SETUP["arrangement-parts-left-out"] = (
    "assumption",
    "Of the arrangement only stator and torque divider count here, not: {parts}. Clutches before "
    "the converter are taken as closed, the lock-up clutch as open; pumps take what the readings "
    "say.",
)
_NOT_TO_BE_DONE = (
    "{count} of 100 healthy machines of these tolerances cannot accelerate from idle {where} (they "
    "lug down): that test is not to be done."
)
_LEFT_OUT = (
    "{count} of 100 healthy machines of these tolerances cannot accelerate from idle {where} (they "
    "lug down); they are left out of the band."
)
_BAND: _Sentences = {
    "does-not-leave-idle": ("limit", _NOT_TO_BE_DONE),
    "does-not-leave-idle-hydraulic": ("limit", _NOT_TO_BE_DONE),
    "does-not-leave-idle-both": ("limit", _NOT_TO_BE_DONE),
    "may-not-leave-idle": ("warning", _LEFT_OUT),
    "may-not-leave-idle-hydraulic": ("warning", _LEFT_OUT),
    "may-not-leave-idle-both": ("warning", _LEFT_OUT),
    "no-band": (
        "limit",
        "{test}: none. The engine cannot accelerate from idle {where} (lugs down); do not test.",
    ),
    "band-in-two-parts": (
        "warning",
        "{test}: the band is in two parts, with nothing between {low:angular_speed .0f} and "
        "{high:angular_speed .0f}. Within the tolerances the speed jumps from one intersection to "
        "another; a reading between the parts is outside.",
    ),
    "published-elsewhere": (
        "warning",
        "The maker's published span, {low:angular_speed .0f} to {high:angular_speed .0f}, and the "
        "expected band do not meet: engine, converter, rating basis or conditions on the sheets "
        "are not those of the machine. The published span comes first.",
    ),
}
_GEARS: _Sentences = {
    "breaks-loose": (
        "warning",
        "Do not stall in gear {gears}: the machine would break loose ({pull:force .0f} at the "
        "wheels, {grip:force .0f} of grip, {load}, on {ground}).",
    ),
    "breaks-loose-in-every-gear": (
        "limit",
        "No stall in gear: the machine would break loose in every one ({pull:force .0f} at the "
        "wheels, {grip:force .0f} of grip, {load}, on {ground}). Test on other ground, or not.",
    ),
    "ground-not-given": (
        "caution",
        "No ground is given: whether the machine breaks loose in a gear is not judged. So the "
        "highest gear of each direction, which pulls least, is the only one to test.",
    ),
    "pull-not-known": (
        "caution",
        "Without driveline and machine the pull at the wheels is not known, nor whether the "
        "machine breaks loose in a gear. Begin with the highest gear, which pulls least.",
    ),
    "grip-is-no-brake": (
        "caution",
        "Grip is that of clean dry ground of its kind, {load}, on the level. Below it the brakes "
        "have to hold the pull: test them first. Wet, loose or sloping ground grips less.",
    ),
}
_HOLD: _Sentences = {
    "hold-common-practice": (
        "caution",
        "Holds of {shortest:time .0f} to {longest:time .0f} are common practice, no source; the "
        "machine maker's limit comes first. Four fifths of the calculated time to the oil limit "
        "are used.",
    ),
    "hold-oil-alone": (
        "assumption",
        "The longest hold counts on neither cooler nor metal: a closed thermostat or a dirty "
        "cooler may take nothing in so short a time. The oil in the converter is warmer than the "
        "bulk; the shorter of the times to both limits counts. Times with cooler or metal are "
        "of the bulk, for information, not for use.",
    ),
    "hold-heat": (
        "assumption",
        "The heat of the hold is that at the upper end of the expected stall speed, "
        "{speed:angular_speed .0f}: a healthy machine may make that much.",
    ),
    "hold-heat-published": (
        "assumption",
        "The heat of the hold is that at the upper end of the maker's published span, "
        "{speed:angular_speed .0f}: the sheet stops the engine above it only.",
    ),
    "hold-not-calculated": (
        "assumption",
        "No oil volume is given: the time to the limit of the bulk is not calculated, at most the "
        "shortest customary hold ({shortest:time .0f}) applies. Watch the gauge.",
    ),
    "hold-too-short": (
        "limit",
        "The oil is at or so near to its limit that there is no time for a hold: cool it first.",
    ),
    "oil-over-limit-at-start": (
        "limit",
        "The oil is at {start:temperature .0f} at the start, its limit is {limit:temperature .0f}: "
        "there is no time for a hold. Let it cool down in neutral first.",
    ),
    "oil-limit-not-given": (
        "assumption",
        "Neither machine nor converter states an oil temperature limit: {limit:temperature .0f} is "
        "taken, at which US Army TM 9-2320-283-10 says to stop.",
    ),
    "hold-from-warmest-oil": (
        "assumption",
        "No oil temperature is given: the longest hold is counted from {oil:temperature .0f}, "
        "the warmest that US Army "
        "TM 10-3930-671-24 calls for before the test.",
    ),
    "hold-from-working-oil": (
        "assumption",
        "No oil temperature is given: the longest hold is counted from {oil:temperature .0f}, the "
        "working temperature of this machine's oil, which is warmer than any that US Army TM "
        "10-3930-671-24 calls for before the test.",
    ),
    "metal-follows-oil": (
        "assumption",
        "No conductance between oil and metal is given: in the times with the metal all of it is "
        "as warm as the oil, for which a short hold leaves no time.",
    ),
}
_DIAGNOSIS: _Sentences = {
    "nothing-explains-them": (
        "warning",
        "No finding here explains the readings well: check tachometer, gears and data, or two "
        "things are wrong at once.",
    ),
    "stator-seized-not-seen": (
        "warning",
        "A stator that never turns free does not show at stall: it needs a road reading at a high "
        "speed ratio (test=road, with the turbine speed), and runs hot there.",
    ),
    "brakes-let-go": (
        "limit",
        "{which} with brakes that did not hold: void, left out. Repair and test the brakes before "
        "any further stall test.",
    ),
    "readings-do-not-fit": (
        "warning",
        "The readings do not fit one torque and one capacity: what is left of them, in standard "
        "errors, has a sum of squares of {misfit:.1f}, and more than {limit:.1f} occurs once in "
        "a hundred tests. {action}: {worst}. No torque and capacity are given of all together.",
    ),
    "bands-of-whole-test": (
        "assumption",
        "The bands are those of the whole test: {coverage:share .3g} of healthy machines read "
        "inside in all {count} readings, so each band is wider than that of one reading.",
    ),
    "weights-assumed": (
        "assumption",
        "Weights before any reading: {weights}. Common practice, no source. A share is not a "
        "verdict: do the next check before parts are bought.",
    ),
}
_DRIFT: _Sentences = {
    "drift-too-few": (
        "assumption",
        "{count} tests of one kind with this engine and converter are too few to tell a drift from "
        "chance: it takes {fewest:.0f}.",
    ),
    "drift-none": (
        "assumption",
        "No drift against the bands that chance would not make: {chance:share .2g} of logs without "
        "one rise or fall as steadily.",
    ),
    "drift-seen": (
        "warning",
        "The readings {way} against their bands by about {speed:angular_speed .0f} a year; only "
        "{chance:share .2g} of logs without a drift do so as steadily. Look for the cause while "
        "the readings are still inside.",
    ),
}
# Findings: what each is, and the numbers behind it.
_FINDINGS = alike(
    "warning",
    {
        "nothing-to-see": "nothing wrong that this test can show",
        "engine-down": "engine down on torque",
        "oil-low-or-aerated": "oil low or aerated, or charge pressure low: the converter takes "
        "less",
        "clutch-slips": "clutches slipping in every gear tried (pressure, or a clutch they share)",
        "clutch-slips-gear": "a clutch slipping that gear {gear} uses and the others do not",
        "clutch-slips-direction": "the {direction} clutch slipping",
        "brakes-give-way": "the brakes slipped and the machine crept: the test is void",
        "brakes-let-go-first": "the brakes did not hold: the test is "
        "void and says nothing about engine or converter",
        "stator-slips": "stator one-way clutch slipping",
        "stator-seized": "stator seized: it holds where it should turn free",
        "wrong-size": "a converter of another size of the family",
        "load-stuck-on": "something takes torque that should not: implement pumps, fan drive, "
        "compressor",
        "pumps-stuck-on": "the implement pumps take torque where they should be at standby",
        "tachometer-off": "the tachometer reads wrong",
        "load-taken": ": {middle:torque .0f} ({low:torque .0f} to {high:torque .0f})",
        "tachometer-by": ": shows {middle:.3f} of the true speed ({low:.3f} to {high:.3f})",
        "wrong-converter": "another converter is fitted than the papers say",
        "wrong-converter-named": "another converter is fitted: {name}",
        "torque-lost": " by {middle:share .1f} ({low:share .1f} to {high:share .1f})",
        "capacity-taken": ": capacity {middle:.2f} times the sheet ({low:.2f} to {high:.2f})",
        "turbine-turning": ": turbine turning at {middle:.2f} of impeller speed ({low:.2f} to "
        "{high:.2f})",
        "fits": "; best-fitting machines would read ",
        "fits-span": "{low:angular_speed .0f} to {high:angular_speed .0f}",
        "fits-idle": "idle (lugging down)",
        "between-spans": ", ",
        "explained-by-entries": "; explained by {entries}",
        "before-detail": "; ",
        "share": "{share} %  [{finding}] ",
        "below-share": "below {share:share .1f}: {findings}",
        "brakes-not-noted": "it was not noted whether they held",
        "no-library-entry": "no library entry comes near",
        "free-stator-by-practice": "common practice: about a third lower",
        "free-stator-estimates": "coupling range extrapolated to stall: capacity {low:.2f} to "
        "{high:.2f} times; common practice, a third lower: {practice:.2f} times",
        "course-borrowed": "characteristic beyond the coupling point taken from a fixed stator "
        "({converter})",
        "separates": "separates '{first}' from '{second}'",
        "void-test-says-nothing": "a test on brakes that do not hold says nothing",
    },
)
_EXPLANATIONS = alike(
    "warning",
    {
        "by-torque": "torque {torque} of a healthy engine ({torque_low} to {torque_high})",
        "by-capacity": "capacity {capacity} times the sheet ({capacity_low} to {capacity_high})",
        "by-both": "torque {torque} of a healthy engine ({torque_low} to {torque_high}), or "
        "capacity {capacity} times the sheet ({capacity_low} to {capacity_high}), or both",
        "beyond-reason": "no {factors} within reason explains it ({spans})",
        "of-reading": "{label}: ",
        "then": "; ",
        "all-together": "all tests together: torque {torque:share .1f} ± {torque_error:share "
        ".1f}, capacity {capacity:.3f} ± {capacity_error:.3f} times the sheet (two standard "
        "errors)",
        "all-beyond-reason": "all tests together: no torque and capacity within reason explain "
        "them ({spans})",
        "all-contradict": "all tests together: the readings do not fit one torque and one "
        "capacity: {action} ({worst}, {speed:angular_speed .0f})",
        "one-kind-of-test": "one kind of test cannot tell torque from capacity: see the combined "
        "test",
    },
)
WORDS = Catalogue({**_CAUTIONS, **_SETUP, **_BAND, **_GEARS, **_HOLD, **_DIAGNOSIS, **_DRIFT,
                   **_FINDINGS, **_EXPLANATIONS})  # fmt: skip
note = WORDS.note
STALL_TEST = note("stall-test-hazard")
TOWING = note("towing-needs-care")


def joined(code: str, *parts: Note) -> Note:
    """Return one sentence out of parts, their values kept.

    Parameters
    ----------
    code : str
        Of the whole.
    *parts : Note
        Set side by side as they stand.
    """
    text, values = "", list[tuple[str, Value]]()
    for number, part in enumerate(parts):
        if not part.values:
            text += part.message.replace("{", "{{").replace("}", "}}")
            continue
        for before, name, form, _ in Formatter().parse(part.message):
            text += before.replace("{", "{{").replace("}", "}}")
            if name is not None:
                text += f"{{p{number}_{name}{':' + form if form else ''}}}"
        values += [(f"p{number}_{name}", value) for name, value in part.values]
    if not values:  # without values a message is taken as it stands
        text = "".join(part.message for part in parts)
    return Note(code, text, parts[0].kind, tuple(values))
