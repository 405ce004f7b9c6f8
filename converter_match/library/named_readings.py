"""Readings that a study names as they stand elsewhere: in a log of stall tests, or identified."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from converter_match.components.site import Site
from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath, read_text
from converter_match.library.paths import placed
from converter_match.library.schema.quantity import GivenQuantity, read_quantity
from converter_match.library.stall_log import read_log
from converter_match.library.stall_log_table import LogRow
from converter_match.units import to_si

if TYPE_CHECKING:
    from converter_match.library.schema import study as schema

_KEYS = {
    "k-factor": ("k_factor_rpm_per_sqrt_nm", "rpm/sqrt(N*m)"),
    "torque-ratio": ("torque_ratio", ""),
}
_SAME_RATIO = 0.005


@dataclass(frozen=True)
class Places:
    """Where the readings of a study were taken, and how to get at files.

    Parameters
    ----------
    sites : sequence of Site
        Of the study.
    found : callable
        Of (place, as written, search): the path of a file that a study names.
    taken : callable
        Of (place, as written, path, reader): the file read, and kept with the inputs.
    """

    sites: Sequence[Site]
    found: Callable[[str, str, Callable[[FilePath], Path]], Path]
    taken: Callable[[str, str, Path, Callable[[Any], Any]], Any]


@dataclass(frozen=True, kw_only=True)
class NamedReading:
    """A reading, typed in the study or found where the study says.

    Parameters
    ----------
    value : GivenQuantity
    deviation : float, optional
        [SI], where the place tells it.
    repeats : int
        Zero where the study has to say.
    oil_temperature : float, optional
        [K].
    date, source : str
    """

    value: GivenQuantity
    deviation: float | None = None
    repeats: int = 0
    oil_temperature: float | None = None
    date: str = ""
    source: str = ""


def named_reading(
    table: schema.MeasurementTable, dimension: str, places: Places, place: str
) -> NamedReading:
    """Return the reading of a row, whichever way the study gives it.

    Parameters
    ----------
    table : MeasurementTable
    dimension : str
        Of the quantity.
    places : Places
    place : str
        Of the row.

    Raises
    ------
    InputError
        If it is given in two ways or none, or is not where the study says.
    """
    ways = [name for name in ("value", "log", "identified") if getattr(table, name) is not None]
    if len(ways) != 1:
        raise InputError(
            "a reading is given in one way", field=f"{place}.value",
            found=" and ".join(ways) or "none", expected="value, log or identified",
        )  # fmt: skip
    if (table.log is None) != (table.machine is None):
        raise InputError(
            "a log and the name of a machine in it go together", field=f"{place}.machine",
            expected="both, or neither",
        )  # fmt: skip
    if table.log is not None:
        return _of_log(table, places, place)
    if table.identified is not None:
        return _identified(table, dimension, places, place)
    with placed(f"{place}.value", None):
        return NamedReading(value=read_quantity(table.value, dimension, bare=dimension == "ratio"))


def _file(name: FilePath) -> Path:
    path = Path(name)
    if not path.is_file():
        raise InputError("no such file", found=str(name))
    return path


def _of_log(table: schema.MeasurementTable, places: Places, place: str) -> NamedReading:
    """Return the mean of the converter stalls of one machine on one day."""
    assert table.log is not None
    assert table.machine is not None
    if table.quantity != "stall-speed":
        raise InputError(
            "a log of stall tests has stall speeds only", field=f"{place}.log",
            found=table.quantity, expected="stall-speed",
        )  # fmt: skip
    if table.repeats is not None:
        raise InputError(
            "the log tells how many there are", field=f"{place}.repeats",
            expected="the key left out",
        )  # fmt: skip
    path = places.found(f"{place}.log", table.log, _file)
    rows: tuple[LogRow, ...] = places.taken(f"{place}.log", table.log, path, read_log)
    names = sorted({row.machine for row in rows})
    if table.machine not in names:
        raise InputError(
            "there is no such machine in the log", field=f"{place}.machine", found=table.machine,
            expected=" | ".join(names), hint=did_you_mean(table.machine, names),
        )  # fmt: skip
    mine = [
        row for row in rows
        if row.machine == table.machine and row.test == "converter" and row.brakes == "held"
    ]  # fmt: skip
    days = sorted({row.time.date().isoformat() for row in mine})
    day = table.date or (days[-1] if days else "")
    chosen = [row for row in mine if row.time.date().isoformat() == day]
    if not chosen:
        raise InputError(
            "the log has no converter stall of this machine with the brakes held then",
            field=f"{place}.date", found=day or "none", expected=" | ".join(days) or "none",
        )  # fmt: skip
    mean = math.fsum(row.engine_speed_rpm for row in chosen) / len(chosen)
    oil = [row.oil_temperature_degc for row in chosen if row.oil_temperature_degc is not None]
    warm = float(to_si(math.fsum(oil) / len(oil), "degC", "temperature")) if oil else None
    return NamedReading(
        value=GivenQuantity(mean, "rpm", float(to_si(mean, "rpm", "angular_speed"))),
        repeats=len(chosen),
        oil_temperature=warm,
        date=day,
        source=f"{table.log}, {table.machine}",
    )


def _identified(
    table: schema.MeasurementTable, dimension: str, places: Places, place: str
) -> NamedReading:
    """Return what was identified at a speed ratio, with the deviation that its band tells."""
    assert table.identified is not None
    if table.quantity not in _KEYS or table.speed_ratio is None:
        raise InputError(
            "what was identified is a row of the characteristic", field=f"{place}.identified",
            found=table.quantity, expected="k-factor or torque-ratio, with its speed_ratio",
        )  # fmt: skip
    written, wanted = table.identified, table.speed_ratio.si
    path = places.found(f"{place}.identified", written, _file)
    data = places.taken(f"{place}.identified", written, path, _read_identified)
    key, unit = _KEYS[table.quantity]
    known = {node["speed_ratio"]: node[key] for node in data["nodes"] if node.get(key)}
    near = [ratio for ratio in known if abs(ratio - wanted) <= _SAME_RATIO]
    if not near:
        raise InputError(
            "nothing was identified at that speed ratio", field=f"{place}.speed_ratio",
            found=wanted, expected=", ".join(f"{ratio:.3g}" for ratio in known) or "none",
        )  # fmt: skip
    band = known[near[0]]

    def si(number: float) -> float:
        return float(to_si(number, unit, dimension)) if unit else float(number)

    half = 0.5 * (si(band["high"]) - si(band["low"]))
    return NamedReading(
        value=GivenQuantity(band["value"], unit, si(band["value"])),
        deviation=half / _normal(data["coverage"]),
        repeats=1,
        source=written,
    )


def _normal(coverage: float) -> float:
    """Return how many standard deviations a band of a coverage reaches to either side."""
    from statistics import NormalDist

    return NormalDist().inv_cdf(0.5 + 0.5 * coverage)


def _read_identified(path: FilePath) -> dict[str, Any]:
    """Return the result of identify as it was printed.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        data = json.loads(read_text(path, "what identify has found (JSON text)"))
    except json.JSONDecodeError as error:
        raise InputError(
            "not JSON", source=str(path), field=f"line {error.lineno}", found=error.msg,
            expected="the output of identify --json",
        ) from None  # fmt: skip
    kept = isinstance(data, dict) and isinstance(data.get("nodes"), list)
    if not kept or not 0.0 < float(data.get("coverage") or 0.0) < 1.0:
        raise InputError(
            "not what identify has found", source=str(path), field="nodes",
            expected="the output of identify --json, with nodes and coverage",
        )  # fmt: skip
    return dict(data)
