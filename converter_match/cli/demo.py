"""Verb ``demo``: the shipped study from end to end, on the shipped demo data."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from converter_match.cli import options
from converter_match.errors import InputError
from converter_match.library.names import refuse_device

NAME = "demo"
HELP = "run the shipped study from end to end on the shipped demo data"
DESCRIPTION = """\
Run the main job on the shipped demo data: no files of your own, no browser needed.

The data are invented (an island quarry that repowers its loader). Matches the new engine with the
converter, then judges the candidates of the shipped study against the present machine; prints
both results, and writes the overlay picture and the report (web page, PDF, tables, figures, JSON)
into a new folder. Exit status 0: a candidate that does not meet a required criterion is part of
the example."""
ENGINE = "six-cylinder-7l-185kw"
CONVERTER = "single-stage-345mm-tight"
STUDY = "quarry-loader-repower"
_FOLDER = "converter-match-demo"
_MOST_FOLDERS = 100


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "--out",
        metavar="FOLDER",
        help=f"where to write (default: a new folder {_FOLDER} here; others are left alone)",
    )
    options.add_units(parser)


def run(args: argparse.Namespace) -> int:
    """Run the study, print the result, write the report; return the exit status."""
    from converter_match.cli.progress import progress_bar
    from converter_match.judgement.decision.extras import with_extras
    from converter_match.judgement.decision.run import run_study
    from converter_match.judgement.match.solve import solve
    from converter_match.library.read import read_converter, read_engine
    from converter_match.library.shipped import find
    from converter_match.library.study_file import read_study
    from converter_match.present.drawing.style import save
    from converter_match.present.figures.overlay import overlay
    from converter_match.present.report.study_folder import REPORT, write_study

    folder = _new_folder(args.out)
    pair = solve(
        read_engine(find("engines", ENGINE)), read_converter(find("converters", CONVERTER))
    )
    options.say_answer(pair, args.units)
    print()
    bar = progress_bar()
    result = with_extras(run_study(read_study(STUDY), bar), progress=bar)
    options.say_answer(result, args.units)
    picture = folder / "overlay.png"
    save(overlay(pair, system=args.units), picture)
    numbers = json.dumps(pair.to_dict(), indent=2, allow_nan=False)
    options.write_text(folder / "match.json", numbers + "\n", overwrite=False, option="--out")
    report = write_study(result, folder / "report", system=args.units, progress=bar)
    print()
    options.say(f"Invented demo data. Written: {picture} and {report / REPORT}")
    options.say(f"Decision: {result.decision.word}")
    return 0


def _new_folder(wanted: str | None) -> Path:
    """Make the folder asked for, or the first free default one."""
    names = (
        [wanted]
        if wanted is not None
        else [_FOLDER, *(f"{_FOLDER}-{i}" for i in range(2, _MOST_FOLDERS))]
    )
    for name in names:
        folder = Path(name)
        refuse_device(folder, source=name, field="--out")
        try:
            folder.mkdir(parents=True)
        except FileExistsError:
            continue
        except OSError as error:
            raise InputError(
                f"cannot be made ({error.strerror or error})", source="--out", found=name
            ) from None
        return folder
    there = "folder" if Path(names[0]).is_dir() else "file"
    raise InputError(
        f"a {there} of this name exists already and nothing is overwritten",
        source="--out",
        found=names[0],
        hint="give the name of a new folder",
    )
