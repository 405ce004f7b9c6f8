"""What a figure or a document shows, in lines: of each thing its name, its look, its numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.collections import Collection, PathCollection, PolyCollection, QuadMesh
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Annotation, Text

from converter_match.notes import Note
from converter_match.units import note_text
from tests.answers.holding import WHOLE

POINTS = 5
"""Of a line so many points stand in the file, from its first to its last."""
# Levels of contour lines: where a contour is cut into pieces is a matter of the last digit.
LEVELS = ("torque", "power-left", "clutch-heat")


def numbers(values: Any) -> str:
    """Return some numbers of a row and their mean, to six digits."""
    row = np.ravel(np.asarray(np.ma.filled(np.ma.asarray(values, dtype=float), np.nan)))
    if row.size == 0:
        return "none"
    at = np.unique(np.linspace(0, row.size - 1, POINTS).round().astype(int))
    known = row[np.isfinite(row)]
    said = " ".join(number(row[k]) for k in at)
    mean = number(known.mean()) if known.size else "nan"
    return f"{row.size}: {said}, mean {mean}"


def number(value: float) -> str:
    """Return six digits; what is left where nothing should be counts as nothing."""
    return f"{0.0 if abs(value) < 1e-9 else value:.6g}"


def hexed(color: Any) -> str:
    """Return colours as people write them, each once."""
    if isinstance(color, str):
        return color if color == "none" else to_hex(color, keep_alpha=True)
    rows = np.atleast_2d(np.asarray(color, dtype=float))
    return " ".join(dict.fromkeys(to_hex(row, keep_alpha=True) for row in rows)) or "none"


def artist_lines(item: Artist) -> Iterator[str]:
    """Yield what one artist shows; nothing of what only holds others."""
    # By its own name in the drawing library, but for areas: their class changed once.
    kind = "Area" if isinstance(item, PolyCollection) else type(item).__name__
    name = f"{kind} {item.get_gid() or '-'} {item.get_label() or '-'}"
    if not item.get_visible():
        return
    if isinstance(item, Line2D):
        look = f"{hexed(item.get_color())} {item.get_linestyle()} {item.get_linewidth():.3g}"
        yield f"{name}: {look} {item.get_marker()} {item.get_markersize():.3g}"
        yield f"  x {numbers(item.get_xdata())}"
        yield f"  y {numbers(item.get_ydata())}"
    elif isinstance(item, Annotation):
        yield f"{name}: {item.get_text()!r}, {letters(item)}"
        if item.arrow_patch is not None:
            yield f"  at {numbers(item.xy)}"
    elif isinstance(item, Text):
        if item.get_text():
            yield f"{name}: {item.get_text()!r}, {letters(item)}"
    elif isinstance(item, Collection):
        look = f"{hexed(item.get_facecolor())} on {hexed(item.get_edgecolor())}"
        yield f"{name}: {look}"
        if isinstance(item, PathCollection):
            x, y = np.ma.asarray(item.get_offsets()).T
            yield f"  x {numbers(x)}"
            yield f"  y {numbers(y)}"
        elif isinstance(item, QuadMesh):
            yield f"  {numbers(item.get_array())}"
        elif item.get_gid() is None or str(item.get_gid()) not in LEVELS:
            paths = item.get_paths()
            yield f"  {len(paths)} paths"
            for path in paths if len(paths) <= WHOLE else (paths[0], paths[-1]):
                yield from ends(path.vertices)
    elif isinstance(item, AxesImage):
        yield f"{name}: {numbers(item.get_array())}"
    elif isinstance(item, Patch):
        look = f"{hexed(item.get_facecolor())} on {hexed(item.get_edgecolor())} {item.get_hatch()}"
        yield f"{name}: {look}"
        yield from ends(item.get_patch_transform().transform(item.get_path().vertices))


def letters(text: Text) -> str:
    """Return how a text is written."""
    return f"{hexed(text.get_color())} {text.get_fontsize():.3g} {text.get_fontweight()}"


def ends(vertices: Any) -> Iterator[str]:
    """Yield how far an area reaches."""
    known = np.asarray(vertices)[np.isfinite(vertices).all(axis=1)]
    if known.size:
        (left, low), (right, high) = known.min(axis=0), known.max(axis=0)
        yield f"  x {number(left)} to {number(right)}, y {number(low)} to {number(high)}"


def figure_lines(figure: Figure) -> Iterator[str]:
    """Yield what a figure shows, one thing a line."""
    yield f"{len(figure.axes)} axes"
    for item in (*figure.texts, *figure.lines, *figure.patches):
        yield from artist_lines(item)
    for ax in figure.axes:
        title = next((t for t in map(ax.get_title, ("left", "center", "right")) if t), "")
        yield ""
        yield f"{title!r}: {ax.get_xlabel()!r} across, {ax.get_ylabel()!r} up"
        for along, axis, limits in (("x", ax.xaxis, ax.get_xlim()), ("y", ax.yaxis, ax.get_ylim())):
            told = axis.get_tick_params()
            sides = [
                side for side in ("left", "right", "bottom", "top") if told.get(f"label{side}")
            ]
            labelled = f"labelled {' '.join(sides) or 'nowhere'}"
            yield f"  {along} {numbers(limits)} {axis.get_scale()}, {labelled}"
        own = (ax.patch, *ax.spines.values(), ax.title, ax._left_title, ax._right_title)  # type: ignore[attr-defined]
        for item in ax.get_children():
            if item not in own:
                yield from artist_lines(item)
        legend = ax.get_legend()
        if legend is not None:
            yield f"legend {[text.get_text() for text in legend.get_texts()]}"


def document_lines(part: Any, system: str, place: str = "") -> Iterator[str]:
    """Yield what a document holds, with its place in it."""
    if isinstance(part, Figure):
        yield f"{place}: a figure"
        yield from figure_lines(part)
    elif isinstance(part, Note):
        yield f"{place} = {part.code} {note_text(part, system)!r}"  # type: ignore[arg-type]
    elif isinstance(part, np.ndarray) and part.dtype.kind in "fiu":
        yield f"{place} = {numbers(part)}"
    elif isinstance(part, dict):
        for key, value in part.items():
            yield from document_lines(value, system, f"{place}.{key}")
    elif isinstance(part, list | tuple) and part and all(isinstance(v, float) for v in part):
        yield f"{place} = {numbers(part)}"
    elif isinstance(part, list | tuple):
        yield f"{place}: {len(part)}"
        for row, value in enumerate(part):
            yield from document_lines(value, system, f"{place}[{row}]")
    elif is_dataclass(part):
        for field in fields(part):
            yield from document_lines(getattr(part, field.name), system, f"{place}.{field.name}")
    elif isinstance(part, float):
        yield f"{place} = {number(part)}"
    elif isinstance(part, str | int | None):
        yield f"{place} = {part!r}"
