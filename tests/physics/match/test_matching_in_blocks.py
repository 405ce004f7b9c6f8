"""Matching part by part: the same numbers as all at once, and memory that does not grow."""

import tracemalloc

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.newton import polished
from converter_match.physics.match.solver import match, match_in_blocks
from tests.examples import converter, engine, hole_engine

SUPPLY, CONVERTER = engine_supply(engine()), converter()
SPEED_RATIOS = np.random.default_rng(3).uniform(*CONVERTER.domain, 1009)  # a prime: never even
ROWS = np.random.default_rng(4).uniform(0.9, 1.1, (13, 1))
FIELDS = ("speed_ratio", "torque_ratio", "engine_speed", "input_torque", "stable")


def in_one(blocks):
    """Put the blocks together again: (fields of the points, both ends' flags)."""
    parts, found = zip(*blocks, strict=True)
    assert [part.start for part in parts[1:]] == [part.stop for part in parts[:-1]]
    points = [np.concatenate([getattr(x.points, name) for x in found], axis=1) for name in FIELDS]
    flags = [
        np.concatenate([getattr(x, name) for x in found]) for name in ("pulls_away", "held_back")
    ]
    return points, flags


@pytest.mark.slow
@pytest.mark.parametrize("points", [1, 64, 1000, 1009, 100_000])
@pytest.mark.parametrize(
    "factors",
    [
        {},
        {"capacity_factor": 1.07, "torque_factor": 0.93},
        {"capacity_factor": np.linspace(0.9, 1.1, SPEED_RATIOS.size)},
        {"capacity_factor": ROWS, "torque_ratio_factor": np.linspace(0.9, 1.1, SPEED_RATIOS.size)},
        {"capacity_factor": np.ones((1, SPEED_RATIOS.size)), "torque_ratio_factor": ROWS},
    ],
)
@pytest.mark.parametrize("supply", [SUPPLY, engine_supply(hole_engine())])
def test_blocks_are_what_all_at_once_gives_to_the_last_bit(points, factors, supply):
    whole = match(supply, CONVERTER, SPEED_RATIOS, **factors)
    points_found, flags = in_one(
        match_in_blocks(supply, CONVERTER, SPEED_RATIOS, **factors, points=points)
    )
    for name, values in zip(FIELDS, points_found, strict=True):
        np.testing.assert_array_equal(values, getattr(whole.points, name), err_msg=name)
    np.testing.assert_array_equal(flags, [whole.pulls_away, whole.held_back])


def test_blocks_with_a_torque_factor_of_each_point_agree_to_rounding():
    factors = np.random.default_rng(5).uniform(0.9, 1.1, SPEED_RATIOS.size)
    whole = match(SUPPLY, CONVERTER, SPEED_RATIOS, torque_factor=factors).points.engine_speed
    blocks = match_in_blocks(SUPPLY, CONVERTER, SPEED_RATIOS, torque_factor=factors, points=100)
    np.testing.assert_allclose(in_one(blocks)[0][2], whole, rtol=1e-14)


def test_one_speed_ratio_is_one_block():
    ((part, found),) = match_in_blocks(SUPPLY, CONVERTER, 0.5)
    assert part == slice(0, 1)
    assert found.from_idle().engine_speed == match(SUPPLY, CONVERTER, 0.5).from_idle().engine_speed


def test_memory_does_not_grow_with_the_number_of_points():
    def highest(rows):
        """Bytes in use at the highest for a map of `rows` by 1009 points, each block let go."""
        factor = np.linspace(0.9, 1.1, rows)[:, np.newaxis]
        tracemalloc.start()
        try:
            count = 0
            for _, found in match_in_blocks(
                SUPPLY, CONVERTER, SPEED_RATIOS, capacity_factor=factor, points=10_000
            ):
                count += found.count.size
            assert count == rows * SPEED_RATIOS.size
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    highest(20)  # tables that are kept
    # Eight times the points; nothing but the factors themselves may grow.
    assert highest(320) < 1.1 * highest(40)


def test_a_bad_value_is_named_when_its_block_comes():
    blocks = match_in_blocks(SUPPLY, CONVERTER, [0.1, 0.2, 7.0], points=2)
    next(blocks)
    with pytest.raises(InputError, match="speed ratio"):
        next(blocks)


@pytest.mark.parametrize("points", [0, -5])
def test_a_block_needs_points(points):
    with pytest.raises(InputError, match=f"points: out of range; found {points}"):
        next(match_in_blocks(SUPPLY, CONVERTER, 0.5, points=points))


def test_the_polish_ends_when_it_has_arrived():
    # Roots of 2 - C w^2 from a guess a thousandth off: Newton's method doubles the digits, 3 to 16,
    # in three steps, and one more sees that nothing moves. Halving the bracket takes fifty.
    capacity = np.linspace(1.0, 3.0, 500)
    exact = np.sqrt(2.0 / capacity)
    calls = []

    def excess(omega, pick):
        calls.append(omega.size)
        return 2.0 - capacity[pick] * omega * omega, -2.0 * capacity[pick] * omega

    found = polished(excess, 1.001 * exact, 0.9 * exact, 1.1 * exact, True)
    np.testing.assert_allclose(found, exact, rtol=4e-16)
    assert len(calls) <= 7
