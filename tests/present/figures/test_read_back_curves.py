"""Everything that is drawn: which curve is which, marks on curves, axes that hold their data."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re

import matplotlib.colors
import numpy as np
import pytest

from converter_match.present import figures
from converter_match.present.drawing import style
from tests.present import read_back as back
from tests.present.gallery import GALLERY, figure_of, laid_out

every = pytest.mark.parametrize("name", GALLERY)
# Less than half an inch: nearer to its curve than the next panel is.
NEAR = 45.0
# Rows one below the other, equal scales both ways, or a picture: no axis of amounts.
ROWS = ("fleet", "trials", "uncertainty", "log fleet", "logs of few", "evidence", "chart path")
# What is empty and why: a pair that leaves the panel at once, a flat line in a panel of shares,
# a second quantity that shares the panel with an area.
SPARSE = re.compile(
    r"""match\ that\ cannot\ hold\ idle:.*|lock-up:speed.*|route\ too\ steep:power\ turned.*
    |arrangement\ ore-hauler-lock-up:retarding.*|measured\ run:(measured|engine).*
    |(draft|.*characteristic.*):.*|velocity\ triangles:.*""",
    re.VERBOSE,
)
# Cut on purpose: grades and forces that wheels cannot hold, K that grows without bound.
CUT = re.compile(
    r"wet ground|^wheels|^motor at|characteristic|^two matches|stator-|impeller|hydraulics|lock-up$"
)


def path_of(line):
    """Where a line goes on the page [px], a point at every step of it."""
    x, y = (np.atleast_1d(np.asarray(values, dtype=float)) for values in line.get_data())
    path = line.get_transform().transform(np.column_stack([x, y]))
    if len(path) > 1:
        # Long pieces only: a curve of hundreds of points has one every few pixels.
        steps = 1 + int(np.nanmax(np.hypot(*np.diff(path, axis=0).T), initial=1.0))
        shares = np.linspace(0.0, 1.0, min(steps, 400))[:, np.newaxis, np.newaxis]
        path = (path[:-1] + shares * np.diff(path, axis=0)).reshape(-1, 2)
    return path[np.isfinite(path).all(axis=1)]


def apart(path, box):
    """How far a path passes by a box [px]; 0 where it crosses it."""
    across = np.maximum(np.maximum(box.x0 - path[:, 0], path[:, 0] - box.x1), 0.0)
    up = np.maximum(np.maximum(box.y0 - path[:, 1], path[:, 1] - box.y1), 0.0)
    return float(np.hypot(across, up).min(initial=np.inf))


def colour(artist):
    return matplotlib.colors.to_hex(artist.get_color())


def curves_of(ax):
    return [
        line for line in ax.lines
        if line.get_transform() is ax.transData and line.get_linestyle() not in ("None", "none")
    ]  # fmt: skip


@every
def test_a_label_stands_at_the_curve_that_it_names_and_has_its_colour(name):
    light = {style.PALETTE[key] for key in ("sage", "amber", "mist")}
    for ax in laid_out(name).axes:
        lines = {line.get_gid(): line for line in ax.lines}
        for text in ax.texts:
            named = re.fullmatch(r"(.+)-label", str(text.get_gid()))
            line = lines.get(named[1]) if named else None
            if line is None or not text.get_visible():
                continue
            # Where neighbours had to make room, a leader goes from the label to its curve.
            leader = lines.get(f"{text.get_gid()}-leader", line)
            away = min(apart(path_of(one), text.get_window_extent()) for one in (line, leader))
            assert away <= NEAR, text.get_text()
            if len(line.get_xdata()) < 3 or line.get_linestyle() == "None":
                continue  # words about a mark or a guide are in ink
            wanted = style.PALETTE["ink"] if colour(line) in light else colour(line)
            assert colour(text) == wanted, text.get_text()


@every
def test_words_in_a_colour_stand_at_something_of_that_colour(name):
    plain = {style.PALETTE["ink"], style.SLATE}
    for ax in laid_out(name).axes:
        for text in ax.texts:
            if colour(text) in plain or not text.get_text().strip() or not text.get_visible():
                continue
            box = text.get_window_extent()
            paths = [path_of(line) for line in ax.lines if colour(line) == colour(text)]
            assert min((apart(path, box) for path in paths), default=np.inf) <= NEAR, (
                text.get_text()
            )


@every
def test_a_mark_that_is_called_a_point_lies_on_a_curve(name):
    for ax in laid_out(name).axes:
        curves = [path_of(line) for line in curves_of(ax) if len(line.get_xdata()) > 1]
        for line in ax.lines:
            if not re.search(r"point(s?)(-|$)", str(line.get_gid())):
                continue
            for mark in line.get_transform().transform(np.column_stack(line.get_data())):
                if np.isfinite(mark).all():
                    # Half the width of the thickest line.
                    away = min(np.hypot(*(path - mark).T).min(initial=np.inf) for path in curves)
                    assert away <= 2.0, line.get_gid()


@every
def test_curves_of_two_kinds_in_one_panel_do_not_look_alike(name):
    for ax in figure_of(name).axes:
        looks = {}
        for line in curves_of(ax):
            if len(line.get_xdata()) > 2:
                look = colour(line), str(line._unscaled_dash_pattern), line.get_linewidth()
                looks.setdefault(look, set()).add(str(line.get_gid()).partition("-")[0])
        assert [kinds for kinds in looks.values() if len(kinds) > 1] == []


def spans(ax):
    """Each named axis that is one of amounts, its limits, and what is drawn along it."""
    for axis, named in (("x", ax.get_xlabel()), ("y", ax.get_ylabel())):
        values = [
            np.atleast_1d(np.asarray(getattr(line, f"get_{axis}data")(), dtype=float))
            for line in ax.lines
            if line.get_transform() is ax.transData
        ]
        known = np.concatenate([np.empty(0), *values])
        if known.size:
            yield named, sorted(getattr(ax, f"get_{axis}lim")()), known[np.isfinite(known)]


@pytest.mark.parametrize("name", [each for each in GALLERY if each not in ROWS])
@pytest.mark.parametrize("system", ["si", "us"])
def test_an_axis_holds_what_is_drawn_along_it_and_is_filled_by_it(name, system):
    for ax in figure_of(name, system).axes:
        for named, (low, high), values in spans(ax):
            hair = 1e-6 * (high - low)
            inside = values[(low - hair <= values) & (values <= high + hair)]
            if not CUT.search(name):
                assert inside.size == values.size, named
            # Half of a panel left empty says that its scale is not that of its data.
            if named and not SPARSE.fullmatch(f"{name}:{named}"):
                assert np.ptp(inside) >= 0.5 * (high - low), named


@pytest.mark.parametrize("name", [each for each in GALLERY if each not in ROWS])
@pytest.mark.parametrize("system", ["si", "us"])
def test_an_axis_that_begins_near_zero_begins_at_zero(name, system):
    for ax in figure_of(name, system).axes:
        for named, (low, high), values in spans(ax):
            if named and values.min(initial=0.0) >= 0.0:
                assert low == 0.0 or low < -0.005 * high or low > 0.05 * high, (named, low, high)


@every
def test_a_figure_has_a_name_and_one_family_of_letters(name):
    figure = figure_of(name)
    assert figure.get_label() or name == "clutch map"  # drawn on axes of somebody else
    labels = [each for ax in figure.axes for each in (ax.xaxis.label, ax.yaxis.label)]
    for text in [*back.texts(figure), *labels]:
        if text.get_text():
            assert text.get_fontfamily() == [style.FAMILY], text.get_text()
            assert not text.get_parse_math(), text.get_text()  # $ in a name stays a $


# Said of one argument of a function, or drawn by what the gallery does not show: a pair that turns
# backward, a row of the converter's parts, a machine that never starts.
NOT_SHOWN = re.compile(
    r"by-history|part-NAME|predicted-|off-the-picture|load-(unstable|back)-N|load-continuous-point-N"
    r"|no-start|why-empty|curve-[AC]"
)


def promised():
    """What docstrings of figures say that can be found by its gid."""
    for info in pkgutil.iter_modules(figures.__path__):
        module = importlib.import_module(f"{figures.__name__}.{info.name}")
        for item, function in inspect.getmembers(module, inspect.isfunction):
            told = (function.__doc__ or "").partition("Returns\n")[2].partition("Raises\n")[0]
            if function.__module__ != module.__name__ or item == "letters":
                continue
            for gid in re.findall(r"``([\w][\w-]*)``", told):
                if not NOT_SHOWN.fullmatch(gid):
                    yield f"{info.name}.{item}", gid


def test_every_artist_that_a_figure_promises_is_drawn():
    drawn = {
        str(item.get_gid())
        for name in GALLERY
        for ax in figure_of(name).axes
        for item in ax.get_children()
    }
    wanted = list(promised())
    assert len(wanted) > 80
    for where, gid in wanted:
        # Capitals stand for a name, a number, a speed ratio.
        pattern = re.compile(re.sub(r"[A-Z]{2,}|\bN\b", ".+", gid))
        assert any(pattern.fullmatch(found) for found in drawn), (where, gid)


@every
def test_no_two_curves_of_a_panel_have_one_name(name):
    for ax in figure_of(name).axes:
        # The two edges of one band share its name.
        named = [str(line.get_gid()) for line in curves_of(ax) if line.get_gid()]
        named = [gid for gid in named if not gid.startswith("edge-")]
        if not ax.get_ylabel().startswith("clutch setting"):  # contours of one quantity
            assert len(set(named)) == len(named), ax.get_ylabel()
