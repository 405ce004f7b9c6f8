import copy
import pickle

import numpy as np
import pytest

from converter_match.errors import InputError, did_you_mean, nearest, shown

FULL = InputError(
    "is not a finite number",
    source="engine.toml",
    field="full_load.torque[3]",
    found=float("nan"),
    expected="a torque in N.m",
    hint="look at row 4",
)


def test_name_with_a_line_break_still_makes_one_line():
    said = str(InputError("no such file", source="a\nb\u2028c.toml"))
    assert said == "a\\nb\\u2028c.toml: no such file"


def test_message_says_place_problem_found_expected_and_hint_on_one_line():
    assert str(FULL) == (
        "engine.toml: full_load.torque (row 4): is not a finite number; found nan; "
        "expected a torque in N.m; look at row 4"
    )


@pytest.mark.parametrize(
    ("error", "text"),
    [
        (InputError("no rows"), "no rows"),
        (InputError("no rows", source="a.toml"), "a.toml: no rows"),
        (InputError("no rows", field="speed"), "speed: no rows"),
        (InputError("no rows", found=0), "no rows; found 0"),
        (InputError("no rows", found=None), "no rows; found None"),
        (InputError("no rows", expected="two"), "no rows; expected two"),
        (InputError("no rows", hint="add some"), "no rows; add some"),
    ],
)
def test_message_leaves_out_what_is_not_known(error, text):
    assert str(error) == text


def test_it_is_a_value_error_that_keeps_its_parts():
    assert isinstance(FULL, ValueError)
    assert FULL.problem == "is not a finite number"
    assert (FULL.source, FULL.field) == ("engine.toml", "full_load.torque[3]")
    assert np.isnan(FULL.found)
    assert (FULL.expected, FULL.hint) == ("a torque in N.m", "look at row 4")


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("full_load.torque.values[0]", "full_load.torque.values (row 1)"),
        ("p[1][0]", "p (row 2, column 1)"),
        ("p[1][0][2]", "p (row 2, column 1, place 3)"),
        ("[4]", "(row 5)"),
        ("characteristic.capacity[1].values[9]", "characteristic.capacity (no. 2).values (row 10)"),
        ("torque_ratio[1] .. torque_ratio[2]", "torque_ratio (row 2) .. torque_ratio (row 3)"),
        ("engine torque [percent]", "engine torque [percent]"),
    ],
)
def test_message_counts_rows_and_tables_from_one(field, said):
    error = InputError("out of range", field=field)
    assert str(error) == f"{said}: out of range"
    assert error.field == field


def test_located_fills_in_only_what_is_missing():
    bare = InputError("out of range", found=-1.0, expected="zero or more")
    placed = bare.located(source="b.toml", field="power")
    assert str(placed) == "b.toml: power: out of range; found -1; expected zero or more"
    assert str(placed.located(source="other.toml", field="other")) == str(placed)
    assert str(bare) == "out of range; found -1; expected zero or more"


@pytest.mark.parametrize(
    "carry", [copy.copy, copy.deepcopy, lambda e: pickle.loads(pickle.dumps(e))]
)
@pytest.mark.parametrize(
    "error", [FULL, InputError("no rows"), InputError("odd word", found="rmp")], ids=str
)
def test_error_survives_copying_and_pickling(error, carry):
    back = carry(error)
    assert isinstance(back, InputError)
    assert str(back) == str(error)
    assert (back.source, back.field, back.hint) == (error.source, error.field, error.hint)
    assert str(carry(back)) == str(error)
    assert str(back.located(source="late.toml")) == str(error.located(source="late.toml"))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.1 + 0.2, "0.3"),
        (np.float64(2200.0), "2200"),
        (float("inf"), "inf"),
        ("rpm\nN.m", r"'rpm\nN.m'"),
        (np.array([[1.0, 2.0], [3.0, 4.0]]), "[[1. 2.] [3. 4.]]"),
        (None, "None"),
    ],
    ids=repr,
)
def test_found_value_is_shown_on_one_line_without_float_noise(value, text):
    assert shown(value) == text


def test_long_value_is_cut_in_its_middle():
    said = shown("start" + "x" * 6000 + "end")
    assert len(said) == 120
    assert said.startswith("'startxx")
    assert said.endswith("xxend'")
    assert " ... " in said


def test_place_is_cut_only_where_no_ordinary_path_is_as_long():
    ordinary = "/srv/" + "a-folder/" * 30 + "converter.toml"
    assert 280 < len(ordinary) <= 300
    assert str(InputError("no rows", source=ordinary)) == f"{ordinary}: no rows"
    said = str(InputError("no rows", source="a" * 6000 + ".toml", field="b" * 6000 + "c"))
    assert len(said) == 300 + len(": ") + 300 + len(": no rows")
    assert ".toml: bb" in said
    assert said.endswith("bc: no rows")


def test_of_two_that_are_as_near_the_first_one_named_comes_first():
    # 'rmp' shares r and p with 'rps', r and m (or p) with 'rpm': two letters of three either way.
    assert nearest("rmp", ["rpm", "rps"]) == ("rpm", "rps")
    assert nearest("rmp", ["rps", "rpm"]) == ("rps", "rpm")
    # Nearness comes before order.
    assert nearest("rpss", ["rpm", "rps"]) == ("rps", "rpm")


def test_nearest_ignores_case_and_gives_the_best_first():
    assert nearest("K_Factr", ["torque_at_speed", "k_factor", "K_FACTORS"])[0] == "k_factor"
    assert nearest("TORQUE", ["Torque", "speed"]) == ("Torque",)
    assert nearest("zzz", ["torque", "speed"]) == ()
    assert len(nearest("speed1", ["speed2", "speed3", "speed4", "speed5"])) == 3


def test_did_you_mean_names_the_candidates_or_is_silent():
    assert did_you_mean("one-wey", ["one-way", "fixed"]) == "did you mean 'one-way'?"
    assert did_you_mean("zzz", ["one-way", "fixed"]) is None


def test_a_changed_error_keeps_its_other_parts_and_its_code():
    error = InputError("is too long", source="a.csv", field="b", found=3, code="too-long")
    other = error.changed(field="c", hint="cut it")
    assert (other.problem, other.source, other.found, other.code) == (
        "is too long", "a.csv", 3, "too-long",
    )  # fmt: skip
    assert str(other) == "a.csv: c: is too long; found 3; cut it"
    assert str(error) == "a.csv: b: is too long; found 3"
    assert pickle.loads(pickle.dumps(error)).code == "too-long"
