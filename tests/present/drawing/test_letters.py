"""Letters that the shipped typeface lacks come from another font, or become a box and a warning."""

import warnings

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from matplotlib import font_manager
from matplotlib.textpath import TextPath

from converter_match.errors import LettersNotDrawn
from converter_match.present.drawing import fonts
from converter_match.present.drawing.saving import render
from converter_match.present.drawing.style import new_figure

EM = 1000
BRIDGE, ROPE = "橋", "縄"


def made_font(path, family, widths, *, weight=400, empty=()):
    """Write a font whose letters are boxes of these widths, in thousandths of the size."""
    names = {sign: f"letter{ord(sign)}" for sign in widths}
    pens = {".notdef": TTGlyphPen(None)}
    for sign, width in widths.items():
        pen = pens[names[sign]] = TTGlyphPen(None)
        if sign not in empty:
            pen.moveTo((0, 0))
            for corner in ((0, 700), (width - 100, 700), (width - 100, 0)):
                pen.lineTo(corner)
            pen.closePath()
    font = FontBuilder(EM, isTTF=True)
    font.setupGlyphOrder(list(pens))
    font.setupCharacterMap({ord(sign): name for sign, name in names.items()})
    font.setupGlyf({name: pen.glyph() for name, pen in pens.items()})
    advances = {".notdef": 500} | {names[sign]: width for sign, width in widths.items()}
    font.setupHorizontalMetrics({name: (width, 0) for name, width in advances.items()})
    font.setupHorizontalHeader(ascent=800, descent=-200)
    font.setupNameTable({"familyName": family, "styleName": "Regular"})
    font.setupOS2(usWeightClass=weight)
    font.setupPost()
    font.save(path)


@pytest.fixture
def machine(monkeypatch):
    """Have a machine with these fonts beside the shipped ones, and return how to add one."""
    shipped = [entry for entry in font_manager.fontManager.ttflist if "DejaVu" in entry.name]
    monkeypatch.setattr(font_manager.fontManager, "ttflist", list(shipped))

    def forget():
        for cached in (fonts._entries, fonts._elsewhere, fonts._face, fonts.advance):
            cached.cache_clear()
        font_manager.fontManager._findfont_cached.cache_clear()

    def add(*args, **more):
        made_font(*args, **more)
        font_manager.fontManager.addfont(args[0])
        forget()

    forget()
    yield add
    monkeypatch.undo()
    forget()


def said(draw):
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        drawn = draw()
    return drawn, [str(one.message) for one in caught if one.category is LettersNotDrawn]


def page_with(text, **look):
    figure = new_figure(3.0, 1.0)
    figure.text(0.1, 0.5, text, **look)
    return figure


def test_a_letter_that_another_font_has_is_drawn_in_it(machine, tmp_path):
    machine(tmp_path / "a.ttf", "Plank Gothic", {BRIDGE: 900, ROPE: 700})
    assert fonts.families(f"a{BRIDGE}") == (fonts.FAMILY, "Plank Gothic")
    assert fonts.families("a\nb") == (fonts.FAMILY,)
    assert fonts.drawable(f"a{BRIDGE}{ROPE}") == f"a{BRIDGE}{ROPE}"
    assert fonts.advance(BRIDGE) == pytest.approx(0.9, abs=1e-4)
    assert fonts.advance(ROPE) == pytest.approx(0.7, abs=1e-4)
    for bold in (False, True):  # where a font has no bold, what it has will do
        assert fonts.families(ROPE, bold=bold) == (fonts.FAMILY, "Plank Gothic")
    drawn, warned = said(lambda: render(page_with(f"a{BRIDGE}"), "png", dpi=50.0))
    assert not warned
    assert drawn != render(page_with(f"a{fonts.BOX}"), "png", dpi=50.0)


def test_a_letter_that_no_font_has_is_a_box_and_is_named_once(machine):
    assert fonts.drawable(f"a{BRIDGE}b") == f"a{fonts.BOX}b"
    assert fonts.families(BRIDGE) == (fonts.FAMILY,)
    assert fonts.advance(BRIDGE) == fonts.advance(fonts.BOX) > 0.0
    boxed, warned = said(lambda: render(page_with(f"a{BRIDGE}{ROPE}"), "png", dpi=50.0))
    assert warned
    assert all(BRIDGE in one and ROPE in one for one in warned)
    same, none = said(lambda: render(page_with(f"a{fonts.BOX * 2}"), "png", dpi=50.0))
    assert not none
    assert boxed == same


def test_what_joins_letters_or_parts_them_leaves_no_mark(machine):
    # The shipped typeface has the joiners themselves; one that lacks them draws nothing for them.
    assert [fonts._stand_in(sign) for sign in "\u200b\u200f\ufe00\ufe0f"] == [""] * 4
    assert [fonts._stand_in(sign) for sign in "\u200a\u2010\ufdff\ufe10"] == [" "] + [fonts.BOX] * 3
    assert fonts.drawable("a\u3000b") == "a b"  # a wide space of another script
    assert fonts.advance("\u3000") == fonts.advance(" ") > 0.0
    _, warned = said(lambda: render(page_with("a\u3000b"), "png", dpi=50.0))
    assert not warned


def test_as_few_fonts_as_will_do_are_taken_upright_and_plain_first(machine, tmp_path):
    machine(tmp_path / "a.ttf", "Aspen", {BRIDGE: 500})  # has serifs, by its name
    machine(tmp_path / "b.ttf", "Willow Sans", {BRIDGE: 600}, weight=900)
    machine(tmp_path / "c.ttf", "Wood Sans", {BRIDGE: 700, ROPE: 800})
    assert fonts.families(BRIDGE + ROPE) == (fonts.FAMILY, "Wood Sans")
    assert fonts.advance(BRIDGE) == pytest.approx(0.7, abs=1e-4)


def test_fonts_that_only_claim_a_letter_are_passed_over(machine, tmp_path):
    machine(tmp_path / "a.ttf", "Last Resort Sans", {BRIDGE: 900})
    machine(tmp_path / "b.ttf", "Hollow Sans", {BRIDGE: 900, ROPE: 900}, empty=(BRIDGE,))
    machine(tmp_path / "gone.ttf", "Gone Sans", {BRIDGE: 900})
    (tmp_path / "gone.ttf").unlink()
    assert fonts.families(BRIDGE) == (fonts.FAMILY,)
    assert fonts.families(ROPE) == (fonts.FAMILY, "Hollow Sans")


def test_a_typeface_that_somebody_chose_is_left_alone(machine):
    _, warned = said(lambda: render(page_with(BRIDGE, family="DejaVu Serif"), "png", dpi=50.0))
    assert not warned


def test_outlines_of_words_come_from_the_font_that_has_them(machine, tmp_path):
    machine(tmp_path / "a.ttf", "Plank Gothic", {BRIDGE: 900})
    (width, height) = fonts._Outlines().get_text_path(
        font_manager.FontProperties(family=fonts.FAMILY), BRIDGE
    )
    assert len(width) == len(height) > 0
    plain = TextPath((0, 0), "abc", prop=font_manager.FontProperties(family=fonts.FAMILY))
    own, codes = fonts._Outlines().get_text_path(
        font_manager.FontProperties(family=fonts.FAMILY), "abc"
    )
    assert len(own) == len(codes) >= len(plain.vertices) > 0
