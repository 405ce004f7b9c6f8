"""One size for two targets, against the closed form for an engine of constant torque.

With the same torque T at every speed the engine runs at ``n_i(f) = sqrt(T / (f C_i))`` at speed
ratio i. Two misses of opposite sign are alike where ``n_1 / w_1 - 1 = 1 - n_2 / w_2``, so that
``f^(-1/2) = 2 / (sqrt(T / C_1) / w_1 + sqrt(T / C_2) / w_2)``.
"""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from converter_match.errors import InputError
from converter_match.judgement.sizing.common import ALIKE, common_size
from converter_match.judgement.sizing.size import size_for_speed
from tests.examples import RPM, converter
from tests.study_examples import flat_engine

TORQUE, AHEAD = 900.0, 0.6


def speed(nu, factor=1.0):
    return np.sqrt(TORQUE / (factor * float(converter().capacity_at(nu))))


def both(first, second, **options):
    engine, given = flat_engine(), converter()
    targets = [
        size_for_speed(engine, given, first),
        size_for_speed(engine, given, second, speed_ratio=AHEAD),
    ]
    return common_size(engine, given, targets, **options)


def test_misses_are_alike_and_of_opposite_sign():
    first, second = 0.95 * speed(0.0), 1.06 * speed(AHEAD)
    found = both(first, second)
    by_hand = ((speed(0.0) / first + speed(AHEAD) / second) / 2.0) ** 2
    # The factor is one of a grid of 400 steps in a two-hundredth of the way between the sizes.
    assert found.capacity_factor == pytest.approx(by_hand, rel=1e-5)
    assert found.diameter_ratio == pytest.approx(by_hand**0.2, rel=1e-5)
    one, other = found.misses
    assert one == pytest.approx(-other, abs=1e-5)
    assert found.reached[0] == pytest.approx(speed(0.0, found.capacity_factor), rel=1e-9)

    def worst(log_factor):
        f = np.exp(log_factor)
        return max(abs(speed(0.0, f) / first - 1.0), abs(speed(AHEAD, f) / second - 1.0))

    best = minimize_scalar(worst, bounds=(-1.0, 1.0), method="bounded", options={"xatol": 1e-10})
    assert max(abs(one), abs(other)) == pytest.approx(best.fun, abs=1e-6)


@pytest.mark.parametrize(
    ("apart", "agree"), [(0.0, True), (1.9 * ALIKE, True), (2.2 * ALIKE, False)]
)
def test_targets_contradict_where_the_best_size_misses_by_more_than_a_hundredth(apart, agree):
    found = both(speed(0.0), (1.0 + apart) * speed(AHEAD))
    assert found.possible is agree
    assert found.fails is not agree
    code = "targets-agree" if agree else "targets-contradict"
    assert [note.code for note in found.notes] == [code]


def test_common_size_stays_in_the_range_of_diameters():
    found = both(0.95 * speed(0.0), 1.06 * speed(AHEAD), ratios=(1.01, 1.02))
    assert 1.01 - 1e-9 <= found.diameter_ratio <= 1.02 + 1e-9
    assert found.diameter == pytest.approx(converter().profile_diameter * found.diameter_ratio)


def test_target_without_a_size_of_its_own_leaves_no_common_one():
    found = both(speed(0.0), 5000 * RPM)
    assert (found.possible, found.capacity_factor, found.reached) == (False, None, ())
    assert [note.code for note in found.notes] == ["no-common-size"]
    assert "none" in found.text()
    assert found.to_dict()["targets"][0]["reached_rpm"] is None


def test_one_target_is_refused():
    engine, given = flat_engine(), converter()
    with pytest.raises(InputError, match="one target has its own size"):
        common_size(engine, given, [size_for_speed(engine, given, speed(0.0))])
