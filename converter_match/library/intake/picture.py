"""A curve from a picture of a chart: calibrated axes, picked or followed points, reading error."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from converter_match.curves import Curve, FloatArray
from converter_match.errors import InputError
from converter_match.library.files import FilePath, read_toml
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.answers_file import with_saved
from converter_match.library.intake.calibration import LEAST_ERROR, Axis, calibrate
from converter_match.library.intake.columns import Gathered
from converter_match.library.intake.converter_sheet import read_converter_sheet
from converter_match.library.intake.draft import Chart, Draft, Followed, draft_of, on_saved
from converter_match.library.intake.engine_sheet import read_engine_sheet
from converter_match.library.intake.facts import fact_si
from converter_match.library.intake.image_file import Image, read_image
from converter_match.library.intake.picture_file import CurveSpec, PictureSpec, picture_spec
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.straighten import SEEN, Straight, apart, straight_from
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.trace import trace

# Speed ratios of 40 CFR 1037.570 and of (EU) 2017/2400 Annex VI: 0 to 0.6 by tenths, then by
# twentieths. A traced curve is read there when nothing else is asked for.
TEST_GRID = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95)
_ENGINE_POINTS = 13
_JUST_BEYOND = 3.0
"""Reading errors by which a position may lie beyond the end of a curve: nobody clicks on the axis
itself. The end counts there, and the error grows by what the curve may have done between."""
_REACH = 8  # points over which a slope is taken


@dataclass(frozen=True, eq=False)
class ReadCurve:
    """A curve in numbers.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        In the units of the axes, x increasing.
    error : ndarray, shape (n,)
        Half width of the reading error of y; what x is uncertain by is in it.
    x_error : float
        Half width of the reading error of x, for the ends.
    picked : bool
    path : ndarray, shape (m, 2)
        Pixels of the picture that were picked or followed.
    """

    x: FloatArray
    y: FloatArray
    error: FloatArray
    x_error: float
    picked: bool
    path: FloatArray


def intake_picture(
    path: FilePath, answers: Answers | None = None, *, fresh: bool = False, **more: Any
) -> Draft:
    """Read curves from a picture that a small TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The TOML file: the picture, its axes, the curves (see `picture_file`).
    answers, fresh, **more
        As in `converter_match.library.intake.reading.intake`.

    Returns
    -------
    Draft
        Its columns have a `tolerance`.

    Raises
    ------
    InputError
        If the file or the picture cannot be used; naming file and field.
    """
    toml = read_toml(path)
    spec = picture_spec(toml.data, toml.source)
    image = None
    beside = Path(os.fspath(path)).parent / spec.image
    if any(curve.trace is not None for curve in spec.curves) or beside.is_file():
        image = read_image(Path(os.fspath(path)).parent / spec.image, spec.page)
    known = (answers or Answers()).plus(**more)
    known = known if fresh else with_saved(known, path)
    return draft_from_picture(spec, image, known).with_known_keys()


def draft_from_picture(spec: PictureSpec, image: Image | None, answers: Answers) -> Draft:
    """Return the draft of a described picture; `image` is needed for curves to be followed."""
    problems: list[Problem] = on_saved(answers)
    curves = []
    for number, curve in enumerate(spec.curves):
        try:
            curves.append(read_curve(spec, curve, image, problems, number))
        except InputError as refusal:
            raise refusal.located(source=spec.source, field=f"curve[{number}]") from None
    _askew(spec, problems)
    at = _positions(spec, curves, answers, problems)
    rows = tuple(range(1, at.size + 1))
    columns = [SheetColumn(1, spec.x.quantity, spec.x.role, at, spec.x.unit, "heading")]
    for number, (curve, found) in enumerate(zip(spec.curves, curves, strict=True), start=2):
        values, error = _at(found, at)
        columns.append(
            SheetColumn(
                number,
                curve.axis.quantity,
                curve.axis.role,
                _rounded(values, error),
                curve.axis.unit,
                "heading" if curve.axis.unit else "",
                reference=curve.reference,
                tolerance=error,
            )
        )
        problems.append(_on_error(curve, values, error))
    table = SheetTable(spec.source, spec.kind, tuple(columns), rows, "point")
    gathered = Gathered(table, problems)
    read = read_converter_sheet if spec.kind == "converter" else read_engine_sheet
    # Absurd numbers may overflow on their way to being questioned.
    with np.errstate(all="ignore"):
        reading = read(gathered, answers.facts, answers)
    draft = draft_of(
        reading,
        spec.kind,
        spec.source,
        answers,
        lambda answers: draft_from_picture(spec, image, answers),
    )
    names = [curve.axis.quantity for curve in spec.curves]
    paths = tuple(
        Followed(name, curve.path, picked=curve.picked)
        for name, curve in zip(names, curves, strict=True)
    )
    return replace(draft, chart=Chart(image, paths))


def read_curve(
    spec: PictureSpec,
    curve: CurveSpec,
    image: Image | None,
    problems: list[Problem],
    number: int = 0,
) -> ReadCurve:
    """Return one curve in numbers, with its reading error.

    The error of a point is that of the pixel (how well it was picked or followed, and what the
    calibration leaves), carried through both axes: across the value axis directly, across the other
    by the slope of the curve.
    """
    flat = straight_from(spec.corners) if spec.corners else None
    x_points = _straight(flat, np.array([point.pixel for point in spec.x.points]))
    y_points = _straight(flat, np.array([point.pixel for point in curve.axis.points]))
    x_axis = calibrate(
        x_points, np.array([p.value for p in spec.x.points]), y_points, spec.x.scale, "x"
    )
    y_axis = calibrate(
        y_points, np.array([p.value for p in curve.axis.points]), x_points, curve.axis.scale, "axis"
    )
    picked = curve.trace is None
    if curve.trace is not None:
        assert image is not None
        found = trace(
            image,
            curve.trace.start,
            curve.trace.stop,
            colour=curve.trace.colour,
            tolerance=curve.trace.tolerance,
        )
        pixels, pixel_error = found.pixels, found.error
        for first, last in found.gaps:
            problems.append(note("trace-gap", curve.axis.quantity, first=first, last=last))
        if not found.complete:
            problems.append(
                note("trace-ended", curve.axis.quantity, carried=True, pixel=pixels[-1, 0])
            )
        for first, last in found.crossings:
            key = f"crossing:{number + 1}:{first}"
            problems.append(
                question("trace-crossing", curve.axis.quantity, key=key, first=first, last=last,
                         answer="to answer: picked = [...] in place of trace")
            )  # fmt: skip
        if found.complete and found.astray:
            problems.append(
                question("trace-astray", curve.axis.quantity, key=f"astray:{number + 1}",
                         rows=found.astray, answer="to answer: picked = [...] in place of trace")
            )  # fmt: skip
        if found.moved:
            problems.append(note("trace-moved", curve.axis.quantity, columns=found.moved))
    else:
        pixels = np.array(curve.picked)
        pixel_error = np.full(len(pixels), spec.pick_error)
    if flat is not None:
        pixel_error = pixel_error * flat.stretch(pixels)
    return _in_numbers(
        _straight(flat, pixels), pixel_error, x_axis, y_axis, spec.pick_error, picked=picked,
        path=pixels,
    )  # fmt: skip


def _straight(flat: Straight | None, pixels: FloatArray) -> FloatArray:
    return pixels if flat is None else flat.pixels(pixels)


def _askew(spec: PictureSpec, problems: list[Problem]) -> None:
    """Ask for the corners where axes that should run alike do not: a photograph from the side."""
    if spec.corners:
        problems.append(note("straightened", carried=True))
        return
    lines = [np.array([point.pixel for point in curve.axis.points]) for curve in spec.curves]
    worst = max((apart(lines[0], each) for each in lines[1:]), default=0.0)
    if worst > SEEN:
        problems.append(
            question("seen-from-the-side", key="perspective", angle=float(np.degrees(worst)),
                     answer="to answer: corners = [...] in the description")
        )  # fmt: skip


def _in_numbers(
    pixels: FloatArray,
    pixel_error: FloatArray,
    x_axis: Axis,
    y_axis: Axis,
    pick_error: float,
    *,
    picked: bool,
    path: FloatArray,
) -> ReadCurve:
    x, y = x_axis.value(pixels), y_axis.value(pixels)
    order = np.argsort(x, kind="stable")
    x, y, off = x[order], y[order], pixel_error[order]
    keep = np.concatenate([[True], np.diff(x) > 0])
    x, y, off = x[keep], y[keep], off[keep]
    if x.size < 2:
        raise InputError("fewer than two different points", found=f"{x.size}")
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise InputError("a pixel far off the axes", hint="are the calibration points right?")
    slope = (
        np.abs(np.gradient(y, x)) if x.size > 2 else np.full(2, abs((y[1] - y[0]) / (x[1] - x[0])))
    )
    if not picked and x.size > 9:  # noise of single columns is no slope
        window = np.ones(7) / 7
        slope = np.convolve(np.pad(slope, 3, mode="edge"), window, mode="valid")
    # Two points calibrate an axis without a residual, but were not picked any better for that.
    x_off = x_axis.per_pixel(x) * max(x_axis.residual, LEAST_ERROR, pick_error)
    x_own = x_axis.per_pixel(x) * (off if picked else 0.0)
    error = y_axis.per_pixel(y) * (off + max(y_axis.residual, LEAST_ERROR, pick_error)) + slope * (
        x_off + x_own
    )
    # Where a curve is followed from was clicked too, however well it is followed from there.
    ends = np.maximum(off, pick_error)
    return ReadCurve(x, y, error, float(np.max(x_off + x_axis.per_pixel(x) * ends)), picked, path)


def _positions(
    spec: PictureSpec, curves: Sequence[ReadCurve], answers: Answers, problems: list[Problem]
) -> FloatArray:
    """Return where the curves are read: as asked, at the picked points, or at the test points."""
    low = max(float(curve.x[0]) for curve in curves)
    high = min(float(curve.x[-1]) for curve in curves)
    slack = _JUST_BEYOND * max(curve.x_error for curve in curves)
    if spec.at:
        wanted = np.array(spec.at)
        why = "as asked"
    elif all(curve.picked for curve in curves):
        wanted = _rounded(curves[0].x, np.array([0.3 * curves[0].x_error]))
        why = f"at the points picked on {spec.curves[0].axis.quantity!r}"
    elif spec.kind == "converter":
        scale = 100.0 if spec.x.unit in ("%", "percent") else 1.0
        kink = []
        if "coupling_speed_ratio" in answers.facts:
            kink = [fact_si("coupling_speed_ratio", answers.facts["coupling_speed_ratio"])[2]]
        wanted = scale * np.unique([*TEST_GRID, *kink])
        why = "at the speed ratios of 40 CFR 1037.570"
    else:
        wanted = np.linspace(low, high, _ENGINE_POINTS)
        why = f"at {_ENGINE_POINTS} even steps"
    inside = wanted[(wanted >= low - slack) & (wanted <= high + slack)]
    left = sorted(set(wanted.tolist()) - set(inside.tolist()))
    if left:
        listed = ", ".join(f"{value:.4g}" for value in left)
        problems.append(note("beyond-the-curves", carried=True, at=listed, low=low, high=high))
    if inside.size < 2:
        raise InputError(
            "the curves have no stretch in common",
            source=spec.source,
            found=f"{low:.4g} .. {high:.4g}",
            hint="are the calibration points of the x axis right?",
        )
    problems.append(note("positions", how=why))
    return np.asarray(inside)


def _at(curve: ReadCurve, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return values and errors of a curve at positions; just beyond an end the end counts."""
    inside = np.clip(at, curve.x[0], curve.x[-1])
    error = np.interp(inside, curve.x, curve.error)
    error = error + np.abs(at - inside) * np.abs(_slope(curve, inside))
    if curve.picked and curve.x.size > 2:
        same = np.array([np.any(np.abs(curve.x - value) <= curve.x_error) for value in inside])
        values = Curve(curve.x, curve.y, name="picked points", x_name="x")(inside)
        # Between picked points the curve is a guess: a quarter of the step is added to its error.
        steps = np.abs(np.interp(inside, curve.x[:-1], np.abs(np.diff(curve.y))))
        return values, np.where(same, error, error + 0.25 * steps)
    return np.interp(inside, curve.x, curve.y), error


def _slope(curve: ReadCurve, at: FloatArray) -> FloatArray:
    """Return the slope of a curve, over a few points, at positions inside it."""
    reach = min(_REACH, curve.x.size - 1)
    first = np.clip(np.searchsorted(curve.x, at) - reach // 2, 0, curve.x.size - 1 - reach)
    last = first + reach
    return np.asarray((curve.y[last] - curve.y[first]) / (curve.x[last] - curve.x[first]))


def _rounded(values: FloatArray, error: FloatArray) -> FloatArray:
    """Return values with one digit more than their error is worth."""
    digits = 1 - int(np.floor(np.log10(max(float(error.min()), 1e-12))))
    return np.asarray(np.round(values, digits))


def _on_error(curve: CurveSpec, values: FloatArray, error: FloatArray) -> Problem:
    middle = len(values) // 2
    unit = f" {curve.axis.unit}" if curve.axis.unit else ""
    how = "followed by its colour" if curve.trace is not None else "picked by hand"
    return note(
        "reading-error",
        carried=True,
        what=curve.axis.quantity,
        how=how,
        unit=unit,
        middle=float(np.median(error)),
        worst=float(error.max()),
        value=values[middle],
    )
