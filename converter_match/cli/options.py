"""Options that several verbs share: quantities, components, site, output."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from converter_match.errors import NO_SUCH_FILE, InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from converter_match.answer.block import Block
    from converter_match.answer.noted import Answer
    from converter_match.components.converter import Converter
    from converter_match.components.engine import Engine
    from converter_match.components.site import Site
    from converter_match.components.surface import Surface
    from converter_match.units import System

# Hard road of the published table; used, and said so, where nothing is asked for.
_DEFAULT_SURFACE = "concrete or asphalt"
_COLDEST_OIL, _HOTTEST_OIL = 213.15, 573.15  # K, stiff and on fire


def in_si(text: str | None, option: str, dimension: str, default_unit: str) -> float | None:
    """Return an option's quantity in SI units, or None when it was not given.

    Raises
    ------
    InputError
        If the text is not a finite number with an optional known unit.
    """
    from converter_match.units.written import written_to_si

    return None if text is None else written_to_si(text, dimension, default_unit, source=option)


class Typed(NamedTuple):
    """What was typed for an option.

    Parameters
    ----------
    option : str
        Its name.
    text : str or None
        None where it was not given.
    expected : str, optional
        What would have been right, in the words and the unit of the option; by default as the error
        says it.
    """

    option: str
    text: str | None
    expected: str | None = None


def as_typed(error: InputError, fields: Mapping[str, Typed]) -> InputError:
    """Return an error on a field of a component, said of the option it was given by.

    Beyond the reading all numbers are SI, which nobody typed: ``--diameter -3`` is not -0.003.

    Parameters
    ----------
    error : InputError
    fields : mapping of str to Typed
        Last part of the error's field -> what was typed. Other errors are returned as they are.
    """
    typed = fields.get((error.field or "").rpartition(".")[2])
    if typed is None or typed.text is None:
        return error
    return error.changed(
        source=typed.option,
        field=None,
        found=typed.text,
        expected=typed.expected or error.expected,
        hint=None if typed.expected else error.hint,
    )


def add_pair(parser: argparse.ArgumentParser, *, motor: bool = False, direct: bool = False) -> None:
    """Add ``--engine`` and ``--converter``.

    Parameters
    ----------
    parser : ArgumentParser
    motor : bool
        Whether an electric motor may stand in the engine's place.
    direct : bool
        Whether such a motor may be coupled to the gearbox without a converter.
    """
    group = parser.add_argument_group("what to match")
    mover: Any = group.add_mutually_exclusive_group(required=True) if motor else group
    mover.add_argument(
        "--engine",
        **({} if motor else {"required": True}),
        metavar="FILE",
        help="engine file, or the id of a shipped one",
    )
    if motor:
        mover.add_argument(
            "--motor",
            metavar="FILE",
            help="in the engine's place: electric motor file, or the id of a shipped one",
        )
    place: Any = group.add_mutually_exclusive_group(required=True) if direct else group
    place.add_argument(
        "--converter",
        **({} if direct else {"required": True}),
        metavar="FILE",
        help="converter file, or the id of a shipped one",
    )
    if direct:
        place.add_argument(
            "--direct",
            metavar="RATIO",
            help="in the converter's place, with --motor: a reduction of so much before the "
            "gearbox (1: none)",
        )
    if motor:
        group.add_argument(
            "--voltage", metavar="V", help="supply of the motor [V] (default: the nominal one)"
        )


def add_site(parser: argparse.ArgumentParser) -> argparse._ArgumentGroup:
    """Add the site options, and return their group."""
    group = parser.add_argument_group(
        "conditions",
        "A plain number is in the unit named; or write the unit: --altitude '6500 ft'. With "
        "--units us the unit has to be written.",
    )
    group.add_argument("--site", metavar="FILE", help="site file, or the id of a shipped one")
    group.add_argument("--altitude", metavar="M", help="above sea level [m]")
    group.add_argument(
        "--air-temperature",
        metavar="C",
        help="air at the intake [degC]",
    )
    return group


def add_conditions(parser: argparse.ArgumentParser) -> None:
    """Add the site options and ``--hydraulic-torque``."""
    add_site(parser).add_argument(
        "--hydraulic-torque",
        metavar="NM",
        help="taken at the flywheel by implement pumps [N.m]",
    )


def add_units(parser: argparse.ArgumentParser) -> None:
    """Add ``--units``."""
    parser.add_argument(
        "--units",
        choices=("si", "us"),
        default="si",
        help="metric trade units (si, the default) or US customary (us); JSON keys name their own. "
        "With us a number needs its unit wherever the two differ: '6500 ft', '95 degF'",
    )


def add_csv_units(parser: argparse.ArgumentParser) -> None:
    """Add ``--csv-units``."""
    parser.add_argument(
        "--csv-units",
        choices=("si", "us"),
        help="units of the CSV, which stand in its second line (default: as --units)",
    )


def csv_system(args: argparse.Namespace) -> System:
    """Return the unit system of what is written as CSV."""
    system: System = args.csv_units or args.units
    return system


def write_csv(args: argparse.Namespace, answer: Answer, name: str) -> None:
    """Write the table of a block as ``--csv`` asks for it.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    text = csv_of(args, answer.table(name))
    write_text(args.csv, text, overwrite=args.overwrite, option="--csv")


def csv_of(args: argparse.Namespace, block: Block) -> str:
    """Return the table of a block as CSV, in the units asked for."""
    from converter_match.answer.csv_table import block_csv

    return block_csv(block, csv_system(args))


def add_overwrite(parser: argparse.ArgumentParser) -> None:
    """Add ``--overwrite``."""
    parser.add_argument(
        "--overwrite", action="store_true", help="replace output files that exist already"
    )


def pair_from(args: argparse.Namespace) -> tuple[Engine, Converter]:
    """Read the engine and the converter named on the command line.

    Raises
    ------
    InputError
        If a file cannot be used; the message names it.
    """
    from converter_match.library.read import read_converter, read_engine
    from converter_match.library.shipped import find

    return (
        read_engine(find("engines", args.engine)),
        read_converter(find("converters", args.converter)),
    )


# Options that name a component file, and the folder of the shipped ones.
COMPONENT_OPTIONS = {
    "engine": "engines",
    "motor": "motors",
    "converter": "converters",
    "site": "sites",
    "driveline": "drivelines",
    "machine": "machines",
    "arrangement": "arrangements",
}


def in_file(error: InputError, args: argparse.Namespace) -> InputError:
    """Return an error that names a component with the file it was read from in its place.

    A component does not know its file, so what is found out beyond the reading names its id; a
    person at the command line mends the file.
    """
    from converter_match.library.read import read_component
    from converter_match.library.shipped import find

    for option, folder in COMPONENT_OPTIONS.items():
        given = getattr(args, option, None)
        if error.source is None or not isinstance(given, str) or error.code == NO_SUCH_FILE:
            continue
        try:
            path = find(folder, given)
            known = str(read_component(path).id)
        except InputError:  # said already, or not the one that is meant
            continue
        if error.source == known:
            return error.said_of(str(path))
    return error


def site_from(args: argparse.Namespace) -> Site | None:
    """Return the site asked for, or None for the engine's own reference air.

    Raises
    ------
    InputError
        If a site file and single site options are mixed, or a value is out of range.
    """
    altitude = in_si(args.altitude, "--altitude", "length", "m")
    temperature = in_si(args.air_temperature, "--air-temperature", "temperature", "degC")
    if args.site is not None:
        if altitude is not None or temperature is not None:
            raise InputError(
                "a site file already gives altitude and air; use one or the other",
                source="--site",
                found=args.site,
                expected="either --site, or --altitude and --air-temperature",
            )
        from converter_match.library.read import read_site
        from converter_match.library.shipped import find

        return read_site(find("sites", args.site))
    if altitude is None and temperature is None:
        return None
    from converter_match.components.site import ON_COMMAND_LINE, Air, Site
    from converter_match.constants import SEA_LEVEL_PRESSURE

    try:
        if temperature is not None:
            Air(pressure=SEA_LEVEL_PRESSURE, temperature=temperature)
        return Site(
            id=ON_COMMAND_LINE,
            name="site given on the command line",
            source="command line",
            altitude=altitude,
            air_temperature=temperature,
        )
    except InputError as error:
        typed = Typed("--air-temperature", args.air_temperature)
        fields = {
            "altitude": Typed("--altitude", args.altitude),
            "air temperature": typed,
            "air_temperature": typed,
        }
        raise as_typed(error, fields) from None


def hydraulic_torque_from(args: argparse.Namespace) -> float:
    """Return the hydraulic torque asked for [N.m]; 0 when none was.

    Raises
    ------
    InputError
        If it is below zero.
    """
    torque = in_si(args.hydraulic_torque, "--hydraulic-torque", "torque", "N.m")
    if torque is not None and torque < 0:
        raise InputError(
            "a torque taken from the engine cannot be below zero",
            source="--hydraulic-torque",
            found=args.hydraulic_torque,
            expected="zero or more",
        )
    return torque or 0.0


def add_surface(parser: argparse.ArgumentParser) -> None:
    """Add the options that say what ground a machine is on; see `surface_from`."""
    parser.add_argument(
        "--surface",
        metavar="NAME",
        help="surface of the published table or of --surfaces (default: a hard road, listed as "
        "an assumption)",
    )
    parser.add_argument("--surfaces", metavar="FILE", help="your own surfaces (.csv or .toml)")
    parser.add_argument(
        "--rolling-resistance",
        metavar="PCT",
        help="in place of the surface's: percent of weight, or with unit: '90 lb/short ton'",
    )
    parser.add_argument(
        "--traction", metavar="MU", help="traction coefficient in place of the surface's"
    )


def surface_from(args: argparse.Namespace) -> Surface:
    """Return the surface asked for, with its numbers replaced where others are given."""
    from converter_match.components.surface import Surface
    from converter_match.library.surfaces import find_surface, read_surfaces

    rolling = rolling_resistance_from(args)
    traction = in_si(args.traction, "--traction", "ratio", "1")
    if args.surfaces is not None and args.surface is None:
        raise InputError(
            "which of the surfaces?", source="--surfaces", found=args.surfaces,
            expected="--surface NAME as well",
        )  # fmt: skip
    named = None
    if args.surface is not None:
        own = () if args.surfaces is None else read_surfaces(args.surfaces)
        named = find_surface(args.surface, (*own, *read_surfaces()), source="--surface")
    elif rolling is None:
        named = find_surface(_DEFAULT_SURFACE, read_surfaces())
        named = named.replace(source=f"no surface is given, a hard road is assumed; "
                                     f"{named.source}")  # fmt: skip
    if named is None:
        name, known, source, vehicle = "as given", traction, "", ""
    else:
        name, source, vehicle = named.name, named.source, named.vehicle
        known = named.traction if traction is None else traction
        if rolling is not None:
            name, source = f"{name}, rolling resistance as given", f"{source} (traction)"
    try:
        return Surface(
            name=name,
            rolling_resistance=rolling if rolling is not None else named.rolling_resistance,  # type: ignore[union-attr]
            traction=known,
            source=source,
            vehicle=vehicle,
        )
    except InputError as error:
        raise as_typed(error, {"traction": Typed("--traction", args.traction)}) from None


def rolling_resistance_from(args: argparse.Namespace) -> float | None:
    """Return the rolling resistance asked for as a share of the weight; None when none was.

    Raises
    ------
    InputError
        If it is no rolling resistance.
    """
    option = "--rolling-resistance"
    share = in_si(args.rolling_resistance, option, "weight_share", "%")
    if share is not None:
        from converter_match.components.surface import Surface

        try:
            Surface(name="as given", rolling_resistance=share)
        except InputError as error:
            expected = "0 to 60 percent of the weight; a plain number is percent"
            typed = Typed(option, args.rolling_resistance, expected)
            raise as_typed(error, {"rolling_resistance": typed}) from None
    return share


def coverage_from(args: argparse.Namespace) -> float | None:
    """Return the coverage asked for as a share; None when none was."""
    share = in_si(args.coverage, "--coverage", "ratio", "%")
    # 99.9 times 0.01 is a last digit above 0.999, which is the most that is allowed.
    return None if share is None else round(share, 9)


def oil_start_from(args: argparse.Namespace) -> float | None:
    """Return the oil temperature at the start [K]; None when none was given.

    Raises
    ------
    InputError
        If no oil is oil at that temperature.
    """
    start = in_si(args.oil_start, "--oil-start", "temperature", "degC")
    if start is not None and not _COLDEST_OIL <= start <= _HOTTEST_OIL:
        raise InputError(
            "out of range",
            source="--oil-start",
            found=args.oil_start,
            expected="an oil temperature, -60 to 300 degC",
        )
    return start


def say(line: str) -> None:
    """Print a line of words; at a terminal folded to its width."""
    from converter_match.answer.console import folded

    print("\n".join(folded(line, _width())))


def say_answer(answer: Answer, system: System) -> None:
    """Print an answer; at a terminal folded to its width, into a file or a pipe as it is."""
    print(answer.text(system, _width()))


def _width() -> int | None:
    """Return how wide the terminal is; None for a file or a pipe."""
    if not sys.stdout.isatty():
        return None
    import shutil

    return shutil.get_terminal_size().columns


def print_json(data: Any) -> None:
    """Print plain data as JSON that any reader accepts (no NaN)."""
    print(json.dumps(data, indent=2, allow_nan=False, ensure_ascii=True))


def write_text(path: str | Path, text: str, *, overwrite: bool, option: str) -> None:
    """Write a text file asked for by an option, whole or not at all.

    Raises
    ------
    InputError
        If the file exists and may not be replaced, or cannot be written.
    """
    from converter_match.library.atomic import write_text as write_whole

    try:
        write_whole(text, path, overwrite=overwrite)
    except InputError as error:
        hint = f"{error.hint}; give another name, or add --overwrite" if error.hint else None
        raise error.changed(field=option, hint=hint) from None
