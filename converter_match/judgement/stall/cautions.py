"""What everybody near a stall test has to know first. Usual cautions; common practice."""

from __future__ import annotations

from converter_match.notes import Note

# In the order in which they are printed: before anything else.
SHEET_CAUTIONS: tuple[str, ...] = (
    "The machine maker's procedure and limits and the rules of the site come first; where they "
    "differ from this sheet, follow them. If the maker forbids the test, do not do it.",
    "The machine can break loose. Open, level, firm ground; nobody in front, behind, under or "
    "between machine parts; one person in charge, in sight of the operator.",
    "Chock the wheels. Prove service and parking brakes first, at low power. If the machine moves, "
    "release the throttle at once: the test is void until the brakes are right.",
    "Attachments on the ground, articulation lock as the maker says, seat belt on, doors shut.",
    "The oil gets hot in seconds. Watch its temperature; never hold longer than stated below; keep "
    "away from hot oil, exhaust and turning parts. Hot oil under pressure injures.",
    "Speed above the upper limit, noise, smoke, or the gauge at its limit: release the throttle at "
    "once.",
)  # fmt: skip

STALL_TEST = Note(
    "stall-test-hazard",
    "A stall test can hurt people: the machine can break loose. Open level ground, nobody in "
    "front, behind or under, wheels chocked, brakes proven, short holds, oil temperature watched, "
    "cool down in neutral. The machine maker's procedure and local rules come first.",
    "caution",
)
TOWING = Note(
    "towing-needs-care",
    "The charge pump turns with the engine: with the engine stopped the transmission gets no oil "
    "and no lubrication. Do not tow with the driven wheels on the ground unless the machine maker "
    "says how, and do not count on starting the engine by towing.",
    "caution",
)
