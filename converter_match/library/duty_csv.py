"""Duties from CSV files: a point a row, with its share of the time at full throttle."""

from __future__ import annotations

import math
import re
from pathlib import Path

from converter_match.components.duty_points import DutyPoints
from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.table_csv import CsvColumn, CsvTable, read_table

COLUMNS = (
    CsvColumn("share", "ratio"),
    CsvColumn("turbine speed", "angular_speed", required=False, blank=math.nan),
    CsvColumn("speed ratio", "ratio", required=False, blank=math.nan),
    CsvColumn("pump torque", "torque", required=False, blank=0.0),
    CsvColumn("point", required=False),
)
_PLACE = re.compile(r"(\w+)\[(\d+)\]")


def read_duty(path: FilePath) -> DutyPoints:
    """Read a duty.

    Parameters
    ----------
    path : str or path-like
        CSV with the columns ``share`` (of the time at full throttle), ``turbine speed`` or ``speed
        ratio`` (one of the two in each row) and, optional, ``pump torque`` (at the flywheel) and
        ``point`` (what the machine does there). Units stand in the head, ``share [%]``, or in a
        line below. Lines before the head that begin with ``#`` may give ``name`` and ``source``.

    Returns
    -------
    DutyPoints

    Raises
    ------
    InputError
        Naming file, line and column: shares that do not add up to one, a row with both turbine
        speed and speed ratio or with neither, a value below zero, a cell that is not a number.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> duty = read_duty(shipped("duties")["loader-loading-shift"])
    >>> len(duty.label), round(float(duty.share.sum()), 9)
    (6, 1.0)
    """
    table = read_table(path, COLUMNS)
    count = len(table.lines)
    numbers = table.numbers
    absent = (math.nan,) * count
    labels = table.texts.get("point", ("",) * count)
    try:
        return DutyPoints(
            id=Path(path).stem,
            name=table.remarks.get("name", Path(path).stem),
            source=table.remarks.get("source", "not stated"),
            label=tuple(label or f"point {row + 1}" for row, label in enumerate(labels)),
            share=numbers["share"],  # type: ignore[arg-type]
            turbine_speed=numbers.get("turbine speed", absent),  # type: ignore[arg-type]
            speed_ratio=numbers.get("speed ratio", absent),  # type: ignore[arg-type]
            pump_torque=numbers.get("pump torque"),  # type: ignore[arg-type]
        )
    except InputError as error:
        raise _in_the_table(error, table) from None


def _in_the_table(error: InputError, table: CsvTable) -> InputError:
    """Return an error on a row of the duty, said of its line."""
    place = _PLACE.fullmatch(error.field or "")
    if place is None:
        return error.located(source=table.source)
    field = table.place(int(place[2]), place[1].replace("_", " "))
    return error.changed(source=table.source, field=field)
