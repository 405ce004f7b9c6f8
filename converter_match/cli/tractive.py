"""Verb ``tractive``: what the machine does at the wheels."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from converter_match.cli import motored, options
from converter_match.cli.hand_out import hand_out
from converter_match.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from converter_match.components.driveline import Driveline
    from converter_match.judgement.motor.tractive_result import MotorTractive

NAME = "tractive"
HELP = "tractive effort, speeds on grades, shift points and heat of a machine"
DESCRIPTION = """\
Carry a match to the wheels: tractive effort of every gear in converter and lock-up drive, top
speed, speed on grades, startability, continuous grade, shift points.

All at full throttle. Whether brakes hold on a grade and whether the machine stays upright there is
not judged: the machine maker's limits and the rules of the site come first.

examples:
  converter-match tractive --engine six-cylinder-7l-185kw --converter single-stage-345mm-tight \\
      --driveline four-speed-loader --machine wheel-loader-17t --surface 'firm smooth earth'
  converter-match tractive --engine E.toml --converter C.toml --driveline D.toml --machine M.toml \\
      --rolling-resistance 4 --traction 0.5 --load empty --grades 0,8,12 --figure tractive.png
  converter-match tractive --motor lift-truck-80v-30kw --direct 1.6 \\
      --driveline two-speed-lift-truck --machine lift-truck-5t"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    options.add_pair(parser, motor=True, direct=True)
    machine = parser.add_argument_group("what to drive")
    for name, what in (("driveline", "driveline"), ("machine", "machine")):
        machine.add_argument(
            f"--{name}",
            required=True,
            metavar="FILE",
            help=f"{what} file, or the id of a shipped one",
        )
    machine.add_argument(
        "--load", choices=("laden", "empty"), default="laden", help="load state (default: laden)"
    )
    machine.add_argument(
        "--gear-lockup",
        metavar="GEARS",
        help="gears that lock up, in place of those the driveline names: 2,3,4 or all or none",
    )
    options.add_conditions(parser)
    ground = parser.add_argument_group("ground")
    options.add_surface(ground)  # type: ignore[arg-type]
    ground.add_argument(
        "--grades", metavar="PCT,...", help="grades to climb in percent (default: 0,5,...,30)"
    )
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    output.add_argument("--csv", metavar="FILE", help="write the curve of every gear as CSV")
    output.add_argument("--figure", metavar="FILE", help="write the diagram (.png, .svg or .pdf)")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_csv_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Compute, write what was asked for, print; return the exit status."""
    from converter_match.judgement.match.solve import solve
    from converter_match.judgement.wheels.reached import tractive_from_rest
    from converter_match.judgement.wheels.tractive import GRADES
    from converter_match.library.read import read_driveline, read_machine
    from converter_match.library.shipped import find

    driveline = _locked(read_driveline(find("drivelines", args.driveline)), args.gear_lockup)
    machine = read_machine(find("machines", args.machine))
    surface = options.surface_from(args)
    grades = GRADES if args.grades is None else _grades(args.grades)
    if motored.is_motor(args):
        from converter_match.judgement.motor.tractive import motor_tractive

        drive = motored.drive_from(args)
        at_wheels = motor_tractive(
            drive, driveline, machine, surface, load=args.load, grades=grades
        )
        return _motor_out(at_wheels, args)
    engine, converter = options.pair_from(args)
    match = solve(
        engine,
        converter,
        site=options.site_from(args),
        hydraulic_torque=options.hydraulic_torque_from(args),
    )
    result = tractive_from_rest(match, driveline, machine, surface, load=args.load, grades=grades)

    def picture() -> Figure:
        from converter_match.present.figures.tractive import tractive_figure

        return tractive_figure(result, system=args.units)

    return hand_out(args, result, table="curve", picture=picture)


def _motor_out(result: MotorTractive, args: argparse.Namespace) -> int:
    """Write and print what a motor does at the wheels; return the exit status."""

    def picture() -> Figure:
        from converter_match.present.figures.motor_tractive import motor_tractive_figure

        return motor_tractive_figure(result, system=args.units)

    return hand_out(args, result, table="envelope_peak", picture=picture)


def _grades(text: str) -> list[float]:
    """Return the grades of a list as rise / run."""
    from converter_match.judgement.wheels.tractive import checked_grades

    grades = []
    for part in text.split(","):
        grade = options.in_si(part, "--grades", "weight_share", "%")
        assert grade is not None  # a part is a text
        try:
            checked_grades([grade])
        except InputError as error:
            typed = options.Typed("--grades", part.strip())
            raise options.as_typed(error, {"grades": typed}) from None
        grades.append(grade)
    return grades


def _locked(driveline: Driveline, names: str | None) -> Driveline:
    """Return the driveline with lock-up in the gears named."""
    from converter_match.judgement.wheels.tractive import with_lock_up

    if names is None:
        return driveline
    if names.strip().casefold() == "none":
        return with_lock_up(driveline, ())
    if names.strip().casefold() == "all":
        return with_lock_up(driveline, [gear.name for gear in driveline.gears])
    try:
        return with_lock_up(driveline, [name.strip() for name in names.split(",")])
    except InputError as error:
        raise InputError(
            error.problem,
            source="--gear-lockup",
            found=error.found,
            expected=error.expected,
            hint=error.hint,
        ) from None
