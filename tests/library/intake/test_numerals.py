import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.library.intake.numerals import Style, parse, style_of

POINT, COMMA = Style(".", True, ""), Style(",", True, "")


@pytest.mark.parametrize(
    ("text", "style", "value"),
    [
        ("0,85", COMMA, 0.85),
        (",85", COMMA, 0.85),
        ("1.234,5", COMMA, 1234.5),
        ("1,234.5", POINT, 1234.5),
        ("1 234.5", POINT, 1234.5),
        ("1\u00a0234,5", COMMA, 1234.5),
        ("1\u202f234", COMMA, 1234.0),
        ("1'234.5", POINT, 1234.5),
        ("\u22120.25", POINT, -0.25),
        ("\u20130,25", COMMA, -0.25),
        ("6.5e-4", POINT, 6.5e-4),
        ("2.", POINT, 2.0),
        ("'0.85", POINT, 0.85),
    ],
)
def test_number_is_read_as_it_was_meant(text, style, value):
    assert parse(text, style).value == value


@pytest.mark.parametrize("text", ["", "-", "n/a", "abc", "1.2.3,4,5", "2.0-2.2", "1-Feb", "<1"])
def test_what_is_no_number_is_none(text):
    assert parse(text, POINT) is None


@pytest.mark.parametrize(
    ("texts", "decimal", "sure"),
    [
        (["0,10", "2,20"], ",", True),
        (["1.700", "0,85"], ",", True),
        (["1,700", "0.85"], ".", True),
        (["1,700", "2,100"], ".", False),
        (["1.700", "2.100"], ".", False),
        (["1 700,5"], ",", True),
        (["17", "18"], ".", True),
        (["1,234,567"], ".", True),
    ],
)
def test_decimal_mark_is_told_by_the_sheet_or_not_at_all(texts, decimal, sure):
    style = style_of(texts)
    assert (style.decimal, style.sure) == (decimal, sure)


def test_unit_and_footnote_mark_are_told_apart_from_the_number():
    assert parse("85 %", POINT).unit == "%"
    assert parse("2200 rpm", POINT).unit == "rpm"
    assert parse("1.00*", POINT).mark == "*"


@given(st.floats(0, 1e6, allow_nan=False).map(lambda x: round(x, 2)), st.sampled_from(".,"))
def test_number_written_with_thousands_and_either_mark_comes_back(value, mark):
    text = f"{value:,.2f}"
    if mark == ",":
        text = text.translate(str.maketrans(",.", ".,"))
    assert parse(text, Style(mark, True, "")).value == value


@given(st.text(max_size=30))
@pytest.mark.slow
def test_any_text_is_a_number_or_none(text):
    parse(text, POINT)
    style_of([text])
