"""A stall reading: words that contradict each other are refused by their field."""

import pytest

from converter_match.components.reading import StallReading
from converter_match.errors import InputError
from tests.examples import RPM


def reading(**changes):
    return StallReading(**({"engine_speed": 1900 * RPM} | changes))


@pytest.mark.parametrize(
    ("changes", "field", "near"),
    [
        ({"test": "convertor"}, "test", "'converter'"),
        ({"brakes": "hold"}, "brakes", "'held'"),
        ({"direction": "forwards"}, "direction", "'forward'"),
        ({"pump": "stand-by"}, "pump", "'standby'"),
    ],
)
def test_unknown_word_is_refused_by_its_field_with_the_nearest(changes, field, near):
    with pytest.raises(InputError) as caught:
        reading(**changes)
    assert caught.value.field == field
    assert near in caught.value.hint


@pytest.mark.parametrize(
    ("test", "pump"), [("converter", "standby"), ("hydraulic", "relief"), ("both", "relief")]
)
def test_state_of_the_pump_follows_from_the_test_and_may_not_contradict_it(test, pump):
    assert reading(test=test).pump == reading(test=test, pump=pump).pump == pump
    wrong = {"standby": "relief", "relief": "standby"}[pump]
    with pytest.raises(InputError, match="contradict each other") as caught:
        reading(test=test, pump=wrong)
    assert caught.value.field == "pump"


def test_pump_may_be_in_either_state_on_the_road():
    road = {"test": "road", "turbine_speed": 900 * RPM}
    assert reading(**road).pump == "standby"
    assert reading(**road, pump="relief").pump == "relief"


@pytest.mark.parametrize("changes", [{"test": "road"}, {"turbine_speed": 900 * RPM}])
def test_turbine_speed_belongs_to_a_road_reading_and_to_no_other(changes):
    with pytest.raises(InputError, match="needs the turbine speed") as caught:
        reading(**changes)
    assert caught.value.field == "turbine"


@pytest.mark.parametrize("direction", ["forward", "reverse", None])
@pytest.mark.parametrize(("brakes", "valid"), [("held", 1), ("not-stated", 1), ("let-go", 0)])
def test_reading_is_worth_something_unless_the_machine_moved(direction, brakes, valid):
    made = reading(direction=direction, brakes=brakes)
    assert made.valid is bool(valid)
    assert made.direction == direction


def test_what_is_not_said_is_left_open():
    made = reading()
    assert (made.test, made.gear, made.brakes, made.direction) == (
        "converter",
        "",
        "not-stated",
        None,
    )
    assert made.oil_temperature is made.air_temperature is made.turbine_speed is None


@pytest.mark.parametrize("name", ["oil_temperature", "air_temperature"])
def test_temperature_in_another_unit_is_suspected(name):
    with pytest.raises(InputError, match="Celsius and Fahrenheit"):
        reading(**{name: 25.0})
