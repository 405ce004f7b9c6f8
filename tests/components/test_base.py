"""Components are values: equal by content, read-only however they were copied."""

import copy
import dataclasses
import math
import pickle

import numpy as np
import pytest

from converter_match.components.base import (
    Component,
    freeze_tuples,
    in_celsius,
    in_rpm,
    require_choice,
    require_positive,
)
from converter_match.components.converter import ConverterLimits
from converter_match.errors import InputError
from converter_match.notes import Note
from tests.examples import converter, engine


def test_numbers_that_follow_each_other_do_not_run_together():
    # As text both are "900.1" "230.0" and "900.12" "30.0": the same letters in the same order.
    one = converter(limits=ConverterLimits(input_torque=900.1, input_speed=230.0))
    other = converter(limits=ConverterLimits(input_torque=900.12, input_speed=30.0))
    assert one != other
    assert converter(interface=(("a", "b"),)) != converter(interface=(("ab", ""),))


def test_number_types_do_not_matter():
    assert (
        converter(oil_density=840)
        == converter(oil_density=840.0)
        == converter(oil_density=np.float64(840.0))
    )


def test_zero_has_no_sign():
    assert engine(torque_band=0.0) == engine(torque_band=-0.0)


@pytest.mark.parametrize("make", [converter, engine])
@pytest.mark.parametrize(
    "carry", [copy.copy, copy.deepcopy, lambda c: pickle.loads(pickle.dumps(c))]
)
def test_copy_is_equal_and_read_only(make, carry):
    made = make()
    back = carry(made)
    assert back == made
    assert back.fingerprint() == made.fingerprint()
    arrays = [value for value in vars(back).values() if isinstance(value, np.ndarray)]
    assert arrays
    assert not any(array.flags.writeable for array in arrays)


def test_components_of_different_kinds_are_never_equal():
    assert converter() != engine()


@pytest.mark.parametrize("value", ["0.3", [0.3], 1j])
def test_what_is_not_a_number_is_refused_in_plain_words(value):
    with pytest.raises(InputError, match=r"^diameter: not a number"):
        require_positive(value, "diameter")


def test_not_given_passes_where_a_number_is_optional():
    require_positive(None, "diameter")


@pytest.mark.parametrize("value", [None, 3, "fxed"])
def test_word_that_is_no_choice_is_refused_with_the_choices(value):
    with pytest.raises(InputError, match=r"stator: not a known choice.*one-way \| fixed"):
        require_choice(value, "stator", ("one-way", "fixed"))


def test_fingerprint_is_one_of_sixty_four_hexadecimal_digits():
    assert len(engine().fingerprint()) == 64
    assert int(engine().fingerprint(), 16) > 0


@dataclasses.dataclass(frozen=True, eq=False)
class Bag(Component):
    """Holds anything, to see what tells two of them apart."""

    content: object = None
    rest: object = None


@dataclasses.dataclass(frozen=True)
class Pair:
    first: object
    second: object = 0.0


@dataclasses.dataclass(frozen=True)
class Couple:
    first: object
    second: object = 0.0


class Text(str):
    """Prints like its text and is of another type."""


DIFFERENT = [
    None,
    "None",
    1.0,
    2.0,
    -1.0,
    1.0 + 2**-52,
    1e300,
    1e-20,
    2e-20,
    math.inf,
    -math.inf,
    math.nan,
    "1.0",
    "1",
    b"1",
    Text("1"),
    (),
    (1.0,),
    (1.0, 1.0),
    ((1.0,), 1.0),
    (1.0, (1.0,)),
    ((), ()),
    ((1.0, 1.0),),
    ("a", "bc"),
    ("ab", "c"),
    np.array([1.0]),
    np.array([[1.0]]),
    np.array([1.0, 1.0]),
    np.array([1.0, 2.0]),
    np.array([1e-20]),
    np.array([2e-20]),
    np.array([[1.0], [2.0]]),
    np.array([[1.0, 2.0]]),
    Pair(1.0),
    Pair(1.0, 1.0),
    Couple(1.0),
    Pair((1.0, 0.0)),
    Bag(1.0),
    Bag(1.0, 1.0),
    Bag(Bag(1.0)),
]


def test_contents_that_differ_make_different_components():
    bags = [Bag(content) for content in DIFFERENT]
    assert len({bag.fingerprint() for bag in bags}) == len(bags)
    assert len({hash(bag) for bag in bags}) == len(set(bags)) == len(bags)
    assert Bag(1.0, 2.0) != Bag(2.0, 1.0)
    assert Bag(None, 1.0) != Bag(1.0, None)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (1, 1.0),
        (np.int64(3), 3.0),
        (np.float32(0.5), 0.5),
        (0.0, -0.0),
        (True, 1.0),
        (np.array([0.0, 1.0]), np.array([-0.0, 1.0])),
        (np.array([[1.0, 2.0], [3.0, 4.0]]), np.asfortranarray([[1.0, 2.0], [3.0, 4.0]])),
        (Pair(1, -0.0), Pair(1.0, 0.0)),
        (Bag((1, "a")), Bag((1.0, "a"))),
    ],
)
def test_the_same_value_in_another_dress_is_the_same(one, other):
    assert Bag(one) == Bag(other)
    assert hash(Bag(one)) == hash(Bag(other))


def test_a_component_is_never_equal_to_what_is_none():
    assert Bag(1.0) != 1.0
    assert Bag(1.0).__eq__("x") is NotImplemented
    assert Bag(1.0).__eq__(engine()) is NotImplemented


def test_replacing_checks_anew_and_keeps_the_rest():
    assert engine().replace(name="Other").torque_band == engine().torque_band
    assert engine().replace(name="Other").name == "Other"
    with pytest.raises(InputError, match="inertia"):
        engine().replace(inertia=-1.0)


def test_lists_are_frozen_one_and_two_levels_deep():
    bag = Bag([["a", "b"], 1.0, ("c",)], iter([1, 2]))
    freeze_tuples(bag, "content", "rest")
    assert bag.content == (("a", "b"), 1.0, ("c",))
    assert isinstance(bag.content[0], tuple)
    assert bag.rest == (1, 2)


@pytest.mark.parametrize("value", [0, 0.0, -0.0, -5e-324, math.nan, math.inf, np.float32(-1)])
def test_number_has_to_be_above_zero_and_finite(value):
    with pytest.raises(InputError, match=r"^width: out of range.*; expected a width$") as caught:
        require_positive(value, "width", "a width")
    assert (caught.value.field, caught.value.expected) == ("width", "a width")


@pytest.mark.parametrize("value", [5e-324, 1, 1.0, 1.7e308, np.int32(4), np.float32(0.5)])
def test_any_kind_of_number_above_zero_passes(value):
    require_positive(value, "width")


def test_what_was_expected_is_said_if_nothing_else_is():
    for value in (0.0, "wide"):
        with pytest.raises(InputError) as caught:
            require_positive(value, "width")
        assert (caught.value.field, caught.value.expected) == ("width", "a number above zero")


def test_choice_names_its_field_and_the_nearest_word():
    require_choice("fixed", "stator", ("one-way", "fixed"))
    with pytest.raises(InputError) as caught:
        require_choice("fxed", "stator", ("one-way", "fixed"))
    error = caught.value
    assert (error.field, error.found) == ("stator", "fxed")
    assert error.expected == "one-way | fixed"
    assert error.hint == "did you mean 'fixed'?"


def test_speeds_and_temperatures_in_messages_are_in_the_units_people_read():
    # 1 rpm is 2 pi / 60 rad/s; 0 degC is 273.15 K.
    assert in_rpm(2 * math.pi * 2200 / 60) == "2200 rpm"
    assert in_rpm(2 * math.pi * 800.25 / 60, 2 * math.pi * 123456 / 60) == (
        "800.25 .. 1.2346e+05 rpm"
    )
    assert in_celsius(363.15) == "90 degC"
    assert in_celsius(253.0) == "-20.15 degC"


def test_a_better_wording_of_a_note_makes_no_other_part():
    said = converter(given_notes=(Note("scaled-far", "Far."),))
    assert said == converter(given_notes=(Note("scaled-far", "Scaled far."),))
    assert said != converter(given_notes=(Note("scaled", "Far."),))
