import itertools
import re
import subprocess
import sys
from io import BytesIO

import matplotlib
import numpy as np
import pytest
from PIL import Image

from converter_match.errors import InputError
from converter_match.present.drawing import style
from converter_match.present.drawing.ground import box_of, overlaps

# sRGB to linear light: IEC 61966-2-1. Linear sRGB to XYZ (D65) and CIE L*a*b*: CIE 15.
_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
     [0.0193339, 0.1191920, 0.9503041]]
)  # fmt: skip
# Severity 1.0 of Machado, Oliveira and Fernandes, IEEE TVCG 15 (2009), applied to linear light;
# coefficients from memory (each row sums to 1, as it must to keep grey grey).
_SEEN_BY = {
    "everybody": np.eye(3),
    "protanopes": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
         [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopes": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
         [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopes": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
         [0.004733, 0.691367, 0.303900]]
    ),
}  # fmt: skip


def linear(color):
    share = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def lab(light):
    xyz = _TO_XYZ @ np.clip(light, 0, 1) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def lightness(color):
    return lab(linear(color))[0]


def contrast_on_white(color):
    """Contrast ratio of WCAG 2.1."""
    return 1.05 / (_TO_XYZ[1] @ linear(color) + 0.05)


def test_colour_arithmetic_of_this_test_gives_known_values():
    # CIE L* of sRGB middle grey #777777 is 50.0 and of pure red 53.2 (CIE 15; widely printed).
    assert lightness("#777777") == pytest.approx(50.0, abs=0.1)
    assert lightness("#ff0000") == pytest.approx(53.2, abs=0.1)
    # #767676 on white is the textbook example that just passes 4.5:1 (W3C, WCAG 2.1).
    assert contrast_on_white("#767676") == pytest.approx(4.54, abs=0.01)


def test_palette_is_told_apart_in_greyscale():
    # A just noticeable difference is about 1 unit of L* side by side; a photocopy needs several.
    light = sorted(lightness(color) for color in style.PALETTE.values())
    assert min(np.diff(light)) >= 8.0


@pytest.mark.parametrize("eye", _SEEN_BY)
def test_palette_is_told_apart_by_the_colour_blind(eye):
    # CIE76 difference; 2.3 is just noticeable (Mahy et al. 1994, from memory).
    seen = [lab(_SEEN_BY[eye] @ linear(color)) for color in style.PALETTE.values()]
    apart = [np.linalg.norm(one - other) for one, other in itertools.combinations(seen, 2)]
    assert min(apart) >= 10.0


def test_strokes_differ_without_colour_too():
    # Strokes of the engine panel: by lightness and by dash or width.
    for one, other in itertools.combinations(("net", "gross", "absorbed", "locus"), 2):
        a, b = style.STROKES[one], style.STROKES[other]
        assert abs(lightness(a.color) - lightness(b.color)) >= 8.0
        assert a.dash != b.dash or a.width >= 1.5 * b.width or b.width >= 1.5 * a.width
        assert a.marker != b.marker
    for one, other in itertools.combinations(style.SERIES, 2):
        assert abs(lightness(one.color) - lightness(other.color)) >= 8.0
        assert (one.dash, one.width) != (other.dash, other.width)
        assert one.marker != other.marker


def test_words_are_dark_enough_to_read():
    # WCAG 2.1, success criterion 1.4.3: at least 4.5:1 for text of normal size.
    colors = [stroke.word_color for stroke in (*style.STROKES.values(), *style.SERIES)]
    assert min(contrast_on_white(color) for color in [*colors, style.SLATE]) >= 4.5


@pytest.mark.slow
def test_figures_leave_global_state_alone():
    ask = (
        "import matplotlib, sys\n"
        "before = dict(matplotlib.rcParams)\n"
        "from converter_match.present.drawing import style\n"
        "figure = style.new_figure(); ax = figure.add_subplot(); style.dress(ax)\n"
        "style.render(figure, 'svg')\n"
        "assert dict(matplotlib.rcParams) == before\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-W", "error", "-c", ask], capture_output=True)
    assert done.returncode == 0, done.stderr.decode()


def test_a_dark_theme_of_the_user_does_not_change_the_look():
    def drawn():
        figure = style.new_figure(4, 3)
        ax = figure.add_axes((0.2, 0.2, 0.7, 0.6))
        style.dress(ax)
        style.name_axes(ax, "speed (rpm)", "torque (N·m)")
        ax.plot([0, 1], [0, 1], **style.STROKES["net"].line())
        style.label_line(ax, [0, 1], [0, 1], "net", **style.letters(9))
        style.frame(figure, ["title"], ["line"], ["note"])
        return style.render(figure, "png", dpi=50)

    plain = drawn()
    theme = {
        "axes.facecolor": "black", "figure.facecolor": "black", "savefig.facecolor": "black",
        "text.color": "white", "axes.labelcolor": "white", "xtick.color": "white",
        "axes.edgecolor": "white", "lines.linewidth": 9.0, "font.family": ["serif"],
        "axes.labelsize": 30.0, "xtick.labelsize": 30.0, "grid.color": "red",
    }  # fmt: skip
    with matplotlib.rc_context(theme):
        assert drawn() == plain


@pytest.mark.parametrize(
    ("dimension", "system", "label"),
    [
        ("torque", "si", "torque (N·m)"),
        ("torque", "us", "torque (lbf·ft)"),
        ("k_factor", "us", "torque (rpm/√(lbf·ft))"),
        ("ratio", "us", "torque (–)"),
    ],
)
def test_axis_label_carries_the_unit(dimension, system, label):
    assert style.axis_label("torque", dimension, system) == label


def test_font_scale_multiplies_every_size():
    plain, large = style.sizes(), style.sizes(1.5)
    for name in ("title", "subtitle", "axis", "tick", "label", "note"):
        assert getattr(large, name) == pytest.approx(1.5 * getattr(plain, name))


@pytest.mark.parametrize("scale", [0.0, -1.0, 0.2, 10.0, float("nan"), float("inf")])
def test_an_impossible_font_scale_is_refused(scale):
    with pytest.raises(InputError, match="font_scale"):
        style.sizes(scale)


def test_long_names_wrap_inside_the_figure_and_dollar_signs_stay_plain():
    figure = style.new_figure(7, 4)
    names = ["Engine at $5 or $6 a pound, " * 6, "x" * 200]
    bottom, top = style.frame(figure, names, ["basis " * 60], ["source " * 80, "flags"])
    assert 0.0 < bottom < top < 1.0
    edge = figure.bbox
    for text in figure.texts:
        extent = text.get_window_extent()
        assert extent.x0 >= edge.x0
        assert extent.x1 <= edge.x1
        assert extent.y0 >= edge.y0
        assert extent.y1 <= edge.y1
    assert "$5 or $6" in figure.texts[0].get_text()
    assert overlaps(figure.texts) == []
    style.render(figure, "svg")  # would raise on mathematical text that does not parse


@pytest.mark.slow
@pytest.mark.parametrize("dpi", [72.0, 80.0, 88.0, 110.0, 150.0])
def test_no_line_around_a_figure_is_cut_off_at_any_resolution(dpi):
    # Letters are hinted to whole pixels, so the width of a line does not scale with resolution.
    figure = style.new_figure(11, 7)
    text = "turbocharged and aftercooled, with overrun data, full throttle "
    lines = [(text * 4)[:count] for count in range(150, 182, 2)]
    style.frame(figure, ["title"], lines, lines)
    page = np.asarray(Image.open(BytesIO(style.render(figure, "png", dpi=dpi))).convert("L"))
    margin = int(0.05 * dpi)
    assert page[:, :margin].min() == page[:, -margin:].min() == 255


def test_two_short_names_share_one_line():
    figure = style.new_figure(9, 4)
    style.frame(figure, ["Engine", "Converter"])
    assert [text.get_text() for text in figure.texts] == ["Engine + Converter"]


@pytest.mark.slow
def test_axis_name_stands_level_above_the_vertical_axis():
    figure = style.new_figure(5, 4)
    ax = figure.add_axes((0.15, 0.15, 0.8, 0.7))
    style.dress(ax)
    style.name_axes(ax, "speed (rpm)", "torque (N·m)")
    figure.draw_without_rendering()
    name = ax.yaxis.label
    assert name.get_rotation() == 0
    assert name.get_window_extent().y0 >= ax.bbox.y1
    below = ax.xaxis.label.get_window_extent()
    ticks = [tick.get_window_extent() for tick in ax.get_xticklabels() if tick.get_text()]
    assert below.y1 <= min(extent.y0 for extent in ticks)
    assert below.y0 >= 0


def test_no_legend_in_any_figure():
    from pathlib import Path

    room = Path(style.__file__).parents[1]
    users = [
        path.name
        for path in room.rglob("*.py")
        if re.search(r"\.legend\(", path.read_text(encoding="utf-8"))
    ]
    assert users == []


def test_box_of_a_turned_text_is_turned_with_it():
    figure = style.new_figure(5, 4)
    ax = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    text = ax.text(0.5, 0.5, "along", rotation=30, ha="center", va="center")
    text.set_rotation_mode("anchor")
    box = box_of(text)
    assert np.degrees(box.angle) == pytest.approx(30)
    assert (box.x, box.y) == pytest.approx(tuple(ax.transData.transform((0.5, 0.5))), abs=1.0)
    bounds = text.get_window_extent()
    assert bounds.width == pytest.approx(
        box.width * np.cos(box.angle) + box.height * np.sin(box.angle), rel=0.05
    )
