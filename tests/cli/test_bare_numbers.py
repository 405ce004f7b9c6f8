"""With ``--units us`` a number that could be metric or US needs its unit, at every option."""

import argparse

import pytest

from converter_match.cli import build_parser, main
from converter_match.cli.bare_numbers import ONE_UNIT, TWO_UNITS
from converter_match.units import dimensions_of, to_si
from tests.cli.test_parser import PAIR
from tests.cli.test_typed_values import NO_NUMBER, VERBS


def verbs():
    found = next(a for a in build_parser()._actions if isinstance(a, argparse._SubParsersAction))
    return found.choices


def options_of(verb):
    return [a for a in verbs()[verb]._actions if a.option_strings and a.nargs != 0]


CASES = [
    pytest.param(words, action, id=f"{words[0]} {action.option_strings[0]} of {len(words)}")
    for words, table in VERBS.items()
    if "--units" in {name for a in options_of(words[0]) for name in a.option_strings}
    for action in options_of(words[0])
    if action.option_strings[0] in table
]


def test_every_option_is_known_to_take_a_word_or_a_number_in_one_unit_or_in_two():
    known = NO_NUMBER | set(TWO_UNITS) | ONE_UNIT | {"WORDS", "CLAIM"}
    for verb in verbs():
        for action in options_of(verb):
            plain = action.choices or action.type is int  # a count has no unit
            assert plain or action.metavar in known, (verb, action.option_strings)


def test_every_number_of_a_verb_with_units_is_tried_here():
    tried = {(words[0], action.option_strings[0]) for words, action in (c.values for c in CASES)}
    with_numbers = {
        (verb, action.option_strings[0])
        for verb in verbs()
        for action in options_of(verb)
        if action.metavar in TWO_UNITS
    }
    assert with_numbers <= tried
    assert len(with_numbers) > 20


@pytest.mark.parametrize(("words", "action"), CASES)
def test_number_that_could_be_in_two_units_needs_one(words, action, capsys, monkeypatch):
    ran = []
    words = ["9 km/h" if word == "9" else word for word in words]  # of what is not tried here
    option, number = action.option_strings[0], "30,40" if "," in str(action.metavar) else "30"

    def status(text):
        monkeypatch.setattr(
            f"converter_match.cli.{words[0]}.run", lambda args: ran.append(args) or 0
        )
        return main([*words, f"{option}={text}", "--units", "us"])

    if action.metavar in ONE_UNIT:
        assert status(number) == 0
        return
    assert status(number) == 2
    said = capsys.readouterr().err
    units = TWO_UNITS[action.metavar]
    assert said.startswith(f"converter-match: {option}: a number without its unit")
    assert f"'30 {units.us}' or '30 {units.metric}'" in said
    assert (said.count("\n"), ran) == (1, [])
    for unit in units:
        with_unit = ",".join(f"{part} {unit}" for part in number.split(","))
        assert status(with_unit) == 0
    assert main([*words, f"{option}={number}"]) == 0  # metric as ever without --units us
    assert len(ran) == 3


@pytest.mark.parametrize("pair", TWO_UNITS.values())
def test_both_units_are_of_one_dimension(pair):
    shared = set(dimensions_of(pair.metric)) & set(dimensions_of(pair.us))
    assert shared
    dimension = min(shared)
    assert to_si(1.0, pair.metric, dimension) != to_si(1.0, pair.us, dimension)


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (("stall", *PAIR, "--reading", "speed=1700 oil=85 brakes=held"), "--reading: oil"),
        (("stall", *PAIR, "--reading", "speed=1700 oil=185degF air=20"), "--reading: air"),
        (("audit", *PAIR, "--claim", "speed on grade=8 mph; grade=8 %; speed=5"), "--claim: speed"),
    ],
)
def test_number_inside_words_needs_one_as_well(words, where, capsys):
    assert main([*words, "--units", "us"]) == 2
    assert capsys.readouterr().err.startswith(f"converter-match: {where}: a number without its")


@pytest.mark.slow
def test_what_has_its_unit_or_needs_none_is_taken(capsys):
    readings = ("--reading", "speed=1700 oil=185 degF brakes=held")
    assert main(["stall", *PAIR, *readings, "--units", "us"]) in (0, 3)
    claim = ("--claim", "stall speed=1806 rpm; tolerance=1 %")
    assert main(["audit", *PAIR, *claim, "--units", "us"]) in (0, 3)
    assert main(["solve", *PAIR, "--hydraulic-torque", "0", "--units", "us"]) in (0, 3)
    capsys.readouterr()
    assert main(["solve", *PAIR, "--air-temperature", "0", "--units", "us"]) == 2


def test_feet_and_metres_of_one_altitude_are_one_answer(capsys):
    said = []
    for altitude in ("2000 m", "6561.6798 ft"):
        assert main(["solve", *PAIR, "--altitude", altitude, "--units", "us"]) in (0, 3)
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]
    assert main(["solve", *PAIR, "--altitude", "2000"]) in (0, 3)
