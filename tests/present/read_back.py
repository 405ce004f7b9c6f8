"""Read a drawn page back: what stands on it, in SI, by the name of what is drawn.

Units are converted by a table of this file and not by the package's own, so that a number that
was converted wrongly, or stands beside the wrong unit, does not agree with itself.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from converter_match.notes import Note
from converter_match.units import System, note_text

# What a unit is in SI: factor, and for temperatures what is zero there. NIST SP 811 (2008),
# appendix B.8; the US gallon is 231 cubic inches, exactly.
_FOOT, _POUND, _GRAVITY = 0.3048, 0.45359237, 9.80665
_LBF, _GALLON, _BTU = _POUND * _GRAVITY, 231 * 0.0254**3, 1055.05585262
UNITS = {
    "rpm": np.pi / 30, "N·m": 1.0, "lbf·ft": _LBF * _FOOT, "kW": 1e3, "hp": 550 * _LBF * _FOOT,
    "km/h": 1 / 3.6, "mph": 5280 * _FOOT / 3600, "m/s": 1.0, "ft/s": _FOOT,
    "m/min": 1 / 60, "ft/min": _FOOT / 60, "kN": 1e3, "lbf": _LBF,
    "km": 1e3, "mi": 5280 * _FOOT, "m": 1.0, "ft": _FOOT, "mm": 1e-3, "in": 0.0254,
    "s": 1.0, "min": 60.0, "h": 3600.0, "ms": 1e-3,
    "kg": 1.0, "lb": _POUND, "t": 1e3, "short ton": 2000 * _POUND, "g": 1e-3,
    "kJ": 1e3, "MJ": 1e6, "BTU": _BTU, "kWh": 3.6e6, "BTU/min": _BTU / 60,
    "%": 0.01, "–": 1.0, "1": 1.0, "V": 1.0,
    "m/s²": 1.0, "ft/s²": _FOOT, "K/s": 1.0, "°F/s": 5 / 9, "K": 1.0,
    "L": 1e-3, "US gal": _GALLON, "L/h": 1e-3 / 3600, "US gal/h": _GALLON / 3600,
    "L/min": 1e-3 / 60, "US gal/min": _GALLON / 60, "gal/min": _GALLON / 60, "L/s": 1e-3,
    "t/h": 1e3 / 3600, "short ton/h": 2000 * _POUND / 3600, "kg/h": 1 / 3600, "lb/h": _POUND / 3600,
    "g/kWh": 1e-3 / 3.6e6, "lb/(hp·h)": _POUND / (550 * _LBF * _FOOT * 3600),
    "m²/s": 1.0, "ft²/s": _FOOT**2, "kPa": 1e3, "inHg": 3386.389,
    "kg/m³": 1.0, "lb/ft³": _POUND / _FOOT**3,
    "kJ/(kg·K)": 1e3, "BTU/(lb·°F)": _BTU / _POUND * 1.8,
    "kW/K": 1e3, "BTU/(min·°F)": _BTU / 60 * 1.8, "kg·m²": 1.0, "lb·ft²": _POUND * _FOOT**2,
    "rpm/√(N·m)": np.pi / 30, "rpm/√(lbf·ft)": np.pi / 30 / (_LBF * _FOOT) ** 0.5,
}  # fmt: skip
US_ONLY = frozenset(
    """lbf·ft hp mph ft/s ft/min lbf mi ft lb BTU BTU/min lb/h inHg lb/(hp·h) lb/ft³ °F °F/s
    rpm/√(lbf·ft)""".split()
) | {"short ton", "short ton/h", "US gal", "US gal/h", "US gal/min"}  # fmt: skip
ZERO = {"°C": (1.0, 273.15), "°F": (5 / 9, 459.67 * 5 / 9)}

_NUMBER = r"[-\N{MINUS SIGN}]?\d+(?:\.\d+)?"
_AMOUNT = re.compile(
    rf"(?<![\w.])(?P<number>{_NUMBER})\s*(?P<unit>"
    + "|".join(
        re.escape(unit) for unit in sorted({*UNITS, *ZERO} - {"1", "–"}, key=len, reverse=True)
    )
    + r")(?![\w²·/])"
)


# In no page of docs/, and words all the same.
WORDS = frozenset(
    """accelerator accusation acted ambient arrives articulation assuming attachments backward
    began bevel bladed bolting broad bullets burning care charged charger chock clipboard
    clockwise compensates conditioning contain counter couple covered crank creeps critical
    customary decided deflects design diamonds directly doors dot dots drag eased engaged
    extinguisher face faint feed felt finally fire forbids forest forks gains generated
    geometrically hollow implements injures interrupted jolt leak lengthways lights lugged
    meridional misconceptions momentum morning moving multiplied nears outcome overlap
    overview pale paragraph pause peaks plays prepare pressed pulling purple pushing remark
    remarks remove requirement retained retarder rms rounded scatters secured select sides sideways
    signature smell smoke spared speeding standards starter steering sticks stronger swirling
    switched tangential testing thinner tie torus touched transfer travel treat turbocharger
    unbroken unloaded unplugged upon validity watch watched wild worse ACCEPTABLE CAUTION
    COUPLE DECIDED DIRECTLY FAIL NOT SHA UNECE""".split()
)
# Written in capitals on purpose: a verdict over a page, what comes before a test, abbreviations.
LOUD = frozenset(
    "CAUTION FAIL ACCEPTABLE COUPLE DECIDED DIRECTLY TOML JSON NIST CONDITIONAL UNECE".split()
)


_UNIT = "|".join(re.escape(unit) for unit in sorted({*UNITS, *ZERO} - {"1"}, key=len, reverse=True))
_NAMED_UNIT = re.compile(rf"\((?:{_UNIT})\)|(?:(?<= )|^)(?:{_UNIT})$")


_FROM = re.compile(rf"({_NUMBER}) \.\. (?={_NUMBER}(?: \.\. {_NUMBER})* ({_UNIT})(?![\w²·/]))")
_AROUND = re.compile(rf"({_NUMBER}) ({_UNIT}) \(({_NUMBER}) to ({_NUMBER})\)")


class Drawn(NamedTuple):
    """A line or a mark as it stands, with the units of its axes."""

    x: np.ndarray
    y: np.ndarray
    x_unit: str | None
    y_unit: str | None

    @property
    def si(self) -> tuple[np.ndarray, np.ndarray]:
        return to_si(self.x, self.x_unit), to_si(self.y, self.y_unit)


class Said(NamedTuple):
    """A number with a unit, out of a text, in SI; and half its last digit."""

    value: float
    half: float
    unit: str


def to_si(values: Any, unit: str | None) -> Any:
    """Return numbers in SI; without a unit they stay."""
    factor, zero = ZERO[unit] if unit in ZERO else (UNITS[unit] if unit else 1.0, 0.0)
    return np.asarray(values, dtype=float) * factor + zero


def unit_of(label: str) -> str | None:
    """Return the unit in the brackets at the end of the name of an axis, if there is one."""
    found = re.search(r"\(((?:[^()]|\([^()]*\))+)\)$", label.strip())
    return found[1] if found and (found[1] in UNITS or found[1] in ZERO) else None


def panels(figure: Figure) -> list[tuple[Axes, str | None, str | None]]:
    """Return the axes with the units along them; what has no name below takes the next one's."""
    read = []
    for ax in figure.axes:
        below = ax.get_xlabel()
        for other in figure.axes:
            if below:
                break
            if np.allclose(other.get_xlim(), ax.get_xlim()):
                below = other.get_xlabel()
        # Where nothing stands below, the title or the only name says what goes across.
        title = ax.get_title(loc="left").partition(",")[0]
        read.append((ax, unit_of(below or title or ax.get_ylabel()), unit_of(ax.get_ylabel())))
    return read


def drawn(figure: Figure) -> dict[str, Drawn]:
    """Return all lines and marks in data coordinates that have a gid."""
    found: dict[str, Drawn] = {}
    for ax, across, up in panels(figure):
        for item in ax.get_children():
            gid = item.get_gid()
            if not gid:
                continue
            if isinstance(item, Line2D) and item.get_transform() is ax.transData:
                x, y = (np.atleast_1d(np.asarray(each, dtype=float)) for each in item.get_data())
            elif isinstance(item, Rectangle):
                # A bar to the right, or a stretch of the axis: only its ends are amounts.
                x = np.array([item.get_x(), item.get_x() + item.get_width()])
                y = np.full(2, np.nan)
            elif isinstance(item, PathCollection):
                x, y = np.asarray(item.get_offsets(), dtype=float).T
            else:
                continue
            again = sum(key.partition(" #")[0] == gid for key in found)
            found[f"{gid} #{again}" if again else gid] = Drawn(x, y, across, up)
    return found


def texts(figure: Figure) -> list[Text]:
    """Return what is written in the panels and around them, names of axes and ticks left out."""
    own = [text for ax in figure.axes for text in ax.texts]
    return [text for text in [*figure.texts, *own] if text.get_visible() and text.get_text()]


def known_words() -> frozenset[str]:
    """Return the words of all pages for people, and those beside them that pages are made of."""
    root = Path(__file__).parents[2]
    pages = [*(root / "docs").rglob("*.md"), root / "README.md"]
    return WORDS.union(*(letters(page.read_text("utf-8")) for page in pages))


def letters(text: str) -> list[str]:
    return re.findall(r"[A-Za-z]+", re.sub(r"\b[0-9a-f]{8,}\b", "", text))


def unknown(text: str, known: frozenset[str]) -> list[str]:
    """Return what is no word, or stands in capitals where no word does."""
    return [
        word
        for word in letters(text)
        if (word not in known and word[0].lower() + word[1:] not in known)
        or (len(word) > 3 and word.isupper() and word not in LOUD)
    ]


def small_starts(text: str) -> list[str]:
    """Return sentences after the first that begin with a small letter."""
    return re.findall(r"[a-z)%]{3}\. (?!today: |stall at )[a-z]\w*", plain(text))


def foreign(text: str) -> list[str]:
    """Return the units of a text that nobody reads who asked for SI."""
    return [said.unit for said in amounts(text) if said.unit in US_ONLY]


def strings(part: Any, system: System, place: str = "") -> Iterator[tuple[str, str]]:
    """Yield every text of a document with its place in it; figures are left out."""
    if isinstance(part, str):
        yield place, part
    elif isinstance(part, Note):
        yield place, note_text(part, system)
    elif isinstance(part, list | tuple):
        for row, value in enumerate(part):
            yield from strings(value, system, f"{place}[{row}]")
    elif isinstance(part, dict):
        for key, value in part.items():
            yield from strings(value, system, f"{place}.{key}")
    elif is_dataclass(part):
        for field in fields(part):
            yield from strings(getattr(part, field.name), system, f"{place}.{field.name}")


def plain(text: str) -> str:
    return " ".join(text.split())


def names(figure: Figure) -> list[str]:
    """Return the names of all axes and panels."""
    named = [(ax.get_xlabel(), ax.get_ylabel(), ax.get_title(loc="left")) for ax in figure.axes]
    return [label for three in named for label in three if label]


def spread(text: str) -> str:
    """Return a text with the unit behind each number that it stands for: 1 .. 2 m, 3 m (2 to 4)."""
    text = _FROM.sub(r"\1 \2 .. ", plain(text))
    return _AROUND.sub(r"\1 \2 (\3 \2 to \4 \2)", text)


def amounts(text: str) -> list[Said]:
    """Return the numbers in a text that have a unit behind them."""
    said = []
    for match in _AMOUNT.finditer(spread(text)):
        digits = match["number"].replace("\N{MINUS SIGN}", "-")
        whole, _, behind = digits.partition(".")
        # 4320 may be rounded to its tens.
        zeros = 0 if behind else len(whole) - len(whole.rstrip("0") or "0")
        step = 10.0 ** (zeros - len(behind))
        low, high = to_si([0.0, 0.5 * step], match["unit"])
        said.append(
            Said(float(to_si(float(digits), match["unit"])), float(high - low), match["unit"])
        )
    return said


def without_amounts(text: str) -> str:
    """Return the words of a text with a sign in place of each number with its unit."""
    return _AMOUNT.sub("#", spread(text))


def without_units(text: str) -> str:
    """Return the words of a text, a sign for amounts and for units in brackets or at its end."""
    return _NAMED_UNIT.sub("@", without_amounts(text))


def agree(one: Said, other: Said) -> bool:
    """Whether two amounts are the same within what their digits say."""
    apart = abs(one.value - other.value)
    if {one.unit, other.unit} == {"K", "°F"}:  # a difference of temperatures
        kelvin, warm = (one, other) if one.unit == "K" else (other, one)
        apart = abs(kelvin.value - (warm.value - ZERO["°F"][1]))
    return apart <= 1.001 * (one.half + other.half)


def stands_in(said: Said, held: np.ndarray) -> bool:
    """Whether an amount, of either sign, is one of the numbers of a result."""
    readings = [said.value]
    if said.unit in ZERO:  # or a difference
        readings.append(said.value - ZERO[said.unit][1])
    return any(np.abs(np.abs(held) - abs(one)).min() <= 1.001 * said.half for one in readings)


def scalars(result: Any) -> np.ndarray:
    """Return every number that a result holds, and the ends and extremes of its arrays."""
    found: list[float] = []
    for item in _inside(result, 20):
        if isinstance(item, np.ndarray):
            if item.dtype.kind in "fiu" and np.isfinite(item).any():
                flat = item.ravel()
                found += map(float, flat if flat.size <= 40 else flat[[0, -1]])
                found += [float(np.nanmin(flat)), float(np.nanmax(flat))]
        elif isinstance(item, int | float | np.number) and not isinstance(item, bool):
            found.append(float(item))
    return np.unique(np.array([value for value in found if np.isfinite(value)]))


def _inside(item: Any, depth: int, seen: set[int] | None = None) -> Iterator[Any]:
    """Yield what is in a result, its properties included; each part once."""
    seen = set() if seen is None else seen
    if isinstance(item, int | float | np.number):
        yield item
        return
    if item is None or isinstance(item, str | bytes) or id(item) in seen or depth == 0:
        return
    seen.add(id(item))
    if isinstance(item, np.ndarray):
        yield item
        return
    inner: list[Any] = []
    if isinstance(item, dict):
        inner = list(item.values())
    elif isinstance(item, list | tuple | set | frozenset):
        inner = list(item)
    elif type(item).__module__.startswith("converter_match"):
        for name in dir(item):
            if not name.startswith("_"):
                with contextlib.suppress(Exception):  # a property this result has no answer for
                    inner.append(getattr(item, name))
    for each in inner:
        if not callable(each):
            yield from _inside(each, depth - 1, seen)


def arrays(result: Any) -> list[np.ndarray]:
    """Return every row and column of numbers that a result holds, of six numbers or more."""
    rows: list[np.ndarray] = []
    for item in _inside(result, 20):
        if isinstance(item, np.ndarray) and item.dtype.kind == "f" and 1 <= item.ndim <= 2:
            rows += [item] if item.ndim == 1 else [*item, *item.T]
    return [np.sort(row[np.isfinite(row)]) for row in rows if np.isfinite(row).sum() >= 6]


def is_of(values: np.ndarray, rows: list[np.ndarray]) -> bool:
    """Whether nearly all of some numbers stand in one of the rows, with either sign."""
    values = values[np.isfinite(values)]
    close = 1e-6 * np.abs(values).max()
    for row in rows:
        if row.size < values.size // 2:
            continue
        for sign in (1.0, -1.0):
            right = np.clip(np.searchsorted(row, sign * values), 0, row.size - 1)
            left = np.clip(right - 1, 0, None)
            apart = np.minimum(abs(row[right] - sign * values), abs(row[left] - sign * values))
            if (apart <= close).mean() > 0.95:  # a break in the line may have been put in
                return True
    return False
