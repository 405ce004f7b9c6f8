"""Columns of one sheet that say the same thing twice, compared."""

from __future__ import annotations

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note

# Printed digits explain about this much: two decimals of the speed ratio and of the torque ratio
# move their product by 0.005 * 2 + 0.005, and a K-factor or a torque of three digits is good to
# half a percent, its square to one.
EFFICIENCY_ROUNDING = 0.015
COLUMN_ROUNDING = 0.015
# Beyond these one of the two columns belongs to another converter or another engine.
EFFICIENCY_GROSS = 0.05
COLUMN_GROSS = 0.10


def efficiency_notes(
    speed_ratio: FloatArray, torque_ratio: FloatArray, efficiency: FloatArray, field: str
) -> tuple[Note, ...]:
    """Compare an efficiency column with speed ratio x torque ratio.

    Parameters
    ----------
    speed_ratio, torque_ratio, efficiency : ndarray, shape (n,)
        As on the sheet, as shares.
    field : str
        Path of the efficiency column.

    Returns
    -------
    tuple of Note
        A warning where they differ by more than the printed digits explain.

    Raises
    ------
    InputError
        Where they differ grossly, or the efficiency is above 1.
    """
    # Backward rows deliver nothing, and in overrun sheets give the reciprocal.
    rows = np.flatnonzero((speed_ratio >= 0) & (speed_ratio <= 1))
    for row in rows.tolist():
        if efficiency[row] > 1:
            raise InputError(
                "efficiency above 1",
                field=f"{field}[{row}]",
                found=float(efficiency[row]),
                expected="a share of at most 1",
                hint='for percent write { unit = "percent", values = [...] }',
            )
    product = speed_ratio * torque_ratio
    off = np.abs(efficiency - product)[rows]
    if not off.size or off.max() <= EFFICIENCY_ROUNDING:
        return ()
    row = int(rows[off.argmax()])
    said = (
        f"{product[row]:.3f} = speed ratio {speed_ratio[row]:.6g} x torque ratio "
        f"{torque_ratio[row]:.6g}"
    )
    if off.max() > EFFICIENCY_GROSS:
        raise InputError(
            f"row {row + 1} contradicts the torque ratio",
            field=f"{field}[{row}]",
            found=float(efficiency[row]),
            expected=f"about {said}",
            hint="one of the two columns is wrong",
        )
    return (
        Note(
            "efficiency-column-off",
            f"Row {row + 1} of the efficiency column is {efficiency[row]:.3f}, but {said}: more "
            "apart than the printed digits explain. The torque ratio was used.",
        ),
    )


def column_notes(
    used: FloatArray,
    other: FloatArray,
    *,
    floor: float,
    what: tuple[str, str],
    field: str,
    rows: tuple[str, ...],
    code: str,
) -> tuple[Note, ...]:
    """Compare a second column with the one that is used.

    Parameters
    ----------
    used, other : ndarray, shape (n,)
        The same quantity in the same unit from two columns.
    floor : float
        Values below it are compared as if they were it: near zero the digits run out.
    what : (str, str)
        What the used and the other column are called.
    field : str
        Path of the other column.
    rows : tuple of str
        What to call each row.
    code : str
        Code of the warning.

    Returns
    -------
    tuple of Note
        A warning where they differ by more than the printed digits explain.

    Raises
    ------
    InputError
        Where they differ grossly, naming the row.
    """
    scale = np.maximum(np.maximum(np.abs(used), np.abs(other)), floor)
    off = np.abs(other - used) / scale
    row = int(off.argmax())
    if off[row] <= COLUMN_ROUNDING:
        return ()
    said = f"{100 * off[row]:.1f} %"
    if off[row] > COLUMN_GROSS:
        raise InputError(
            f"row {row + 1} contradicts the {what[0]}",
            field=f"{field}[{row}]",
            found=f"{said} apart {rows[row]}",
            expected=f"two columns that agree within {100 * COLUMN_GROSS:.0f} %",
            hint="is one of the units wrong?",
        )
    return (
        Note(
            code,
            f"The {what[1]} and the {what[0]} differ by {said} in row {row + 1} ({rows[row]}): "
            f"more than the printed digits explain. The {what[0]} was used.",
        ),
    )
