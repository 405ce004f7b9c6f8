"""The option ``--arrangement``: what a converter becomes in its arrangement, and its figure."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.components.arrangement import Arrangement
    from converter_match.components.blading import BladingGeometry
    from converter_match.components.converter import Converter
    from converter_match.components.engine import Engine
    from converter_match.components.site import Site
    from converter_match.judgement.arrangement.characteristic import ArrangedConverter
    from converter_match.judgement.arrangement.solve import ArrangedResult


def arranged_from(
    args: argparse.Namespace,
    engine: Engine,
    converter: Converter,
    *,
    site: Site | None,
    hydraulic_torque: float,
) -> ArrangedResult:
    """Read the arrangement named on the command line and solve with it.

    Raises
    ------
    InputError
        If the file cannot be used, or asks for what the components do not give; the message names
        the file.
    """
    from converter_match.judgement.arrangement.solve import solve_arranged
    from converter_match.library.read import read_arrangement
    from converter_match.library.shipped import find

    path = find("arrangements", args.arrangement)
    arrangement = read_arrangement(path)
    blading = _blading_from(args, converter)
    try:
        return solve_arranged(
            engine,
            converter,
            arrangement,
            site=site,
            hydraulic_torque=hydraulic_torque,
            blading=blading,
        )
    except InputError as error:
        raise _asked_for(error, arrangement.id, str(path)) from None


def add_arrangement(parser: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    """Add ``--arrangement``, of which the converter is a part; see `arranged_units_from`."""
    parser.add_argument(
        "--arrangement",
        metavar="FILE",
        help="arrangement file, or the id of a shipped one: its stator and its torque divider "
        "belong to what the engine drives",
    )


def arranged_units_from(
    args: argparse.Namespace, converter: Converter
) -> tuple[Arrangement | None, ArrangedConverter]:
    """Return the arrangement named on the command line, and what it makes of a converter.

    Raises
    ------
    InputError
        If the file cannot be used, or asks for what the converter does not give.
    """
    from converter_match.judgement.arrangement.characteristic import (
        ArrangedConverter,
        arranged_converter,
    )
    from converter_match.library.read import read_arrangement
    from converter_match.library.shipped import find

    if args.arrangement is None:
        return None, ArrangedConverter(converter, converter)
    path = find("arrangements", args.arrangement)
    arrangement = read_arrangement(path)
    try:
        return arrangement, arranged_converter(converter, arrangement)
    except InputError as error:
        raise _asked_for(error, arrangement.id, str(path)) from None


def _asked_for(error: InputError, own: str, path: str) -> InputError:
    """Return an error about an arrangement: what is missing may be in another file."""
    source = error.source if error.source not in (None, own) else None
    return error.changed(source=f"{path}: {source}" if source else path)


def write_arrangement_figure(arranged: ArrangedResult | None, args: argparse.Namespace) -> None:
    """Write the figure asked for by ``--arrangement-figure``.

    Raises
    ------
    InputError
        If there is no arrangement, or the file cannot be written.
    """
    if arranged is None:
        raise InputError(
            "there is no arrangement to draw",
            source="--arrangement-figure",
            expected="--arrangement FILE as well",
        )
    from converter_match.present.drawing.style import save
    from converter_match.present.figures.arrangement import arrangement_figure

    figure = arrangement_figure(arranged, system=args.units)
    save(figure, args.arrangement_figure, overwrite=args.overwrite)


def _blading_from(args: argparse.Namespace, converter: Converter) -> BladingGeometry | None:
    """Return blades fitted to a converter's sheet, or None where none are named."""
    named: str | None = getattr(args, "blading", None)
    if named is None:
        return None
    from converter_match.library.read import read_blading
    from converter_match.library.shipped import find
    from converter_match.physics.converter.blading_for_sheet import blading_for_sheet

    return blading_for_sheet(read_blading(find("blading", named)), converter).geometry
