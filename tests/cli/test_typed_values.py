"""A wrong number is said of its option, as it was typed, whatever it is inside."""

import argparse
import re

import pytest

from converter_match.cli import build_parser, main
from converter_match.study.study import CLAIM_DIMENSIONS
from tests.cli.test_messages import HAULER, LOADER
from tests.cli.test_parser import PAIR

SPEC = (
    "intake", "--spec-line", "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; low idle 800 rpm; "
    "high idle 2380 rpm; speed governed; gross",
)  # fmt: skip
MOTOR = ("--motor", "lift-truck-80v-30kw", "--converter", "single-stage-260mm")
TRUCK = (*MOTOR[:2], "--driveline", "two-speed-lift-truck", "--machine", "lift-truck-5t")
CLAIM = ("audit", *PAIR, "--claim", "stall speed=1806 rpm")
ON_A_ROUTE = ("size", *HAULER, "--route", "too-steep")
SIGN, ZERO, HUGE = "-3", "0", "1e9"

# Words before the option, and of each option which of the three numbers are refused, and a unit of
# something else. Every number that is not one is refused everywhere.
CONDITIONS = {
    "--altitude": ((HUGE,), "kW"),
    "--air-temperature": ((HUGE,), "kW"),
    "--hydraulic-torque": ((SIGN,), "kW"),
}
VERBS = {
    ("solve", *PAIR): CONDITIONS | {
        "--diameter": ((SIGN, ZERO, HUGE), "kW"),
        "--governed": ((SIGN, ZERO, HUGE), "kW"),
    },
    ("solve", *MOTOR): {"--voltage": ((SIGN, ZERO, HUGE), "kW")},
    ("tractive", *TRUCK, *MOTOR[2:]): {"--voltage": ((SIGN, ZERO, HUGE), "kW")},
    ("tractive", *TRUCK): {"--direct": ((SIGN, ZERO, HUGE), "kW")},
    ("hold", *MOTOR, "--machine", "lift-truck-5t"): {"--voltage": ((SIGN, ZERO, HUGE), "kW")},
    ("hold", *MOTOR[:2], "--machine", "lift-truck-5t"): {"--direct": ((SIGN, ZERO, HUGE), "kW")},
    ("route", *TRUCK, *MOTOR[2:], "--route", "timber-stack-to-kiln"): {
        "--voltage": ((SIGN, ZERO, HUGE), "kW"),
    },
    ("route", *TRUCK, "--route", "timber-stack-to-kiln"): {
        "--direct": ((SIGN, ZERO, HUGE), "kW"),
    },
    ("stall", *MOTOR): {"--voltage": ((SIGN, ZERO, HUGE), "kW")},
    ("size", *MOTOR, "--stall-speed", "2000"): {"--voltage": ((SIGN, ZERO, HUGE), "kW")},
    ("accelerate", *TRUCK, *MOTOR[2:], "--to-speed", "8 km/h"): {
        "--voltage": ((SIGN, ZERO, HUGE), "kW"),
    },
    ("accelerate", *TRUCK, "--to-speed", "8 km/h"): {"--direct": ((SIGN, ZERO, HUGE), "kW")},
    ("solve", *PAIR[:2], "--converter", "adjustable-stator-365mm"): {
        "--setting": ((SIGN, HUGE), "kW"),
    },
    ("tractive", *LOADER): CONDITIONS
    | {
        "--rolling-resistance": ((SIGN, HUGE), "kW"),
        "--traction": ((SIGN, ZERO, HUGE), "kW"),
        "--grades": ((SIGN, HUGE), "kW"),
    },
    ("accelerate", *HAULER, "--surface", "firm smooth earth", "--to-speed", "9"): CONDITIONS
    | {
        "--grade": ((HUGE,), "kW"),
        "--rolling-resistance": ((SIGN, HUGE), "kW"),
        "--traction": ((SIGN, ZERO, HUGE), "kW"),
    },
    ("accelerate", *HAULER, "--surface", "firm smooth earth"): {
        "--to-speed": ((SIGN, ZERO), "kW")
    },
    ("hold", *PAIR, "--machine", "wheel-loader-17t"): CONDITIONS | {"--oil-start": ((HUGE,), "kW")},
    ("route", *HAULER, "--route", "too-steep"): CONDITIONS
    | {"--oil-start": ((HUGE,), "kW"), "--braking": ((SIGN, ZERO, HUGE), "kW")},
    ("size", *PAIR): {
        "--stall-speed": ((SIGN, ZERO), "kW"),
        "--input-speed-at-80": ((SIGN, ZERO), "kW"),
    },
    ("size", *PAIR, "--stall-speed", "1800"): CONDITIONS
    | {"--diameter-range": ((SIGN, ZERO, HUGE), "kW")},
    CLAIM: CONDITIONS | {"--rolling-resistance": ((SIGN, HUGE), "kW")},
    ("accept", "loader-nothing-to-measure", "--draws", "64"): {
        name: CONDITIONS[name] for name in ("--altitude", "--air-temperature")
    },
    ("stall", *PAIR): CONDITIONS
    | {
        "--relief-torque": ((SIGN, ZERO), "kW"),
        "--published": ((SIGN, ZERO, HUGE), "kW"),
        "--maker-hold": ((SIGN, ZERO, HUGE), "kW"),
        "--oil-temperature": ((HUGE,), "kW"),
        "--coverage": ((SIGN, ZERO, HUGE), "kW"),
        "--engine-tolerance": ((SIGN, ZERO, HUGE), "kW"),
        "--capacity-tolerance": ((SIGN, ZERO, HUGE), "kW"),
        "--rolling-resistance": ((SIGN, HUGE), "kW"),
        "--traction": ((SIGN, ZERO, HUGE), "kW"),
    },
    ("identify", "no-such-log.csv"): {
        "--rolling-resistance": ((SIGN, HUGE), "kW"),
        "--reference-torque": ((SIGN, ZERO, HUGE), "kW"),
        "--hydraulic-torque": ((SIGN,), "kW"),
        "--coverage": ((SIGN, ZERO, HUGE), "kW"),
    },
    SPEC: {
        f"--{name}": ((SIGN, ZERO), "degC")
        for name in (
            "displacement", "low-idle", "rated-speed", "high-idle", "rated-power", "peak-torque",
            "peak-torque-speed", "profile-diameter", "oil-density", "coupling-speed-ratio",
            "reference-speed", "reference-torque", "stall-speed", "stall-torque",
            "stall-torque-ratio", "stall-torque-ratio-least", "stall-torque-ratio-most",
            "speed-limit", "peak-time", "nominal-voltage",
        )
    } | {"--torque-band": ((SIGN, ZERO, HUGE), "degC")},
}  # fmt: skip
CASES = [
    pytest.param(
        words, option, refused, wrong_unit,
        id=f"{words[0]} {option}" + (" alone" if words[0] == "size" and len(words) == 5 else ""),
    )
    for words, table in VERBS.items()
    for option, (refused, wrong_unit) in table.items()
]  # fmt: skip
# Options that take a word, a name or a file, by their metavar; the others take a number.
NO_NUMBER = {
    "FILE", "FOLDER", "NAME", "TEXT", "WORDS", "GEARS", "CLAIM", "ID", "TIME", "COLUMN", "KEY",
    "COLUMN=ROLE", "COLUMN=UNIT", "COLUMN=NUMBER", "SHARE,TIME", "ROW", "CELL=TEXT", "ADDRESS",
}  # fmt: skip
COUNTED = {
    ("study", "--draws"), ("accept", "--draws"), ("lab", "--port"), ("intake", "--table"),
    ("intake", "--page"), ("shortlist", "--draws"), ("shortlist", "--jobs"), ("study", "--jobs"),
    ("size", "--jobs"), ("identify", "--jobs"), ("audit", "--jobs"),
}  # fmt: skip


def answer(capsys, words, option, text):
    """Return exit status and message of a command line with one option more."""
    try:
        status = main([*words, f"{option}={text}"])
    except SystemExit as stop:
        status = stop.code
    return status, capsys.readouterr().err


def test_every_option_that_takes_a_number_is_tried_here():
    verbs = next(a for a in build_parser()._actions if isinstance(a, argparse._SubParsersAction))
    taken = {
        (name, action.option_strings[0])
        for name, verb in verbs.choices.items()
        for action in verb._actions
        if action.option_strings and action.nargs != 0 and not action.choices
        and action.metavar not in NO_NUMBER
    }  # fmt: skip
    tried = {(words[0], option) for words, table in VERBS.items() for option in table}
    assert taken == tried | COUNTED


@pytest.mark.slow
@pytest.mark.parametrize(("words", "option", "refused", "wrong_unit"), CASES)
def test_a_wrong_number_is_found_as_it_was_typed(capsys, words, option, refused, wrong_unit):
    for text in (*refused, "nan", "1e400"):
        status, said = answer(capsys, words, option, text)
        assert (status, said.count("\n")) == (2, 1), text
        assert said.startswith(f"converter-match: {option}: ")
        assert said.count("; found ") == 1
        assert f"found '{text}'" in said
    for text in {SIGN, ZERO, HUGE} - set(refused):
        status, said = answer(capsys, words, option, text)
        assert status in (0, 3) or not said.startswith(f"converter-match: {option}: "), text


@pytest.mark.slow
@pytest.mark.parametrize(("words", "option", "refused", "wrong_unit"), CASES)
def test_a_unit_of_something_else_is_named(capsys, words, option, refused, wrong_unit):
    status, said = answer(capsys, words, option, f"3 {wrong_unit}")
    assert (status, said.count("\n")) == (2, 1)
    assert said.startswith(f"converter-match: {option}: ")
    assert wrong_unit in said
    status, said = answer(capsys, words, option, "3 furlong")
    assert status == 2
    assert re.search("furlong|found '3 furlong'", said)


@pytest.mark.parametrize(
    ("words", "typed", "expected"),
    [
        # In a unit of its own each: nothing is converted on the way back.
        (("solve", *PAIR), ("--diameter", "-1 in"), "a number above zero"),
        (("size", *PAIR), ("--stall-speed", "-5 rev/s"), "a speed above zero"),
        (("tractive", *LOADER), ("--rolling-resistance", "4000 lb/short ton"),
         "0 to 60 percent of the weight; a plain number is percent"),
        (("tractive", *LOADER), ("--rolling-resistance", "400"), "0 to 60 percent of the weight"),
        (("audit", *PAIR, "--claim", "stall speed=1806 rpm"), ("--rolling-resistance", "400"),
         "0 to 60 percent of the weight"),
        (("identify", "log.csv"), ("--coverage", "200"), "50 to 99.9 percent"),
        (("stall", *PAIR), ("--maker-hold", "10 min"), "1 to 300 s"),
        (("stall", *PAIR), ("--oil-temperature", "500 degF"), "-40 to 180 degC"),
        (("stall", *PAIR), ("--capacity-tolerance", "60"), "above 0, at most 50 %"),
        (("solve", *PAIR), ("--air-temperature", "300 degF"), "-73 to 67 degC"),
        # Its own is 390 mm.
        (ON_A_ROUTE, ("--diameter-range", "194,400"), "two diameters, rising, from half to twice"),
        (ON_A_ROUTE, ("--diameter-range", "15in,31in"), "two diameters, rising, from half to"),
        (("intake", "sheet.csv"), ("--profile-diameter", "-345"), "a number above zero"),
        (("intake", "sheet.csv"), ("--diameter", "-345 mm"), "a number above zero"),
    ],
)  # fmt: skip
def test_bounds_stand_in_the_unit_of_the_option(capsys, words, typed, expected):
    status, said = answer(capsys, words, *typed)
    assert status == 2
    assert f"found '{typed[1]}'; expected {expected}" in said


@pytest.mark.slow
def test_bounds_that_are_named_are_those_that_hold(capsys):
    for words, option, inside, outside in (
        (("tractive", *LOADER), "--rolling-resistance", "60", "60.1"),
        (("stall", *PAIR), "--capacity-tolerance", "50", "50.1"),
        (("stall", *PAIR), "--engine-tolerance", "30", "30.1"),
        (("stall", *PAIR), "--coverage", "99.9", "99.91"),
        (("solve", *PAIR), "--air-temperature", "66.8", "66.9"),
    ):
        assert answer(capsys, words, option, inside)[0] in (0, 3)
        assert answer(capsys, words, option, outside)[0] == 2


@pytest.mark.parametrize("quantity", CLAIM_DIMENSIONS)
def test_a_claim_that_is_no_number_above_zero_is_found_as_it_was_typed(capsys, quantity):
    unit = {
        "angular_speed": "rpm", "torque": "lbf.ft", "power": "hp", "velocity": "mph",
        "force": "lbf", "k_factor": "rpm/sqrt(lbf.ft)", "ratio": "", "weight_share": "%",
    }[CLAIM_DIMENSIONS[quantity]]  # fmt: skip
    for text in (f"-3 {unit}".strip(), f"0 {unit}".strip()):
        assert main(["audit", *PAIR, "--claim", f"{quantity}={text}"]) == 2
        said = capsys.readouterr().err
        assert f"--claim {quantity}: out of range; found '{text}'; expected a number" in said


@pytest.mark.parametrize(
    ("detail", "says"),
    [
        ("tolerance=-1 %", "found '-1 %'; expected 0 to 50 percent"),
        ("tolerance=51", "found '51'; expected 0 to 50 percent"),
        ("grade=120", "found '120'; expected -100 to 100 %"),
        ("speed=-3 mph", "found '-3 mph'; expected a number above zero"),
    ],
)
def test_what_a_claim_goes_on_to_say_is_found_as_it_was_typed(capsys, detail, says):
    assert main(["audit", *PAIR, "--claim", f"speed on grade=12 km/h; {detail}"]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"converter-match: --claim speed-on-grade: {detail.split('=')[0]}: ")
    assert says in said
