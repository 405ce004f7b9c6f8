import base64
import re

import pytest

from converter_match import InputError
from converter_match.notes import Note
from converter_match.present.drawing.style import new_figure
from converter_match.present.notebook.picture import Notes, picture, refusal


def test_a_picture_carries_its_text_alternative_as_html_and_as_plain_text():
    shown = picture(new_figure(2.0, 1.0), 'Torque "net"\n over speed')
    page = shown._repr_html_()
    assert 'alt="Torque &quot;net&quot; over speed"' in page
    code = re.search(r"base64,([^\"]+)", page)[1]
    assert base64.b64decode(code).startswith(b"\x89PNG")
    assert repr(shown) == '[picture: Torque "net" over speed]'


def test_a_picture_without_words_is_refused():
    with pytest.raises(InputError, match="alternative"):
        picture(new_figure(2.0, 1.0), " \n")


def test_notes_are_listed_once_in_the_units_asked_for():
    hot = Note("hot", "oil < {limit:temperature .0f}", "limit", (("limit", 373.15),))
    notes = Notes([hot, Note("odd", "odd", "warning"), hot], "us")
    assert repr(notes) == "limit: oil < 212 °F\nwarning: odd"
    assert notes._repr_html_().count("<li>") == 2
    assert "oil &lt; 212" in notes._repr_html_()
    assert repr(Notes([])) == "none"


def test_what_is_refused_is_said_in_words_and_a_fault_of_ours_is_not_hidden():
    def refuse():
        raise InputError("no such gear", field="gear", found="7")

    assert "no such gear" in refusal(refuse)
    assert refusal(lambda: None) == "not refused"
    with pytest.raises(ZeroDivisionError):
        refusal(lambda: 1 / 0)
