"""Verb ``accelerate``: time and distance to a speed from rest."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from converter_match.cli import motored, options
from converter_match.cli.hand_out import hand_out
from converter_match.cli.response import add_response, response_from

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from converter_match.judgement.wheels.run import RunFromRest

NAME = "accelerate"
HELP = "time and distance to a speed, full throttle from rest"
DESCRIPTION = """\
Accelerate a machine from rest at full throttle and say when it has which speed, gear by gear.

examples:
  converter-match accelerate --engine six-cylinder-9l-240kw \\
      --converter single-stage-390mm-full-range --driveline six-speed-hauler \\
      --machine articulated-hauler-25t --surface "firm smooth earth" --to-speed 40
  converter-match accelerate --motor lift-truck-80v-30kw --direct 1.6 \\
      --driveline two-speed-lift-truck --machine lift-truck-5t --to-speed 12"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    options.add_pair(parser, motor=True, direct=True)
    group = parser.add_argument_group("components and route")
    for name in ("driveline", "machine"):
        group.add_argument(
            f"--{name}", required=True, metavar="FILE", help=f"{name} file, or id of a shipped one"
        )
    options.add_surface(group)  # type: ignore[arg-type]
    group.add_argument("--to-speed", required=True, metavar="KMH", help="target speed [km/h]")
    group.add_argument("--grade", metavar="PERCENT", help="rise / run [%%] (default 0)")
    group.add_argument(
        "--load", choices=("laden", "empty"), default="laden", help="load state (default: laden)"
    )
    group.add_argument("--gear", metavar="NAME", help="highest gear used")
    group.add_argument(
        "--method",
        choices=("quasi-steady", "dynamic"),
        help="engine on its match point, or with a speed of its own (default: quasi-steady; "
        "dynamic with --response)",
    )
    add_response(group)  # type: ignore[arg-type]
    options.add_conditions(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    output.add_argument("--figure", metavar="FILE", help="draw the run (.png, .svg, .pdf)")
    output.add_argument("--csv", metavar="FILE", help="write the run as CSV")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_csv_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Accelerate, print, write what was asked for; return the exit status."""
    from converter_match.errors import InputError
    from converter_match.judgement.match.solve import solve
    from converter_match.judgement.motor.acceleration import motor_acceleration
    from converter_match.judgement.wheels.acceleration import acceleration
    from converter_match.library.read import read_driveline, read_machine
    from converter_match.library.shipped import find

    motor = motored.is_motor(args, not_with=("--response",))
    driveline = read_driveline(find("drivelines", args.driveline))
    machine = read_machine(find("machines", args.machine))
    speed = options.in_si(args.to_speed, "--to-speed", "velocity", "km/h")
    grade = options.in_si(args.grade, "--grade", "ratio", "%") or 0.0
    if speed is None or not speed > 0.0:
        raise InputError(
            "out of range", source="--to-speed", found=args.to_speed, expected="above zero"
        )
    if not abs(grade) <= 1.0:
        raise InputError(
            "out of range", source="--grade", found=args.grade, expected="-100 % to 100 %"
        )
    surface = options.surface_from(args)
    asked: dict[str, Any] = {
        "to_speed": speed,
        "load": args.load,
        "grade": grade,
        "gear": args.gear,
    }
    result: RunFromRest
    try:
        if motor:
            asked["method"] = args.method or "quasi-steady"
            drive = motored.drive_from(args)
            result = motor_acceleration(drive, driveline, machine, surface, **asked)
        else:
            engine, converter = options.pair_from(args)
            match = solve(
                engine,
                converter,
                site=options.site_from(args),
                hydraulic_torque=options.hydraulic_torque_from(args),
            )
            response = response_from(args, engine)
            asked |= {"method": args.method, "response": response}
            result = acceleration(match, driveline, machine, surface, **asked)
    except InputError as error:
        typed = {
            name: options.Typed(f"--{name}", getattr(args, name)) for name in ("gear", "method")
        }
        raise options.as_typed(error, typed) from None

    def picture() -> Figure:
        from converter_match.present.figures.acceleration import acceleration_figure

        return acceleration_figure(result, system=args.units)

    return hand_out(args, result, table="run", picture=picture)
