"""What the verb ``stall`` does with a log of tests: rows for it, figures of it, the drift in it."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.judgement.stall.drift import Drift
    from converter_match.judgement.stall.result import StallDiagnosis
    from converter_match.judgement.stall.setup import StallSetup
    from converter_match.library.stall_log_table import LogRow, StallLog


@dataclass(frozen=True, eq=False)
class Kept:
    """A log with the rows that come to it.

    Parameters
    ----------
    file : str or None
        As typed.
    before : StallLog or None
        As it was found; None where there is none yet.
    rows : tuple of LogRow
        To be added.
    """

    file: str | None
    before: StallLog | None
    rows: tuple[LogRow, ...] = ()

    @property
    def all(self) -> list[LogRow]:
        """Every usable row, in the order of their times."""
        old = () if self.before is None else self.before.rows
        return sorted([*old, *self.rows], key=lambda row: row.time)

    @property
    def set_aside(self) -> tuple[str, ...]:
        """Rows of the log that cannot be used, each with its line, column and what is wrong."""
        return () if self.before is None else tuple(str(e) for e in self.before.set_aside)

    def to_dict(self) -> dict[str, Any] | None:
        """Return plain data; None without a log."""
        if self.file is None:
            return None
        return {
            "file": self.file,
            "rows_added": len(self.rows),
            "rows_set_aside": list(self.set_aside),
        }


def kept_of(file: str | None, rows: Sequence[LogRow]) -> Kept:
    """Return a log with the rows to be added.

    Parameters
    ----------
    file : str, optional
    rows : sequence of LogRow

    Raises
    ------
    InputError
        If there is no such log and no row to begin it with, or the file is no log of stall tests.
    """
    if file is None or (rows and not Path(file).exists()):
        return Kept(file, None, tuple(rows))
    from converter_match.library.stall_log import read_stall_log

    return Kept(file, read_stall_log(file), tuple(rows))


def rows_of(
    name: str | None, time: datetime, setup: StallSetup, diagnosis: StallDiagnosis
) -> list[LogRow]:
    """Return the rows of a test.

    Parameters
    ----------
    name : str, optional
        Of the machine; the id of its file without.
    time : datetime
    setup : StallSetup
    diagnosis : StallDiagnosis

    Raises
    ------
    InputError
        If no machine is named.
    """
    from converter_match.library.stall_log_table import LogRow, tidy_name
    from converter_match.units import from_si, in_plain

    called = name or (setup.machine.id if setup.machine else None)
    if called is None:
        raise InputError(
            "no machine is named for the readings",
            source="--log",
            expected="--name NAME or --machine FILE",
        )
    best = diagnosis.findings[0]
    return [
        LogRow(
            time=time,
            machine=called,
            engine=setup.engine.id,
            converter=setup.converter.id,
            test=item.reading.test,
            gear=tidy_name(item.reading.gear),
            brakes=item.reading.brakes,
            engine_speed_rpm=float(from_si(item.reading.engine_speed, "rpm", "angular_speed")),
            oil_temperature_degc=in_plain(item.reading.oil_temperature, "temperature"),
            expected_low_rpm=in_plain(item.band.low, "angular_speed"),
            expected_high_rpm=in_plain(item.band.high, "angular_speed"),
            coverage=item.band.coverage,
            place=item.place,
            finding=tidy_name(best.code),
            share=best.share,
        )
        for item in diagnosis.judged
    ]


def draw_log(args: argparse.Namespace, kept: Kept) -> Drift | None:
    """Write the figures asked for; return the drift of the machine that the trend is of.

    Parameters
    ----------
    args : argparse.Namespace
    kept : Kept

    Raises
    ------
    InputError
        If there is no log, no row in it, or it is not clear which machine is meant.
    """
    from converter_match.present.drawing.style import save
    from converter_match.present.stall.figures import fleet_figure, trend_figure

    if args.log is None:
        raise InputError(
            "no log is named", source="--trend" if args.trend else "--fleet", expected="--log FILE"
        )
    logged = kept.all
    if not logged:
        raise InputError("no test in the log", source=args.log, hint=(kept.set_aside or (None,))[0])
    if args.fleet:
        save(fleet_figure(logged, system=args.units), args.fleet, args.overwrite)
    if not args.trend:
        return None
    machines = list(dict.fromkeys(row.machine for row in logged))
    name = args.name or (kept.rows[0].machine if kept.rows else machines[0])
    if name not in machines:
        raise InputError(
            "no such machine in the log",
            source="--name",
            found=name,
            expected=" | ".join(machines),
        )
    if args.name is None and not kept.rows and len(machines) > 1:
        raise InputError(
            "several machines in the log",
            source="--trend",
            expected=f"--name {' | '.join(machines)}",
        )
    chosen = [row for row in logged if row.machine == name]
    drift = drift_in(chosen)
    save(trend_figure(chosen, system=args.units, drift=drift), args.trend, args.overwrite)
    return drift


def drift_in(rows: Sequence[LogRow]) -> Drift | None:
    """Return the drift of a machine since its engine and converter were last changed.

    Parameters
    ----------
    rows : sequence of LogRow
        Of one machine, in the order of their times; of the kind of test that is there most often
        those are taken that have a band and are not void. None if there are none.
    """
    from converter_match.judgement.stall.drift import drift_of
    from converter_match.units import to_si

    pair = (rows[-1].engine, rows[-1].converter)
    banded = [row for row in rows if row.expected_low_rpm and row.place != "void"]
    kept: list[LogRow] = []
    for row in reversed(banded):
        if (row.engine, row.converter) != pair:
            break
        kept.insert(0, row)
    if not kept:
        return None
    tests = [row.test for row in kept]
    commonest = max(dict.fromkeys(tests), key=tests.count)
    kept = [row for row in kept if row.test == commonest]
    read, low, high = (
        [float(to_si(getattr(row, key), "rpm", "angular_speed")) for row in kept]
        for key in ("engine_speed_rpm", "expected_low_rpm", "expected_high_rpm")
    )
    return drift_of([row.time.timestamp() for row in kept], read, low, high)
