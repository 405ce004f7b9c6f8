"""How often intake asks: about one wrong digit, about clean sheets, about lines and charts.

    python benchmarks/intake_rates.py            # print the tables (a few minutes)
    python benchmarks/intake_rates.py --write    # and put them into docs/intake.md
    python benchmarks/intake_rates.py --only sizes

The sheets, lines and charts are those of the tests, more of them.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from pages import write_between

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

from converter_match.errors import InputError
from converter_match.library.intake.picture import intake_picture
from converter_match.library.intake.reading import intake_line
from converter_match.library.intake.spec_line import LONGEST_LINE
from tests.brochure_lines import NASTY, counted
from tests.clean_sheets import measured
from tests.hard_charts import FACTS, photographed, share_beyond
from tests.scanned_tables import HARD, ReadRates, Spoilt
from tests.scanned_tables import measured as measured_scans

PAGE = Path(__file__).resolve().parents[1] / "docs" / "intake.md"
_SHEETS = 1000
_SEED = 7
_CHARTS = 20
_SCANS = 5  # tables for each way to spoil a scan


def sizes() -> list[str]:
    """Return the table of wrong digits in random sheets."""
    rates = measured(_SHEETS, _SEED)
    rows: list[tuple[str, ...]] = [
        ("wrong digit, 20 % or more off, in", "sheets", "asked about", "naming the row")
    ]
    for name in sorted(rates.wrong):
        count = rates.wrong[name]
        shares = (rates.noticed[name] / count, rates.named[name] / count)
        rows.append((name, str(count), *(f"{100 * share:.1f} %" for share in shares)))
    total = sum(rates.wrong.values())
    rows.append(
        ("all", str(total), f"{100 * rates.share(rates.noticed):.1f} %",
         f"{100 * rates.share(rates.named):.1f} %")
    )  # fmt: skip
    false = 100 * rates.false / rates.sheets
    return [*table(rows), "", f"Clean sheets asked about: {rates.false} of {rates.sheets}, "
            f"{false:.1f} %."]  # fmt: skip


def lines() -> list[str]:
    """Return how the spec lines of the tests are read, and how long the worst take."""
    rows: list[tuple[str, ...]] = [("spec lines, as brochures write them", "count")]
    rows += [(name, str(count)) for name, count in counted().items()]
    slowest = []
    for seed in NASTY:
        line = (seed * LONGEST_LINE)[:LONGEST_LINE]
        start = time.process_time()
        with contextlib.suppress(InputError):
            intake_line(line)
        slowest.append(time.process_time() - start)
    return [*table(rows), "", f"A line of {LONGEST_LINE} characters takes {max(slowest):.1f} s at "
            f"most, of {len(NASTY)} made to be slow."]  # fmt: skip


def charts() -> list[str]:
    """Return how often the true error of photographed charts is beyond the stated one."""
    head = "charts photographed from the side, made straight"
    rows: list[tuple[str, ...]] = [(head, "read", "refused", "points beyond the stated error")]
    rng = np.random.default_rng(_SEED)
    with tempfile.TemporaryDirectory() as place:
        for noise in (0.0, 1.0, 2.0):
            shares = []
            for seed in range(_CHARTS):
                tilt = (float(rng.uniform(20, 120)), float(rng.uniform(10, 60)))
                path = photographed(Path(place), corners=True, noise=noise, tilt=tilt, seed=seed)
                with contextlib.suppress(InputError):
                    shares.append(share_beyond(intake_picture(path, fresh=True, **FACTS)))
            name = f"clicks {noise:g} px off (one standard deviation)"
            beyond = f"{100 * float(np.mean(shares)):.1f} %"
            rows.append((name, str(len(shares)), str(_CHARTS - len(shares)), beyond))
    return table(rows)


def table(rows: list[tuple[str, ...]]) -> list[str]:
    """Return rows as a Markdown table, the first as its head."""
    head, *others = (f"| {' | '.join(row)} |" for row in rows)
    return [head, "|" + "---|" * len(rows[0]), *others]


def scans() -> list[str]:
    """Return how tables on pictures are read: wrong cells, and those that nothing asks about."""
    rows: list[tuple[str, ...]] = [
        ("tables on pictures", "cells", "read wrong", "of these not asked about by themselves",
         "right, and asked about", "tables not understood", "taken without consent")
    ]  # fmt: skip
    total = ReadRates()
    for how in HARD:
        with tempfile.TemporaryDirectory() as place:
            rates = measured_scans(_SCANS, _SEED, Path(place), (how,))
        rows.append((_called(how), *_counts(rates)))
        for name in ("cells", "wrong", "unasked", "asked_though_right", "refused", "taken_unasked"):
            setattr(total, name, getattr(total, name) + getattr(rates, name))
    rows.append(("all", *_counts(total)))
    return table(rows)


def _counts(rates: ReadRates) -> tuple[str, ...]:
    counts = (
        rates.wrong,
        rates.unasked,
        rates.asked_though_right,
        rates.refused,
        rates.taken_unasked,
    )
    return (str(rates.cells), *map(str, counts))


def _called(how: Spoilt) -> str:
    parts = [f"type {how.size} px"]
    parts += [f"noise {how.noise:g} of 255"] if how.noise else []
    parts += [f"turned {how.turn:+g}°"] if how.turn else []
    parts += ["blurred"] if how.blur else []
    parts += ["ruled"] if how.ruled else []
    return ", ".join([*parts, how.font.removesuffix(".ttf")])


PARTS: dict[str, Callable[[], list[str]]] = {
    "sizes": sizes,
    "lines": lines,
    "charts": charts,
    "scans": scans,
}


def main() -> int:
    """Print the tables, and write them where that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="put the tables into the docs")
    parser.add_argument("--only", choices=tuple(PARTS), help="one of the tables")
    args = parser.parse_args()
    for name, part in PARTS.items():
        if args.only not in (None, name):
            continue
        start = time.process_time()
        text = "\n".join(part())
        print(f"{text}\n({name}: {time.process_time() - start:.0f} s)\n")
        if args.write:
            write_between(PAGE, name, text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
