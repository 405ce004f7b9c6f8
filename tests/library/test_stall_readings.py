"""Readings as words and as a table."""

import pytest

from converter_match.errors import InputError
from converter_match.library.stall_readings import parse_reading, read_readings
from tests.examples import RPM


def test_words_with_and_without_units():
    found = parse_reading("gear=3  speed=1750 rpm, oil=185degF brakes=held test=both")
    assert found.engine_speed == pytest.approx(1750 * RPM)
    assert found.oil_temperature == pytest.approx(358.15)
    assert (found.gear, found.brakes, found.test, found.pump) == ("3", "held", "both", "relief")
    plain = parse_reading("speed=1750 oil=85")
    assert plain.oil_temperature == pytest.approx(358.15)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("gear=3", "no engine speed"),
        ("speed=fast", "speed: not a number"),
        ("speed=1,75", "write 1.75, not 1,75"),
        ("speed=1750 sped=2", "did you mean 'speed'"),
        ("speed=1750 speed=1760", "written twice"),
        ("speed=1750 brakes=on", r"brakes: not a known choice; found 'on'; expected held"),
        ("speed=1750 oil=85kPa", "oil"),
        ("speed=99999", "200 to 8000 rpm"),
        ("1750", "not a word of the form"),
        ("speed=1500 test=road", "needs the turbine speed"),
    ],
)
def test_bad_words_are_named(words, message):
    with pytest.raises(InputError, match=message):
        parse_reading(words, source="--reading 1")


@pytest.mark.parametrize(
    ("words", "name", "value"),
    [
        ("test=both", "test", "both"),
        ("gear=R2", "gear", "R2"),
        ("direction=reverse", "direction", "reverse"),
        ("brakes=held", "brakes", "held"),
        ("pump=standby", "pump", "standby"),
        ("test=hydraulic pump=relief", "pump", "relief"),
        ("oil=85degC", "oil_temperature", 358.15),
        ("air=20degC", "air_temperature", 293.15),
        ("test=road turbine=300rpm", "turbine_speed", 300 * RPM),
    ],
)
def test_each_word_that_is_stated_arrives_and_no_other(words, name, value):
    plain = parse_reading("speed=1750")
    found = parse_reading(f"speed=1750 {words}")
    assert getattr(found, name) == (value if isinstance(value, str) else pytest.approx(value))
    for other in ("direction", "brakes", "oil_temperature", "air_temperature", "turbine_speed"):
        if other != name:
            assert getattr(found, other) == getattr(plain, other)


@pytest.mark.parametrize("field", ["test", "direction", "brakes", "pump"])
def test_choice_that_is_none_names_its_word_and_the_choices(field):
    with pytest.raises(InputError) as refused:
        parse_reading(f"speed=1750 {field}=sideways", source="--reading 1")
    assert (refused.value.field, refused.value.found) == (field, "sideways")
    assert " | " in refused.value.expected


def test_table_of_readings(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text(
        "gear,engine speed [rpm],oil temperature [degC],brakes,test,turbine speed [rpm]\n"
        "3,1750,85,held,,\n,2200,,not-stated,road,2000\n",
        encoding="utf-8",
    )
    first, second = read_readings(path)
    assert (first.gear, first.test, first.turbine_speed) == ("3", "converter", None)
    assert second.turbine_speed == pytest.approx(2000 * RPM)
    assert second.oil_temperature is None


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("gear\n3\n", "column engine speed is missing"),
        ("engine speed\n1750\n", "names no unit"),
        ("engine speed [rpm],brakes\n1750,maybe\n", "line 2: brakes: not a known choice"),
        ("engine speed [rpm]\n17500\n", "line 2: speed: no engine"),
        ("engine speed [rpm]\n", "no rows"),
    ],
)
def test_bad_tables_are_named(tmp_path, text, message):
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=message):
        read_readings(path)
