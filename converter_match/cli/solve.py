"""Verb ``solve``: match an engine with a converter."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from converter_match.cli import arranged, motored, options
from converter_match.cli.hand_out import hand_out
from converter_match.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from converter_match.components.converter import Converter
    from converter_match.judgement.match.result import MatchResult
    from converter_match.physics.load.shaft import Unit

NAME = "solve"
HELP = "match an engine file with a converter file"
DESCRIPTION = """\
Match an engine (or an electric motor) with a converter and say where they meet.

Prints stall, working range, coupling point, governed limit and best efficiency, with every
assumption and warning, and with what `converter-match check` finds odd about the files. Stall
testing can hurt people: a printed stall speed is an expectation, not a procedure; follow the
machine maker's.

examples:
  converter-match solve --engine my-engine.toml --converter my-converter.toml
  converter-match solve --engine my-engine.toml --converter my-converter.toml \\
      --altitude '6500 ft' --air-temperature '95 degF' --hydraulic-torque '90 lbf.ft' \\
      --units us --figure overlay.png
  converter-match solve --engine my-engine.toml --converter my-converter.toml --json
  converter-match solve --engine my-engine.toml --converter my-converter.toml \\
      --duty loader-loading-shift --governed '2200, 2000'
  converter-match solve --motor lift-truck-80v-30kw --converter single-stage-260mm --voltage 72
  converter-match solve --engine my-engine.toml --converter my-converter.toml \\
      --load my-load.toml --figure overlay.png"""
# What means something for an engine only, or was not worked out for a motor.
_NOT_WITH_MOTOR = (
    "--arrangement", "--blading", "--arrangement-figure", "--duty", "--governed",
)  # fmt: skip


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    options.add_pair(parser, motor=True)
    options.add_conditions(parser)
    parser.add_argument(
        "--diameter",
        metavar="MM",
        help="scale the converter to another profile diameter [mm]: an estimate",
    )
    parser.add_argument(
        "--arrangement",
        metavar="FILE",
        help="arrangement file, or the id of a shipped one: clutches, torque divider, hydraulics, "
        "stator, engine braking, part load",
    )
    parser.add_argument(
        "--blading",
        metavar="FILE",
        help="blades like those of the converter (file, or the id of a shipped one), with "
        "--arrangement: fitted to its sheet, they say what it absorbs without a stator",
    )
    asked = parser.add_argument_group("what else is asked of the pair")
    asked.add_argument(
        "--duty",
        metavar="FILE",
        help="duty (CSV: turbine speed or speed ratio, pump torque, share of the time), or the id "
        "of a shipped one: means over it",
    )
    asked.add_argument(
        "--governed",
        metavar="RPM",
        help="lower settings of the governor, '2200, 2000': high idle turned down to [rpm]",
    )
    asked.add_argument(
        "--setting",
        metavar="N",
        help="setting of an adjustable converter (stator angle, filling ...), in the unit of its "
        "family; its nominal one without",
    )
    asked.add_argument(
        "--load",
        metavar="FILE",
        help="load on the turbine shaft that is no vehicle (winch, pump, propeller, conveyor, "
        "table; file, or the id of a shipped one): where it runs, whether it starts and holds",
    )
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    output.add_argument("--figure", metavar="FILE", help="write the overlay (.png, .svg or .pdf)")
    output.add_argument(
        "--arrangement-figure",
        metavar="FILE",
        help="write what the arrangement does, one panel a part (.png, .svg or .pdf)",
    )
    output.add_argument("--csv", metavar="FILE", help="write every match point as CSV")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_csv_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Solve, print, write what was asked for; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.match.solve import solve
    from converter_match.library.check import with_odd

    if motored.is_motor(args, not_with=_NOT_WITH_MOTOR):
        return _run_motor(args)
    engine, converter = options.pair_from(args)
    site, hydraulic_torque = options.site_from(args), options.hydraulic_torque_from(args)
    files: list[tuple[str, Any]] = [(args.engine, engine), (args.converter, converter)]
    if args.site:
        files.append((args.site, site))
    converter = _as_asked(converter, args)
    answered = None
    if args.blading and not args.arrangement:
        raise InputError("goes with --arrangement only", source="--blading")
    if args.arrangement:
        answered = arranged.arranged_from(
            args, engine, converter, site=site, hydraulic_torque=hydraulic_torque
        )
        result = answered.match
    else:
        result = solve(engine, converter, site=site, hydraulic_torque=hydraulic_torque)
    units = None if answered is None else answered.units
    result = _asked(replace(result, notes=with_odd(files, result.notes)), args, units)
    answered = replace(answered, match=result) if answered else None
    if args.arrangement_figure:
        arranged.write_arrangement_figure(answered, args)
    if args.csv:
        options.write_csv(args, result, "points")
    if args.figure:
        from converter_match.present.drawing.style import save
        from converter_match.present.figures.overlay import overlay

        save(overlay(result, system=args.units), args.figure, overwrite=args.overwrite)
    answer = answered or result
    if args.json:
        options.print_json(answer.to_dict())
    else:
        options.say_answer(answer, args.units)
    return FAILS if result.fails else 0


def _run_motor(args: argparse.Namespace) -> int:
    """Solve with a motor in the engine's place; return the exit status."""
    from converter_match.judgement.motor.solve import solve_with
    from converter_match.library.check import with_odd

    setup, converter = motored.setup_from(args), motored.converter_from(args)
    files: list[tuple[str, Any]] = [(args.motor, setup.motor), (args.converter, converter)]
    if args.site:
        files.append((args.site, setup.site))
    result = solve_with(setup, _as_asked(converter, args))
    result = result.with_notes(with_odd(files, result.notes))
    if args.load is not None:
        from converter_match.judgement.motor.load import motor_over_load
        from converter_match.library.read import read_load
        from converter_match.library.shipped import find

        path = find("loads", args.load)
        try:
            result = result.with_beside(motor_over_load(result, read_load(path)))
        except InputError as error:
            raise error.changed(source=str(path)) from None

    def picture() -> Figure:
        from converter_match.present.figures.motor import motor_figure

        return motor_figure(result, system=args.units)

    return hand_out(args, result, table="points", picture=picture)


def _as_asked(converter: Converter, args: argparse.Namespace) -> Converter:
    """Return the converter at the diameter and the setting asked for."""
    diameter = options.in_si(args.diameter, "--diameter", "length", "mm")
    if diameter is not None:
        try:
            converter = converter.scaled(profile_diameter=diameter)
        except InputError as error:
            typed = options.Typed("--diameter", args.diameter)
            raise options.as_typed(error, {"profile_diameter": typed}) from None
    return converter if args.setting is None else _set(converter, args.setting)


def _asked(
    result: MatchResult, args: argparse.Namespace, units: Sequence[Unit] | None
) -> MatchResult:
    """Return a result with what else was asked of the pair behind it."""
    if args.duty is not None:
        from converter_match.judgement.match.duty import over_duty
        from converter_match.library.duty_csv import read_duty
        from converter_match.library.shipped import find

        result = result.with_beside(over_duty(result, read_duty(find("duties", args.duty))))
    if args.governed is not None:
        from converter_match.judgement.match.governed import governed_lower

        lower = governed_lower(result, _settings(result, args.governed))
        result = result.with_beside(lower)
    load, path = None, None
    if args.load is not None:
        from converter_match.library.read import read_load
        from converter_match.library.shipped import find

        path = find("loads", args.load)
        load = read_load(path)
    if result.converter.adjustment is not None:
        from converter_match.judgement.load.family import over_settings

        result = result.with_beside(over_settings(result, load))
    if load is not None:
        from converter_match.judgement.load.load import over_load

        try:
            result = result.with_beside(over_load(result, load, units))
        except InputError as error:
            raise error.changed(source=str(path)) from None
    return result


def _set(converter: Converter, text: str) -> Converter:
    """Return an adjustable converter at the setting that was typed."""
    from converter_match.components.converter_family import at_setting

    setting = options.in_si(text, "--setting", "ratio", "1")
    assert setting is not None  # it was typed
    try:
        return at_setting(converter, setting)
    except InputError as error:
        raise options.as_typed(error, {"setting": options.Typed("--setting", text)}) from None


def _settings(result: MatchResult, text: str) -> list[float]:
    """Return the settings of a list [rad/s]."""
    from converter_match.judgement.match.governed import check_setting

    settings = []
    for part in text.split(","):
        setting = options.in_si(part, "--governed", "angular_speed", "rpm")
        assert setting is not None  # a part is a text
        try:
            check_setting(result.engine, setting)
        except InputError as error:
            typed = options.Typed("--governed", part.strip(), error.expected)
            raise options.as_typed(error, {"governed": typed}) from None
        settings.append(setting)
    return settings
