"""The small TOML file that describes a picture of a chart.

::

    image = "chart.png"              # beside this file; PNG, JPEG or PDF (then page = 1 ...)
    kind = "converter"               # or "engine"
    pick_error = 1.0                 # how well points were picked [px], optional
    at = [0.0, 0.1, 0.2]             # where to read the curves, optional
    corners = [[90, 80], [900, 95], [910, 610], [85, 600]]  # of the frame, if photographed askew

    [x]
    quantity = "speed ratio"         # in the words of the trade; unit = "rpm" where it has one
    scale = "linear"                 # or "log"
    points = [ { pixel = [100, 600], value = 0.0 }, { pixel = [900, 600], value = 1.0 } ]

    [[curve]]
    quantity = "torque ratio"
    points = [ { pixel = [100, 600], value = 0.0 }, { pixel = [100, 100], value = 2.5 } ]
    picked = [ [100, 160], [500, 320] ]                # pixels on the curve, or
    trace = { from = [102, 160], to = [890, 398] }     # follow it by its colour

    [[curve]]
    quantity = "input torque"
    unit = "N.m"
    at_speed = { unit = "rpm", value = 1700 }          # where it holds for one impeller speed
    ...

Pixels count from the upper left corner, column first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

from converter_match.errors import InputError, did_you_mean
from converter_match.library.intake.answers import Kind
from converter_match.library.intake.calibration import Scale
from converter_match.library.intake.trace import TOLERANCE
from converter_match.library.intake.vocabulary import ROLES, meaning_of
from converter_match.library.names import is_far
from converter_match.units import to_si

Pixel = tuple[float, float]
_MOST_POINTS = 2000
_MOST_CURVES = 8


@dataclass(frozen=True)
class Point:
    """A calibration point: a pixel and the number that stands there."""

    pixel: Pixel
    value: float


@dataclass(frozen=True)
class AxisSpec:
    """An axis of the chart."""

    quantity: str
    role: str
    unit: str
    scale: Scale
    points: tuple[Point, ...]


@dataclass(frozen=True)
class TraceSpec:
    """How a curve is followed by its colour."""

    start: Pixel
    stop: Pixel
    colour: tuple[int, int, int] | None
    tolerance: float


@dataclass(frozen=True)
class CurveSpec:
    """A curve of the chart."""

    axis: AxisSpec
    picked: tuple[Pixel, ...]
    trace: TraceSpec | None
    reference: tuple[float, str] | None


@dataclass(frozen=True)
class PictureSpec:
    """A picture of a chart, described."""

    source: str
    image: str
    page: int
    kind: Kind
    pick_error: float
    at: tuple[float, ...]
    corners: tuple[Pixel, ...]
    x: AxisSpec
    curves: tuple[CurveSpec, ...]


def picture_spec(data: dict[str, Any], source: str) -> PictureSpec:
    """Return the description in a file, checked.

    Parameters
    ----------
    data : dict
        As TOML gives it.
    source : str
        The file.

    Raises
    ------
    InputError
        Naming the field, what was found and what was expected.
    """
    try:
        return _spec(data, source)
    except InputError as refusal:
        raise refusal.located(source=source) from None


def _spec(data: dict[str, Any], source: str) -> PictureSpec:
    if str(data.get("schema", "")).startswith("converter-match/"):
        raise InputError(
            "is a component file already, and needs no bringing in",
            field="schema",
            found=data["schema"],
            hint="`converter-match check` reads it; --export makes a sheet of it",
        )
    _known(data, ("image", "page", "kind", "pick_error", "at", "corners", "x", "curve"), "")
    kind = data.get("kind", "converter")
    if kind not in ("converter", "engine"):
        raise InputError(
            "not a known choice", field="kind", found=kind, expected="converter | engine"
        )
    curves = data.get("curve", [])
    if isinstance(curves, dict):
        curves = [curves]
    if not isinstance(curves, list) or not 1 <= len(curves) <= _MOST_CURVES:
        raise InputError(
            "no curves", field="curve", expected=f"1 to {_MOST_CURVES} tables [[curve]]"
        )
    page = data.get("page", 1)
    if not isinstance(page, int) or isinstance(page, bool) or page < 1:
        raise InputError("not a page number", field="page", found=page)
    error = _number(data.get("pick_error", 1.0), "pick_error")
    if error <= 0:
        raise InputError("must be above zero", field="pick_error", found=error)
    at = data.get("at", [])
    if not isinstance(at, list) or len(at) > _MOST_POINTS:
        raise InputError("a list of numbers is due here", field="at", found=at)
    corners = data.get("corners", [])
    if not isinstance(corners, list) or len(corners) not in (0, 4):
        raise InputError(
            "needs four corners",
            field="corners",
            found=corners,
            expected="[[column, row], ...]: upper left, upper right, lower right, lower left",
        )
    return PictureSpec(
        source=source,
        corners=tuple(_pixel(each, f"corners[{n}]") for n, each in enumerate(corners)),
        image=_image(data.get("image")),
        page=page,
        kind=kind,
        pick_error=error,
        at=tuple(sorted({_number(value, f"at[{n}]") for n, value in enumerate(at)})),
        x=_axis(_table(data, "x"), kind, "x", ("quantity", "unit", "scale", "points")),
        curves=tuple(_curve(curve, kind, f"curve[{n}]") for n, curve in enumerate(curves)),
    )


def _image(name: object) -> str:
    if not isinstance(name, str) or not name.strip():
        raise InputError("missing", field="image", expected='image = "chart.png"')
    away = is_far(name) or PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive
    parts = PureWindowsPath(name).parts  # takes both slashes as divisions
    if away or ".." in parts or name.startswith("\\"):
        raise InputError(
            "leads out of the folder of this file",
            field="image",
            found=name,
            expected="a picture beside it or in a folder below",
        )
    return name


def _curve(data: object, kind: Kind, field: str) -> CurveSpec:
    if not isinstance(data, dict):
        raise InputError("a table is due here", field=field, found=data)
    own = ("quantity", "unit", "scale", "points", "picked", "trace", "at_speed")
    axis = _axis(data, kind, field, own)
    picked = data.get("picked", [])
    if not isinstance(picked, list) or len(picked) > _MOST_POINTS:
        raise InputError("a list of pixels is due here", field=f"{field}.picked", found=picked)
    follow = data.get("trace")
    if bool(picked) == (follow is not None):
        raise InputError(
            "give picked or trace" + (", not both" if picked else ""),
            field=f"{field}.picked",
            expected="picked = [[column, row], ...] or trace = { from = ..., to = ... }",
        )
    reference = None
    if "at_speed" in data:
        table = data["at_speed"]
        if not isinstance(table, dict):
            raise InputError("a quantity is due here", field=f"{field}.at_speed", found=table)
        value = _number(table.get("value"), f"{field}.at_speed.value")
        unit = str(table.get("unit", ""))
        to_si(value, unit, "angular_speed", field=f"{field}.at_speed.unit")
        reference = (value, unit)
    return CurveSpec(
        axis=axis,
        picked=tuple(_pixel(pixel, f"{field}.picked[{n}]") for n, pixel in enumerate(picked)),
        trace=None if follow is None else _trace(follow, f"{field}.trace"),
        reference=reference,
    )


def _trace(data: object, field: str) -> TraceSpec:
    if not isinstance(data, dict):
        raise InputError("a table is due here", field=field, found=data)
    _known(data, ("from", "to", "colour", "tolerance"), f"{field}.")
    colour = data.get("colour")
    if colour is not None:
        digits = str(colour).removeprefix("#")
        try:
            if len(digits) != 6:
                raise ValueError
            colour = (int(digits[:2], 16), int(digits[2:4], 16), int(digits[4:], 16))
        except ValueError:
            raise InputError(
                "not a colour", field=f"{field}.colour", found=colour, expected='"#c84a27"'
            ) from None
    tolerance = _number(data.get("tolerance", TOLERANCE), f"{field}.tolerance")
    return TraceSpec(
        _pixel(data.get("from"), f"{field}.from"),
        _pixel(data.get("to"), f"{field}.to"),
        colour,
        tolerance,
    )


def _axis(data: dict[str, Any], kind: Kind, field: str, known: tuple[str, ...]) -> AxisSpec:
    _known(data, known, f"{field}.")
    quantity = data.get("quantity")
    if not isinstance(quantity, str):
        raise InputError("missing", field=f"{field}.quantity", expected='such as "torque ratio"')
    found = meaning_of(quantity, kind)
    role = quantity if quantity in ROLES else found.role if found else None
    if role is None or (role == "capacity"):
        raise InputError(
            "is nothing that is known",
            field=f"{field}.quantity",
            found=quantity,
            expected="such as 'speed ratio', 'torque ratio', 'K-factor', 'input torque', 'torque'",
            hint=did_you_mean(quantity, [each.replace("_", " ") for each in ROLES]),
        )
    unit = data.get("unit", "")
    dimension = ROLES[role] or ""
    to_si(1.0, unit, dimension, field=f"{field}.unit")
    scale = data.get("scale", "linear")
    if scale not in ("linear", "log"):
        raise InputError(
            "not a known choice", field=f"{field}.scale", found=scale, expected="linear | log"
        )
    points = data.get("points")
    if not isinstance(points, list) or not 2 <= len(points) <= _MOST_POINTS:
        raise InputError(
            "needs two calibration points or more",
            field=f"{field}.points",
            found=points,
            expected="[ { pixel = [column, row], value = ... }, ... ]",
        )
    return AxisSpec(
        quantity, role, unit, scale, tuple(_point(p, f"{field}.points[{n}]") for n, p in
                                           enumerate(points))
    )  # fmt: skip


def _point(data: object, field: str) -> Point:
    if not isinstance(data, dict):
        raise InputError(
            "a table is due here",
            field=field,
            found=data,
            expected="{ pixel = [...], value = ... }",
        )
    _known(data, ("pixel", "value"), f"{field}.")
    return Point(_pixel(data.get("pixel"), f"{field}.pixel"), _number(data.get("value"), field))


def _pixel(data: object, field: str) -> Pixel:
    if not isinstance(data, list | tuple) or len(data) != 2:
        raise InputError("a pixel is due here", field=field, found=data, expected="[column, row]")
    return _number(data[0], field), _number(data[1], field)


def _number(value: object, field: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise InputError("a number is due here", field=field, found=value)
    if abs(value) > 1e12:
        raise InputError("too large a number", field=field, found=value)
    return float(value)


def _table(data: dict[str, Any], key: str) -> dict[str, Any]:
    found = data.get(key)
    if not isinstance(found, dict):
        raise InputError("missing", field=key, expected=f"a table [{key}]")
    return found


def _known(data: dict[str, Any], keys: tuple[str, ...], before: str) -> None:
    for key in data:
        if key not in keys:
            raise InputError(
                "unknown key",
                field=f"{before}{key}",
                expected=", ".join(keys),
                hint=did_you_mean(key, keys),
            )
