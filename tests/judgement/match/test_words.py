"""The sentences of a match and of an arrangement: places for values that can be filled."""

from string import Formatter

import pytest

from converter_match.judgement.arrangement import words as arrangement
from converter_match.judgement.match import words as match
from converter_match.units import AMOUNTS, note_text

SENTENCES = [
    (code, *sentence)
    for catalogue in (match.NOTES, match.BELOW, arrangement.NOTES)
    for code, sentence in catalogue.items()
]


@pytest.mark.parametrize(("code", "kind", "template"), SENTENCES, ids=[s[0] for s in SENTENCES])
@pytest.mark.parametrize("system", ["si", "us"])
def test_every_place_of_a_sentence_can_be_filled(code, kind, template, system):
    assert kind in ("assumption", "warning", "limit", "caution")
    values = {}
    for _, name, form, _ in Formatter().parse(template):
        if name is not None:
            assert not form or form.startswith(".") or form.split()[0] in AMOUNTS
            values[name] = 1.0 if form else "word"
    catalogue = next(each for each in (match.NOTES, match.BELOW, arrangement.NOTES) if code in each)
    said = note_text(catalogue.note(code, **values), system)
    assert "{" not in said
    assert all(unit not in said for unit in ("N·m", "kW") if system == "us")
