"""Verb ``identify``: a converter's characteristic from a machine's own log."""

from __future__ import annotations

import argparse

from converter_match.cli import arranged, options
from converter_match.errors import InputError

NAME = "identify"
HELP = "a converter's characteristic from a machine's own log"
DESCRIPTION = """\
Read a machine's log and say what characteristic its converter shows, with confidence bands, beside
the one on the sheet, and what driving would fill the gaps. Logs of any length: they are read in
pieces.

The head of the log names columns and units, for example

  time [s],engine speed [rpm],turbine speed [rpm],engine torque [percent]

Where known: oil temperature [degC]; turbine torque [N.m], or grade [%] with --machine, --driveline
and --gear.

Do not drive for the log what the machine maker or the site forbids; stall holds only by the maker's
procedure.

examples:
  converter-match identify log.csv --engine E.toml --converter C.toml --reference-torque 1004
  converter-match identify log.csv --json"""

_LARGEST_TORQUE = 1e6  # N.m, beyond any engine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("log", metavar="LOG.csv", help="the machine's log")
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
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    output.add_argument("--figure", metavar="FILE", help="curves and samples (.png, .svg or .pdf)")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Read the log, identify, write the figure, print; return the exit status."""
    from converter_match.judgement.identify.identify import LogBasis, identify
    from converter_match.library.machine_log import MachineLog
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
    reference = options.in_si(args.reference_torque, "--reference-torque", "torque", "N.m")
    if reference is not None and not 0 < reference <= _LARGEST_TORQUE:
        raise InputError(
            "out of range", source="--reference-torque", found=args.reference_torque,
            expected="a torque above zero, of an engine",
        )  # fmt: skip
    rolling = options.rolling_resistance_from(args)
    coverage = options.coverage_from(args)
    log = MachineLog(
        args.log,
        reference_torque=reference,
        peak_torque=None if engine is None else engine.peak_torque[1],
    )
    try:
        basis = LogBasis(
            engine=engine,
            converter=converter,
            hydraulic_torque=options.hydraulic_torque_from(args),
            machine=machine,
            driveline=driveline,
            gear=args.gear,
            laden=args.load == "laden",
            rolling_resistance=0.02 if rolling is None else rolling,
            coverage=0.95 if coverage is None else coverage,
            torque_in_percent=log.in_shares,
        )
    except InputError as error:
        typed = options.Typed("--coverage", args.coverage, "50 to 99.9 percent")
        raise options.as_typed(error, {"coverage": typed}).located(
            source=f"--{error.field}"
        ) from None
    try:
        result = identify((piece.columns for piece in log.pieces()), basis)
    except InputError as error:
        raise error.located(source=args.log) from None
    if args.figure:
        from converter_match.present.drawing.style import save
        from converter_match.present.figures.identify import identify_figure

        save(identify_figure(result, system=args.units), args.figure, args.overwrite)
    tally = log.tally
    if args.json:
        options.print_json({"file": args.log, **vars(tally), **result.to_dict()})
    else:
        longest = f" (longest {tally.longest_gap:.0f} s)" if tally.gaps else ""
        options.say(
            f"{args.log}: {tally.rows} rows, {tally.dropped} with an empty cell left out, "
            f"{tally.gaps} gaps in time{longest}"
        )
        options.say_answer(result, args.units)
    return 0
