"""Whose data are odd, and on whose combination that throws doubt."""

from types import SimpleNamespace

import pytest

from converter_match.components.engine import Accessory
from converter_match.library.check import (
    asked,
    doubts_of,
    has_rules,
    odd_beside,
    oddities,
    oddities_of,
    parts_of,
    parts_within,
    study_oddities,
)
from converter_match.library.odd.doubts import throws_doubt
from converter_match.notes import Note
from converter_match.study.names import called
from converter_match.study.study import PRESENT
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine
from tests.study_examples import combination, flat_engine, study

DOUBTFUL, PITY = Note("inertia-unusual", "odd"), Note("ends-early", "a pity")
QUESTION = Note("number-unusual", "asked")


def part(name, *notes):
    return SimpleNamespace(id=name, notes=notes)


def heavy(**changes):
    """An engine whose inertia is a thousandfold."""
    return flat_engine(inertia=1500.0, **changes)


@pytest.mark.parametrize(
    ("code", "doubtful"),
    [
        ("inertia-unusual", True),
        ("stall-capacity-implausible", True),
        ("gear-order-odd", True),
        ("cooler-size-unusual", True),
        ("motor-power-rises", True),
        ("grade-tiny", True),
        ("pressure-and-altitude-disagree", True),
        ("number-unusual", True),
        ("torque-and-power-differ", True),
        # What is missing rounds off a corner, and doubts nothing.
        ("no-row-at-rated-speed", False),
        ("no-row-at-coupling-point", False),
        ("ends-early", False),
        ("aspiration-missing", False),
        ("shift-time-long", False),
        # What is odd about nothing.
        ("size-by-similarity", False),
    ],
)
def test_doubt_is_thrown_by_what_is_odd_and_not_by_what_is_a_pity(code, doubtful):
    assert throws_doubt(Note(code, "x")) is doubtful


def test_kinds_without_rules_have_none():
    assert all(map(has_rules, (converter(), engine(), driveline(), machine(), study())))
    assert not has_rules("a text")
    assert not has_rules(combination())


def test_what_was_asked_when_a_file_was_read_is_its_own_notes_of_that():
    assert asked(part("a", DOUBTFUL, QUESTION, PITY)) == (QUESTION,)
    assert asked(SimpleNamespace(given_notes=(QUESTION,))) == (QUESTION,)
    assert asked("a text") == ()


def test_each_part_is_said_once_with_what_it_is_called():
    odd = heavy()
    found = oddities_of([odd, converter(), odd])
    codes = [note.code for note in oddities(odd)]
    assert "inertia-unusual" in codes
    assert found == tuple((called(odd), note) for note in oddities(odd))
    assert len(found) == len(codes)


def test_what_is_said_already_is_not_said_beside_it():
    odd = heavy()
    every = odd_beside([("the engine", odd)])
    assert {note.code for note in every} == {note.code for note in oddities(odd)}
    assert all(note_text(note, "si").startswith("the engine: ") for note in every)
    rest = odd_beside([("the engine", odd)], [DOUBTFUL])
    assert {note.code for note in every} - {note.code for note in rest} == {"inertia-unusual"}


def test_question_about_one_number_does_not_silence_that_about_another():
    # 0.0002 of rolling resistance and 9 of traction are asked about by one code.
    from tests.machines import surface

    ground = surface(rolling_resistance=0.0002)
    found = odd_beside([("the ground", ground)], [QUESTION])
    assert [note.code for note in found] == ["number-unusual"]


def test_study_is_odd_by_itself_its_parts_and_its_sites():
    given = study(combination(engine=heavy()))
    given = given.replace(duty=given.duty.replace(continuous_grade=0.0008))
    found = [(whose, note.code) for whose, note in study_oddities(given)]
    assert ("study 'test-study'", "grade-tiny") in found
    assert (called(heavy()), "inertia-unusual") in found


def test_parts_of_a_combination_are_those_that_are_there():
    whole = combination()
    assert set(map(id, parts_of(whole))) == {
        id(part) for part in (whole.engine, whole.converter, whole.driveline, whole.machine)
    }
    assert len(parts_of(combination(driveline=None, machine=None))) == 2


def test_second_engine_and_converter_of_an_arrangement_are_parts_as_well():
    second = SimpleNamespace(engine=engine(), converter=None)
    assert parts_within(SimpleNamespace(parallel=second)) == (second.engine,)
    both = SimpleNamespace(engine=engine(), converter=converter())
    arrangement = SimpleNamespace(parallel=both)
    assert parts_within(arrangement) == (both.engine, both.converter)
    assert parts_within(engine()) == ()
    item = SimpleNamespace(motor=None, engine=engine(), converter=converter(),
                           arrangement=arrangement)  # fmt: skip
    assert parts_of(item)[-2:] == (both.engine, both.converter)


# --- whose doubt it is ---------------------------------------------------------------------------


def doubts(odd, *, notes=(), others=()):
    """Doubts about two combinations that share a converter, each with an engine of its own."""
    shared, first, other = converter(), engine(id="first"), engine(id="other")
    first = first if not notes else _with_notes(first, notes)
    named = [(PRESENT, (first, shared)), ("new", (other, shared))]
    return [(key, whose, note.code) for key, whose, note in doubts_of(named, odd, others)]


def _with_notes(item, notes):
    object.__setattr__(item, "given_notes", (*item.given_notes, *notes))
    return item


def test_doubt_about_a_part_is_that_of_the_combinations_that_have_it():
    first, shared = called(engine(id="first")), called(converter())
    assert doubts([(first, DOUBTFUL)]) == [(PRESENT, first, "inertia-unusual")]
    assert doubts([(shared, DOUBTFUL)]) == [
        (PRESENT, shared, "inertia-unusual"),
        ("new", shared, "inertia-unusual"),
    ]
    assert doubts([(first, PITY)]) == []


def test_doubt_about_what_is_no_part_is_everybody_s_but_not_that_about_others_parts():
    assert [key for key, *_ in doubts([("site 'pit'", DOUBTFUL)])] == [PRESENT, "new"]
    another = engine(id="nobody")
    assert doubts([(called(another), DOUBTFUL)], others=[another]) == []


def test_what_a_part_says_of_itself_throws_doubt_as_well_and_once():
    first = called(engine(id="first"))
    own = Note("torque-and-power-differ", "x")
    assert doubts([], notes=[own]) == [(PRESENT, first, own.code)]
    assert doubts([(first, own)], notes=[own]) == [(PRESENT, first, own.code)]
    assert doubts([], notes=[PITY]) == []


def test_accessory_that_takes_too_much_is_the_engine_s():
    pump = Accessory(name="pump", power=150e3, at_speed=2200 * RPM, exponent=1.0)
    odd = flat_engine(accessories=(pump,))
    assert "accessories-heavy" in {note.code for _, note in oddities_of([odd])}
