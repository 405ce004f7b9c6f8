"""Verb ``audit``: somebody's numbers against ours."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from converter_match.cli import options
from converter_match.cli.progress import progress_bar
from converter_match.cli.sweeping import add_sweeping, sweeping_from
from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.components.surface import Surface
    from converter_match.judgement.audit.alternatives import Others
    from converter_match.judgement.audit.case import Case

NAME = "audit"
HELP = "check a dealer's claims, and how they may have been obtained"
DESCRIPTION = """\
Compare claims with our figures: agrees, not distinguishable from what our own figure is known to,
disagrees, or cannot be checked (and what is missing).

For a claim that disagrees, named assumptions are varied, alone and in pairs: gross torque,
accessories or pumps left out, the implement working, no site correction, another power setting, a
machine that crept, cold oil, primary torque at another reference speed, the sheet of a sibling
converter, driveline losses or a reduction left out, the free tyre radius, the other load state, the
traction limit left out, the other horsepower, ton, or mph for km/h. Only what the sheets allow is
tried. One is named as the reason only where at most 5 % of arbitrary claims as far off would have a
reason as good.

A claim is NAME=VALUE UNIT, and may go on with ; and tolerance, gear, grade, speed.
Exit status 3: a claim disagrees.

examples:
  converter-match audit STUDY.toml
  converter-match audit --engine six-cylinder-7l-185kw --converter single-stage-345mm-tight \\
      --claim 'stall speed=1880 rpm; tolerance=1 %' --claim 'stall torque ratio=2.2'
  converter-match audit --engine E.toml --converter C.toml --driveline D.toml --machine M.toml \\
      --surface 'firm smooth earth' --claim 'speed on grade=12 km/h; grade=8 %; tolerance=3 %'"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("study", nargs="?", metavar="STUDY", help="study file with [[claim]]s")
    group = parser.add_argument_group("without a study")
    for name in ("engine", "converter", "driveline", "machine"):
        group.add_argument(f"--{name}", metavar="FILE", help=f"{name} file, or a shipped id")
    group.add_argument(
        "--claim", action="append", metavar="CLAIM", help="NAME=VALUE UNIT; can be repeated"
    )
    group.add_argument(
        "--sibling", action="append", metavar="FILE",
        help="converter of the same family, whose sheet may have been read; can be repeated",
    )  # fmt: skip
    group.add_argument(
        "--rating", action="append", metavar="FILE",
        help="engine file of another power setting; can be repeated",
    )  # fmt: skip
    group.add_argument("--surface", metavar="NAME", help="surface of the published table")
    group.add_argument(
        "--rolling-resistance", metavar="PCT", help="instead of a surface [percent of weight]"
    )
    group.add_argument("--load", choices=("laden", "empty"), default="laden")
    options.add_conditions(parser)
    add_sweeping(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    options.add_units(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Audit and print; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.audit.audit import audit, audit_study

    if args.study is not None:
        for name in ("engine", "converter", "driveline", "machine", "claim", "sibling",
                     "rating", "surface", "rolling_resistance", "site", "altitude",
                     "air_temperature", "hydraulic_torque"):  # fmt: skip
            if getattr(args, name) is not None:
                raise InputError(
                    "the study says that already", source=f"--{name.replace('_', '-')}",
                    expected="either a study, or options",
                )  # fmt: skip
        from converter_match.library.study_file import read_study

        study = read_study(args.study)
        with sweeping_from(args) as (workers, store):
            result = audit_study(study, progress=progress_bar(), workers=workers, store=store)
    else:
        case = _case(args)
        from converter_match.library.claim_text import parse_claim

        if not args.claim:
            raise InputError(
                "nothing to check", source="--claim", expected="--claim 'stall speed=1880 rpm'"
            )
        claims = [
            parse_claim(text, combination="command line", source="--claim") for text in args.claim
        ]
        result = audit([(claim, case) for claim in claims], _others(args))
    if args.json:
        options.print_json(result.to_dict())
    else:
        options.say_answer(result, args.units)
    return FAILS if result.fails else 0


def _case(args: argparse.Namespace) -> Case:
    from converter_match.judgement.audit.case import Case
    from converter_match.library.misread import misreadings
    from converter_match.library.read import read_driveline, read_machine
    from converter_match.library.shipped import find

    for name in ("engine", "converter"):
        if getattr(args, name) is None:
            raise InputError(
                "no components are named", source=f"--{name}",
                expected="a file or an id, or a study",
            )  # fmt: skip
    engine, converter = options.pair_from(args)
    sheets = [(name, getattr(args, name)) for name in ("engine", "converter", "machine")]
    return Case(
        engine=engine,
        converter=converter,
        driveline=(read_driveline(find("drivelines", args.driveline)) if args.driveline else None),
        machine=read_machine(find("machines", args.machine)) if args.machine else None,
        surface=_surface(args),
        site=options.site_from(args),
        load=args.load,
        hydraulic_torque=options.hydraulic_torque_from(args),
        misreadings=tuple(
            one
            for kind, name in sheets
            if name
            for one in misreadings(kind, find(f"{kind}s", name))
        ),
    )


def _others(args: argparse.Namespace) -> Others:
    from converter_match.judgement.audit.alternatives import Others
    from converter_match.library.read import read_converter, read_engine
    from converter_match.library.shipped import find

    return Others(
        siblings=tuple(read_converter(find("converters", name)) for name in args.sibling or ()),
        ratings=tuple(read_engine(find("engines", name)) for name in args.rating or ()),
    )


def _surface(args: argparse.Namespace) -> Surface | None:
    from converter_match.components.surface import Surface
    from converter_match.library.surfaces import find_surface, read_surfaces

    rolling = options.rolling_resistance_from(args)
    if args.surface is None and rolling is None:
        return None
    if args.surface is None:
        return Surface(name="as given", rolling_resistance=rolling or 0.0, source="command line")
    named = find_surface(args.surface, read_surfaces(), source="--surface")
    return named if rolling is None else named.replace(rolling_resistance=rolling)
