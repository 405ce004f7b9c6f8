"""Verb ``hold``: how long a stall may be held before the oil is at its limit."""

from __future__ import annotations

import argparse

from converter_match.cli import arranged, motored, options
from converter_match.errors import InputError

NAME = "hold"
HELP = "how long a stall may be held before the oil is at its limit"
DESCRIPTION = """\
Say how long the machine may be held at stall, full throttle: the same answer as that of the verb
stall, with the heat and the oil temperatures behind it. This is a calculation, not a procedure: a
stall test can hurt people; the machine maker's procedure and local codes come first. Exit status 3:
there is no time for a hold, or no stall to hold.

examples:
  converter-match hold --engine six-cylinder-7l-185kw --converter single-stage-345mm-tight \\
      --machine wheel-loader-17t
  converter-match hold --motor lift-truck-80v-30kw --converter single-stage-260mm \\
      --machine lift-truck-5t"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    options.add_pair(parser, motor=True, direct=True)
    parser.add_argument(
        "--machine", required=True, metavar="FILE", help="machine file, or id of a shipped one"
    )
    parser.add_argument(
        "--oil-start",
        metavar="C",
        help="oil temperature at the start [degC] (default: the warmest allowed before a test)",
    )
    arranged.add_arrangement(parser)
    options.add_conditions(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    options.add_units(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Compute and print; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.stall.hold import stall_hold
    from converter_match.judgement.stall.setup import StallSetup
    from converter_match.library.read import read_machine
    from converter_match.library.shipped import find

    if motored.is_motor(args, not_with=("--arrangement",)):
        from converter_match.judgement.motor.hold import motor_hold

        machine = read_machine(find("machines", args.machine))
        start = options.oil_start_from(args)
        held = motor_hold(motored.drive_from(args), machine, oil_start=start)
        if args.json:
            options.print_json(held.to_dict())
        else:
            options.say_answer(held, args.units)
        return FAILS if held.fails else 0
    engine, converter = options.pair_from(args)
    arrangement, units = arranged.arranged_units_from(args, converter)
    machine = read_machine(find("machines", args.machine))
    site, hydraulic_torque = options.site_from(args), options.hydraulic_torque_from(args)
    oil_start = options.oil_start_from(args)
    try:
        setup = StallSetup(
            engine=engine,
            converter=units.whole,
            arrangement=arrangement,
            inside=units.inside,
            site=site,
            hydraulic_torque=hydraulic_torque,
            machine=machine,
            oil_temperature=oil_start,
        )
    except InputError as error:
        typed = options.Typed("--oil-start", args.oil_start)
        raise options.as_typed(error, {"oil_temperature": typed}) from None
    answer = stall_hold(setup)
    if args.json:
        options.print_json(answer.to_dict())
    else:
        options.say_answer(answer, args.units)
    return FAILS if answer.fails else 0
