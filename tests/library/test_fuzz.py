"""Damaged files: whatever is done to a good one, it can be read or it is refused in one line."""

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from converter_match.components.base import Component
from converter_match.errors import InputError
from converter_match.library.check import oddities
from converter_match.library.read import read_component
from tests.library.sheets import NAMES, saved, text_of

WORDS = [
    "nan", "-inf", "inf", "true", "0", "-0.0", "-1", "1e400", "1e-300", "1e300", "9" * 400, "1,5",
    '"1,5"', '""', '"ü"', "[]", "{}", "[[]]", "[[1]]", "{ value = 1 }", '{ unit = "rpm" }',
    '{ unit = "", values = [] }', '{ unit = 1, value = 1 }', "1979-05-27", "07:32:00", "0x10",
    '"\\u0000"', '"rpm"', '"N*m"', '"percent"', "'''a\nb'''", "0.5", "2.0", "]", "}", "[", "=",
]  # fmt: skip
SIGNS = list("\"'[]{}=,.#-\n\t 0e\\\u00e9\ufeff\x00")
_NUMBER_OR_TEXT = re.compile(r'-?\d+(?:\.\d+)?|"[^"\n]*"|\[[^\[\]]*\]|\{[^{}]*\}')
_KEY = re.compile(r"[A-Za-z_]+(?= =)")


def replaced(text, pattern, share, word):
    """Replace one of the places where a pattern matches."""
    places = list(pattern.finditer(text))
    if not places:
        return text
    place = places[int(share * (len(places) - 1))]
    return text[: place.start()] + word + text[place.end() :]


def line_gone(text, share, twice):
    lines = text.splitlines(keepends=True) or [""]
    row = int(share * (len(lines) - 1))
    return "".join(lines[:row] + (2 * [lines[row]] if twice else []) + lines[row + 1 :])


def spliced(text, share, sign, gap):
    at = int(share * len(text))
    return text[:at] + sign + text[at + gap :]


def outcome(path):
    try:
        return read_component(path)
    except InputError as error:
        return error


SHARES = st.floats(0, 1)
DAMAGE = st.one_of(
    st.tuples(st.just(replaced), st.just(_NUMBER_OR_TEXT), SHARES, st.sampled_from(WORDS)),
    st.tuples(st.just(replaced), st.just(_KEY), SHARES, st.sampled_from(["torque", "value", "x"])),
    st.tuples(st.just(replaced), st.just(re.compile(r"\d")), SHARES, st.sampled_from("0159-,")),
    st.tuples(st.just(line_gone), SHARES, st.booleans()),
    st.tuples(st.just(spliced), SHARES, st.sampled_from(SIGNS), st.integers(0, 3)),
    st.tuples(st.just(spliced), SHARES, st.text(max_size=4), st.integers(0, 60)),
)


def check_outcome(folder, text):
    path = saved(folder, text.encode("utf-8", "surrogatepass"), "damaged")
    found = outcome(path)
    if isinstance(found, InputError):
        assert found.source == str(path)
        assert str(found).startswith(f"{path}: ")
        assert len(str(found).splitlines()) == 1
        assert len(str(found)) < len(str(path)) + 1500
    else:
        assert isinstance(found, Component)
        assert isinstance(found.fingerprint(), str)
        oddities(found)


@settings(max_examples=200)
@given(sheet=st.sampled_from(NAMES), damage=st.lists(DAMAGE, min_size=1, max_size=4))
def test_damaged_file_is_read_or_refused(tmp_path_factory, sheet, damage):
    text = text_of(sheet)
    for act, *arguments in damage:
        text = act(text, *arguments)
    check_outcome(tmp_path_factory.getbasetemp(), text)


_NUMBER = re.compile(r"(?<=[ \[])-?\d+(?:\.\d+)?(?=[ ,\]\n])")
NUMBERS = st.one_of(
    st.sampled_from(["0", "-1", "1", "1e-9", "1e9", "-1e9", "nan", "inf", "1e-13", "1e11"]),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.floats(0, 10).map(repr),
    st.integers(0, 3000).map(str),
)


@settings(max_examples=200)
@given(
    sheet=st.sampled_from(NAMES),
    damage=st.lists(st.tuples(SHARES, NUMBERS), min_size=1, max_size=3),
)
def test_file_with_other_numbers_is_read_or_refused(tmp_path_factory, sheet, damage):
    # Valid TOML with every key in its place: this damage gets as far as the component.
    text = text_of(sheet)
    for share, number in damage:
        text = replaced(text, _NUMBER, share, number)
    check_outcome(tmp_path_factory.getbasetemp(), text)
