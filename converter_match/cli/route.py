"""Verb ``route``: drive a machine along a haul route."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from converter_match.cli import motored, options
from converter_match.cli.hand_out import hand_out
from converter_match.cli.response import add_response, response_from

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from converter_match.components.driveline import Driveline
    from converter_match.components.machine import Machine
    from converter_match.components.surface import Surface
    from converter_match.judgement.match.result import MatchResult

NAME = "route"
HELP = "drive a machine along a haul route: time, fuel, heat, braking"
DESCRIPTION = """\
Drive a machine along a haul route and say what the cycle takes.

The route is a CSV file, one segment per row: length, grade, surface, speed limit, load, stop; each
number's unit stands in the head, as in `grade [%]`. Prints the cycle (time, t/h, L/h, L/t), every
segment, and where the engine cannot hold the machine back downhill. A number is a help: grades,
speeds and brakes are matters of the machine maker's tables and the site's rules.

examples:
  converter-match route --engine six-cylinder-9l-240kw --converter single-stage-390mm-full-range \\
      --driveline six-speed-hauler --machine articulated-hauler-25t --route quarry-to-crusher
  converter-match route --engine my-engine.toml --converter my-converter.toml \\
      --driveline my-driveline.toml --machine my-machine.toml --route my-route.csv \\
      --altitude '6500 ft' --units us --csv steps.csv --figure route.png"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    options.add_pair(parser, motor=True, direct=True)
    group = parser.add_argument_group("components and route")
    for name, what in (("driveline", "driveline"), ("machine", "machine")):
        group.add_argument(
            f"--{name}", required=True, metavar="FILE", help=f"{what} file, or id of a shipped one"
        )
    where = group.add_mutually_exclusive_group(required=True)
    where.add_argument("--route", metavar="FILE", help="route (CSV), or the id of a shipped one")
    where.add_argument(
        "--cycle", metavar="FILE", help="loader's short cycle (CSV), or the id of a shipped one"
    )
    group.add_argument("--surfaces", metavar="FILE", help="surfaces of your own (CSV or TOML)")
    group.add_argument("--fuel-map", metavar="FILE", help="fuel map (CSV: speed, torque, rate)")
    group.add_argument(
        "--braking",
        metavar="M/S2",
        help="slowing down ahead of limits and stops [m/s2] (default 0.8)",
    )
    group.add_argument("--oil-start", metavar="C", help="oil temperature at the start [degC]")
    add_response(group)  # type: ignore[arg-type]
    options.add_conditions(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    output.add_argument("--figure", metavar="FILE", help="write the figure (.png, .svg or .pdf)")
    output.add_argument("--csv", metavar="FILE", help="write every step as CSV")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_csv_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Drive, print, write what was asked for; return the exit status."""
    from converter_match.errors import InputError
    from converter_match.judgement.haul.haul import haul
    from converter_match.judgement.match.solve import solve
    from converter_match.library.fuel_csv import read_fuel_map
    from converter_match.library.read import read_driveline, read_machine
    from converter_match.library.route_csv import find_route, read_route
    from converter_match.library.shipped import find
    from converter_match.library.surfaces import read_surfaces

    motor = motored.is_motor(args, not_with=("--fuel-map", "--response"))
    driveline = read_driveline(find("drivelines", args.driveline))
    machine = read_machine(find("machines", args.machine))
    surfaces = read_surfaces()
    if args.surfaces:
        surfaces = (*read_surfaces(args.surfaces), *surfaces)
    fuel_map = read_fuel_map(args.fuel_map) if args.fuel_map else None
    if motor and args.cycle:
        return _motor_cycle(args, driveline, machine, surfaces)
    if motor:
        return _motor(args, driveline, machine, surfaces)
    engine, converter = options.pair_from(args)
    match = solve(
        engine,
        converter,
        site=options.site_from(args),
        hydraulic_torque=options.hydraulic_torque_from(args),
    )
    if args.response is not None and not args.cycle:
        raise InputError("goes with a short cycle (--cycle) only", source="--response")
    oil_start = options.oil_start_from(args)
    if args.cycle:
        return _cycle(args, match, driveline, machine, surfaces, oil_start)
    result = haul(
        match,
        driveline,
        machine,
        read_route(find_route(args.route), surfaces),
        fuel_map=fuel_map,
        braking=braking_from(args),
        oil_start=oil_start,
    )

    def picture() -> Figure:
        from converter_match.present.figures.route import route_figure

        return route_figure(result, system=args.units)

    return hand_out(args, result, table="steps", picture=picture)


def _motor(
    args: argparse.Namespace,
    driveline: Driveline,
    machine: Machine,
    surfaces: tuple[Surface, ...],
) -> int:
    """Run a route with a motor in the engine's place; return the exit status."""
    from converter_match.judgement.motor.route import motor_route
    from converter_match.library.route_csv import find_route, read_route

    braking, start = braking_from(args), options.oil_start_from(args)
    route = read_route(find_route(args.route), surfaces)
    drive = motored.drive_from(args)
    result = motor_route(drive, driveline, machine, route, braking=braking, oil_start=start)

    def picture() -> Figure:
        from converter_match.present.figures.motor_route import motor_route_figure

        return motor_route_figure(result, system=args.units)

    return hand_out(args, result, table="steps", picture=picture)


def _motor_cycle(
    args: argparse.Namespace,
    driveline: Driveline,
    machine: Machine,
    surfaces: tuple[Surface, ...],
) -> int:
    """Run a short cycle with a motor in the engine's place; return the exit status."""
    from converter_match.errors import InputError
    from converter_match.judgement.motor.short_cycle import motor_cycle
    from converter_match.library.cycle_csv import read_cycle
    from converter_match.library.shipped import find

    if args.braking is not None:
        raise InputError("does not go with a short cycle", source="--braking")
    if args.figure:
        raise InputError("there is no figure of a short cycle with a motor", source="--figure")
    cycle = read_cycle(find("cycles", args.cycle), surfaces)
    drive, start = motored.drive_from(args), options.oil_start_from(args)
    result = motor_cycle(drive, driveline, machine, cycle, oil_start=start)
    return hand_out(args, result, table="phases", picture=None)


def braking_from(args: argparse.Namespace) -> float:
    """Return the rate of slowing down asked for [m/s^2].

    Raises
    ------
    InputError
        If it is out of range.
    """
    from converter_match.errors import InputError
    from converter_match.physics.haul.route import BRAKING, HARDEST_BRAKING

    braking = options.in_si(args.braking, "--braking", "acceleration", "m/s2")
    if braking is not None and not 0.0 < braking <= HARDEST_BRAKING:
        raise InputError(
            "out of range",
            source="--braking",
            found=args.braking,
            expected=f"above zero, at most {HARDEST_BRAKING:g} m/s2",
        )
    return BRAKING if braking is None else braking


def _cycle(
    args: argparse.Namespace,
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    surfaces: tuple[Surface, ...],
    oil_start: float | None,
) -> int:
    from converter_match.errors import InputError
    from converter_match.judgement.haul.short_cycle import work_cycle
    from converter_match.library.cycle_csv import read_cycle
    from converter_match.library.shipped import find

    for option in ("fuel_map", "braking"):
        if getattr(args, option) is not None:
            raise InputError(
                "does not go with a short cycle", source=f"--{option.replace('_', '-')}"
            )
    cycle = read_cycle(find("cycles", args.cycle), surfaces)
    response = response_from(args, match.engine)
    result = work_cycle(match, driveline, machine, cycle, oil_start=oil_start, response=response)

    def picture() -> Figure:
        from converter_match.present.figures.short_cycle import short_cycle_figure

        return short_cycle_figure(result, system=args.units)

    return hand_out(args, result, table="phases", picture=picture)
