"""Random sheets of invented machines, clean or with one wrong digit, and what intake asks of them.

The shapes are drawn, not taken from the package: a torque ratio that falls along a parabola to 1,
a capacity with a hump or none, that beyond the coupling point follows a power of the slip; a torque
curve of a naturally aspirated, a turbocharged or a late-boosted engine. The coupling point is a row
of six sheets in ten, and lies between two rows of the others. Spans of the draws: common practice,
no source; the two published tables with a coupling point (data/published) lie inside.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from converter_match.errors import InputError
from converter_match.library.intake.draft import Draft
from converter_match.library.intake.reading import intake_text

POUND_FOOT = 1.3558179483  # N.m, NIST SP 811, appendix B.8
RPM = np.pi / 30.0


@dataclass(frozen=True)
class Sheet:
    """A sheet as text in cells.

    Parameters
    ----------
    kind : str
    above : str
        Lines before the table.
    headings : tuple of str
    rows : tuple of tuple of str
    first : int
        Number of the first row of the table in the file.
    """

    kind: str
    above: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def text(self) -> str:
        """The sheet as a file."""
        lines = [";".join(row) for row in (self.headings, *self.rows)]
        return self.above + "\n".join(lines) + "\n"

    @property
    def first(self) -> int:
        """Number of the first row of numbers in the file."""
        return self.above.count("\n") + 2


def clean_sheet(rng: np.random.Generator) -> Sheet:
    """Return a random clean sheet, of a converter or of an engine."""
    return _converter(rng) if rng.random() < 0.6 else _engine(rng)


def _converter(rng: np.random.Generator) -> Sheet:
    stator = rng.choice(["one-way", "one-way", "one-way", "one-way", "fixed", "none"])
    stall = rng.uniform(1.7, 3.0)
    coupling = float(np.clip(0.95 - 0.055 * stall + rng.uniform(-0.02, 0.02), 0.74, 0.91))
    coupling = round(coupling, 2)
    inner = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85]
    if rng.random() < 0.3:
        inner = [0.0, 0.2, 0.4, 0.5, 0.6, 0.7, 0.8]
    beyond = [0.88, 0.9, 0.92, 0.94, 0.95, 0.96, 0.97, 0.98]
    ends = sorted(rng.choice(beyond, size=rng.integers(2, 5), replace=False))
    nu = np.array([*(x for x in inner if x < coupling - 0.019), coupling,
                   *(x for x in ends if x > coupling + 0.015)])  # fmt: skip
    if rng.random() < 0.4:  # rows at round speed ratios, the coupling point between two of them
        nu = nu[nu != coupling]
    x = nu / coupling
    ratio = 1.0 + (stall - 1.0) * (1.0 - x) * (1.0 + rng.uniform(-0.2, 0.12) * x)
    end, hump = rng.uniform(0.55, 0.98), rng.uniform(-0.1, 0.25)
    share = 1.0 + (end - 1.0) * x**2 + hump * x * (1.0 - x)
    power = rng.uniform(0.7, 1.05)
    slip = np.clip((1.0 - nu) / (1.0 - coupling), 0.0, None)
    share = np.where(nu > coupling, end * slip**power, share)
    if stator == "one-way":
        ratio = np.where(nu >= coupling, 1.0, ratio)
    elif stator == "fixed":
        share = 1.0 + (end - 1.0) * x**2 + hump * x * (1.0 - x)
    else:
        ratio = np.ones(nu.size)
        share = np.minimum(1.0, ((1.0 - nu) / rng.uniform(0.25, 0.45)) ** power)
        share = 1.0 / (1.0 / share**4 + rng.uniform(0.2, 1.0)) ** 0.25
    diameter = rng.uniform(0.24, 0.5)
    coefficient = rng.uniform(1.6e-3, 4.5e-3)
    capacity = coefficient * 850.0 * diameter**5 * share
    if rng.random() < 0.3:  # measured, not drawn by hand
        capacity = capacity * (1.0 + 0.004 * rng.standard_normal(nu.size))
        if stator == "fixed":
            ratio = ratio * (1.0 + 0.002 * rng.standard_normal(nu.size))
    heading, column = _capacity(rng, capacity)
    columns = [[f"{v:.4g}" for v in nu], [f"{v:.{rng.choice([2, 3])}f}" for v in ratio], column]
    headings = ["speed ratio", "torque ratio", heading]
    if rng.random() < 0.25 and stator != "none":
        columns.append([f"{100 * v:.1f}" for v in nu * np.array([float(t) for t in columns[1]])])
        headings.append("efficiency [%]")
    above = f"Stator: {stator}\n"
    if rng.random() < 0.5:
        above += f"Profile diameter: {1000 * diameter:.0f} mm\n"
    rows = tuple(zip(*columns, strict=True))
    return Sheet("converter", above + "\n", tuple(headings), rows)


def _capacity(rng: np.random.Generator, capacity: np.ndarray) -> tuple[str, list[str]]:
    """Return heading and cells of a capacity column in a random form and unit."""
    k = 1.0 / np.sqrt(capacity) / RPM
    form = rng.integers(4)
    if form == 0:
        return "K [rpm/sqrt(N.m)]", [f"{v:.1f}" for v in k]
    if form == 1:
        return "K-factor [rpm/sqrt(lbf.ft)]", [f"{v:.1f}" for v in k * np.sqrt(POUND_FOOT)]
    speed = int(rng.choice([1500, 1700, 2000]))
    torque = capacity * (speed * RPM) ** 2
    if form == 2:
        return f"input torque [N.m] at {speed} rpm", [f"{v:.1f}" for v in torque]
    return f"pump torque [lbf.ft] at {speed} rpm", [f"{v / POUND_FOOT:.1f}" for v in torque]


def _engine(rng: np.random.Generator) -> Sheet:
    rated = int(rng.choice([1800, 1900, 2000, 2100, 2200, 2300, 2400, 2600]))
    step = int(rng.choice([100, 100, 200]))
    lowest = int(rng.choice([700, 800, 900, 1000]))
    speed = np.array([*range(lowest, rated - step // 2, step), rated], dtype=float)
    x = speed / rated
    peak_at, rise = rng.uniform(0.52, 0.68), rng.uniform(0.12, 0.4)
    fall = (
        rise
        / (1.0 + rise)
        * np.clip((x - peak_at) / (1.0 - peak_at), 0, None) ** (rng.uniform(1.1, 2.0))
    )
    kind = rng.choice(["natural", "turbo", "late"])
    low = np.clip((peak_at - x) / peak_at, 0, None)
    if kind == "natural":
        shape = 1.0 - 0.8 * rise * low**1.5 - fall
    elif kind == "turbo":
        shape = 1.0 - rng.uniform(1.0, 2.2) * low**2 - fall
    else:
        knee = rng.uniform(0.08, 0.12)
        shape = (
            1.0 - fall - rng.uniform(0.25, 0.45) / (1.0 + np.exp((x - peak_at + 0.12) * 4 / knee))
        )
    litres = rng.uniform(2.5, 16.0)
    pressure = rng.uniform(7.5, 9.5) if kind == "natural" else rng.uniform(12.0, 24.0)
    torque = pressure * 1e5 * litres * 1e-3 / (4.0 * np.pi) * shape
    if rng.random() < 0.3:
        torque = torque * (1.0 + 0.003 * rng.standard_normal(torque.size))
    us = rng.random() < 0.3
    load = torque / POUND_FOOT if us else torque
    columns = [[f"{v:.0f}" for v in speed], [f"{v:.0f}" for v in load]]
    headings = ["speed [rpm]", f"torque [{'lbf.ft' if us else 'N.m'}]"]
    high = int(round(rated * rng.uniform(1.05, 1.12), -1))
    if rng.random() < 0.15:
        columns[0].append(str(high))
        columns[1].append("0")
    if rng.random() < 0.4:
        power = [float(t) * (POUND_FOOT if us else 1) * float(n) * RPM / 1e3
                 for n, t in zip(*columns, strict=True)]  # fmt: skip
        columns.append([f"{v:.1f}" for v in power])
        headings.append("power [kW]")
    above = (
        f"Rating basis: gross\nGoverning: speed\nLow idle: 700 rpm\nRated speed: {rated} rpm\n"
        f"High idle: {high} rpm\n"
    )
    if rng.random() < 0.5:
        above += f"Displacement: {litres:.1f} L\n"
    rows = tuple(zip(*columns, strict=True))
    return Sheet("engine", above + "\n", tuple(headings), rows)


def with_wrong_digit(
    sheet: Sheet, rng: np.random.Generator, least: float = 0.2
) -> tuple[Sheet, int, int, float] | None:
    """Return the sheet with one digit of one cell wrong.

    Returns
    -------
    tuple or None
        (sheet, row of the table, column, relative error); None where no digit of the drawn cell
        makes an error of at least `least`.
    """
    row = int(rng.integers(len(sheet.rows)))
    column = int(rng.integers(len(sheet.headings)))
    cell = sheet.rows[row][column]
    true = float(cell)
    if true == 0.0:
        return None
    found = []
    for place, sign in enumerate(cell):
        for digit in "0123456789" if sign.isdigit() else "":
            wrong = cell[:place] + digit + cell[place + 1 :]
            if digit != sign and abs(float(wrong) / true - 1.0) >= least:
                found.append(wrong)
    if not found:
        return None
    wrong = str(rng.choice(found))
    cells = [list(each) for each in sheet.rows]
    cells[row][column] = wrong
    spoilt = replace(sheet, rows=tuple(tuple(each) for each in cells))
    return spoilt, row, column, float(wrong) / true - 1.0


def asked(sheet: Sheet) -> set[tuple[str, str, str]]:
    """Return (code, key, text) of everything that is open about a sheet."""
    try:
        draft: Draft = intake_text(sheet.text, kind=sheet.kind)
    except InputError as refusal:
        return {("refused", "", str(refusal))}
    return {(each.code, each.key, each.text()) for each in draft.open}


def names_row(text: str, number: int) -> bool:
    """Return whether a question names a row of the file, or one beside it."""
    named = {int(each) for each in re.findall(r"rows? (\d+)", text)}
    named |= {int(each) for each in re.findall(r"(?:and|to|,) (?:row )?(\d+)\b", text)}
    return bool(named & {number - 1, number, number + 1})


@dataclass
class Rates:
    """Counts over many sheets.

    Parameters
    ----------
    sheets, false : int
        Clean sheets, and those with a question.
    wrong, noticed, named : dict of str to int
        By column: sheets with a wrong digit, those with a new question, with one that names the
        row or a row beside it.
    """

    sheets: int = 0
    false: int = 0
    wrong: dict[str, int] = None  # type: ignore[assignment]
    noticed: dict[str, int] = None  # type: ignore[assignment]
    named: dict[str, int] = None  # type: ignore[assignment]
    missed: list[tuple[str, str, int, int]] = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        self.wrong, self.noticed, self.named, self.missed = {}, {}, {}, []

    def share(self, counts: dict[str, int]) -> float:
        """Return a count over all columns as a share of the wrong digits."""
        return sum(counts.values()) / max(sum(self.wrong.values()), 1)


def measured(count: int, seed: int, each: int = 3) -> Rates:
    """Return what intake asks of random sheets, clean and with one wrong digit.

    Parameters
    ----------
    count : int
        Sheets.
    seed : int
    each : int
        Wrong digits tried on every sheet, one at a time.
    """
    rates = Rates()
    for sheet, rng in _drawn(count, seed):
        before = asked(sheet)
        rates.sheets += 1
        rates.false += bool(before)
        if before:
            rates.missed.append(("FALSE", sheet.text + str(before), 0, 0))
        for _ in range(each):
            spoilt = with_wrong_digit(sheet, rng)
            if spoilt is None:
                continue
            page, row, column, error = spoilt
            name = f"{sheet.kind}: {page.headings[column].split(' [')[0].split(' at')[0]}"
            new = [text for code, key, text in asked(page) if (code, key, text) not in before]
            rates.wrong[name] = rates.wrong.get(name, 0) + 1
            rates.noticed[name] = rates.noticed.get(name, 0) + bool(new)
            hit = any(names_row(text, sheet.first + row) for text in new)
            rates.named[name] = rates.named.get(name, 0) + hit
            if not hit:
                text = f"{page.text}{new} {error:+.2f}"
                rates.missed.append((name, text, row, column))
    return rates


def _drawn(count: int, seed: int) -> Iterator[tuple[Sheet, np.random.Generator]]:
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        yield clean_sheet(rng), rng
