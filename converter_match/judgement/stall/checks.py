"""What to check next: the cheapest thing that separates the most likely finding from the next one.

Minutes are common practice, no source: they only put the checks in order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from converter_match.answer.block import Facts, Heading
from converter_match.judgement.stall import words
from converter_match.notes import Note


@dataclass(frozen=True)
class Check:
    """Something to look at or to measure.

    Parameters
    ----------
    code : str
        A key of `words.CHECKS`.
    minutes : int
        Of work, about.
    separates : tuple of str
        Findings (families) that it confirms or rules out.
    """

    code: str
    minutes: int
    separates: tuple[str, ...]


@dataclass(frozen=True)
class NextCheck:
    """The check to do next.

    Parameters
    ----------
    code : str
    minutes : int
    reason : Note
        Which findings it separates.
    """

    code: str
    minutes: int
    reason: Note

    @property
    def words(self) -> str:
        """What to look at or to measure."""
        return words.CHECKS[self.code]

    def facts(self) -> Facts:
        """Return the check as facts."""
        return (
            (Heading("code", ""), self.code),
            (Heading("words", "check"), self.words),
            (Heading("minutes", ""), self.minutes),
            (Heading("", "work, about", "minutes", ".0f"), 60.0 * self.minutes),
            (Heading("why", "why"), self.reason),
        )


BRAKES_FIRST = Check("mend-brakes", 30, ("brakes-give-way",))
CHECKS: tuple[Check, ...] = (
    Check("oil-level", 5, ("oil-low-or-aerated",)),
    Check("watch-wheels", 5, ("brakes-give-way",)),
    Check("other-gear", 5, ("clutch-slips",)),
    Check("governed", 5, ("tachometer-off",)),
    Check("tachometer", 10, ("tachometer-off",)),
    Check("repeat", 10, ("nothing-to-see",)),
    Check("air-fuel", 15, ("engine-down",)),
    Check("loads", 15, ("load-stuck-on",)),
    Check("tag", 15, ("wrong-converter",)),
    Check(
        "combined",
        20,
        ("engine-down", "stator-slips", "wrong-converter", "oil-low-or-aerated", "clutch-slips"),
    ),
    Check("pressures", 30, ("clutch-slips", "oil-low-or-aerated")),
    Check("road", 30, ("stator-seized", "stator-slips")),
    Check("screen", 60, ("stator-slips", "clutch-slips")),
)
# What would do harm if a finding were true: another hold on slipping clutches, on foaming oil, on
# brakes that do not hold.
HARMFUL: dict[str, tuple[str, ...]] = {
    "combined": ("clutch-slips", "oil-low-or-aerated", "brakes-give-way"),
    "repeat": ("clutch-slips", "oil-low-or-aerated", "brakes-give-way"),
    "other-gear": ("oil-low-or-aerated", "brakes-give-way"),
    "watch-wheels": ("oil-low-or-aerated",),
    "road": ("brakes-give-way",),
}
# From this share on a finding is reason enough not to risk it.
_SUSPECTED = 0.1


def next_check(shares: Sequence[tuple[str, float]], done: Sequence[str] = ()) -> NextCheck:
    """Return the cheapest check that separates the most likely finding from the runner-up.

    Parameters
    ----------
    shares : sequence of (family, share)
        Most likely first; several entries of one family count as one.
    done : sequence of str
        Codes of checks that the readings hold already.

    Notes
    -----
    Nothing in `HARMFUL` is asked for while a finding that it would harm is suspected.
    """
    families = list(dict.fromkeys(family for family, _ in shares))
    first = families[0]
    if first == "brakes-give-way":
        reason = words.note("void-test-says-nothing")
        return NextCheck(BRAKES_FIRST.code, BRAKES_FIRST.minutes, reason)
    second = families[1] if len(families) > 1 else "nothing-to-see"
    joint = {family: sum(s for f, s in shares if f == family) for family in families}
    suspected = {family for family, share in joint.items() if share >= _SUSPECTED}
    open_ = [
        check
        for check in CHECKS
        if check.code not in done and not suspected.intersection(HARMFUL.get(check.code, ()))
    ]
    apart = [check for check in open_ if (first in check.separates) != (second in check.separates)]
    # Prefer one that speaks of the most likely finding itself, unless another is half as dear.
    apart.sort(key=lambda check: check.minutes * (1.0 if first in check.separates else 2.0))
    chosen = apart[0] if apart else open_[0]
    reason = words.note("separates", first=spaced(first), second=spaced(second))
    return NextCheck(chosen.code, chosen.minutes, reason)


def spaced(code: str) -> str:
    """Return a code as words."""
    return code.replace("-", " ")
