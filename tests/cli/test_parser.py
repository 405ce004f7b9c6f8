"""Wrong use is answered by one line with the nearest right thing, and status 2."""

import pytest

from converter_match.cli import build_parser, main

PAIR = ("--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight")


def refused(capsys, *argv):
    with pytest.raises(SystemExit) as stop:
        main(list(argv))
    assert stop.value.code == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    return said.err


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        ((), "missing: VERB"),
        (("sovle",), "did you mean 'solve'?"),
        (("solve", *PAIR, "--algitude", "3"), "did you mean '--altitude'?"),
        (("solve", *PAIR, "extra"), "not known here: extra"),
        (("solve", *PAIR, ""), "not known here: ''"),
        (("solve", *PAIR, " "), "not known here: ' '"),
        (("solve", PAIR[0], PAIR[1]), "missing: --converter"),
        (("solve", *PAIR, "--units", "SI"), "found 'SI'; expected si | us; did you mean 'si'"),
        (("solve", *PAIR, "--altitude"), "--altitude: a value is missing after it"),
        (("study", "x", "--draws", "many"), "--draws: not a whole number; found 'many'"),
        (("route", *PAIR, "--driveline", "d", "--machine", "m", "--route", "r", "--cycle", "c"),
         "--cycle: does not go with --route"),
        (("solve", "--engine", "", "--converter", "x"), "--engine: is empty; found ''"),
        (("study", " "), "FILE: is empty; found ' '"),
        (("check", "a.toml", ""), "FILE: is empty; found ''"),
        (("intake", "--spec-line", ""), "--spec-line: is empty; found ''"),
        # The beginning of a name is not the name, required or not.
        (("solve", "--engin", PAIR[1], *PAIR[2:]), "not known here: --engin; did you mean '--engi"),
        (("solve", f"--engin={PAIR[1]}", *PAIR[2:]), "did you mean '--engine'?"),
        (("solve", *PAIR, "--alt", "300"), "did you mean '--altitude'?"),
        (("route", *PAIR, "--driveline", "d", "--machine", "m", "--rout", "r"),
         "did you mean '--route'?"),
    ],
)  # fmt: skip
def test_wrong_use_names_the_nearest_right_thing_on_one_line(capsys, argv, says):
    said = refused(capsys, *argv)
    assert says in said
    assert "--help`" in said


@pytest.mark.parametrize(
    "argv", [("solve", *PAIR, 6000 * "x"), ("solve", *PAIR, "--units", 6000 * "x"),
             ("solve", *PAIR, f"--{6000 * 'x'}=1"), ("study", "x", "--draws", 6000 * "x"),
             ("solve", *PAIR, "--engine", 6000 * "x")],
)  # fmt: skip
def test_an_argument_of_thousands_of_letters_is_not_echoed_whole(capsys, argv):
    said = refused(capsys, *argv)
    assert " ... xxx" in said
    assert 50 < said.count("x") < 150


def test_a_negative_value_may_have_its_unit_or_exponent_behind_it(capsys):
    said = set()
    for text in ("-10", "-10degC", "-1e1", "-10.0 C", "-.1e2"):
        assert main(["solve", *PAIR, "--air-temperature", text, "--json"]) == 0
        said.add(capsys.readouterr().out)
    assert len(said) == 1


def test_option_given_twice_with_two_values_is_refused(capsys):
    said = refused(capsys, "solve", *PAIR, "--engine", "six-cylinder-9l-240kw")
    assert "--engine: given twice: 'six-cylinder-7l-185kw' and 'six-cylinder-9l-240kw'" in said
    # The same value twice says the same thing twice; and some options are there to be repeated.
    assert main(["solve", *PAIR, *PAIR]) == 0
    claims = ("--claim", "stall torque ratio=2.2", "--claim", "stall speed=1806 rpm")
    assert main(["audit", *PAIR, *claims]) == 0
    capsys.readouterr()


@pytest.mark.parametrize("columns", [80, 120])
def test_help_fits_the_terminal_but_for_its_examples(monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    parser = build_parser()
    verbs = next(a for a in parser._actions if a.choices and "solve" in a.choices)
    for verb in (parser, *verbs.choices.values()):
        text = verb.format_help()
        before, _, after = text.partition("examples:")
        wide = [line for line in before.splitlines() if len(line) > columns]
        assert wide == []
        prose = [line for line in after.splitlines() if not line.startswith("  ")]
        assert [line for line in prose if len(line) > columns] == []
