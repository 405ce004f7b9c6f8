"""Verb ``identify``: a converter's characteristic from a machine's own log."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from converter_match.cli import arranged, options
from converter_match.cli.progress import progress_bar
from converter_match.cli.sweeping import add_sweeping, sweeping_from
from converter_match.errors import InputError
from converter_match.units import to_si

if TYPE_CHECKING:
    from converter_match.curves import FloatArray
    from converter_match.judgement.identify.identify import LogBasis
    from converter_match.library.files import FilePath
    from converter_match.library.log_columns import Taken
    from converter_match.library.log_series import LogPart, LogSeries

NAME = "identify"
HELP = "a converter's characteristic from a machine's own log"
DESCRIPTION = """\
Read a machine's log and say what characteristic its converter shows, with confidence bands, beside
the one on the sheet, and what driving would fill the gaps. Logs of any length: they are read in
pieces. Several files are one log; --machines takes a folder of machines, also partitioned by
machine and day: then each machine is followed over the months as well.

The head of the log names columns and units, for example

  time [s],engine speed [rpm],turbine speed [rpm],engine torque [percent]

Where known: oil temperature [degC]; gear; lock-up; friction torque [percent]; pump torque [N.m];
turbine torque [N.m], or grade [%] with --machine, --driveline and the gear. Other headings:
--column, kept for the next time by --save-columns. CSV, also packed or in the long form; Parquet,
MDF 4 and CAN traces with the extra 'logs'.

Do not drive for the log what the machine maker or the site forbids; stall holds only by the maker's
procedure.

examples:
  converter-match identify log.csv --engine E.toml --converter C.toml --reference-torque 1004
  converter-match identify log.parquet --column 'engine speed=EngSpeed [rpm]' \\
      --column 'turbine speed=TrbSpeed [rpm]' --column 'engine torque=EngTrq [N.m]' \\
      --column 'time=t [s]' --save-columns my-columns.toml
  converter-match identify trace.asc --database signals.dbc --columns my-columns.toml
  converter-match identify --machines my-machines --engine E.toml --converter C.toml \\
      --csv fleet.csv --figure fleet.png"""

_LARGEST_TORQUE = 1e6  # N.m, beyond any engine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("log", metavar="LOG", nargs="*", help="the machine's log, or its parts")
    logs = parser.add_argument_group("logs")
    logs.add_argument(
        "--machines",
        metavar="FOLDER",
        help="machines of one kind, each a file or a folder of files; or partitions "
        "machine=NAME/day=DATE, here or at the address of a store (s3://...)",
    )
    logs.add_argument(
        "--column", action="append", metavar="WORDS", help="'engine speed=NAME [rpm]'; repeatable"
    )
    logs.add_argument("--columns", metavar="FILE", help="such a map, saved before (.toml)")
    logs.add_argument("--save-columns", metavar="FILE", help="save the map that was used (.toml)")
    logs.add_argument(
        "--database", metavar="FILE", help="of the signals of a CAN trace (.dbc and the like)"
    )
    machine = parser.add_argument_group("machine")
    for name, what in (
        ("engine", "its loads and inertia are deducted from the torque"),
        ("converter", "to compare with"),
        ("machine", "with a grade column: mass and tyres"),
        ("driveline", "with a grade column: ratios and losses"),
    ):
        machine.add_argument(f"--{name}", metavar="FILE", help=f"file or shipped id; {what}")
    arranged.add_arrangement(machine)
    machine.add_argument("--gear", metavar="NAME", help="in which the log was driven")
    machine.add_argument("--load", choices=("laden", "empty"), default="laden")
    machine.add_argument(
        "--rolling-resistance",
        metavar="PCT",
        help="percent of weight (default 2, listed as an assumption)",
    )
    machine.add_argument(
        "--reference-torque", metavar="NM", help="what 100 percent torque is [N.m]"
    )
    machine.add_argument(
        "--hydraulic-torque", metavar="NM", help="taken at the flywheel by implement pumps [N.m]"
    )
    machine.add_argument("--coverage", metavar="PCT", help="of the bands (95)")
    add_sweeping(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    output.add_argument("--figure", metavar="FILE", help="curves and samples (.png, .svg or .pdf)")
    output.add_argument("--csv", metavar="FILE", help="table of the fleet (.csv)")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_csv_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Read the logs, identify, write what was asked for, print; return the exit status."""
    if bool(args.log) == bool(args.machines):
        raise InputError(
            "no log" if not args.log else "a log and a fleet are two questions",
            source="LOG",
            expected="LOG, or --machines FOLDER",
        )
    if args.csv and not args.machines:
        raise InputError("a table is made of a fleet", source="--csv", expected="--machines FOLDER")
    reading = _Reading.of(args)
    return _fleet(args, reading) if args.machines else _machine(args, reading)


@dataclass(frozen=True, eq=False)
class _Reading:
    """How logs are read: what is known of the machine, and which column is what."""

    basis: LogBasis
    reference_torque: float | None
    columns: dict[str, Taken]
    database: str | None

    @classmethod
    def of(cls, args: argparse.Namespace) -> _Reading:
        from converter_match.library.log_columns import parse_column, read_column_map

        reference = options.in_si(args.reference_torque, "--reference-torque", "torque", "N.m")
        if reference is not None and not 0 < reference <= _LARGEST_TORQUE:
            raise InputError(
                "out of range", source="--reference-torque", found=args.reference_torque,
                expected="a torque above zero, of an engine",
            )  # fmt: skip
        columns = {} if args.columns is None else read_column_map(args.columns)
        columns |= dict(parse_column(text, source="--column") for text in args.column or ())
        return cls(_basis(args), reference, columns, args.database)

    def key(self) -> str:
        """Return what is known and how logs are read, as a text to tell it from others."""
        from converter_match.library.files import read_bytes

        known = [getattr(self.basis, item.name) for item in fields(self.basis)]
        told = [one.fingerprint() if hasattr(one, "fingerprint") else repr(one) for one in known]
        signals = "" if self.database is None else sha256(read_bytes(self.database)).hexdigest()
        return "\n".join([*told, repr(self.reference_torque), repr(self.columns), signals])

    def series(self, paths: Sequence[FilePath]) -> tuple[LogSeries, LogBasis]:
        """Return some files as one log, and what is known of the machine that wrote it."""
        from converter_match.library.log_series import LogSeries
        from converter_match.library.machine_log import MachineLog

        engine = self.basis.engine
        logs = [
            MachineLog(
                path,
                reference_torque=self.reference_torque,
                peak_torque=None if engine is None else engine.peak_torque[1],
                columns=self.columns,
                database=self.database,
            )
            for path in paths
        ]
        unit = logs[0].units.get("engine torque", "")
        shares = logs[0].in_shares
        size = None if shares or not unit else float(to_si(1.0, unit, "torque"))
        basis = replace(self.basis, torque_in_percent=shares, torque_unit=size)
        return LogSeries(logs), basis


def _basis(args: argparse.Namespace) -> LogBasis:
    from converter_match.judgement.identify.identify import LogBasis
    from converter_match.library.read import (
        read_converter,
        read_driveline,
        read_engine,
        read_machine,
    )
    from converter_match.library.shipped import find

    engine = None if args.engine is None else read_engine(find("engines", args.engine))
    converter = (
        None if args.converter is None else read_converter(find("converters", args.converter))
    )
    if args.arrangement is not None:
        if converter is None:
            raise InputError(
                "which converter is arranged?", source="--arrangement", found=args.arrangement,
                expected="--converter as well",
            )  # fmt: skip
        converter = arranged.arranged_units_from(args, converter)[1].whole
    machine = None if args.machine is None else read_machine(find("machines", args.machine))
    driveline = (
        None if args.driveline is None else read_driveline(find("drivelines", args.driveline))
    )
    rolling = options.rolling_resistance_from(args)
    coverage = options.coverage_from(args)
    try:
        return LogBasis(
            engine=engine,
            converter=converter,
            hydraulic_torque=options.hydraulic_torque_from(args),
            machine=machine,
            driveline=driveline,
            gear=args.gear,
            laden=args.load == "laden",
            rolling_resistance=0.02 if rolling is None else rolling,
            coverage=0.95 if coverage is None else coverage,
        )
    except InputError as error:
        typed = options.Typed("--coverage", args.coverage, "50 to 99.9 percent")
        raise options.as_typed(error, {"coverage": typed}).located(
            source=f"--{error.field}"
        ) from None


def _machine(args: argparse.Namespace, reading: _Reading) -> int:
    from converter_match.judgement.identify.identify import identify

    series, basis = reading.series(args.log)
    try:
        result = identify(series.pieces(), basis)
    except InputError as error:
        raise error.located(source=", ".join(args.log)) from None
    if args.save_columns:
        from converter_match.library.log_columns import column_map_text

        taken = series.logs[0].taken or reading.columns
        if not taken:
            raise InputError(
                "the headings of the log are ours: there is nothing to keep",
                source="--save-columns",
                expected="a log with other headings, and --column",
            )
        options.write_text(
            args.save_columns, column_map_text(taken), overwrite=args.overwrite,
            option="--save-columns",
        )  # fmt: skip
    if args.figure:
        from converter_match.present.drawing.style import save
        from converter_match.present.figures.identify import identify_figure

        save(identify_figure(result, system=args.units), args.figure, args.overwrite)
    tally, name = series.tally, ", ".join(args.log)
    if args.json:
        files = {"file": args.log[0]} | ({"files": args.log} if len(args.log) > 1 else {})
        options.print_json({**files, **vars(tally), **result.to_dict()})
        return 0
    longest = f" (longest {tally.longest_gap:.0f} s)" if tally.gaps else ""
    options.say(
        f"{name}: {tally.rows} rows, {tally.dropped} with an empty cell left out, "
        f"{tally.gaps} gaps in time{longest}"
    )
    for role, column in series.logs[0].taken.items():
        unit = f" [{column.unit}]" if column.unit else ""
        options.say(f"  {role}: {column.name}{unit}")
    options.say_answer(result, args.units)
    return 0


def _fleet(args: argparse.Namespace, reading: _Reading) -> int:
    from converter_match.cli import PARTIAL
    from converter_match.judgement.identify.fleet import OfMachine, fleet_of
    from converter_match.library.log_series import fleet_files
    from converter_match.library.log_store import as_shown
    from converter_match.tasks.sweep import sweep

    if reading.basis.converter is None:
        raise InputError(
            "nothing to compare the machines by",
            source="--machines", found=as_shown(args.machines), expected="--converter as well",
        )  # fmt: skip
    where = args.machines
    if args.cluster is not None:  # whose workers run in other folders
        where = _whole(where)
        reading = replace(reading, database=reading.database and _whole(reading.database))
    files = list(fleet_files(where).items())
    with sweeping_from(args) as (workers, store):
        keys = None if store is None else _keys(reading, files)
        swept = sweep(
            _of_fleet, files, shared=reading, workers=workers, progress=progress_bar(),
            what="logs", store=None if keys is None else store, keys=keys,
        )  # fmt: skip
    lost = {item.piece: item.why for item in swept.lost}
    fleet = fleet_of(
        [
            OfMachine(files[k][0], None, lost[k]) if k in lost else OfMachine.from_plain(found)
            for k, found in enumerate(swept.results)
        ]
    )
    if args.csv:
        options.write_csv(args, fleet, "fleet")
    if args.figure:
        from converter_match.present.drawing.style import save
        from converter_match.present.figures.log_fleet import log_fleet_figure

        save(log_fleet_figure(fleet), args.figure, args.overwrite)
    if args.json:
        options.print_json({"folder": as_shown(args.machines), **fleet.to_dict()})
    else:
        options.say_answer(fleet, args.units)
    return 0 if fleet.complete else PARTIAL


def _whole(path: str) -> str:
    """Return a path from the root on; an address stays."""
    from converter_match.library.log_store import is_address

    return path if is_address(path) else os.path.abspath(path)


def _keys(reading: _Reading, machines: Sequence[tuple[str, Sequence[LogPart]]]) -> list[str] | None:
    """Return what the result of each machine depends on; None where that cannot be told.

    Files count by name, size and time of change: to read them all would be the work itself. What
    lies in a store is read each time: one that does not answer once would be kept as damaged.
    """
    own, keys = reading.key(), []
    for name, parts in machines:
        stamps = [part.stamps() for part in parts]
        known = [stamp for stamp in stamps if stamp is not None]
        if len(known) < len(stamps):
            return None
        keys.append("\n".join([own, name, *known]))
    return keys


def _of_fleet(reading: _Reading, machine: tuple[str, Sequence[LogPart]]) -> dict[str, Any]:
    """Return what the logs of one machine say, whichever of its parts can be read."""
    from converter_match.judgement.identify.parts import Part, of_parts

    name, parts = machine
    opened = [Part(part.day, part.month, partial(_opened, reading, part)) for part in parts]
    return of_parts(name, opened).as_plain()


def _opened(
    reading: _Reading, part: LogPart
) -> tuple[Iterator[Mapping[str, FloatArray]], LogBasis]:
    """Return the pieces of a part, whose errors name its files."""
    series, basis = reading.series(part.paths)
    named = ", ".join(map(str, part.paths))

    def pieces() -> Iterator[Mapping[str, FloatArray]]:
        try:
            yield from series.pieces()
        except InputError as error:
            raise error.located(source=named) from None

    return pieces(), basis
