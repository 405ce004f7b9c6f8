"""The sentences of the sheet for a stall test, and of its figures, by code."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue
from converter_match.notes import Kind, Note

HAZARD = "A stall test can hurt people: the machine maker's procedure and local rules come first."
FOOTER = (
    "Usual cautions and common practice; the machine maker's procedure and local rules come first. "
    "After the test: with the engine off the transmission gets no oil, so do not tow with the "
    "driven wheels on the ground unless the maker says how."
)
_Sentences = dict[str, tuple[Kind, str]]
# In the order in which they are printed: before anything else. Usual cautions; common practice.
_CAUTIONS: _Sentences = {
    "maker-first": (
        "caution",
        "The machine maker's procedure and limits and the rules of the site come first; where they "
        "differ from this sheet, follow them. If the maker forbids the test, do not do it.",
    ),
    "breaks-loose": (
        "caution",
        "The machine can break loose. Open, level, firm ground; nobody in front, behind, under or "
        "between machine parts; one person in charge, in sight of the operator.",
    ),
    "brakes-first": (
        "caution",
        "Chock the wheels. Test service and parking brakes first, at low power. If the machine "
        "moves, release the throttle at once: the test is void until the brakes are right.",
    ),
    "machine-secured": (
        "caution",
        "Attachments on the ground, articulation lock as the maker says, seat belt on, doors shut.",
    ),
    "hot-in-seconds": (
        "caution",
        "The oil gets hot in seconds. Watch its temperature; never hold longer than stated below; "
        "keep away from hot oil, exhaust and turning parts. Hot oil under pressure injures.",
    ),
    "throttle-off": (
        "caution",
        "Speed above the upper limit, noise, smoke, or the gauge at its limit: release the "
        "throttle at once.",
    ),
}
_PREPARE: _Sentences = {
    "manual-at-hand": (
        "warning",
        "Maker's manual at hand: stall procedure, limits, hold time. They replace this sheet.",
    ),
    "warm": (
        "warning",
        "Coolant and engine warm; transmission oil at {low:temperature .0f} to "
        "{high:temperature .0f} (US Army TM 10-3930-671-24), level right, no foam.",
    ),
    "people-clear": (
        "warning",
        "Brakes tested; chocks; people clear; fire extinguisher; second person watches oil "
        "temperature and wheels.",
    ),
    "tachometer": (
        "warning",
        "Tachometer checked; top governed speed in neutral checked and noted; lights, air "
        "conditioning off; implements lowered and not moving.",
    ),
}
_STEPS: _Sentences = {
    "select-gear": (
        "warning",
        "Brakes hard on, engine at low idle, select the gear; the machine must not move. In gear "
        "it pulls at idle already.",
    ),
    "full-throttle": (
        "warning",
        "Full throttle. As soon as the speed stands still, read it; hold {seconds:time .0f} at "
        "most.",
    ),
    "neutral": ("warning", "Throttle off, neutral."),
    "cool-down": (
        "warning",
        "Neutral at {low:angular_speed .0f} to {high:angular_speed .0f} for {time:time .0f} or "
        "more, until the oil is back where it began, before the next hold.",
    ),
    "write-down": (
        "warning",
        "Write down every reading with gear, oil temperature, and whether the brakes held.",
    ),
    "no-stall-test": (
        "warning",
        "No stall test: the engine cannot accelerate from idle in gear (it lugs down), and would "
        "die or overheat the oil. Engine, converter or their data do not go together.",
    ),
    "neutral-only": (
        "warning",
        "In neutral with the pumps at relief only, as long as the machine maker's procedure says: "
        "no time is calculated for it.",
    ),
}
_STOP: _Sentences = {
    "too-fast": (
        "warning",
        "in gear above {speed:angular_speed .0f}, or the machine moves: throttle off at once",
    ),
    "moves": ("warning", "the machine moves: throttle off at once"),
    "too-hot": (
        "warning",
        "oil at {limit:temperature .0f}, or a warning: neutral, cool down; shut down if it does "
        "not fall within 3 minutes (US Army TM 9-2320-283-10)",
    ),
}
_FACTS: _Sentences = {
    "conditions-reference": (
        "warning",
        "air as the engine's reference air (no site given); oil {oil:temperature .0f}",
    ),
    "conditions": (
        "warning",
        "air {pressure:pressure .1f}, {air:temperature .0f}; oil {oil:temperature .0f}",
    ),
    "span": ("warning", "{low:angular_speed .0f} to {high:angular_speed .0f}"),
    "band": (
        "warning",
        "{low:angular_speed .0f} to {high:angular_speed .0f} ({coverage} % of healthy machines)",
    ),
    "band-of-some": (
        "warning",
        "{low:angular_speed .0f} to {high:angular_speed .0f} ({coverage} % of healthy machines "
        "that accelerate from idle; {count} of 100 cannot)",
    ),
    "no-band": ("warning", "none: the engine cannot accelerate from idle (lugs down); do not test"),
    "no-hold": ("warning", "none: there is no stall to hold"),
    "hold": ("warning", "{seconds:time .0f} ("),
    "by-maker": ("warning", "the machine maker's figure; "),
    "by-oil": (
        "warning",
        "calculated: {heat:power .0f} into the oil alone, {rate:heating_rate .1f}, from "
        "{start:temperature .0f} to {limit:temperature .0f} in {time:time .0f}",
    ),
    "no-oil-data": ("warning", "shortest customary hold; no oil data, not calculated"),
    "at-limit": ("warning", "the oil is at its limit: let it cool down in neutral first"),
    "capped": ("warning", "; capped by common practice, no source"),
    "end": ("warning", ")"),
}
WORDS = Catalogue({**_CAUTIONS, **_PREPARE, **_STEPS, **_STOP, **_FACTS})
note = WORDS.note
SHEET_CAUTIONS: tuple[Note, ...] = tuple(note(code) for code in _CAUTIONS)
