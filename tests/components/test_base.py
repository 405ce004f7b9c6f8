"""Components are values: equal by content, read-only however they were copied."""

import copy
import pickle

import numpy as np
import pytest

from converter_match.components.base import require_choice, require_positive
from converter_match.components.converter import ConverterLimits
from converter_match.errors import InputError
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
