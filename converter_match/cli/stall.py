"""Verb ``stall``: what stall speed to expect, and what the readings of a test say."""

from __future__ import annotations

import argparse
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from converter_match.cli import arranged, motored, options
from converter_match.cli.stall_motor import run_motor
from converter_match.cli.tests_kept import Kept, draw_log, kept_of, rows_of
from converter_match.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from converter_match.answer.noted import Answer
    from converter_match.components.converter import Converter
    from converter_match.components.reading import StallReading
    from converter_match.judgement.stall.drift import Drift
    from converter_match.judgement.stall.expectation import StallExpectation
    from converter_match.judgement.stall.result import StallDiagnosis
    from converter_match.judgement.stall.setup import StallSetup
    from converter_match.library.stall_log_table import LogRow

NAME = "stall"
HELP = "stall test: expected band, one-page sheet, diagnosis of readings, log"
DESCRIPTION = """\
Say what stall speed to expect of a machine today, print a sheet for the test, and rank what may be
wrong by the readings.

A stall test can hurt people: the machine can break loose, and the oil gets hot in seconds. The
machine maker's procedure, local codes and site rules come first. Trained people, a clear zone with
nobody in front, behind or under, open level ground, wheels chocked, parking brake on, brakes
tested; oil level and temperature right; short holds, cooling down in neutral between them.

examples:
  converter-match stall --engine six-cylinder-7l-185kw --converter single-stage-345mm-tight \\
      --machine wheel-loader-17t --driveline four-speed-loader --expect --sheet sheet.html
  converter-match stall --engine E.toml --converter C.toml --driveline D.toml --altitude 2000 \\
      --reading 'gear=3 speed=1600 oil=85degC brakes=held' \\
      --reading 'test=both gear=3 speed=1380 oil=88degC brakes=held' --relief-torque 250 \\
      --name 'loader 4' --log tests.csv --trend trend.png
  converter-match stall --log tests.csv --fleet fleet.png
  converter-match stall --motor lift-truck-80v-30kw --converter single-stage-260mm \\
      --machine lift-truck-5t --driveline two-speed-lift-truck --sheet sheet.html

keys of a reading: speed, gear, direction, brakes (held, let-go, not-stated), oil, air, pump
(standby, relief), test (converter, hydraulic, both, road, governed: top governed speed in neutral),
turbine (of a road reading)."""
_SPAN = re.compile(r"\s*([\d.]+)\s*(?:\.\.|-|to)\s*([\d.]+)\s*([^\d\s].*?)?\s*")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    machine = parser.add_argument_group("machine")
    for name in ("engine", "motor", "converter", "driveline", "machine"):
        first = "in the engine's place: electric motor" if name == "motor" else name
        machine.add_argument(
            f"--{name}", metavar="FILE", help=f"{first} file, or the id of a shipped one"
        )
    machine.add_argument(
        "--voltage", metavar="V", help="supply of the motor [V] (default: the nominal one)"
    )
    arranged.add_arrangement(machine)
    machine.add_argument(
        "--relief-torque",
        metavar="NM",
        help="taken at the flywheel by the implement pumps at relief [N.m], for combined tests",
    )
    machine.add_argument(
        "--published", metavar="LOW..HIGH", help="the maker's stall speeds [rpm]: 2000..2500"
    )
    machine.add_argument(
        "--maker-hold", metavar="S", help="longest hold that the machine maker allows [s]"
    )
    options.add_conditions(parser)
    ground = parser.add_argument_group("ground: in which gears the machine breaks loose")
    options.add_surface(ground)  # type: ignore[arg-type]
    ground.add_argument(
        "--load", choices=("empty", "laden"), default="empty", help="of the machine in the test"
    )
    test = parser.add_argument_group("test")
    test.add_argument("--expect", action="store_true", help="print the band (what is done alone)")
    test.add_argument(
        "--reading", action="append", metavar="WORDS", help="'gear=3 speed=1750 oil=85degC'"
    )
    test.add_argument("--readings", metavar="FILE", help="readings as CSV, units in the head")
    test.add_argument("--oil-temperature", metavar="C", help="of the transmission oil [degC]")
    test.add_argument(
        "--coverage", metavar="PCT", help="of the band, in percent of healthy machines (95)"
    )
    test.add_argument(
        "--engine-tolerance",
        metavar="PCT",
        help="half width of the engine's or motor's torque (3)",
    )
    test.add_argument(
        "--capacity-tolerance", metavar="PCT", help="half width of the capacity at 95 %% (5)"
    )
    test.add_argument(
        "--library",
        metavar="FOLDER",
        help="converter files that may have been fitted instead (default: the shipped ones)",
    )
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print everything as JSON")
    output.add_argument("--sheet", metavar="FILE", help="one-page test sheet (.html or .pdf)")
    output.add_argument(
        "--figure", metavar="FILE", help="what explains the readings (.png, .svg or .pdf)"
    )
    output.add_argument("--log", metavar="FILE", help="log of tests (.csv) to add the readings to")
    output.add_argument(
        "--name", metavar="NAME", help="of this machine in the log and on the sheet"
    )
    output.add_argument("--date", metavar="TIME", help="of the test, ISO 8601 (default: now)")
    output.add_argument(
        "--trend", metavar="FILE", help="figure of one machine over time, from --log"
    )
    output.add_argument("--fleet", metavar="FILE", help="figure of all machines, from --log")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Judge, write what was asked for, add to the log, print; return the exit status."""
    from converter_match.cli import FAILS

    if args.motor is not None:
        if args.engine is not None:
            raise InputError("does not go with --engine: one of the two", source="--motor")
        return run_motor(args, name=_name(args.name), published=_published)
    motored.is_motor(args)
    readings = _readings(args)
    typed, args.name = args.name, _name(args.name)
    if args.log and not (readings or args.trend or args.fleet):
        raise InputError(
            "nothing to keep in the log or to draw from it",
            source="--log",
            expected="--reading, --trend or --fleet as well",
        )
    only_log = args.log and (args.trend or args.fleet) and not (
        args.expect or readings or args.sheet
    )  # fmt: skip
    expectation = diagnosis = None
    rows: list[LogRow] = []
    if not only_log:
        setup = _setup(args)
        from converter_match.judgement.stall.expectation import expect

        if args.expect or args.sheet or not readings:
            expectation = expect(setup)
        if readings:
            from converter_match.judgement.stall.diagnosis import diagnose

            diagnosis = diagnose(setup, readings, _library(args))
            if args.log:
                rows = rows_of(args.name, _time(args), setup, diagnosis)
    kept = kept_of(args.log, rows)
    drift = _write(args, expectation, diagnosis, kept)
    if args.json:
        options.print_json(
            {
                "expectation": expectation.to_dict() if expectation else None,
                "diagnosis": diagnosis.to_dict() if diagnosis else None,
                "log": kept.to_dict(),
                **({"name_written_as": args.name} if args.name != typed else {}),
                **({"drift": drift.to_dict()["drift"]} if drift else {}),
            }
        )
    else:
        _print([expectation, diagnosis, drift], kept, args)
        if args.name != typed:
            options.say(f"--name: control characters or too long; written as {args.name!r}")
    failing = (expectation is not None and expectation.fails) or (
        diagnosis is not None and diagnosis.fails
    )
    return FAILS if failing else 0


# --- what comes in --------------------------------------------------------------------------------


def _name(typed: str | None) -> str | None:
    """Return the name of a machine as log and figures can hold it: no reading is lost over it."""
    if typed is None:
        return None
    from converter_match.library.stall_log_table import tidy_name

    return tidy_name(typed)


def _readings(args: argparse.Namespace) -> list[StallReading]:
    from converter_match.library.stall_readings import parse_reading, read_readings

    readings = [
        parse_reading(text, source=f"--reading {number}")
        for number, text in enumerate(args.reading or (), start=1)
    ]
    if args.readings is not None:
        readings += read_readings(args.readings)
    return readings


def _setup(args: argparse.Namespace) -> StallSetup:
    from converter_match.judgement.stall.setup import StallSetup, Tolerances
    from converter_match.library.read import read_driveline, read_machine
    from converter_match.library.shipped import find

    for name in ("engine", "converter"):
        if getattr(args, name) is None:
            raise InputError(
                "needed here", source=f"--{name}", expected="a file, or the id of a shipped one"
            )
    engine, converter = options.pair_from(args)
    arrangement, units = arranged.arranged_units_from(args, converter)
    torque = options.in_si(args.engine_tolerance, "--engine-tolerance", "ratio", "%")
    capacity = options.in_si(args.capacity_tolerance, "--capacity-tolerance", "ratio", "%")
    try:
        tolerances = Tolerances(
            engine_torque=Tolerances.engine_torque if torque is None else torque,
            capacity=Tolerances.capacity if capacity is None else capacity,
        )
    except InputError as error:
        widest = "above 0, at most {} %"
        typed = {
            "engine_torque": options.Typed(
                "--engine-tolerance", args.engine_tolerance, widest.format(30)
            ),
            "capacity": options.Typed(
                "--capacity-tolerance", args.capacity_tolerance, widest.format(50)
            ),
        }
        raise options.as_typed(error, typed) from None
    oil = options.in_si(args.oil_temperature, "--oil-temperature", "temperature", "degC")
    relief_torque = options.in_si(args.relief_torque, "--relief-torque", "torque", "N.m")
    published = _published(args.published)
    maker_hold = options.in_si(args.maker_hold, "--maker-hold", "time", "s")
    coverage = options.coverage_from(args)
    machine = None if args.machine is None else read_machine(find("machines", args.machine))
    driveline = (
        None if args.driveline is None else read_driveline(find("drivelines", args.driveline))
    )
    try:
        return StallSetup(
            engine=engine,
            converter=units.whole,
            arrangement=arrangement,
            inside=units.inside,
            site=options.site_from(args),
            hydraulic_torque=options.hydraulic_torque_from(args),
            driveline=driveline,
            machine=machine,
            tolerances=tolerances,
            coverage=StallSetup.coverage if coverage is None else coverage,
            oil_temperature=oil,
            relief_torque=relief_torque,
            published=published,
            maker_hold=maker_hold,
            load=args.load,
            surface=options.surface_from(args),
        )
    except InputError as error:
        typed = {
            name: options.Typed(f"--{name.replace('_', '-')}", getattr(args, name), expected)
            for name, expected in (
                ("oil_temperature", None),
                ("relief_torque", "a torque above zero"),
                ("published", None),
                ("maker_hold", None),
                ("coverage", "50 to 99.9 %"),
            )
        }
        raise options.as_typed(error, typed) from None


def _published(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    parts = _SPAN.fullmatch(text)
    if parts is None:
        raise InputError(
            "not a span of speeds", source="--published", found=text, expected="2000..2500"
        )
    from converter_match.units import to_si

    unit = parts[3] or "rpm"
    try:
        low, high = (float(parts[k]) for k in (1, 2))
    except ValueError:
        raise InputError(
            "not a span of speeds", source="--published", found=text, expected="2000..2500"
        ) from None
    return (
        to_si(low, unit, "angular_speed", source="--published"),
        to_si(high, unit, "angular_speed", source="--published"),
    )


def _library(args: argparse.Namespace) -> list[Converter]:
    from converter_match.library.read import read_converter
    from converter_match.library.shipped import read_all

    if args.library is None:
        others = read_all("converters")
    else:
        folder = Path(args.library)
        if not folder.is_dir():
            raise InputError("no such folder", source="--library", found=args.library)
        others = [read_converter(path) for path in sorted(folder.glob("*.toml"))]
    fitting = []
    for other in others:
        try:
            fitting.append(arranged.arranged_units_from(args, other)[1].whole)
        except InputError:  # one that does not go into this arrangement cannot have been fitted
            continue
    return fitting


def _time(args: argparse.Namespace) -> datetime:
    """Return when the test was: as stated, or now."""
    if args.date is None:
        return datetime.now(UTC).replace(microsecond=0)
    from converter_match.library.stall_log_table import parse_time

    return parse_time(args.date, source="--date", field="time")


# --- what goes out --------------------------------------------------------------------------------


def _write(
    args: argparse.Namespace,
    expectation: StallExpectation | None,
    diagnosis: StallDiagnosis | None,
    kept: Kept,
) -> Drift | None:
    """Write pages and figures first: the log grows only when all else has worked."""
    if args.sheet and expectation is not None:
        from converter_match.present.stall.sheet import save_sheet

        save_sheet(
            expectation,
            args.sheet,
            machine_name=args.name or "",
            system=args.units,
            overwrite=args.overwrite,
        )
    if args.figure:
        if diagnosis is None:
            raise InputError("no reading to draw", source="--figure", expected="--reading as well")
        from converter_match.present.drawing.style import save
        from converter_match.present.stall.figures import explanations_figure

        save(explanations_figure(diagnosis, system=args.units), args.figure, args.overwrite)
    drift = draw_log(args, kept) if args.trend or args.fleet else None
    if kept.rows:
        from converter_match.library.stall_log import append_rows

        append_rows(args.log, kept.rows, late=args.date is not None)
    return drift


def _print(asked: Sequence[Answer | None], kept: Kept, args: argparse.Namespace) -> None:
    answers = [answer for answer in asked if answer is not None]
    for number, answer in enumerate(answers):
        if number:
            print()
        options.say_answer(answer, args.units)
    lines = [f"Left out, cannot be used: {row}" for row in kept.set_aside]
    written = [name for name in (args.sheet, args.figure, args.trend, args.fleet) if name]
    if written:
        lines.append("Written: " + ", ".join(written))
    if kept.rows:
        count = len(kept.rows)
        lines.append(f"Added to {args.log}: {count} reading{'s' if count > 1 else ''}")
    if answers and lines:
        print()
    for line in lines:
        options.say(line)
