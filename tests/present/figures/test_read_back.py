"""Everything that is drawn, read back: numbers, units, words and room, over the whole gallery."""

from __future__ import annotations

import re
from itertools import pairwise

import matplotlib.colors
import numpy as np
import pytest

from converter_match.present.drawing import style
from converter_match.present.drawing.ground import overlaps
from tests.haul_examples import parts
from tests.present import read_back as back
from tests.present.gallery import GALLERY, figure_of, laid_out, result_of

# Contour lines: their levels are round numbers in each system, so they are not the same lines.
LEVELS = ("torque", "power-left", "clutch-heat")
MAPS = ("clutch map", "arrangement log-loader-impeller-clutch")
# Drawn on a grid of the figure's own, or a share of two results: other tests compute them anew.
SAMPLED = re.compile(
    r"""(gross|net|peak|continuous|absorption-.*|[ab]-.*|turbine-torque-.*|heat-(peak|continuous)
    |load-line-.*|(torque-ratio|efficiency|capacity)-\d(-given)?|effort-\d-converter|resistance-.*
    |heat-\d-.*|limit|slip-limit|height|allowed-speed|oil-heat|brake-power|drawn|returned
    |healthy-rim|drift|samples|curve|sheet|fitted-torque|torque-ratio|inner-torque-ratio
    |efficiency|without|standby|partial|relief|heat|first|second|held-.*|gradeability-.*
    |idle-\d-.*|setting-.*|open|locked)""",
    re.VERBOSE,
)
# What has no unit: a row of gears, a sketch, shares of 1 named otherwise, a date.
WITHOUT_UNIT = ("gear engaged", "capacity C (10", "month")
every = pytest.mark.parametrize("name", GALLERY)


def is_level(name: str, gid: str) -> bool:
    return name in MAPS and gid.partition(" #")[0] in LEVELS


def words_of(figure):
    """What is written, levels of contour lines left out."""
    return [
        text.get_text()
        for text in back.texts(figure)
        if not re.match(rf"({'|'.join(LEVELS)})-.*-label", str(text.get_gid()))
    ]


@every
def test_points_in_us_units_are_the_points_in_si(name):
    si, us = (back.drawn(figure_of(name, system)) for system in ("si", "us"))
    si, us = ({k: v for k, v in each.items() if not is_level(name, k)} for each in (si, us))
    assert si.keys() == us.keys()
    for gid, one in si.items():
        pairs = zip(one.si, us[gid].si, strict=True)
        if name in MAPS:  # the height is a share of the clutch's torque; the label names contours
            pairs = ((one.si[0], us[gid].si[0]), (one.y, us[gid].y))
        for ours, theirs in pairs:
            size = np.abs(ours[np.isfinite(ours)]).max(initial=0.0)
            np.testing.assert_allclose(theirs, ours, rtol=2e-6, atol=2e-6 * size, err_msg=gid)


@every
def test_words_in_us_units_say_the_same_amounts(name):
    si, us = (words_of(figure_of(name, system)) for system in ("si", "us"))
    if name in MAPS:
        si, us = ([text for text in each if not is_map_level(text)] for each in (si, us))
    assert len(si) == len(us)
    for ours, theirs in zip(si, us, strict=True):
        bare = re.compile(r"(?<![\w.-])\d+\.\d|^\d+(?=, mean)")  # in the unit of the axis
        assert bare.sub("#", back.without_amounts(ours)) == bare.sub(
            "#", back.without_amounts(theirs)
        )
        for one, other in zip(back.amounts(ours), back.amounts(theirs), strict=True):
            assert back.agree(one, other), ours


def is_map_level(text: str) -> bool:
    return re.fullmatch(r"((spare|heat) )?\d+", text) is not None


def derived(name, result):
    """Return what words say of a result that it does not hold as a number."""
    if name == "short cycle":
        mean = [phase.oil_heat / phase.time for phase in result.phases]
        return [*mean, result.expected.rate(result.production)]
    if name == "velocity triangles":  # per rad/s of the impeller, which turns at 200 rad/s
        return [200.0 * result.points.flow]
    if name == "trend":  # 25 rpm in 200 days against a band that stands still; 2 of 7! orders
        return [25 * np.pi / 30 * 365.25 / 200, 2 / 5040]
    if name == "uncertainty":  # the ends of a 95 % interval
        return [0.025, 0.5, 0.975]
    return []


@every
@pytest.mark.parametrize("system", ["si", "us"])
def test_every_amount_in_words_is_one_of_the_result(name, system):
    result = result_of(name)
    held = np.concatenate([back.scalars(result), derived(name, result)])
    for text in back.texts(figure_of(name, system)):
        for said in back.amounts(text.get_text()):
            assert back.stands_in(said, held), (said, text.get_text())


@every
def test_a_line_that_is_no_curve_of_its_own_stands_in_the_result(name):
    rows = back.arrays(result_of(name))
    for gid, line in back.drawn(figure_of(name)).items():
        if SAMPLED.fullmatch(gid.partition(" #")[0]) or is_level(name, gid):
            continue
        for values in line.si:
            values = values[np.isfinite(values)]
            if values.size >= 6 and np.ptp(values) > 0.0:
                assert back.is_of(values, rows), gid


@every
@pytest.mark.parametrize("system", ["si", "us"])
def test_every_panel_names_its_quantity_and_its_unit(name, system):
    other = {"lbf·ft", "hp", "mph", "lbf", "°F", "ft", "BTU"} if system == "si" else {
        "N·m", "kW", "km/h", "kN", "°C", "m", "kJ"}  # fmt: skip
    figure = figure_of(name, system)
    for label in back.names(figure):
        if not label.startswith(WITHOUT_UNIT):
            unit = back.unit_of(label.partition(",\n")[0])
            assert unit is not None, label
            assert unit not in other, label
    named = [
        bool(ax.get_ylabel() or ax.get_title(loc="left") or ax.get_xlabel())
        for ax in figure.axes
        if ax.axison  # a picture has none
    ]
    assert all(named)


@every
def test_words_are_words_and_nothing_else(name, known):
    figure = figure_of(name)
    for text in [*(text.get_text() for text in back.texts(figure)), *back.names(figure)]:
        assert back.unknown(text, known) == [], text
        assert not re.search(r"\bNone\b|\bnan\b|\binf\b|[{}]|\d\.\d{5}", text), text
        assert back.small_starts(text) == [], text
        assert back.foreign(text) == [], text


@pytest.fixture(scope="module")
def known():
    return back.known_words()


@every
def test_no_words_stand_on_each_other_or_beyond_the_page(name):
    figure = laid_out(name)
    page = figure.bbox
    for ax in figure.axes:
        assert overlaps(ax.texts) == []
    assert overlaps(figure.texts) == []
    named = [label for ax in figure.axes for label in (ax.xaxis.label, ax.yaxis.label)]
    for text in [*back.texts(figure), *(label for label in named if label.get_text())]:
        box = text.get_window_extent()
        assert box.x0 >= page.x0 - 1, text.get_text()
        assert box.x1 <= page.x1 + 1, text.get_text()
        assert box.y0 >= page.y0 - 1, text.get_text()
        assert box.y1 <= page.y1 + 1, text.get_text()


@every
def test_a_curve_uses_its_panel_and_stays_within_it(name):
    for ax in figure_of(name).axes:
        lines = [line for line in ax.lines if line.get_transform() is ax.transData]
        marks = [line for line in lines if len(line.get_xdata()) == 1]
        for axis, limits in (("x", ax.get_xlim()), ("y", ax.get_ylim())):
            low, high = sorted(limits)
            for mark in marks:
                [value] = np.asarray(getattr(mark, f"get_{axis}data")(), dtype=float)
                if np.isfinite(value):
                    assert low - 1e-9 <= value <= high + 1e-9, (ax.get_ylabel(), mark.get_gid())


@every
def test_letters_can_be_read_and_grow_when_asked_to(name):
    figure = figure_of(name)
    ticks = [tick for ax in figure.axes for tick in (*ax.get_xticklabels(), *ax.get_yticklabels())]
    named = [label for ax in figure.axes for label in (ax.xaxis.label, ax.yaxis.label)]
    for text in [*back.texts(figure), *(each for each in (*ticks, *named) if each.get_text())]:
        # Common practice, no source: print below 6 pt is hard to read, a heading is about 13 pt.
        assert 6.0 <= text.get_fontsize() <= 16.0, text.get_text()


@every
def test_marks_along_an_axis_are_few_and_apart(name):
    figure = laid_out(name)
    for ax in figure.axes:
        for axis, end in ((ax.xaxis, "x"), (ax.yaxis, "y")):
            boxes = [
                label.get_window_extent()
                for label in axis.get_ticklabels()
                if label.get_text() and label.get_visible()
            ]
            assert len(boxes) <= 13 or name == "evidence"  # a row for each figure
            boxes.sort(key=lambda box: getattr(box, f"{end}0"))
            for one, other in pairwise(boxes):
                assert getattr(one, f"{end}1") <= getattr(other, f"{end}0") + 4.0


@every
def test_letters_have_a_colour_of_the_one_palette(name):
    allowed = {matplotlib.colors.to_hex(each) for each in (*style.PALETTE.values(), style.SLATE)}
    for text in back.texts(figure_of(name)):
        assert matplotlib.colors.to_hex(text.get_color()) in allowed, text.get_text()


@pytest.mark.parametrize("name", ["acceleration", "route"])
def test_rows_of_gears_bear_the_names_of_the_gears(name):
    (axes,) = (ax for ax in figure_of(name).axes if ax.get_ylabel().startswith("gear engaged"))
    shown = [label.get_text() for label in axes.get_yticklabels()]
    _, line, _ = parts()
    assert shown == [gear.name for gear in line.gears if gear.direction == "forward"]


# On wet ground a panel ends where the wheels spin: what lies beyond is cut on purpose.
@pytest.mark.parametrize("name", [each for each in GALLERY if "wet ground" not in each])
@pytest.mark.parametrize("system", ["si", "us"])
def test_most_of_every_line_lies_in_its_panel(name, system):
    for ax in figure_of(name, system).axes:
        (left, right), (low, high) = sorted(ax.get_xlim()), sorted(ax.get_ylim())
        for line in ax.lines:
            x, y = (np.asarray(values, dtype=float) for values in line.get_data())
            if line.get_transform() is not ax.transData or x.size < 2:
                continue
            across, up = 1e-6 * (right - left), 1e-6 * (high - low)
            inside = (left - across <= x) & (x <= right + across)
            inside &= (low - up <= y) & (y <= high + up)
            known = np.isfinite(x) & np.isfinite(y)
            assert not known.any() or inside[known].mean() >= 0.5, line.get_gid()
