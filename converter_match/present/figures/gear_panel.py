"""The gear engaged over time or distance: beside its line, which drive carries it."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.drive_chain import DriveChain
from converter_match.present.drawing import style

# Beside colour, the place above or below the gear's line tells the two drives apart.
_DRIVES = ((False, "gear-converter", "plum", -0.15), (True, "gear-lock-up", "ink", 0.15))


def gear_panel(
    ax: Axes,
    chain: DriveChain,
    state: NDArray[np.integer],
    starts: FloatArray,
    ends: FloatArray,
    font_scale: float,
) -> None:
    """Draw each stretch in the gear that carries it.

    Parameters
    ----------
    ax : Axes
    chain : DriveChain
    state : ndarray, shape (n,)
        Place in the chain, one a stretch.
    starts, ends : ndarray, shape (n,)
        Of the stretches, in the units of the axis.
    font_scale : float
    """
    state, starts, ends = _joined(state, starts, ends)
    names = list(dict.fromkeys(drive.gear.name for drive in chain.drives))
    ax.set_ylim(0.4, len(names) + 0.9)
    ax.set_yticks(np.arange(1, len(names) + 1), names)
    for held, gid, color, off in _DRIVES:
        pick = chain.locked[state] == held
        ax.hlines(
            chain.gear_index[state[pick]] + 1.0 + off,
            starts[pick],
            ends[pick],
            colors=style.PALETTE[color],
            linewidth=3.0,
            gid=gid,
        )
    title = "gear engaged"
    if chain.locked.any():
        title += ": dark above its line in lock-up, purple below it through the converter"
    style.name_axes(ax, None, title, font_scale=font_scale)


def _joined(
    state: NDArray[np.integer], starts: FloatArray, ends: FloatArray
) -> tuple[NDArray[np.integer], FloatArray, FloatArray]:
    """Return as one stretch what follows without a gap in one drive: seams of many grow pale."""
    if not state.size:
        return state, starts, ends
    parted = (np.diff(state) != 0) | (starts[1:] != ends[:-1])
    first = np.flatnonzero(np.append(True, parted))
    last = np.flatnonzero(np.append(parted, True))
    return state[first], starts[first], ends[last]
