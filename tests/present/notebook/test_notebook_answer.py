"""An answer in a notebook: parts of it by name, in units of the reader, with notes or without."""

import pytest

import converter_match as cm
from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer
from converter_match.notes import Note


class Held(Answer):
    notes = (Note("hot", "The oil is at {t:temperature .0f}.", values=(("t", 373.15),)),)

    def blocks(self):
        torque = Heading("torque", "torque", "torque", ".0f")
        return (
            Block("", facts=((torque, 100.0),), in_text=False),
            Block("a", "First part", ((torque, 1000.0),)),
            Block("under.b", "Second part", columns=(torque,), rows=((2000.0,),)),
        )


def test_parts_go_by_name_and_by_title():
    by_name = cm.show(Held(), "b", notes=False)
    assert str(by_name) == str(cm.show(Held(), "Second part", notes=False))
    assert "2000" in str(by_name)
    assert "1000" not in str(by_name)


def test_all_that_stands_in_text_is_shown_with_its_notes():
    said = str(cm.show(Held()))
    assert "1000 N·m" in said
    assert "[hot] The oil is at 100 °C." in said
    assert " 100 N·m" not in said  # only in plain data
    assert "hot" not in str(cm.show(Held(), notes=False))


def test_units_are_the_readers():
    # 737.562 lbf.ft to 1000 N.m (NIST SP 811), 212 degF
    said = cm.show(Held(), system="us")
    for form in (str(said), said._repr_html_()):
        assert "738 lbf·ft" in form
        assert "212 °F" in form


def test_what_there_is_not_names_the_nearest():
    with pytest.raises(cm.InputError, match=r"no such part; found .Frist part.*First part"):
        cm.show(Held(), "Frist part")
    with pytest.raises(cm.InputError, match="unknown unit system"):
        cm.show(Held(), system="uk")


def test_data_carried_says_what_the_files_say():
    [engines] = cm.data_carried(*cm.read("six-cylinder-9l-240kw", "four-cylinder-2l5-45kw")).blocks
    by_id = {row[0]: row[1:] for row in engines.rows}
    # [motoring], [exhaust_brake] and [inertia] of the two files
    assert by_id["six-cylinder-9l-240kw"] == (True, True, True)
    assert by_id["four-cylinder-2l5-45kw"][1] is False
    both = cm.data_carried(*cm.read("six-cylinder-9l-240kw", "single-stage-345mm-tight"))
    assert [block.name for block in both.blocks] == ["engine", "converter"]
    with pytest.raises(cm.InputError, match="neither an engine nor a converter; found 'Machine'"):
        cm.data_carried(cm.read("wheel-loader-17t"))
