"""How many slips of a digit or a unit, one at a time in the shipped files, are asked about.

Each number and each whole column of every shipped TOML file is spoilt as people spoil them: a digit
or three too many or too few, degrees Celsius read as kelvin, inches as millimetres, lbf.ft as N.m,
horsepower as kilowatts, and the other way round; and in a column one row by a digit. A slip counts
as noticed where the file is refused, or where something is said of it that the clean file does not
have. What the clean files are asked is counted too: it should be nothing.

Many figures of the shipped files stand there in a second unit as well (``also``). It is the first
that is spoilt, and the second that is left as the sheet prints it: so it is where a sheet's unit or
digit is misread, and both its figures are typed. The same is counted with the second figures left
out, as of sheets that print none.

    python benchmarks/slip_rates.py            # print the table (two or three minutes)
    python benchmarks/slip_rates.py --write    # and put it into docs/formats/what-is-usual.md
    python benchmarks/slip_rates.py --missed   # name every slip that nobody noticed
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from converter_match.errors import InputError
from converter_match.library.catalogue_file import read_catalogue
from converter_match.library.check import asked, oddities
from converter_match.library.files import TomlFile, read_toml
from converter_match.library.motor_study_file import read_motor_study
from converter_match.library.read import KINDS
from converter_match.library.schema.quantity import SECOND
from converter_match.library.shipped import data_folder
from converter_match.library.study_file import read_study
from converter_match.library.toml_text import toml_text
from converter_match.units.vocabulary import dimensions_of

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "formats" / "what-is-usual.md"
POUND_FOOT, HORSEPOWER, INCH = 1.3558179483, 0.74569987158, 25.4
_FREE = ("interface", "note", "unsmoothed", "limits_kept", SECOND)


@dataclass(frozen=True)
class Slip:
    """A way in which a number is misread.

    Parameters
    ----------
    kind : str
        As the table counts it.
    what : str
    dimension : str
        Of numbers that it happens to; empty for all.
    spoil : callable
        (number as written, unit as written) -> number read in that unit, or None where it cannot
        happen.
    """

    kind: str
    what: str
    dimension: str
    spoil: Callable[[float, str], float | None]


def _times(factor: float) -> Callable[[float, str], float | None]:
    return lambda number, unit: number * factor


def _shifted(number: float, unit: str, by: float) -> float | None:
    return number + by if unit in ("degC", "K") else None


SLIPS = (
    Slip("a digit", "ten times", "", _times(10.0)),
    Slip("a digit", "a tenth", "", _times(0.1)),
    Slip("three digits", "a thousand times", "", _times(1e3)),
    Slip("three digits", "a thousandth", "", _times(1e-3)),
    Slip("degC for K", "K read as degC", "temperature", lambda n, u: _shifted(n, u, 273.15)),
    Slip("degC for K", "degC read as K", "temperature", lambda n, u: _shifted(n, u, -273.15)),
    Slip("mm for in", "mm read as in", "length", _times(INCH)),
    Slip("mm for in", "in read as mm", "length", _times(1 / INCH)),
    Slip("lbf.ft for N.m", "N.m read as lbf.ft", "torque", _times(POUND_FOOT)),
    Slip("lbf.ft for N.m", "lbf.ft read as N.m", "torque", _times(1 / POUND_FOOT)),
    Slip("lbf.ft for N.m", "N.m read as lbf.ft", "k_factor", _times(POUND_FOOT**-0.5)),
    Slip("lbf.ft for N.m", "lbf.ft read as N.m", "k_factor", _times(POUND_FOOT**0.5)),
    Slip("kW for hp", "hp read as kW", "power", _times(1 / HORSEPOWER)),
    Slip("kW for hp", "kW read as hp", "power", _times(HORSEPOWER)),
)
ROW = "a digit in one row"
KINDS_OF_SLIP = (*dict.fromkeys(slip.kind for slip in SLIPS), ROW)
NAMING: dict[str, Callable[[Path], Any]] = {
    "study": read_study,
    "motor-study": read_motor_study,
    "catalogue": read_catalogue,
}
"""Kinds of file that name others, and have what is odd about them all."""
SMALL = ("lbf.ft for N.m", "kW for hp")
"""Slips by a third: less than one machine differs from the next."""


@dataclass(frozen=True)
class Spoilt:
    """One slip in one file, and whether it was noticed."""

    file: str
    field: str
    kind: str
    what: str
    noticed: bool


def numbers(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], str]]:
    """Yield the place of every number or list of numbers of a file, with its unit."""
    if isinstance(data, dict):
        for key, value in data.items():
            if key in _FREE:
                continue
            if key in ("value", "values") and _numeric(value):
                yield (*path, key), str(data.get("unit", ""))
            elif _numeric(value):
                yield (*path, key), ""
            else:
                yield from numbers(value, (*path, key))
    elif isinstance(data, list):
        for row, value in enumerate(data):
            yield from numbers(value, (*path, row))


def _numeric(value: Any) -> bool:
    if isinstance(value, list):
        return bool(value) and all(_numeric(item) for item in value) and any(value)
    return isinstance(value, int | float) and not isinstance(value, bool) and value != 0


def _spoilt(data: dict[str, Any], path: tuple[Any, ...], spoil: Callable[[Any], Any]) -> Any:
    copy: Any = deepcopy(data)
    here = copy
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = spoil(here[path[-1]])
    return copy


def said_of(kind: str, data: dict[str, Any], source: str, folder: Path) -> frozenset[str] | None:
    """Return what is asked about a file; None where it is refused."""
    try:
        if kind in NAMING:
            path = folder / "spoilt.toml"
            path.write_text(toml_text(data), encoding="utf-8")
            odd = NAMING[kind](path).odd
            return frozenset(f"{whose} {note.code} {_place(note)}" for whose, note in odd)
        component = KINDS[kind].assemble(TomlFile(source, data, ""))
    except InputError:
        return None
    notes = (*oddities(component), *asked(component), *getattr(component, "notes", ()))
    return frozenset(f"{note.code} {_place(note)}" for note in notes if note.kind == "warning")


def _place(note: Any) -> str:
    return str(dict(note.values).get("field", ""))


def _printed_once(data: Any) -> Any:
    """Return the data of a file without its second figures."""
    if isinstance(data, dict):
        return {key: _printed_once(value) for key, value in data.items() if key != SECOND}
    return [_printed_once(value) for value in data] if isinstance(data, list) else data


def of_file(path: Path, folder: Path, twice: bool) -> tuple[list[Spoilt], frozenset[str]]:
    """Return every slip of a file, with its second figures or without, and what it asks clean."""
    data = read_toml(path).data if twice else _printed_once(read_toml(path).data)
    kind, name = str(data["schema"]).split("/")[1], f"{path.parent.name}/{path.stem}"
    clean = said_of(kind, data, name, folder)
    assert clean is not None
    found = []
    for place, unit in numbers(data):
        field = ".".join(str(key) for key in place if key not in ("value", "values"))
        dimensions = _dimensions(data, place, unit)
        for slip in SLIPS:
            if slip.dimension and slip.dimension not in dimensions:
                continue
            if slip.dimension == "temperature" and ("difference" in field or "half_width" in field):
                continue

            def spoil(value: Any, slip: Slip = slip, unit: str = unit) -> Any:
                if isinstance(value, list):  # a column, or the rows of a grid
                    return [spoil(value_, slip, unit) for value_ in value]
                return _number(value, slip.spoil(value, unit))

            said = said_of(kind, _spoilt(data, place, spoil), name, folder)
            noticed = said is None or bool(said - clean)
            found.append(Spoilt(name, field, slip.kind, slip.what, noticed))
        value = _at(data, place)
        if isinstance(value, list) and len(value) > 2 and not isinstance(value[0], list):
            row = len(value) // 2
            for factor, what in ((10.0, "ten times"), (0.1, "a tenth")):

                def one(value: Any, row: int = row, factor: float = factor) -> Any:
                    return [*value[:row], value[row] * factor, *value[row + 1 :]]

                said = said_of(kind, _spoilt(data, place, one), name, folder)
                noticed = said is None or bool(said - clean)
                found.append(Spoilt(name, field, ROW, what, noticed))
    return found, clean


def _number(was: Any, now: float | None) -> Any:
    # A count of teeth stays one.
    whole = now is not None and isinstance(was, int) and float(now).is_integer()
    return was if now is None else int(now) if whole else now


def _at(data: Any, place: tuple[Any, ...]) -> Any:
    for key in place:
        data = data[key]
    return data


def _dimensions(data: Any, place: tuple[Any, ...], unit: str) -> tuple[str, ...]:
    return dimensions_of(unit) if unit else ()


def files() -> list[Path]:
    """Return the shipped files that numbers are spoilt in."""
    return sorted(data_folder().glob("*/*.toml"))


def measure(
    paths: list[Path], twice: bool = True
) -> tuple[list[Spoilt], dict[str, frozenset[str]]]:
    """Return every slip of some files, and what the clean ones are asked about numbers."""
    found, clean = [], {}
    with tempfile.TemporaryDirectory() as folder:
        for path in paths:
            spoilt, said = of_file(path, Path(folder), twice)
            found += spoilt
            clean[f"{path.parent.name}/{path.stem}"] = frozenset(
                text for text in said if "-unusual" in text or "-differ" in text
            )
    return found, clean


def table(found: list[Spoilt], once: list[Spoilt]) -> str:
    """Return the rates as a table: of the files as they are, and without second figures."""
    lines = [
        "| slip | tried | noticed | share | without second figures |",
        "|---|---|---|---|---|",
    ]
    chosen: list[tuple[str, Callable[[Spoilt], bool]]] = [
        (kind, lambda item, kind=kind: item.kind == kind) for kind in KINDS_OF_SLIP
    ]
    chosen += [
        ("all but the two small ones", lambda item: item.kind not in SMALL),
        ("all", lambda item: True),
    ]
    for name, wanted in chosen:
        seen, alone = ([item.noticed for item in items if wanted(item)] for items in (found, once))
        if seen:
            share, bare = (100 * sum(row) / len(row) for row in (seen, alone))
            lines.append(f"| {name} | {len(seen)} | {sum(seen)} | {share:.1f} % | {bare:.1f} % |")
    return "\n".join(lines)


def main() -> int:
    """Measure, print, and write where asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--missed", action="store_true")
    parser.add_argument("--only", default="", help="folder of data, such as engines")
    args = parser.parse_args()
    paths = [path for path in files() if args.only in str(path.parent)]
    found, clean = measure(paths)
    once, _ = measure(paths, twice=False)
    print(table(found, once))
    for name, said in clean.items():
        if said:
            print(f"clean, and asked: {name}: {', '.join(sorted(said))}")
    if args.missed:
        for item in found:
            if not item.noticed:
                print(f"missed: {item.file}: {item.field}: {item.what}")
    if args.write:
        from pages import write_between

        write_between(PAGE, "slip-rates", table(found, once))
    return 0


if __name__ == "__main__":
    sys.exit(main())
