"""The sentences of the sheet for a stall test, and of its figures, by code."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue, alike
from converter_match.notes import Note

BREAKS_LOOSE = "do not stall in this gear: the machine would break loose"
HAZARD = "A stall test can hurt people: the machine maker's procedure and local rules come first."
FOOTER = (
    "Usual cautions and common practice; the machine maker's procedure and local rules come first. "
    "After the test: with the engine off the transmission gets no oil, so do not tow with the "
    "driven wheels or tracks on the ground unless the maker says how."
)
# In the order in which they are printed: before anything else. Usual cautions; common practice.
_CAUTIONS = alike(
    "caution",
    {
        "maker-first": "The machine maker's procedure and limits, local codes and site rules "
        "come first, before this sheet. If the maker forbids the test, do not do it. Trained "
        "people only.",
        "breaks-loose": "The machine can break loose. Keep a zone around it clear: nobody in "
        "front, behind, under or between machine parts; one person in charge, in sight of the "
        "operator, who stays in the seat. Open, level, firm, dry ground.",
        "brakes-first": "Chock the wheels, parking brake on unless the maker says otherwise. "
        "Test service and parking brakes first, at low power, in the highest gear. A gear struck "
        "out below is never stalled.",
        "brakes-first-tracks": "Parking brake on unless the maker says otherwise, tracks blocked "
        "only as the maker says. Test service and parking brakes first, at low power, in the "
        "highest gear. A gear struck out below is never stalled.",
        "machine-secured": "Attachments on the ground, articulation lock as the maker says, seat "
        "belt on, doors shut.",
        "hot-in-seconds": "Oil level and temperature right before every hold. It gets hot in "
        "seconds: never hold longer than stated below, cool down in neutral between holds, keep "
        "away from hot oil, hot metal and turning parts. Hot oil under pressure injures.",
        "throttle-off": "Stop at once, throttle or pedal released, neutral: the machine moves (the "
        "test is void until the brakes are right), speed above the upper limit, noise, smoke, a "
        "leak, or the gauge at its limit.",
    },
)
_PREPARE = alike(
    "warning",
    {
        "warm": "Coolant and engine warm; transmission oil at {low:temperature .0f} to "
        "{high:temperature .0f} (US Army TM 10-3930-671-24), level right, no foam.",
        "second-person": "Fire extinguisher at hand; a second person outside the clear zone "
        "watches the {what} and can signal stop; the operator watches the oil gauge.",
        "tachometer": "Tachometer checked; top governed speed in neutral checked and noted; "
        "lights, air conditioning off; implements lowered and not moving.",
    },
)
_STEPS = alike(
    "warning",
    {
        "select-gear": "Brakes hard on, engine at low idle, select the gear, the highest first. "
        "In gear it pulls at idle already: it must not move.",
        "full-throttle": "Full throttle. As soon as the speed stands still, read it; hold "
        "{seconds:time .0f} at most.",
        "neutral": "Throttle off, neutral.",
        "cool-down": "Neutral at {low:angular_speed .0f} to {high:angular_speed .0f} for "
        "{time:time .0f} or more, until the oil is back where it began, before the next hold.",
        "write-down": "Write down every reading with gear, oil temperature, and whether the "
        "brakes held.",
        "no-stall-test": "No stall test: the engine cannot accelerate from idle in gear (it lugs "
        "down), and would be stopped, or the oil would overheat. Engine, converter or their data "
        "do not go "
        "together.",
        "no-gear-holds": "No stall in gear: on this ground the machine would break loose in every "
        "one.",
        "relief-in-neutral": "Neutral, parking brake on. Full throttle up to top governed speed, "
        "then an implement lever against relief. Read; lever back, throttle off.",
        "relief-in-gear": "In gear, the highest: full throttle up to stall, as in the hold, then "
        "the lever against relief. Read; lever back, throttle off.",
        "relief-time": "Speed first, load after: loaded from idle the engine may not come up. No "
        "longer than the maker says, in gear no longer than the hold.",
        "neutral-only": "In neutral with the pumps at relief only, as long as the machine maker's "
        "procedure says: no time is calculated for it.",
    },
)
ACCEPTANCE = {"stall-speed": "stall speed", "speed-on-grade": "speed on the grade"}
"""What the acceptance asks for."""
_GRADE_RUN = alike(
    "warning",
    {
        "grade-run": "Grade run: on a known grade of {grade:grade}, gear {gear} held, full "
        "throttle, until the speed stands still; read road speed and engine speed. Load as "
        "on the study's duty.",
    },
)
_STOP = alike(
    "warning",
    {
        "too-fast": "in gear above {speed:angular_speed .0f}, or the machine moves: throttle off "
        "at once",
        "moves": "the machine moves: throttle off at once",
        "too-hot-at-outlet": "oil at {limit:temperature .0f}, on a gauge at the converter outlet "
        "{outlet:temperature .0f}, or a warning: neutral, cool down; shut down if it does not fall "
        "within 3 minutes (US Army TM 9-2320-283-10)",
        "too-hot": "oil at {limit:temperature .0f}, or a warning: neutral, cool down; shut down "
        "if it does not fall within 3 minutes (US Army TM 9-2320-283-10)",
    },
)
_FACTS = alike(
    "warning",
    {
        "conditions-reference": "air as the engine's reference air (no site given); oil "
        "{oil:temperature .0f}",
        "conditions": "air {pressure:pressure .1f}, {air:temperature .0f}; oil {oil:temperature "
        ".0f}",
        "stands-on": "; {load}, on {ground}, level and dry",
        "span": "{low:angular_speed .0f} to {high:angular_speed .0f}",
        "band": "{low:angular_speed .0f} to {high:angular_speed .0f} ({coverage} % of healthy "
        "machines)",
        "band-of-some": "{low:angular_speed .0f} to {high:angular_speed .0f} ({coverage} % of "
        "healthy machines that accelerate from idle; {count} of 100 cannot)",
        "band-in-two": "{low:angular_speed .0f} to {first:angular_speed .0f}, or "
        "{second:angular_speed .0f} to {high:angular_speed .0f} ({coverage} % of healthy machines "
        "that stall; between the two is outside)",
        "spans-apart": "the maker's span and the expected band have no speed in common: check "
        "ratings, part numbers and conditions before the test; the maker's span comes first",
        "no-band": "none: the engine cannot accelerate from idle (lugs down); do not test",
        "no-hold": "none: there is no stall to hold",
        "hold": "{seconds:time .0f} (",
        "by-maker": "the machine maker's figure; ",
        "by-oil": "calculated: {heat:power .0f} into the oil alone from {start:temperature .0f}: "
        "bulk at {limit:temperature .0f} in {time:time .0f}",
        "by-outlet": ", converter outlet at {limit:temperature .0f} in {time:time .0f}",
        "no-oil-data": "shortest customary hold; no oil data, not calculated",
        "at-limit": "the oil is at its limit: let it cool down in neutral first",
        "capped": "; capped by common practice, no source",
        "end": ")",
    },
)
WORDS = Catalogue({**_CAUTIONS, **_PREPARE, **_STEPS, **_GRADE_RUN, **_STOP, **_FACTS})
note = WORDS.note


def cautions(*, on_tracks: bool) -> tuple[Note, ...]:
    """Return the cautions of the sheet in their order, for a machine on wheels or on tracks."""
    left_out = "brakes-first" if on_tracks else "brakes-first-tracks"
    return tuple(note(code) for code in _CAUTIONS if code != left_out)
