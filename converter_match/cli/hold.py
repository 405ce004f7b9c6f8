"""Verb ``hold``: how long a stall may be held before the oil is at its limit."""

from __future__ import annotations

import argparse

from converter_match.cli import options

NAME = "hold"
HELP = "how long a stall may last before the oil is at its limit"
DESCRIPTION = """\
Say how fast the oil heats up while the machine is held at stall, full throttle, and when it is at
its limit. This is a calculation, not a procedure: a stall test can hurt people; the machine maker's
procedure and local rules come first. Exit status 3: the oil is at its limit from the start.

examples:
  converter-match hold --engine six-cylinder-7l-185kw --converter single-stage-345mm-tight \\
      --machine wheel-loader-17t"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    options.add_pair(parser)
    parser.add_argument(
        "--machine", required=True, metavar="FILE", help="machine file, or id of a shipped one"
    )
    parser.add_argument("--oil-start", metavar="C", help="oil temperature at the start [degC]")
    options.add_conditions(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    options.add_units(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Compute and print; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.match.solve import solve
    from converter_match.judgement.stall.oil_hold import stall_hold
    from converter_match.library.read import read_machine
    from converter_match.library.shipped import find

    engine, converter = options.pair_from(args)
    match = solve(
        engine,
        converter,
        site=options.site_from(args),
        hydraulic_torque=options.hydraulic_torque_from(args),
    )
    result = stall_hold(
        match,
        read_machine(find("machines", args.machine)),
        oil_start=options.oil_start_from(args),
    )
    if args.json:
        options.print_json(result.to_dict())
    else:
        options.say(result.text(args.units))
    return FAILS if result.fails else 0
