"""Bad files again: decimal commas, the schema line, several problems, columns that disagree."""

import pytest

from converter_match.library.read import read_converter, read_engine, read_site
from tests.library.sheets import (
    CONVERTER,
    ENGINE,
    POWER_ENGINE,
    SITE,
    changed,
    printed_once,
    refusal,
    saved,
    text_of,
)


def test_plain_list_where_a_column_is_due(tmp_path):
    text = changed(ENGINE, ("[full_load]", "[full_load]\npower = [1, 2]"))
    error = refusal(tmp_path, text)
    assert error.field == "full_load.power"
    assert "numbers hide their unit: write { unit = ..., values = [...] }" in str(error)


def test_single_accessory_in_single_brackets(tmp_path):
    text = text_of(POWER_ENGINE)
    only = text[: text.rindex("[[accessory]]")].replace("[[accessory]]", "[accessory]")
    error = refusal(tmp_path, only)
    assert error.field == "accessory"
    assert "expected [[accessory]]" in str(error)


COUPLING = """\
schema = "converter-match/converter/1"
id = "a"
name = "a"
source = "made up for a test"
stator = "none"
[characteristic]
speed_ratio = {values}
capacity = {{ form = "performance_coefficient", values = [0.003, 0.002, 0.001] }}
"""


@pytest.mark.parametrize(
    ("values", "hint"),
    [
        # Half of the commas are decimal ones, and TOML reads twice as many numbers.
        ("[0,0, 0,5, 0,9]", "line 7: is 0,0 a decimal comma? write 0.0"),
        ("[0,1,0,5,0,9]", "line 7: is 0,1 a decimal comma? write 0.1"),
        ("[\n  0,1,\n  0,5,\n  0,9,\n]", "line 7: is 0,1 a decimal comma? write 0.1"),
        ("[0.0, 0,5, 0.9]", "line 7: is 0,5 a decimal comma? write 0.5"),
    ],
)
def test_decimal_commas_in_a_list_are_recognised(tmp_path, values, hint):
    error = refusal(tmp_path, COUPLING.format(values=values))
    assert error.field.startswith("characteristic.")
    assert hint in str(error)


def test_closely_written_whole_numbers_are_not_called_decimal_commas(tmp_path):
    text = changed(ENGINE, ("[800, 900, 1000, 1200", "[800,900,1000,1200,1250"))
    assert "comma" not in str(refusal(tmp_path, text))


# --- the schema line -----------------------------------------------------------------------------

LINE = 'schema = "converter-match/converter/1"'


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", ["missing", '"converter-match/converter/1"']),
        ('shema = "converter-match/converter/1"', ["missing", "'shema' meant to be 'schema'?"]),
        (
            'schema = "converter-match/converter/2"',
            ["this version", "found 'converter-match/converter/2'", "converter-match/converter/1"],
        ),
        (
            'schema = "converter-match/engine/1"',
            ["another kind (engine, not converter)", "converter-match/converter/1"],
        ),
        ('schema = "converter-match/convertor/1"', ["no such kind", "converter-match/converter/1"]),
        ("schema = 1", ["not a schema line of this program", "found 1"]),
    ],
)
def test_schema_line_is_looked_at_first(tmp_path, line, words):
    # The stator is wrong as well, and that is not the point of such a file.
    text = changed(CONVERTER, (LINE, line), ('stator = "one-way"', "stator = 7"))
    error = refusal(tmp_path, text, read_converter)
    assert error.field == "schema"
    for word in words:
        assert word in str(error)


@pytest.mark.parametrize("sheet", [ENGINE, CONVERTER, SITE])
def test_a_valid_key_is_not_called_a_misspelt_schema_line(tmp_path, sheet):
    lines = text_of(sheet).splitlines(keepends=True)
    text = "".join(line for line in lines if not line.startswith("schema"))
    assert "\nsource = " in text  # which looks like it
    said = str(refusal(tmp_path, text))
    assert "schema: missing" in said
    assert "meant to be" not in said


def test_kind_is_found_by_its_nearest_name_where_any_is_welcome(tmp_path):
    text = changed(CONVERTER, (LINE, 'schema = "converter-match/convertor/1"'))
    assert "did you mean 'converter-match/converter/1'?" in str(refusal(tmp_path, text))


@pytest.mark.parametrize(
    ("read", "sheet"), [(read_engine, CONVERTER), (read_converter, SITE), (read_site, ENGINE)]
)
def test_each_reader_takes_its_own_kind_only(tmp_path, read, sheet):
    assert "another kind" in str(refusal(tmp_path, changed(sheet), read))


# --- several problems at once --------------------------------------------------------------------


def test_first_problem_is_the_first_in_the_file_and_the_others_are_counted(tmp_path):
    text = changed(
        ENGINE,
        ("governing", "governor"),
        ("value = 11.0", 'value = "11"'),
        ('low_idle = { unit = "rpm", value = 800 }', "low_idle = 800"),
        ('rating_basis = "gross"\n', ""),
    )
    error = refusal(tmp_path, text)
    assert error.field == "low_idle"
    assert str(error).endswith(
        "(and 3 more problems: governor, accessory (no. 1).power.value, rating_basis)"
    )


def test_misspelt_key_is_one_problem_and_not_two(tmp_path):
    error = refusal(tmp_path, changed(ENGINE, ("governing", "governign")))
    assert "did you mean 'governing'?" in str(error)
    assert "more problem" not in str(error)


def test_two_columns_of_full_load_must_agree(tmp_path):
    # Power in hp where kW was meant: a third off.
    torque = 'torque = { unit = "N*m", values = [614, 661, 703, 722, 720, 709, 687, 651, 628] }'
    good = changed(POWER_ENGINE, ("power = {", f"{torque}\npower = {{"))
    assert read_engine(saved(tmp_path, good)).given_notes == ()
    bad = good.replace('unit = "kW", values', 'unit = "hp", values', 1)
    error = refusal(tmp_path, bad)
    assert error.field.startswith("full_load.power.values[")
    assert "contradicts the torque column" in str(error)
    assert "rpm" in str(error)


def test_second_capacity_must_agree(tmp_path):
    def with_second(factor):
        # K in rpm/sqrt(N.m) is 0.858814 K in rpm/sqrt(lbf.ft): 1 lbf.ft = 1.355818 N.m.
        values = [72.1, 71.9, 71.9, 72.2, 72.8, 73.5, 74.6, 76.0, 77.7, 79.0, 90.4, 104.2, 130.4,
                  172.0]  # fmt: skip
        second = ", ".join(f"{value * 0.858814 * factor:.2f}" for value in values)
        return printed_once(text_of(CONVERTER)).replace("capacity = {", "capacity = [{").replace(
            "172.0] }", f'172.0] }}, {{ form = "k_factor", unit = "rpm/(N*m)**0.5", '
                        f"values = [{second}] }}]",
        )  # fmt: skip

    assert read_converter(saved(tmp_path, with_second(1.0))).given_notes == ()
    [note] = read_converter(saved(tmp_path, with_second(1.02))).given_notes
    assert note.code == "capacity-columns-differ"
    assert "%" in note.message
    error = refusal(tmp_path, with_second(1 / 0.858814))
    assert error.field == "characteristic.capacity[1].values[0]"
    assert "contradicts the capacity as k factor [rpm/(lbf*ft)**0.5]" in str(error)
    assert "26.2 % apart at speed ratio 0" in str(error)
