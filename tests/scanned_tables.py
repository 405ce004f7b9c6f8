"""Tables drawn as a printer and a scanner would, and what is read of them; truth is what was drawn.

Sizes, noise, a turn by a degree, ruling lines: from memory of what arrives as a scan.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from matplotlib import get_data_path
from PIL import Image, ImageDraw, ImageFilter, ImageFont

HEADINGS = ("speed ratio", "torque ratio", "K [rpm/sqrt(Nm)]")
NU = ("0.00", "0.10", "0.20", "0.30", "0.40", "0.50", "0.60", "0.70", "0.80", "0.86", "0.95")
FONTS = ("DejaVuSans.ttf", "DejaVuSerif.ttf", "DejaVuSansMono.ttf")


@dataclass(frozen=True)
class Spoilt:
    """How a scan is spoilt: size of the type [pixel], noise, turn [degrees], lines, typeface."""

    size: int = 18
    noise: float = 0.0
    turn: float = 0.0
    ruled: bool = False
    font: str = FONTS[0]
    blur: float = 0.0


HARD = (
    Spoilt(),
    Spoilt(size=14, turn=1.0),
    Spoilt(size=24, noise=18.0, turn=-1.0, ruled=True),
    Spoilt(size=18, noise=25.0, font=FONTS[1]),
    Spoilt(size=12, noise=10.0, font=FONTS[2], turn=1.0),
    Spoilt(size=16, blur=1.0, noise=12.0, ruled=True),
)


def rows_of(rng: np.random.Generator) -> list[tuple[str, ...]]:
    """Return headings and rows of an invented converter, in print."""
    stall, k = rng.uniform(1.8, 2.6), rng.uniform(45.0, 110.0)
    rows = [HEADINGS]
    for text in NU:
        nu = float(text)
        ratio = max(1.0, stall + (1.0 - stall) * nu / 0.86)
        factor = k * (1.0 + 0.12 * nu**2 + (0.0 if nu <= 0.86 else 6.0 * (nu - 0.86)))
        rows.append((text, f"{ratio:.2f}", f"{factor:.1f}"))
    return rows


def scanned(rows: list[tuple[str, ...]], how: Spoilt, rng: np.random.Generator) -> Image.Image:
    """Return the picture of a table."""
    font = ImageFont.truetype(str(Path(get_data_path()) / "fonts" / "ttf" / how.font), how.size)
    across, down = 11 * how.size, int(2.1 * how.size)
    width, height = across * len(rows[0]) + 2 * how.size, down * len(rows) + 2 * how.size
    picture = Image.new("RGB", (width, height), "white")
    draw = ImageDraw.Draw(picture)
    for row, cells in enumerate(rows):
        for column, cell in enumerate(cells):
            place = (1.5 * how.size + across * column, how.size + down * row)
            draw.text(place, cell, fill=(25, 25, 25), font=font)
    if how.ruled:
        for row in range(len(rows) + 1):
            y = 0.6 * how.size + down * row
            draw.line((how.size, y, width - how.size, y), fill=(60, 60, 60))
    if how.turn:
        picture = picture.rotate(how.turn, Image.Resampling.BICUBIC, expand=True, fillcolor="white")
    if how.blur:
        picture = picture.filter(ImageFilter.GaussianBlur(how.blur))
    if how.noise:
        array = np.asarray(picture, dtype=float)
        noise = rng.normal(0.0, how.noise, array.shape[:2])[..., None]
        picture = Image.fromarray(np.clip(array + noise, 0, 255).astype(np.uint8))
    return picture


@dataclass
class ReadRates:
    """What was read of the cells: all, wrong ones, and wrong ones that no question names."""

    tables: int = 0
    cells: int = 0
    wrong: int = 0
    unasked: int = 0
    asked_though_right: int = 0
    taken_unasked: int = 0
    refused: int = 0
    errors: list[str] = field(default_factory=list)


def measured(many: int, seed: int, folder: Path, hard: tuple[Spoilt, ...] = HARD) -> ReadRates:
    """Return the rates over random tables, each spoilt in every way.

    Parameters
    ----------
    many : int
        Tables for each way.
    seed : int
    folder : Path
        For the pictures.
    """
    from converter_match.errors import InputError
    from converter_match.library.intake.reading import intake_scan

    rng, rates = np.random.default_rng(seed), ReadRates()
    for number in range(many):
        for way, how in enumerate(hard):
            rows = rows_of(rng)
            path = folder / f"scan-{number}-{way}.png"
            scanned(rows, how, rng).save(path)
            rates.tables += 1
            draft = intake_scan(path, stator="one-way", coupling_speed_ratio="0.86")
            assert draft.scan is not None
            try:
                draft.accept()
                rates.taken_unasked += 1
            except InputError:
                pass
            rates.refused += draft.sheet is None
            read = {cell.name: cell for cell in draft.scan.cells}
            # A size check names the row; a cell in doubt is named by itself.
            named = " ".join(
                f"{each.where} {each.message}"
                for each in draft.open
                if each.code != "scan-unconfirmed"
            ) + " ".join(each.text() for each in draft.rejected)
            for row, cells in enumerate(rows[1:], start=2):
                for column, truth in enumerate(cells, start=1):
                    rates.cells += 1
                    cell = read.get(f"R{row}C{column}")
                    right = cell is not None and cell.text == truth
                    if right and cell is not None and cell.doubts:
                        rates.asked_though_right += 1
                    if right:
                        continue
                    rates.wrong += 1
                    got = None if cell is None else cell.text
                    rates.errors.append(f"{path.name} R{row}C{column}: {truth} read as {got}")
                    asked = cell is not None and bool(cell.doubts)
                    if not asked and f"row {row}" not in named:
                        rates.unasked += 1
    return rates
