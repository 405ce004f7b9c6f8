"""What a heading makes of values that are more than a number: estimates, notes, objects."""

from converter_match.answer.block import Block, Estimate, Heading
from converter_match.answer.console import console
from converter_match.answer.plain import plain
from converter_match.notes import Note

FOOT_POUND = 1.3558179483314004  # N.m, NIST SP 811
SPEED = Heading("speed", "speed", "angular_speed")
TORQUE = Heading("torque", "torque", "torque", ".1f")


def test_an_estimate_is_an_object_in_plain_data_and_a_band_in_text():
    value = Estimate(FOOT_POUND, 0.5 * FOOT_POUND, 2 * FOOT_POUND)
    assert TORQUE.plain(value) == {"value": value[0], "low": value[1], "high": value[2]}
    assert TORQUE.text(value, "us", unit=True) == "1.0 (0.5 to 2.0) lbf·ft"
    assert TORQUE.text(value, "us") == "1.0 (0.5 to 2.0)"


def test_a_note_as_a_value_is_said_in_the_units_of_the_reader():
    note = Note("too-much", "above {most:torque .0f}", "limit", (("most", 100 * FOOT_POUND),))
    head = Heading("why", "why")
    assert head.plain(note) == "above 136 N·m"
    assert head.text(note, "us") == "above 100 lbf·ft"
    assert head.text((note, note), "us") == "above 100 lbf·ft, above 100 lbf·ft"


def test_an_object_as_a_value_has_its_numbers_in_the_units_of_plain_data():
    block = Block("", facts=((TORQUE, {"low": 1.0, "high": float("nan")}),))
    assert plain([block]) == {"torque_nm": {"low": 1.0, "high": None}}


def test_a_note_in_a_list_of_a_block_is_not_said_again_below():
    note = Note("odd", "This is odd.")
    text = console([Block("", "List", items=(note,))], [note, Note("other", "Another.")])
    assert text == "List\n  - This is odd.\n\nWarnings:\n  [other] Another."
