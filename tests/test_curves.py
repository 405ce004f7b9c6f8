import copy
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from converter_match.curves import Curve, last_below, real_roots_within
from converter_match.errors import InputError

# A capacity with the stator let go at 0.83: a corner in the middle (invented numbers).
KINKED = Curve(
    [0.0, 0.3, 0.6, 0.83, 0.9, 1.0],
    [2.0, 1.95, 1.8, 1.5, 1.1, 0.0],
    kinks=(0.83,),
    name="capacity",
    x_name="speed ratio",
)


@st.composite
def points(draw, monotone=False):
    """Rows with steps of 0.01 to 10 in x; y of any sign, or rising."""
    n = draw(st.integers(2, 12))
    steps = draw(st.lists(st.floats(0.01, 10.0), min_size=n, max_size=n))
    low = 0.0 if monotone else -1e3
    # Steps of a millionth: what differs by less than rounding is not another value.
    ys = draw(st.lists(st.integers(int(low * 1e6), 10**9), min_size=n, max_size=n))
    x = np.cumsum(steps)
    return x, (np.cumsum(ys) if monotone else np.array(ys)) / 1e6


# --- values --------------------------------------------------------------------------------------


@pytest.mark.slow
@given(points(), st.data())
def test_curve_is_exact_at_every_given_point(xy, data):
    x, y = xy
    kinks = tuple(
        data.draw(st.lists(st.sampled_from(list(x[1:-1])), unique=True)) if x.size > 2 else ()
    )
    curve = Curve(x, y, kinks=kinks)
    assert np.array_equal(curve(x), y)
    assert np.array_equal(curve.with_slope(x)[0], y)
    assert curve.domain == (x[0], x[-1])


@pytest.mark.parametrize("shape", [(), (0,), (1,), (7,), (2, 3), (2, 1, 4), (3, 0, 2)])
def test_curve_keeps_the_shape_of_what_is_asked(shape):
    x = np.linspace(0.0, 1.0, int(np.prod(shape))).reshape(shape)
    value, slope = KINKED.with_slope(x)
    assert KINKED(x).shape == value.shape == slope.shape == shape
    assert np.array_equal(KINKED(x), value)
    assert np.array_equal(KINKED(x).ravel(), [float(KINKED(float(t))) for t in x.ravel()])


def test_answers_do_not_depend_on_how_many_are_asked_at_once():
    # More points than are evaluated in one go, and in two dimensions, one of them strided.
    x = np.random.default_rng(3).uniform(0, 1, (1000, 234))[:, ::2]
    together = KINKED(x)
    assert together.shape == x.shape
    np.testing.assert_array_equal(together[::50], [KINKED(row) for row in x[::50]])
    with pytest.raises(InputError, match=r"found 1\.5"):
        KINKED(np.append(x.ravel(), 1.5))


def test_curve_answers_lists_and_whole_numbers():
    assert np.array_equal(Curve([0, 1, 3], [5, 7, 9])([0, 1, 3]), [5.0, 7.0, 9.0])
    assert float(Curve([0, 1], [0, 10])(1)) == 10.0


@given(points())
def test_curve_without_kinks_is_the_reference_pchip(xy):
    x, y = xy
    at = np.linspace(x[0], x[-1], 101)[1:-1]
    reference = PchipInterpolator(x, y)
    # Both evaluate the same cubics: only rounding may differ.
    size = np.max(np.abs(y)) + 1e-300
    np.testing.assert_allclose(Curve(x, y)(at), reference(at), rtol=0, atol=1e-13 * size)


@pytest.mark.parametrize("edges", [1, 2, 3, 8, 9, 129])
@pytest.mark.parametrize("size", [0, 1, 999, 1000, 5000])
def test_many_values_find_the_same_piece_as_numpy_finds_one_by_one(edges, size):
    rng = np.random.default_rng(edges * 10_000 + size)
    steps = np.sort(rng.integers(0, 200, edges)).astype(float)  # some edges twice
    x = rng.choice(np.r_[steps, rng.uniform(steps[0], 250.0, 50)], size)
    np.testing.assert_array_equal(last_below(steps, x), steps.searchsorted(x, side="right") - 1)


@given(points())
def test_the_cubics_are_those_of_the_reference(xy):
    x, y = xy
    # The same arithmetic, so the same numbers; a bit or two for another order of operations.
    expected = PchipInterpolator(x, y).c
    np.testing.assert_allclose(Curve(x, y).pieces, expected, rtol=1e-14, atol=1e-12 * np.ptp(y))


def test_curve_with_a_kink_is_a_reference_pchip_on_each_side():
    x, y = KINKED.x, KINKED.y
    for side in (slice(0, 4), slice(3, 6)):
        at = np.linspace(x[side][0], x[side][-1], 50)
        np.testing.assert_allclose(KINKED(at), PchipInterpolator(x[side], y[side])(at), atol=1e-14)


def test_kink_lets_the_slope_jump_and_a_smooth_point_does_not():
    def jump(curve, at):
        step = 1e-9
        (before, after) = curve.with_slope([at - step, at + step])[1]
        return abs(after - before)

    smooth = Curve(KINKED.x, KINKED.y)
    assert jump(KINKED, 0.83) > 1.0
    assert jump(smooth, 0.83) < 1e-5
    assert jump(KINKED, 0.6) < 1e-5


def test_splitting_at_the_kink_is_nearer_the_truth_than_a_smooth_curve():
    # Two straight lines that meet in a corner are known exactly, so the error is too.
    x = np.array([0.0, 0.2, 0.4, 0.6, 0.83, 0.9, 1.0])
    y = np.where(x <= 0.83, 2.0 - 0.6 * x, (2.0 - 0.6 * 0.83) * (1.0 - x) / 0.17)
    at = np.linspace(0, 1, 4001)
    truth = np.interp(at, x, y)
    assert np.max(np.abs(Curve(x, y, kinks=(0.83,))(at) - truth)) < 1e-14
    assert np.max(np.abs(Curve(x, y)(at) - truth)) > 0.02


@given(points(monotone=True), st.data())
def test_monotone_points_give_a_monotone_curve(xy, data):
    x, y = xy
    kinks = tuple(
        data.draw(st.lists(st.sampled_from(list(x[1:-1])), unique=True)) if x.size > 2 else ()
    )
    for sign in (1.0, -1.0):
        values = sign * Curve(x, sign * y, kinks=kinks)(np.linspace(x[0], x[-1], 500))
        assert np.min(np.diff(values)) >= -1e-12 * (1.0 + y[-1])


@given(points())
def test_curve_never_overshoots_its_neighbouring_points(xy):
    x, y = xy
    share = np.linspace(0, 1, 21)
    at = x[:-1, None] + share * np.diff(x)[:, None]
    values = Curve(x, y)(np.minimum(at, x[1:, None]))
    slack = 1e-12 * np.max(np.abs(y))
    assert np.all(values >= np.minimum(y[:-1], y[1:])[:, None] - slack)
    assert np.all(values <= np.maximum(y[:-1], y[1:])[:, None] + slack)


# --- slope ---------------------------------------------------------------------------------------


@given(points())
def test_slope_is_the_derivative(xy):
    x, y = xy
    share = np.array([0.2, 0.5, 0.8])
    at = (x[:-1, None] + share * np.diff(x)[:, None]).ravel()
    step = 1e-5 * np.repeat(np.diff(x), share.size)
    curve = Curve(x, y)
    numeric = (curve(at + step) - curve(at - step)) / (2 * step)
    # Central difference: error of order step^2, plus rounding / step.
    size = np.max(np.abs(y)) / np.min(np.diff(x)) + 1e-300
    np.testing.assert_allclose(curve.with_slope(at)[1], numeric, rtol=1e-6, atol=1e-7 * size)


def test_slope_at_a_kink_is_the_one_to_the_right_and_at_the_end_the_one_to_the_left():
    curve = Curve([0.0, 1.0, 2.0], [0.0, 1.0, 4.0], kinks=(1.0,))
    assert curve.with_slope([0.0, 0.5, 1.0, 1.5, 2.0])[1].tolist() == [1.0, 1.0, 3.0, 3.0, 3.0]


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "x", [-1e-12, 1.0 + 1e-12, np.nan, np.inf, -np.inf, [0.5, 1.2], [[0.5], [np.nan]]], ids=str
)
@pytest.mark.parametrize("ask", [Curve.__call__, Curve.with_slope], ids=["value", "slope"])
def test_nothing_is_extrapolated(x, ask):
    with pytest.raises(InputError, match=r"speed ratio: capacity is not known there.*0 \.\. 1"):
        ask(KINKED, x)


@pytest.mark.parametrize(
    ("x", "y", "kinks", "message"),
    [
        ([0, 1, 1], [1, 2, 3], (), "x repeats at row 3.*found '1 after 1'"),
        ([0, 2, 1], [1, 2, 3], (), "x does not increase at row 3"),
        ([0, 1, np.nan], [1, 2, 3], (), "x: row 3 is not a finite number"),
        ([0, 1, 2], [1, np.inf, 3], (), "curve: row 2 is not a finite number"),
        ([0, 1, 2], [1, 2], (), "2 values of curve for 3 of x"),
        ([0], [1], (), "at least two points"),
        ([], [], (), "at least two points"),
        ([0, 1, 2], [1, 2, 3], (0.9,), "kink must be one of the given points.*nearest.* is 1"),
        ([0, 1, 2], [1, 2, 3], (0,), "kink must be one of the given points, inside"),
        ([0, 1, 2], [1, 2, 3], (2,), "kink must be one of the given points, inside"),
    ],
)
def test_points_that_are_no_function_are_refused(x, y, kinks, message):
    with pytest.raises(InputError, match=message):
        Curve(x, y, kinks=kinks)


# --- crossings -----------------------------------------------------------------------------------


@given(points(), st.floats(0.001, 0.999))
def test_crossings_agree_with_the_reference_solver(xy, share):
    x, y = xy
    level = y.min() + share * np.ptp(y)
    # Where the level only touches the curve or lies on a flat stretch, or a step is lost in
    # rounding, how many roots there are is a matter of rounding: those have tests of their own.
    clear = 1e-6 * np.ptp(y)
    if np.ptp(y) < 1e-3 or np.min(np.abs(y - level)) < clear:
        return
    reference = PchipInterpolator(x, y).solve(level, extrapolate=False)
    found = Curve(x, y).crossings(level)
    assert found.size == np.sum((y[:-1] > level) != (y[1:] > level))
    np.testing.assert_allclose(Curve(x, y)(found), level, atol=1e-12 * np.max(np.abs(y)))
    if np.min(np.abs(np.diff(y))) > clear:  # the reference is unsure of nearly flat pieces
        np.testing.assert_allclose(found, np.unique(reference), rtol=0, atol=1e-6 * np.ptp(x))


def test_level_through_given_points_is_found_once_at_each():
    curve = Curve([0, 1, 2, 3, 4], [0, 2, 1, 2, 0])
    assert curve.crossings(0.0).tolist() == [0.0, 4.0]
    assert curve.crossings(2.0).tolist() == [1.0, 3.0]  # only touched: a peak is flat there
    through = curve.crossings(1.0)
    assert through.size == 3
    assert through[1] == 2.0
    assert curve.crossings(3.0).size == curve.crossings(-0.1).size == 0


@given(points(), st.data())
def test_every_crossing_is_on_the_level_and_distinct_even_at_given_points(xy, data):
    x, y = xy
    level = data.draw(st.sampled_from(list(y)))
    found = Curve(x, y).crossings(float(level))
    flat = np.flatnonzero(y[1:] == y[:-1])
    assert set(x[y == level]) <= {float(x[np.argmin(np.abs(x - at))]) for at in found}
    np.testing.assert_allclose(Curve(x, y)(found), level, atol=1e-12 * np.max(np.abs(y)))
    if not flat.size:
        assert found.size < 2 * x.size
        between = np.sum((y[:-1] - level) * (y[1:] - level) < 0)
        assert found.size == between + np.sum(y == level)


def test_stretch_on_the_level_gives_its_two_ends():
    curve = Curve([0, 1, 2, 3], [2, 1, 1, 0])
    assert curve.crossings(1.0).tolist() == [1.0, 2.0]


@given(
    st.lists(st.floats(0.01, 0.99), min_size=1, max_size=4, unique=True),
    st.floats(0.01, 100.0),
    st.floats(-3, 3),
)
def test_polynomial_roots_that_are_known_are_found(roots, width, scale):
    roots = np.sort(roots)
    if roots.size > 1 and np.min(np.diff(roots)) < 0.02:
        return
    found = real_roots_within(10**scale * np.poly(roots * width), width)
    # Roots 0.02 apart of a quartic: rounding of the coefficients moves them by up to about 1e-9.
    np.testing.assert_allclose(found, roots * width, rtol=0, atol=1e-8 * width)


@pytest.mark.parametrize(
    ("polynomial", "roots"),
    [
        ([1.0, -1.0, 0.25], [0.5]),  # touches at 0.5
        ([1.0, -1.0, 0.2501], []),  # just misses
        ([1.0, 0.0, 0.0, 0.0], [0.0]),
        ([1.0, -3.0, 3.0, -1.0], [1.0]),
        ([0.0, 0.0, 2.0, -1.0], [0.5]),
        ([1e-17, -1e-17, 2.0, -1.0], [0.5]),  # a straight line with rounding in front
        ([0.0, 0.0, 1.0], []),
        ([0.0], []),
        ([1.0, 0.5], []),
        ([1.0, -1.5], []),
    ],
)
def test_awkward_polynomials(polynomial, roots):
    np.testing.assert_allclose(real_roots_within(np.array(polynomial), 1.0), roots, atol=1e-15)


# --- a curve is a value --------------------------------------------------------------------------


@pytest.mark.parametrize("carry", [copy.deepcopy, lambda c: pickle.loads(pickle.dumps(c))])
def test_curve_survives_copying_and_stays_read_only(carry):
    back = carry(KINKED)
    at = np.linspace(0, 1, 77)
    assert np.array_equal(back(at), KINKED(at))
    assert back.kinks == KINKED.kinks
    for array in (back.x, back.y, back.pieces):
        assert not array.flags.writeable


def test_curve_cannot_be_changed_from_outside():
    x, y = np.array([0.0, 1.0]), np.array([3.0, 4.0])
    curve = Curve(x, y)
    y[0] = 99.0
    assert float(curve(0.0)) == 3.0
    with pytest.raises(ValueError, match="read-only"):
        curve.y[0] = 1.0
    with pytest.raises(AttributeError):
        curve.y = y


@pytest.mark.parametrize(
    ("x", "y"), [(["a", "b"], [1, 2]), ([1, [2, 3]], [1, 2]), ([None, 1j], [1, 2])], ids=str
)
def test_what_is_not_a_list_of_numbers_is_refused_in_plain_words(x, y):
    with pytest.raises(InputError, match="not a list of numbers"):
        Curve(x, y)
