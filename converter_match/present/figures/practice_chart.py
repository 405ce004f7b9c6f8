"""A chart to practise reading on: a known characteristic, drawn as a brochure would print it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from converter_match.components.converter import Converter
from converter_match.library.files import FilePath
from converter_match.present.drawing import style
from converter_match.units import from_si, to_si

REFERENCE_RPM = 1500.0
_SAVED_DPI = 150.0


def practice_chart(converter: Converter, path: FilePath) -> list[dict[str, Any]]:
    """Draw torque ratio and absorbed torque of a converter; return where to click.

    Parameters
    ----------
    converter : Converter
    path : str or path-like
        PNG to write; one that is there is kept from being replaced.

    Returns
    -------
    list of dict
        Marks for `picking.ChartPicker`: two points on each axis, and both ends of each curve.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    figure = style.new_figure(8.0, 5.6)
    left = figure.add_axes((0.1, 0.12, 0.78, 0.76))
    right = left.twinx()
    low, high = max(0.0, converter.domain[0]), min(converter.domain[1], 0.98)
    nu = np.union1d(np.linspace(low, high, 400), converter.characteristic.speed_ratio)
    nu = nu[(nu >= low) & (nu <= high)]
    speed = to_si(REFERENCE_RPM, "rpm", "angular_speed")
    torque = np.asarray(from_si(converter.capacity_at(nu) * speed**2, "N.m", "torque"))
    ratio = np.asarray(converter.torque_ratio_at(nu))
    tops = (0.5 * np.ceil(2.2 * ratio.max()), 100.0 * np.ceil(torque.max() / 90.0))
    for ax, name in ((left, "torque ratio (–)"), (right, "")):
        style.dress(ax)
        style.name_axes(ax, "speed ratio (–)" if ax is left else None, name or None)
    right.grid(visible=False)
    right.spines["right"].set(visible=True, color=style.SLATE)
    words = f"input torque at {REFERENCE_RPM:.0f} rpm (N·m)"
    right.set_title(words, loc="right", **style.words(style.sizes().axis, weight="bold"))
    for ax, values, top, stroke in (
        (left, ratio, tops[0], style.SERIES[1]),
        (right, torque, tops[1], style.SERIES[2]),
    ):
        ax.plot(nu, values, **stroke.line(linestyle="solid"))
        ax.set_xlim(0.0, 1.0)
        ax.set_ylim(0.0, float(top))
    style.save(figure, Path(path), dpi=_SAVED_DPI)
    marks = [_mark(left, "x", x, 0.0, x) for x in (0.0, 1.0)]
    for number, (ax, values, top) in enumerate(((left, ratio, tops[0]), (right, torque, tops[1]))):
        across = 0.0 if ax is left else 1.0
        marks += [_mark(ax, f"axis:{number}", across, y, y) for y in (0.0, float(top))]
        for x in (low + 0.004, high - 0.01):
            marks.append(_mark(ax, f"trace:{number}", x, float(np.interp(x, nu, values)), None))
    return marks


def _mark(ax: Axes, what: str, x: float, y: float, value: float | None) -> dict[str, Any]:
    """Return the mark that a click on a point of the saved picture makes, to a tenth of a pixel."""
    figure = ax.get_figure()
    assert figure is not None
    u, v = ax.transData.transform((x, y))
    height = float(figure.bbox.height)
    scale = _SAVED_DPI / 100.0
    place = [round(scale * float(u) - 0.5, 1), round(scale * (height - float(v)) - 0.5, 1)]
    return {"what": what, "pixel": place} | ({} if value is None else {"value": value})
