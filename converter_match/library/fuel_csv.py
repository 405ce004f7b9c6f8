"""Fuel maps from CSV files: a row for each point of a full grid of engine speed and torque."""

from __future__ import annotations

import numpy as np

from converter_match.components.base import in_rpm
from converter_match.components.fuel_map import FuelMap
from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.table_csv import CsvColumn, read_table

COLUMNS = (
    CsvColumn("speed", "angular_speed"),
    CsvColumn("torque", "torque"),
    CsvColumn("rate", "fuel_rate", required=False),
    CsvColumn("bsfc", "specific_fuel", required=False),
)


def read_fuel_map(path: FilePath) -> FuelMap:
    """Read a fuel map.

    Parameters
    ----------
    path : str or path-like
        CSV with the columns ``speed``, ``torque`` (at the flywheel, on the rating's basis) and
        either ``rate`` (fuel flow) or ``bsfc``; units in the head, any order of rows.

    Returns
    -------
    FuelMap

    Raises
    ------
    InputError
        Naming file, line and column; also for a grid with holes.
    """
    table = read_table(path, COLUMNS)
    speed, torque = (np.array(table.numbers[name]) for name in ("speed", "torque"))
    given = [name for name in ("rate", "bsfc") if name in table.numbers]
    if len(given) != 1:
        raise InputError(
            "a fuel map gives one of two columns",
            source=table.source,
            field="line 1",
            found=", ".join(given) or "neither",
            expected="rate or bsfc",
        )
    value = np.array(table.numbers[given[0]])
    for negative in np.flatnonzero(value < 0):
        raise InputError(
            "below zero", source=table.source, field=table.place(int(negative), given[0]),
            found=float(value[negative]),
        )  # fmt: skip
    rate = value if given[0] == "rate" else value * speed * torque
    speeds, torques = np.unique(speed), np.unique(torque)
    grid = np.full((speeds.size, torques.size), np.nan)
    for row in range(speed.size):
        i, j = np.searchsorted(speeds, speed[row]), np.searchsorted(torques, torque[row])
        if not np.isnan(grid[i, j]):
            raise InputError(
                "the point is given twice", source=table.source, field=f"line {table.lines[row]}"
            )
        grid[i, j] = rate[row]
    if np.isnan(grid).any():
        holes = np.argwhere(np.isnan(grid))[0]
        raise InputError(
            "the map has a hole",
            source=table.source,
            found=(f"no row at {in_rpm(speeds[holes[0]])} and {torques[holes[1]]:.5g} N·m"),
            expected="a row for each speed with each torque",
        )
    try:
        return FuelMap(speeds, torques, grid)
    except InputError as error:
        raise error.located(source=table.source) from None
