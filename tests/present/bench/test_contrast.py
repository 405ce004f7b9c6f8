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
# What stands behind words: the page, buttons, the band of the working range on the page.
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


def test_words_stand_out_from_everything_behind_them():
    sage = rgb(PALETTE["sage"])
    band = tuple(0.16 * c + 0.84 * 255 for c in sage)
    words = {
        value
        for selector, body in rules()
        for key, value in body.items()
        if value.startswith("#")
        and (key == "color" or (key == "fill" and "text" in selector) or "cm-tick" in selector)
    }
    words -= {"#fff"}  # on the button that is pressed: looked at below
    assert words
    for colour in words | {look()[name][0] for name in ("gross", "net", "absorbed")}:
        for ground in (WHITE, band, rgb("#dde2e6")):
            assert contrast(rgb(colour), ground) >= 4.5, colour
    assert contrast(WHITE, rgb(PALETTE["petrol"])) >= 4.5


def test_curves_marks_and_focus_stand_out_from_the_page():
    shown = {look()[name][0] for name in look() if name != "range"}
    shown |= {SLATE, PALETTE["brick"], PALETTE["petrol"]}
    (ring,) = [body["outline"] for selector, body in rules() if "focus-visible" in selector]
    shown.add(re.search(r"#\w+", ring)[0])
    for colour in shown:
        assert contrast(rgb(colour), WHITE) >= 3.0, colour


def test_words_about_a_light_stroke_are_dark_in_every_figure():
    for stroke in (*STROKES.values(), *SERIES):
        assert contrast(rgb(stroke.word_color), WHITE) >= 4.5, stroke.name


def test_what_light_colours_say_is_said_in_words_as_well():
    # Amber and mist are too light for WCAG: they only repeat the word before each note.
    for selector, body in rules():
        for value in body.values():
            if PALETTE["amber"] in value:
                assert selector == ".cm-caution"
                assert list(body) == ["border-left-color"]
