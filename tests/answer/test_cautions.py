"""What a renderer makes of cautions and of notes in an answer: said once, and where it is read."""

from converter_match.answer.block import Block, Heading
from converter_match.answer.console import console
from converter_match.answer.html import html
from converter_match.answer.plain import plain
from converter_match.notes import Note

CAUTION = Note("hot", "Oil at {t:temperature .0f} burns.", "caution", (("t", 373.15),))
WARNING = Note("odd", "This is odd.")
SITE = Heading("site", "site")


def test_caution_in_a_block_is_marked_and_not_said_again_below():
    blocks = [Block("a", "Stall", ((SITE, "here"),), above=(CAUTION,), below=(WARNING,))]
    assert console(blocks, [CAUTION, WARNING]).splitlines() == [
        "Stall", "CAUTION: Oil at 100 °C burns.", "  site: here", "This is odd."
    ]  # fmt: skip
    page = html(blocks, [CAUTION, WARNING], "us")
    assert "<p>CAUTION: Oil at 212 °F burns.</p>" in page
    assert page.count("burns") == page.count("odd") == 1


def test_note_of_other_values_is_another_note():
    hotter = Note(CAUTION.code, CAUTION.message, "caution", (("t", 393.15),))
    lines = console([Block("a", above=(CAUTION,))], [hotter]).splitlines()
    assert lines[0] == "CAUTION: Oil at 100 °C burns."
    assert lines[-1] == "  [hot] Oil at 120 °C burns."


def test_note_in_a_block_that_stands_in_plain_data_only_is_still_said():
    hidden = Block("a", above=(CAUTION,), in_text=False)
    assert "[hot] Oil at 100 °C burns." in console([hidden], [CAUTION])
    assert "Oil at 100 °C burns." in html([hidden], [CAUTION])


def test_value_that_is_a_note_is_put_into_the_reader_s_units():
    block = Block("a", facts=((SITE, CAUTION),))
    assert console([block], []) == "site: Oil at 100 °C burns."
    assert console([block], [], "us") == "site: Oil at 212 °F burns."
    assert plain([block]) == {"a": {"site": "Oil at 100 °C burns."}}


def test_table_in_two_parts_has_no_white_space_behind_its_lines():
    columns = (SITE, *(Heading(f"c{k}", f"column number {k}") for k in range(6)))
    block = Block("a", "Wide", columns=columns, rows=(("here", *map(float, range(6))),))
    lines = console([block], [], width=40).splitlines()
    assert "" in lines
    assert all(line == line.rstrip() for line in lines)
