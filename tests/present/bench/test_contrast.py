"""Colours of the bench against the contrast that WCAG 2.2 asks for at level AA.

Success criteria 1.4.3 (words: 4.5 to 1) and 1.4.11 (curves, marks, the ring of the focus, edges of
controls: 3 to 1), with the formula of relative luminance in their definitions.
"""

import re
from pathlib import Path

import pytest

from converter_match.present.bench import picture
from converter_match.present.bench.picture import look
from converter_match.present.drawing.style import PALETTE, SERIES, SLATE, STROKES

CSS = Path(picture.__file__).with_suffix(".css").read_text(encoding="utf-8")
WHITE = (255.0, 255.0, 255.0)


def rgb(colour):
    digits = colour.removeprefix("#")
    digits = "".join(2 * sign for sign in digits) if len(digits) == 3 else digits
    return tuple(float(int(digits[i : i + 2], 16)) for i in (0, 2, 4))


def luminance(colour):
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (value / 255 for value in colour)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first, second):
    high, low = sorted((luminance(first), luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def rules():
    plain = re.sub(r"/\*.*?\*/", "", CSS, flags=re.S)
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*)\}", plain):
        yield selector.strip(), dict(re.findall(r"([\w-]+):\s*([^;]+);?", body))


def test_the_formula_gives_the_ends_of_the_scale():
    # WCAG 2.2, definition of contrast ratio: from 1 to 21.
    assert contrast((0, 0, 0), WHITE) == pytest.approx(21.0)
    assert contrast(WHITE, WHITE) == pytest.approx(1.0)


def named(theme):
    """The colours of a theme, by their names in the style sheet."""
    (body,) = [
        body
        for selector, body in rules()
        if body.get("color-scheme") == theme and ".cm-bench" in selector
    ]
    return {
        key.removeprefix("--cm-"): rgb(value)
        for key, value in body.items()
        if key.startswith("--cm-")
    }


def used(*keys):
    """The names of colours that rules take for a property."""
    return {
        found[1]: selector
        for selector, body in rules()
        for key, value in body.items()
        if key in keys and (found := re.search(r"var\(--cm-(\w+)\)", value))
    }


THEMES = pytest.mark.parametrize("theme", ["light", "dark"])


def test_the_light_theme_is_that_of_the_figures_and_no_rule_has_a_colour_of_its_own():
    light = named("light")
    assert {name: light[name] for name in PALETTE} == {n: rgb(c) for n, c in PALETTE.items()}
    assert (light["slate"], light["ground"]) == (rgb(SLATE), WHITE)
    assert set(named("dark")) == set(light)
    for selector, body in rules():
        if "color-scheme" not in body:
            assert not [value for value in body.values() if "#" in value], selector


@THEMES
def test_words_stand_out_from_everything_behind_them(theme):
    colours = named(theme)
    ground, sage = colours["ground"], colours["sage"]
    band = tuple(0.16 * c + 0.84 * g for c, g in zip(sage, ground, strict=True))
    words = {name for name in used("color") if name != "ground"} | {"word", "ink"}
    words |= {look()[name][0] for name in ("gross", "net", "absorbed")}
    assert {"ink", "word", "plum", "petrol"} <= words
    for name in words:
        for behind in (ground, band, colours["button"]):
            assert contrast(colours[name], behind) >= 4.5, name
    # On the button that is pressed.
    assert contrast(ground, colours["petrol"]) >= 4.5


@THEMES
def test_curves_marks_and_focus_stand_out_from_the_page(theme):
    colours = named(theme)
    shown = {look()[name][0] for name in look() if name != "range"}
    shown |= {"slate", "brick"}
    (ring,) = [body["outline"] for selector, body in rules() if "focus-visible" in selector]
    shown.add(re.search(r"--cm-(\w+)", ring)[1])
    for name in shown:
        assert contrast(colours[name], colours["ground"]) >= 3.0, name


def test_words_about_a_light_stroke_are_dark_in_every_figure():
    for stroke in (*STROKES.values(), *SERIES):
        assert contrast(rgb(stroke.word_color), WHITE) >= 4.5, stroke.name


def test_what_light_colours_say_is_said_in_words_as_well():
    # Amber and mist are too light for WCAG: they only repeat the word before each note.
    for selector, body in rules():
        for value in body.values():
            if "--cm-amber)" in value:
                assert selector == ".cm-caution"
                assert list(body) == ["border-left-color"]
