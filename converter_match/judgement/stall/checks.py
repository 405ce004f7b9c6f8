"""What to check next: the cheapest thing that tells the likeliest finding from the one after it.

Minutes are common practice, no source: they only put the checks in order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Check:
    """Something to look at or to measure.

    Parameters
    ----------
    code : str
    minutes : int
        Of work, about.
    words : str
    tells : tuple of str
        Findings (families) that it confirms or rules out.
    """

    code: str
    minutes: int
    words: str
    tells: tuple[str, ...]


@dataclass(frozen=True)
class NextCheck:
    """The check to do next.

    Parameters
    ----------
    code, words : str
    minutes : int
    why : str
        Which findings it tells apart.
    """

    code: str
    words: str
    minutes: int
    why: str


BRAKES_FIRST = Check(
    "mend-brakes", 30,
    "brakes: find out why they did not hold, mend and prove them; until then no stall test",
    ("brakes-give-way",),
)  # fmt: skip
CHECKS: tuple[Check, ...] = (
    Check("oil-level", 5,
          "transmission oil: level at working temperature as the maker says, foam or milkiness on "
          "the dipstick, the right oil",
          ("oil-low-or-aerated",)),
    Check("watch-wheels", 5,
          "wheels and output shaft: somebody at a safe distance to the side watches for movement "
          "in the next hold; a machine that creeps voids the test",
          ("brakes-give-way",)),
    Check("other-gear", 5,
          "the same hold in another gear, and in the other direction, after cooling down",
          ("clutch-slips",)),
    Check("repeat", 10,
          "repeat the hold after cooling down, oil at working temperature, with another tachometer",
          ("nothing-to-see",)),
    Check("air-fuel", 15,
          "engine: air filter restriction, boost at full load, fuel supply pressure, throttle at "
          "its stop, top governed speed",
          ("engine-down",)),
    Check("tag", 15,
          "converter: read the part number or tag on the converter or the transmission and compare "
          "it with the papers",
          ("wrong-converter",)),
    Check("combined", 20,
          "combined test: full throttle in neutral with the pumps at relief, and in gear with the "
          "pumps at relief; together with the stall they separate engine from converter",
          ("engine-down", "stator-slips", "wrong-converter", "oil-low-or-aerated", "clutch-slips")),
    Check("pressures", 30,
          "clutch and converter pressures at the maker's test ports, gear by gear",
          ("clutch-slips", "oil-low-or-aerated")),
    Check("road", 30,
          "road reading: full throttle, converter open, on a safe stretch, engine and output speed "
          "at a high speed ratio; note whether the oil runs hot (a seized stator shows only there)",
          ("stator-seized", "stator-slips")),
    Check("screen", 60,
          "debris in the transmission screen and filter; converter outlet temperature and pressure",
          ("stator-slips", "clutch-slips")),
)  # fmt: skip


def next_check(shares: Sequence[tuple[str, float]], done: Sequence[str] = ()) -> NextCheck:
    """Return the cheapest check that tells the likeliest finding from the runner-up.

    Parameters
    ----------
    shares : sequence of (family, share)
        The likeliest first; several entries of one family count as one.
    done : sequence of str
        Codes of checks that the readings hold already.
    """
    families = list(dict.fromkeys(family for family, _ in shares))
    first = families[0]
    if first == "brakes-give-way":
        return _as_next(BRAKES_FIRST, "a test on brakes that do not hold says nothing")
    second = families[1] if len(families) > 1 else "nothing-to-see"
    open_ = [check for check in CHECKS if check.code not in done]
    apart = [check for check in open_ if (first in check.tells) != (second in check.tells)]
    # Prefer one that speaks of the likeliest finding itself, unless another is half as dear.
    apart.sort(key=lambda c: c.minutes * (1.0 if first in c.tells else 2.0))
    chosen = apart[0] if apart else open_[0]
    return _as_next(chosen, f"tells {_words(first)} from {_words(second)}")


def _as_next(check: Check, why: str) -> NextCheck:
    return NextCheck(check.code, check.words, check.minutes, why)


def _words(family: str) -> str:
    return f"'{family.replace('-', ' ')}'"
