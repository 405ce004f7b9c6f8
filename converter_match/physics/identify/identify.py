"""A characteristic from a machine's own log: steady stretches, and a robust curve with bands.

A stretch of a second or so in which nothing changes much is one sample of the steady
characteristic: ``nu = omega_t / omega_p``, ``C = T_p / omega_p^2`` with ``T_p`` the engine's torque
less its loads and less ``J d omega_p/dt``, and ``mu = T_t / T_p`` where the turbine's torque is
known. Only sums over each stretch are formed, so that a log of any length passes through in pieces.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

# Logarithm of the ratio of likelihoods that counts as clear.
_CLEARLY = 12.0
_PLACES = 6
_AT_THE_NODE = 0.006
# Half of the distance between nodes above the coupling point, and how many samples and episodes
# are enough there.
_HALF, _WELL, _WELL_EPISODES = 0.011, 40, 10
# Speed ratio above which engine and turbine are taken to be tied together.
LOCKED = 0.995


@dataclass(frozen=True)
class Steadiness:
    """What counts as steady; shares of the value itself over one stretch.

    Parameters
    ----------
    length : float
        Of a stretch [s].
    speed_change, torque_change : float
        Most change within a stretch, and from the one before.
    torque_scatter : float
        Most scatter about a straight line (standard deviation).
    fill : float
        Least share of the stretch that has rows.
    """

    length: float = 1.0
    speed_change: float = 0.02
    torque_change: float = 0.06
    torque_scatter: float = 0.12
    fill: float = 0.7


@dataclass(frozen=True, eq=False)
class Stretches:
    """Means and slopes of stretches of a log; arrays of shape (n,).

    Parameters
    ----------
    index : ndarray of int
        Number of the stretch since time 0; not all are there.
    mean, slope, scatter : dict
        Column -> mean, slope [per s], standard deviation about the line.
    span : ndarray
        From first to last row [s].
    """

    index: NDArray[np.int64]
    mean: Mapping[str, FloatArray]
    slope: Mapping[str, FloatArray]
    scatter: Mapping[str, FloatArray]
    span: FloatArray


def stretches(columns: Mapping[str, FloatArray], length: float) -> Stretches:
    """Cut rows into stretches of equal time and sum each up.

    Parameters
    ----------
    columns : dict
        Name -> ndarray, shape (n,); ``time`` never falls.
    length : float
        [s].
    """
    time = columns["time"]
    number = np.floor(time / length).astype(np.int64)
    starts = np.flatnonzero(np.diff(number, prepend=number[0] - 1))
    count = np.diff(np.append(starts, time.size))
    ends = starts + count - 1
    index = number[starts]
    # Time from the middle of each stretch, so that sums of squares keep their digits.
    t = time - np.repeat((index + 0.5) * length, count)
    sum_t, sum_tt = np.add.reduceat(t, starts), np.add.reduceat(t * t, starts)
    spread = sum_tt - sum_t * sum_t / count
    mean, slope, scatter = {}, {}, {}
    for name, values in columns.items():
        if name == "time":
            continue
        base = values[starts]
        x = values - np.repeat(base, count)
        sum_x = np.add.reduceat(x, starts)
        sum_tx, sum_xx = np.add.reduceat(t * x, starts), np.add.reduceat(x * x, starts)
        joint = sum_tx - sum_t * sum_x / count
        rate = np.divide(joint, spread, out=np.zeros_like(joint), where=spread > 0)
        rest = np.maximum(sum_xx - sum_x * sum_x / count - rate * joint, 0.0)
        mean[name], slope[name] = base + sum_x / count, rate
        scatter[name] = np.sqrt(rest / np.maximum(count - 2, 1))
    return Stretches(index, mean, slope, scatter, time[ends] - time[starts])


def calm(stretches: Stretches, rule: Steadiness, step: float) -> NDArray[np.bool_]:
    """Return which stretches are steady, and follow on one at nearly the same place.

    Parameters
    ----------
    stretches : Stretches
        In order of time.
    rule : Steadiness
    step : float
        Usual step between rows [s].

    Notes
    -----
    Asking for a quiet stretch before keeps out the first moments after a change, when a torque
    signal that comes late still tells of the state before.
    """
    engine, turbine = stretches.mean["engine speed"], stretches.mean["turbine speed"]
    torque = np.maximum(np.abs(stretches.mean["engine torque"]), 1e-9)
    length = rule.length
    still = (
        (stretches.span + step >= rule.fill * length)
        & (engine > 0)
        & (np.abs(stretches.slope["engine speed"]) * length <= rule.speed_change * engine)
        & (np.abs(stretches.slope["turbine speed"]) * length <= rule.speed_change * engine)
        & (np.abs(stretches.slope["engine torque"]) * length <= rule.torque_change * torque)
        & (stretches.scatter["engine torque"] <= rule.torque_scatter * torque)
    )
    follows = np.zeros(still.shape, dtype=bool)
    follows[1:] = (
        (np.diff(stretches.index) == 1)
        & (np.abs(np.diff(engine)) <= rule.speed_change * engine[1:])
        & (np.abs(np.diff(turbine)) <= rule.speed_change * engine[1:])
        & (np.abs(np.diff(torque)) <= rule.torque_change * torque[1:])
    )
    return np.asarray(still & follows)


# --- the curve ------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Fitted:
    """A curve at nodes, with pointwise bands; NaN where there are not enough samples.

    Parameters
    ----------
    node, value, low, high : ndarray, shape (n,)
    samples, episodes : ndarray of int, shape (n,)
        That speak for each node.
    """

    node: FloatArray
    value: FloatArray
    low: FloatArray
    high: FloatArray
    samples: NDArray[np.intp]
    episodes: NDArray[np.intp]

    @property
    def covered(self) -> NDArray[np.bool_]:
        """Where there is a value."""
        return np.isfinite(self.value)


def nodes_for(kink: float | None) -> FloatArray:
    """Return speed ratios at which the curve is asked for: closer together beyond the kink."""
    even = np.arange(0.0, 0.951, 0.05)
    close = np.arange(0.84, 0.986, 0.02)
    if kink is None:
        return np.unique(np.round(np.concatenate([even[even < 0.84], close]), 4))
    below = even[even < kink - 0.02]
    above = close[close > kink + 0.012]
    return np.unique(np.round(np.concatenate([below, [kink], above]), 4))


def fit_curve(
    x: FloatArray,
    y: FloatArray,
    episode: FloatArray,
    nodes: FloatArray,
    *,
    coverage: float = 0.95,
    kink: float | None = None,
    fewest: int = 12,
    fewest_episodes: int = 4,
) -> Fitted:
    """Return a robust local fit with confidence bands.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
    episode : ndarray, shape (n,)
        Samples of one episode (a stretch of steady driving) share errors and count as one witness.
    nodes : ndarray, shape (m,)
    coverage : float
        Of the bands, at each node on its own.
    kink : float, optional
        No sample from the other side of it is used; the node on it leans on the lower side.
    fewest, fewest_episodes : int
        Below these a node has no value.

    Returns
    -------
    Fitted

    Notes
    -----
    At each node a parabola (a straight line where samples stand in few places, their mean where all
    stand at the node) is laid through the samples between its neighbours by iteratively reweighted
    least squares: Tukey's biweight, begun from least absolute residuals, scale from the median
    absolute deviation. The variance is the sandwich over episodes, each corrected for its own pull
    (jackknife form, (m - 1) / m); the band takes Student's t with m - p degrees of freedom.
    """
    from scipy.stats import t as student

    size = nodes.size
    value, low, high = (np.full(size, np.nan) for _ in range(3))
    samples, episodes = np.zeros(size, dtype=np.intp), np.zeros(size, dtype=np.intp)
    for k, node in enumerate(nodes):
        left, right = _window(nodes, k, kink)
        if kink is not None and node > kink:
            left, right = _narrower(x, episode, float(node), left, right)
        chosen = (x >= left) & (x <= right)
        xs, ys, who = x[chosen] - node, y[chosen], episode[chosen]
        samples[k], episodes[k] = xs.size, np.unique(who).size
        if samples[k] < fewest or episodes[k] < fewest_episodes:
            continue
        degree = _degree(xs, left - node, right - node, int(episodes[k]))
        if degree is None:
            continue
        fitted = _robust(xs, ys, who, degree)
        if fitted is None:
            continue
        value[k], sigma, freedom = fitted
        half = sigma * float(student.isf(0.5 * (1.0 - coverage), freedom))
        low[k], high[k] = value[k] - half, value[k] + half
    return Fitted(nodes, value, low, high, samples, episodes)


def _window(nodes: FloatArray, k: int, kink: float | None) -> tuple[float, float]:
    node = float(nodes[k])
    before = float(nodes[k - 1]) if k else node - 0.02
    after = float(nodes[k + 1]) if k + 1 < nodes.size else node + 0.02
    if kink is not None:
        if node <= kink + 1e-9:
            after = min(after, kink)
            if abs(node - kink) < 1e-9:
                before = min(before, node - 0.06)
        else:
            before = max(before, kink)
    return before, after


def _narrower(
    x: FloatArray, episode: FloatArray, node: float, left: float, right: float
) -> tuple[float, float]:
    """Return half of a window above the coupling point, where that is well filled.

    The capacity falls there so steeply that a parabola over all of it stands off by as much as its
    band is wide.
    """
    low, high = max(left, node - _HALF), min(right, node + _HALF)
    inside = (x >= low) & (x <= high)
    full = inside.sum() >= _WELL and np.unique(episode[inside]).size >= _WELL_EPISODES
    return (low, high) if full else (left, right)


def _degree(x: FloatArray, left: float, right: float, episodes: int) -> int | None:
    """Return the degree that the spread of the samples about the node bears; None for none.

    Samples bunched in few places say nothing of a slope: within a bunch C and nu scatter together,
    because both hold the engine speed.
    """
    if np.abs(x).max() < _AT_THE_NODE:
        return 0
    places = np.floor((x - left) / (right - left) * _PLACES)
    counts = np.bincount(np.clip(places, 0, _PLACES - 1).astype(np.int64), minlength=_PLACES)
    held = np.flatnonzero(counts >= max(2, 0.04 * x.size))
    if held.size < 2 or held[-1] - held[0] < 2:
        return None
    # Nothing is said of a node that lies outside its samples.
    low, high = np.quantile(x, [0.02, 0.98])
    if low > _AT_THE_NODE or high < -_AT_THE_NODE:
        return None
    return 2 if held.size >= 4 and episodes >= 8 else 1


def _robust(
    x: FloatArray, y: FloatArray, who: FloatArray, degree: int
) -> tuple[float, float, float] | None:
    scale_x = max(float(np.ptp(x)), 1e-6)
    a = np.vander(x / scale_x, degree + 1, increasing=True)
    # Begin with the least sum of absolute residuals, which no wild sample draws to itself.
    weight = np.ones(x.size)
    for _ in range(20):
        gram = a.T @ (a * weight[:, np.newaxis])
        if np.linalg.cond(gram) > 1e10:
            return None
        rest = y - a @ np.linalg.solve(gram, a.T @ (weight * y))
        weight = 1.0 / np.maximum(np.abs(rest), 1e-4 * float(np.abs(y).mean()) + 1e-300)
        weight = weight / weight.max()
    for _ in range(30):
        mad = 1.4826 * float(np.median(np.abs(rest - np.median(rest))))
        spread = max(mad, 1e-9 * float(np.abs(np.median(y))) + 1e-300)
        u = np.clip(rest / (4.685 * spread), -1.0, 1.0)
        new = (1.0 - u * u) ** 2
        gram = a.T @ (a * new[:, np.newaxis])
        if np.linalg.cond(gram) > 1e10:
            return None
        beta = np.linalg.solve(gram, a.T @ (new * y))
        rest = y - a @ beta
        done = float(np.max(np.abs(new - weight))) < 1e-6
        weight = new
        if done:
            break
    _, member = np.unique(who, return_inverse=True)
    count = int(member.max()) + 1
    scores = np.zeros((count, degree + 1))
    np.add.at(scores, member, a * (weight * rest)[:, np.newaxis])
    # Of an M-estimator: psi' in the bread.
    u2 = np.minimum((rest / (4.685 * spread)) ** 2, 1.0)
    slope = np.where(u2 < 1.0, (1.0 - u2) * (1.0 - 5.0 * u2), 0.0)
    bread = a.T @ (a * slope[:, np.newaxis])
    if np.linalg.cond(bread) > 1e10 or bread[0, 0] <= 0:
        bread = gram
    inverse = np.linalg.inv(bread)
    # What one episode draws the curve towards itself is given back before its score is squared.
    own = np.zeros((count, degree + 1, degree + 1))
    np.add.at(own, member, (a * np.maximum(slope, 0.0)[:, np.newaxis])[:, :, np.newaxis]
              * a[:, np.newaxis, :])  # fmt: skip
    keep = np.eye(degree + 1) - own @ inverse
    usual = np.linalg.cond(keep) < 1e8
    scores[usual] = np.linalg.solve(keep[usual], scores[usual][:, :, np.newaxis])[:, :, 0]
    meat = scores.T @ scores
    variance = (inverse @ meat @ inverse.T)[0, 0] * (count - 1) / count
    freedom = float(max(count - degree - 1, 1))
    return float(beta[0]), float(np.sqrt(max(variance, 0.0))), freedom


def find_kink(x: FloatArray, y: FloatArray, low: float = 0.70, high: float = 0.95) -> float | None:
    """Return where the slope of C jumps, the coupling point; None where that cannot be told.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Speed ratio, and C [N.m/(rad/s)^2].
    low, high : float
        Speed ratios between which it is looked for.

    Notes
    -----
    About each place on a grid of 0.005 two straight lines that meet there are laid, and a parabola,
    which has as many coefficients, through the same samples (Huber's weights, residuals as shares).
    The place where the lines beat the parabola most is taken, if the ratio of likelihoods (Laplace
    errors) is clear.
    """
    chosen = (x > low - 0.15) & (x < 0.985)
    xs, ys = x[chosen], y[chosen]
    if xs.size < 60:
        return None
    ys = ys / np.interp(xs, *_medians(xs, ys))
    level = y[chosen] / ys
    places = np.arange(low, high + 1e-9, 0.005)
    gains = np.array([_gain(xs, ys, level, float(place)) for place in places])
    best = int(np.argmax(gains))
    return float(np.round(places[best], 4)) if gains[best] > _CLEARLY else None


def _gain(x: FloatArray, y: FloatArray, level: FloatArray, place: float) -> float:
    """Logarithm of how much likelier two lines that meet at a place are than a parabola."""
    near = (x > place - 0.09) & (x < place + 0.05)
    t = (x[near] - place) / 0.05
    if (t < 0).sum() < 15 or (t > 0).sum() < 15 or np.unique(np.round(t, 1)).size < 6:
        return -np.inf
    both = [np.ones_like(t), t]
    bent = _huber_loss(np.column_stack([*both, np.maximum(t, 0.0)]), y[near], level[near])
    smooth = _huber_loss(np.column_stack([*both, t * t]), y[near], level[near])
    return float(t.size * np.log(smooth / bent))


def _huber_loss(columns: FloatArray, y: FloatArray, level: FloatArray) -> float:
    """Mean absolute residual of a robust fit, in shares of `level`; wild ones count no more."""
    a = columns / level[:, np.newaxis]
    weight = np.ones(y.size)
    for _ in range(8):
        beta = np.linalg.lstsq(a * weight[:, np.newaxis], y * weight, rcond=None)[0]
        rest = np.abs(y - a @ beta)
        scale = 1.345 * 1.4826 * float(np.median(rest)) + 1e-300
        weight = np.sqrt(np.minimum(1.0, scale / np.maximum(rest, 1e-300)))
    return float(np.mean(np.minimum(rest, 3.0 * scale)))


def _medians(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rough level of y over x, so that samples count by their share."""
    order = np.argsort(x)
    groups = np.array_split(order, max(4, min(40, x.size // 15)))
    return (
        np.array([float(np.median(x[g])) for g in groups]),
        np.array([float(np.median(y[g])) for g in groups]),
    )
