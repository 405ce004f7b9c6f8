"""Spec lines as brochures write them, and how they are read: right, asked about, or wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from converter_match.errors import InputError
from converter_match.library.intake.facts import fact_si
from converter_match.library.intake.reading import intake_line

LINES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "library" / "intake" / "brochure_lines.toml").read_text("utf-8")
)["line"]
# Key of the file -> fact, its size in SI.
_FACTS = {
    "kw": ("rated_power", 1e3),
    "rpm": ("rated_speed", 0.10471975512),
    "nm": ("peak_torque", 1.0),
    "at": ("peak_torque_speed", 0.10471975512),
    "litres": ("displacement", 1e-3),
    "low": ("low_idle", 0.10471975512),
    "high": ("high_idle", 0.10471975512),
}
# Not on the line: no question about it.
_BESIDE = {"governing", "rating_basis", "low_idle", "high_idle"}
_ROUNDED = 0.006  # 168 kW for 225 hp and the like


def outcome(line: dict[str, Any]) -> tuple[str, str]:
    """Return how a line is read, and why.

    Returns
    -------
    str
        ``right`` (all that it says is read, nothing about it asked), ``one question``, ``more
        questions``, ``missed`` (something it says is asked for as if it were not there) or
        ``wrong`` (read as something else, and nothing asked about it).
    """
    try:
        draft = intake_line(line["text"], kind="engine")
    except InputError as refusal:
        return "missed", str(refusal)
    read = {
        problem.message.split(" = ")[0]: problem.message.split(" = ")[1]
        for problem in draft.problems
        if problem.code == "fact-from-line"
    }
    texts = [problem.text() for problem in draft.open]
    wanted = set(line.get("asks", []))
    asked, missed = set(), []
    for name in (*(fact for fact, _ in _FACTS.values()), "rating_basis"):
        option = f"--{name.replace('_', '-')} "
        if any(option in text for text in texts):
            asked.add(name)
    for key, (name, size) in _FACTS.items():
        if key not in line:
            if name in read and name not in asked | wanted:
                return "wrong", f"{name} read as {read[name]}, and the line does not say it"
            continue
        if name in asked:
            missed += [] if name in wanted else [name]
        elif name not in read or abs(fact_si(name, read[name])[2] / (size * line[key]) - 1) > (
            _ROUNDED
        ):
            return "wrong", f"{name} read as {read.get(name)}"
    if silent := wanted - asked:
        return "wrong", f"not asked: {silent}"
    if missed:
        return "missed", ", ".join(missed)
    about = {name for name in asked if name in wanted}
    if not about:
        return "right", ""
    return ("one question" if len(about) == 1 else "more questions"), ", ".join(sorted(about))


# What is repeated to make a line slow to read: numbers, words and signs that begin something.
NASTY = (
    "185 kW @ 2200 rpm; ", "9", "9,", "9 ", "1 000", "a", " ", "185 ", "(185 kW", "@", "-", "1-",
    "185 kW at ", "1,000.000'000 ", "2200 rpm ", "torque ", "net ", "turbo ", "min-1 ", "1.1.",
    "1/", "5..", "stall ", "stalls at 2 rpm ", "DIN 1", "speed governed ", "xxxxxxx", "((", "[",
)  # fmt: skip


def counted() -> dict[str, int]:
    """Return how many lines are read in which way."""
    counts = dict.fromkeys(("right", "one question", "more questions", "missed", "wrong"), 0)
    for line in LINES:
        counts[outcome(line)[0]] += 1
    return counts
