"""Verb ``demo``: the main job on the shipped demo data."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from converter_match.cli import options
from converter_match.errors import InputError

NAME = "demo"
HELP = "run the main job on the shipped demo data"
DESCRIPTION = """\
Run the main job on the shipped demo data: no files of your own, no browser needed.

The data are invented (an island quarry and timber yard that repowers its own machines). Prints the
result and writes the overlay picture and the numbers into a new folder."""
ENGINE = "six-cylinder-7l-185kw"
CONVERTER = "single-stage-345mm-tight"
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
    """Solve the demo pair, print it, write figure and numbers; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.pairing import solve
    from converter_match.library.read import read_converter, read_engine
    from converter_match.library.shipped import find
    from converter_match.present.overlay import overlay
    from converter_match.present.style import save

    result = solve(
        read_engine(find("engines", ENGINE)), read_converter(find("converters", CONVERTER))
    )
    print(result.text(args.units))
    folder = _new_folder(args.out)
    picture = folder / "overlay.png"
    save(overlay(result, system=args.units), picture)
    numbers = json.dumps(result.to_dict(), indent=2, allow_nan=False)
    options.write_text(folder / "match.json", numbers + "\n", overwrite=False, option="--out")
    print(f"\nInvented demo data. Written: {picture} and {folder / 'match.json'}")
    return FAILS if result.fails else 0


def _new_folder(wanted: str | None) -> Path:
    """Make the folder asked for, or the first free default one."""
    names = (
        [wanted]
        if wanted is not None
        else [_FOLDER, *(f"{_FOLDER}-{i}" for i in range(2, _MOST_FOLDERS))]
    )
    for name in names:
        folder = Path(name)
        try:
            folder.mkdir(parents=True)
        except FileExistsError:
            continue
        except OSError as error:
            raise InputError(
                f"cannot be made ({error.strerror or error})", source="--out", found=name
            ) from None
        return folder
    raise InputError(
        "the folder exists already and nothing is overwritten",
        source="--out",
        found=names[0],
        hint="give the name of a new folder",
    )
