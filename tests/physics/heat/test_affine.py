"""Chains of affine steps against the same steps done one by one."""

import numpy as np
import pytest

from converter_match.physics.heat.affine import AffineChain


def one_by_one(chain, start, source=1.0):
    found = [start]
    for k in range(chain.gained.shape[1]):
        step = np.einsum("ij...,j...->i...", chain.kept[:, :, k], found[-1])
        found.append(step + source * chain.gained[:, k])
    return np.stack(found, axis=1)


@pytest.mark.parametrize("many", [1, 2])
@pytest.mark.parametrize("steps", [1, 2, 3, 4, 5, 24, 25, 26, 1215])
def test_a_chain_in_blocks_goes_where_its_steps_lead(many, steps):
    random = np.random.default_rng(steps)
    # Steps that keep most of what there is, as oil does on a road.
    kept = np.eye(many)[:, :, np.newaxis, np.newaxis] * random.uniform(0.9, 1.0, (steps, 3))
    chain = AffineChain(
        kept + random.uniform(0.0, 0.02, kept.shape), random.normal(size=(many, steps, 3))
    )
    start = random.normal(size=(many, 3))
    expected = one_by_one(chain, start)
    scale = np.abs(expected).max()
    # Rounding of as many steps.
    close = {"rtol": 1e-11, "atol": 1e-12 * scale}
    np.testing.assert_allclose(chain.march(start), expected, **close)
    whole, gained = chain.whole
    np.testing.assert_allclose(gained, one_by_one(chain, 0.0 * start)[:, -1], **close)
    for value in range(many):
        one = np.zeros((many, 3))
        one[value] = 1.0
        alone = one_by_one(chain, one, source=0.0)[:, -1]
        np.testing.assert_allclose(whole[:, value], alone, rtol=1e-11, atol=1e-300)


def test_a_case_alone_goes_as_it_does_among_others_to_the_last_bit():
    random = np.random.default_rng(4)
    kept, gained = random.uniform(0.0, 0.5, (2, 2, 40, 5)), random.normal(size=(2, 40, 5))
    together = AffineChain(kept, gained).march(np.ones((2, 5)))
    for k in range(5):
        alone = AffineChain(kept[..., k : k + 1], gained[..., k : k + 1]).march(np.ones((2, 1)))
        np.testing.assert_array_equal(alone[..., 0], together[..., k])
