"""The reading error of a sheet's columns becomes the band of a converter file."""

from __future__ import annotations

import numpy as np

from converter_match.components.capacity_forms import AS_SPEED
from converter_match.components.reading_band import WIDEST
from converter_match.curves import FloatArray
from converter_match.library.intake.table import SheetColumn, SheetTable

BANDS = ("torque_ratio_band", "capacity_band")
"""Columns of a sheet that give the band itself."""


def reading_bands(
    table: SheetTable, main: SheetColumn, ratio: SheetColumn | None
) -> dict[str, list[float]]:
    """Return the bands of a converter file, as shares for each row; none where nothing is known.

    Parameters
    ----------
    table : SheetTable
    main : SheetColumn
        The capacity column that is used.
    ratio : SheetColumn or None
        That of the torque ratio, or of the efficiency that it was made of.

    Notes
    -----
    K and the speed at a constant torque go with ``1 / sqrt(C)``: within a share e of them the
    capacity lies up to ``1 / (1 - e)^2 - 1`` off.
    """
    shares = {
        "torque_ratio_band": None if ratio is None else _share(ratio),
        "capacity_band": _share(main),
    }
    off = shares["capacity_band"]
    if off is not None and main.role in AS_SPEED:
        shares["capacity_band"] = 1.0 / (1.0 - np.minimum(off, 0.5)) ** 2 - 1.0
    bands = {}
    for name, own in shares.items():
        stated = table.one(name)
        if stated is not None and np.isfinite(stated.values).all():
            own = stated.si()
        if own is not None and own.any():
            exact = stated is not None
            bands[name] = [
                float(value) if exact else float(f"{value:.3g}")
                for value in np.clip(own, 0.0, WIDEST)
            ]
    return bands


def _share(column: SheetColumn) -> FloatArray | None:
    """Return the reading error as a share; where the value is nothing, that of the row beside."""
    if column.tolerance is None:
        return None
    there = np.isfinite(column.values) & (column.values != 0.0)
    if not there.any():
        return None
    rows = np.arange(column.values.size)
    share = column.tolerance[there] / np.abs(column.values[there])
    return np.asarray(np.interp(rows, rows[there], share))
