"""Verb ``size``: which size of a converter gives what is wanted, or which of the library."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from converter_match.cli import motored, options
from converter_match.cli.progress import progress_bar
from converter_match.cli.sweeping import add_sweeping, sweeping_from
from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.answer.noted import Answer
    from converter_match.components.converter import Converter
    from converter_match.components.engine import Engine
    from converter_match.judgement.sizing.trials import Trials

_Result = TypeVar("_Result")
NAME = "size"
HELP = "size a converter for a required match, or try the library on a route"
DESCRIPTION = """\
Say what size of a converter's family gives a required match, and what engine torque it requires.

By similarity, C ~ D^5: an estimate for another diameter with the same blading, less and less sure
beyond about 10 %. Where no size gives what is wanted the answer says why (exit status 3). Two
targets are looked at for one common size, and what each gets of it is said. With --route the
sizes of the range, or with --library every converter of the library, are driven along it, and the
quickest that keeps heat and limits is named. With --study every converter takes the place of a
candidate's own and is ranked by the study's criteria.

examples:
  converter-match size --engine six-cylinder-7l-185kw --converter single-stage-345mm-tight \\
      --stall-speed 1800
  converter-match size --engine my-engine.toml --converter my-converter.toml \\
      --input-speed-at-80 2100 --diameter-range '12.5 in,14.5 in' --units us
  converter-match size --engine six-cylinder-9l-240kw --converter single-stage-390mm-full-range \\
      --route quarry-to-crusher --driveline six-speed-hauler --machine articulated-hauler-25t \\
      --library --figure pareto.png"""

# What is sized along a route, or by the criteria of an engine's study.
_NOT_WITH_MOTOR = (
    "--study", "--candidate", "--input-speed-at-80", "--route", "--driveline", "--machine",
    "--surfaces", "--library", "--converters", "--figure",
)  # fmt: skip


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    pair = parser.add_argument_group("what to match")
    for name in ("engine", "motor", "converter"):
        first = "in the engine's place, for a stall speed: motor" if name == "motor" else name
        pair.add_argument(f"--{name}", metavar="FILE", help=f"{first} file, or a shipped id")
    pair.add_argument(
        "--voltage", metavar="V", help="supply of the motor [V] (default: the nominal one)"
    )
    pair.add_argument(
        "--study", metavar="FILE", help="rank a library by the criteria of a study instead"
    )
    pair.add_argument("--candidate", metavar="ID", help="of the study (default: the first)")
    aim = parser.add_argument_group("required match (one or more)")
    aim.add_argument("--stall-speed", metavar="RPM", help="engine speed at stall [rpm]")
    aim.add_argument(
        "--input-speed-at-80",
        metavar="RPM",
        help="engine speed where the efficiency reaches 80 %% [rpm]",
    )
    aim.add_argument("--route", metavar="FILE", help="shortest time along a route (CSV file or id)")
    parser.add_argument(
        "--diameter-range",
        metavar="MM,MM",
        help="profile diameters to stay within [mm] (for a route: 10 %% either way)",
    )
    route = parser.add_argument_group("for a route")
    route.add_argument("--driveline", metavar="FILE", help="driveline file, or a shipped id")
    route.add_argument("--machine", metavar="FILE", help="machine file, or a shipped id")
    route.add_argument("--surfaces", metavar="FILE", help="surfaces of your own (CSV or TOML)")
    route.add_argument(
        "--library", action="store_true", help="try every shipped converter, in place of sizes"
    )
    route.add_argument(
        "--converters", metavar="FOLDER", help="try every converter file (.toml) of a folder"
    )
    options.add_conditions(parser)
    add_sweeping(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    output.add_argument("--figure", metavar="FILE", help="write time, fuel, heat and stall torque "
                        "of the trials (.png, .svg or .pdf); needs --route")  # fmt: skip
    options.add_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Size, print, write what was asked for; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.sizing.common import common_size
    from converter_match.judgement.sizing.engine_wanted import torque_wanted
    from converter_match.judgement.sizing.size import Size, size_for_efficiency, size_for_speed

    if motored.is_motor(args, not_with=_NOT_WITH_MOTOR):
        return _run_motor(args)
    if args.study is not None:
        return _rank(args)
    for name in ("engine", "converter"):
        if getattr(args, name) is None:
            raise InputError(
                "no components are named", source=f"--{name}", expected="a file or an id"
            )
    if args.candidate is not None:
        raise InputError("only goes with a study", source="--candidate")
    asked_stall = options.Typed("--stall-speed", args.stall_speed)
    asked_80 = options.Typed("--input-speed-at-80", args.input_speed_at_80)
    stall, at_80 = (
        options.in_si(asked.text, asked.option, "angular_speed", "rpm")
        for asked in (asked_stall, asked_80)
    )
    if args.route is None and stall is None and at_80 is None:
        raise InputError(
            "no target is given", expected="--stall-speed, --input-speed-at-80 or --route"
        )
    _needs_route(args)
    engine, converter = options.pair_from(args)
    span = _range(args.diameter_range, converter)
    where: dict[str, Any] = {
        "site": options.site_from(args),
        "hydraulic_torque": options.hydraulic_torque_from(args),
    }
    answers: dict[str, Answer] = {}
    fails = False
    for key, what, asked, speed in (
        ("size_for_stall_speed", size_for_speed, asked_stall, stall),
        ("size_for_80_percent", size_for_efficiency, asked_80, at_80),
    ):
        if speed is None:
            continue
        size = _located(what, asked, engine, converter, speed, where)
        size = size if span is None else size.within(span)
        answers[key] = size
        fails |= not size.possible
        if what is size_for_speed and engine.low_idle <= speed <= engine.high_idle:
            wanted = _located(torque_wanted, asked, engine, converter, speed, where)
            answers["torque_wanted"] = wanted
    sizes = [answer for answer in answers.values() if isinstance(answer, Size)]
    if len(sizes) > 1:
        both = common_size(engine, converter, sizes, ratios=span, **where)
        answers["common_size"] = both
        fails |= not both.possible
    if args.route is not None:
        with sweeping_from(args) as (workers, store):
            where |= {"workers": workers, "store": store}
            trials = _trials(args, engine, converter, span, where)
        answers["route_trials"] = trials
        fails |= trials.winner is None
        if args.figure:
            from converter_match.present.drawing.style import save
            from converter_match.present.figures.trials import trials_figure

            figure = trials_figure(trials, system=args.units)
            save(figure, args.figure, overwrite=args.overwrite)
    _tell(args, answers)
    return FAILS if fails else 0


def _tell(args: argparse.Namespace, answers: Mapping[str, Answer]) -> None:
    """Print all answers, as JSON under their names or one below the other."""
    if args.json:
        options.print_json({key: answer.to_dict() for key, answer in answers.items()})
        return
    for place, answer in enumerate(answers.values()):
        if place:
            print()
        options.say_answer(answer, args.units)


def _run_motor(args: argparse.Namespace) -> int:
    """Size a converter for the stall speed of a motor; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.motor.size import motor_size
    from converter_match.judgement.motor.solve import solve_with

    for name in ("converter", "stall_speed"):
        if getattr(args, name) is None:
            raise InputError("needed with a motor", source=f"--{name.replace('_', '-')}")
    if args.engine is not None:
        raise InputError("does not go with --engine: one of the two", source="--motor")
    asked = options.Typed("--stall-speed", args.stall_speed)
    speed = options.in_si(asked.text, asked.option, "angular_speed", "rpm") or 0.0
    setup, converter = motored.setup_from(args), motored.converter_from(args)
    span = _range(args.diameter_range, converter)
    try:
        size = motor_size(setup, converter, speed)
    except InputError as error:
        raise options.as_typed(error, {"engine_speed": asked}) from None
    size = size if span is None else size.within(span)
    answers: dict[str, Answer] = {"size_for_stall_speed": size}
    if size.possible and size.converter is not None:
        answers["match"] = solve_with(setup, size.converter)
    _tell(args, answers)
    return 0 if size.possible and not any(each.fails for each in answers.values()) else FAILS


def _rank(args: argparse.Namespace) -> int:
    """Rank the library by a study."""
    from converter_match.cli import FAILS
    from converter_match.judgement.verdict.ranking import rank_library
    from converter_match.library.study_file import read_study

    for name in ("engine", "converter", "stall_speed", "input_speed_at_80", "route", "driveline",
                 "machine", "surfaces", "diameter_range", "figure", "site", "altitude",
                 "air_temperature", "hydraulic_torque"):  # fmt: skip
        if getattr(args, name) is not None:
            raise InputError(
                "the study says that already", source=f"--{name.replace('_', '-')}",
                expected="either a study, or options",
            )  # fmt: skip
    args.library = args.library or args.converters is None
    study = read_study(args.study)
    read = [converter for _, converter in _library(args, None)]
    with sweeping_from(args) as (workers, store):
        ranking = rank_library(
            study, read, args.candidate, progress=progress_bar(), workers=workers, store=store
        )
    if args.json:
        options.print_json(ranking.to_dict())
    else:
        options.say_answer(ranking, args.units)
    return 0 if ranking.winner else FAILS


def _needs_route(args: argparse.Namespace) -> None:
    """Refuse options that belong to a route without one, and a route without its options."""
    given = [name for name in ("driveline", "machine") if getattr(args, name) is None]
    if args.route is not None and given:
        raise InputError("a route needs it", source=f"--{given[0]}", expected="a file or an id")
    if args.route is None:
        for name in ("driveline", "machine", "surfaces", "library", "converters", "figure"):
            if getattr(args, name):
                raise InputError(
                    "only goes with a route", source=f"--{name}", expected="--route FILE as well"
                )


def _located(
    what: Callable[..., _Result],
    typed: options.Typed,
    engine: Engine,
    converter: Converter,
    speed: float,
    where: Any,
) -> _Result:
    try:
        return what(engine, converter, speed, **where)
    except InputError as error:
        fields = {"engine_speed": typed, "stall_speed": typed}
        raise options.as_typed(error, fields).located(source=typed.option) from None


def _range(text: str | None, converter: Converter) -> tuple[float, float] | None:
    """Return the range of diameters as ratios to the converter's."""
    if text is None:
        return None
    parts = text.split(",")
    ends = [options.in_si(part, "--diameter-range", "length", "mm") for part in parts]
    if len(ends) != 2 or ends[0] is None or ends[1] is None or not 0.0 < ends[0] < ends[1]:
        raise InputError(
            "not a range of diameters", source="--diameter-range", found=text,
            expected="two diameters, rising: 320,370",
        )  # fmt: skip
    if converter.profile_diameter is None:
        raise InputError(
            "the converter's own diameter is not known, so no range of diameters can be kept",
            source="--diameter-range", field="profile_diameter",
        )  # fmt: skip
    return ends[0] / converter.profile_diameter, ends[1] / converter.profile_diameter


def _trials(
    args: argparse.Namespace,
    engine: Engine,
    converter: Converter,
    span: tuple[float, float] | None,
    where: Any,
) -> Trials:
    from converter_match.judgement.sizing.trials import DIAMETERS, best_size, try_converters
    from converter_match.library.read import read_driveline, read_machine
    from converter_match.library.route_csv import find_route, read_route
    from converter_match.library.shipped import find
    from converter_match.library.surfaces import read_surfaces

    driveline = read_driveline(find("drivelines", args.driveline))
    machine = read_machine(find("machines", args.machine))
    own = read_surfaces(args.surfaces) if args.surfaces else ()
    route = read_route(find_route(args.route), (*own, *read_surfaces()))
    if args.library or args.converters:
        if span is not None:
            raise InputError(
                "a library is tried as it is, no size is changed", source="--diameter-range"
            )
        named = [(converter.id, converter), *_library(args, converter)]
        return try_converters(engine, named, driveline, machine, route, **where)
    try:
        return best_size(
            engine, converter, driveline, machine, route, diameters=span or DIAMETERS, **where
        )
    except InputError as error:
        typed = options.Typed(
            "--diameter-range",
            args.diameter_range,
            "two diameters, rising, from half to twice the converter's own",
        )
        raise options.as_typed(error, {"diameters": typed}) from None


def _library(args: argparse.Namespace, given: Converter | None) -> list[tuple[str, Converter]]:
    """Read the converters to try beside the one given."""
    from pathlib import Path

    from converter_match.library.read import read_converter
    from converter_match.library.shipped import read_all

    tried = read_all("converters") if args.library else []
    if args.converters:
        folder = Path(args.converters)
        files = sorted(folder.glob("*.toml")) if folder.is_dir() else []
        if not files:
            raise InputError(
                "no folder with converter files (.toml)", source="--converters",
                found=args.converters,
            )  # fmt: skip
        tried += [read_converter(path) for path in files]
    return [(item.id, item) for item in tried if given is None or item.id != given.id]
