"""What intake says in its own words is not said again in those of a file."""

from pathlib import Path

import pytest

import converter_match
from converter_match.errors import InputError
from converter_match.library.intake.answers import FACTS, fact_text
from converter_match.library.intake.draft import SAID_AS
from converter_match.library.schema.quantity import read_free_entry

PACKAGE = Path(converter_match.__file__).parent


def test_codes_that_mean_the_same_are_codes_of_both_rooms():
    texts = "\n".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py"))
    for code in (*SAID_AS, *SAID_AS.values()):
        assert texts.count(f'"{code}"') >= 2, code  # in the list, and where it is said


@pytest.mark.parametrize("name", [name for name, dimension in FACTS.items() if dimension])
def test_a_bare_number_is_a_fact_in_si_with_its_unit(name):
    number, _, unit = fact_text(name, 2).partition(" ")
    assert number == "2.0"
    assert (unit == "") == (FACTS[name] == "ratio")


@pytest.mark.parametrize("raw", [{"value": 3, "unit": 7}, {"unit": "furlong"}])
def test_a_free_entry_without_a_known_unit_says_so(raw):
    with pytest.raises(InputError, match="unknown unit") as caught:
        read_free_entry(raw)
    assert caught.value.field == "unit"
    assert caught.value.found == raw["unit"]


def test_a_free_entry_without_a_unit_is_a_ratio():
    text, quantity = read_free_entry({"value": 3})
    assert (quantity.si, quantity.unit, quantity.dimension) == (3.0, "", "ratio")
    assert text == "3"
