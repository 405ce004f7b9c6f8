import numpy as np
import pytest

from converter_match.library.intake.reading import intake_text
from converter_match.library.intake.smooth import scatter, smoothed
from converter_match.library.read import read_component

NU = np.array([*np.arange(0, 0.81, 0.05), 0.83, 0.86, 0.88, 0.9, 0.92, 0.94, 0.96])
TRUE = np.where(NU < 0.86, 1 + 1.2 * (1 - (NU / 0.86) ** 1.03), 1.0)


def noisy(seed, size):
    rng = np.random.default_rng(seed)
    wave = rng.normal(0, size, NU.size)
    return np.where(NU < 0.86, TRUE + wave, 1.0)


@pytest.mark.parametrize("seed", range(5))
def test_smoothing_comes_nearer_to_the_curve_and_keeps_corner_and_monotony(seed):
    y = noisy(seed, 0.012)
    m = smoothed(NU, y, [0.86], falling=True, level_beyond=(0.86, 1.0))
    before = NU < 0.86
    assert np.sqrt(np.mean((m - TRUE)[before] ** 2)) < np.sqrt(np.mean((y - TRUE)[before] ** 2))
    assert np.all(np.diff(m) <= 1e-12)
    assert np.all(m[~before] == 1.0)
    # The corner stays a corner: the slope jumps there, and is gone beyond.
    at = int(np.flatnonzero(NU == 0.86)[0])
    assert (m[at] - m[at - 1]) / (NU[at] - NU[at - 1]) < -0.8


def test_smooth_points_are_left_where_they_are():
    assert np.abs(smoothed(NU, TRUE, [0.86], falling=True) - TRUE).max() < 2e-3
    straight = 5 - 3 * NU
    np.testing.assert_allclose(smoothed(NU, straight, falling=True), straight, atol=1e-9)


def test_single_outlier_does_not_drag_the_others_along():
    y = noisy(1, 0.004)
    y[8] += 0.2
    m = smoothed(NU, y, [0.86], falling=True, level_beyond=(0.86, 1.0))
    others = np.flatnonzero((NU < 0.86) & (np.arange(NU.size) != 8))
    assert np.abs(m - TRUE)[others].max() < 0.03


def test_scatter_is_estimated_from_the_points_alone():
    """For white noise of a known deviation, within what twenty points can tell."""
    x = np.linspace(0, 1, 200)
    y = 2 - x**2 + np.random.default_rng(0).normal(0, 0.01, x.size)
    assert scatter(x, y) == pytest.approx(0.01, rel=0.25)
    assert scatter(x, 2 - x**2) < 1e-6


def sheet():
    k = 1000 / np.sqrt(250 - 60 * NU**2)
    k = np.where(NU > 0.86, k[NU == 0.86][0] * (0.14 / (1 - NU)) ** 0.45, k)
    k = k * (1 + np.random.default_rng(3).normal(0, 0.004, NU.size))
    rows = zip(NU, noisy(2, 0.006), k, strict=True)
    return "speed ratio;torque ratio;K [rpm/sqrt(N.m)]\n" + "".join(
        f"{a:.2f};{b:.3f};{c:.2f}\n" for a, b, c in rows
    )


def test_smoothed_file_keeps_the_points_as_they_came(tmp_path):
    draft = intake_text(sheet(), stator="one-way", coupling_speed_ratio="0.86")
    draft = draft.answered(confirm=[problem.key for problem in draft.open])
    plain = draft.accept()
    smooth = draft.answered(smooth=True)
    assert "moved" in smooth.text()
    smooth.write(tmp_path / "smooth.toml")
    converter = read_component(tmp_path / "smooth.toml")
    assert converter.coupling == plain.coupling == 0.86
    assert np.any(converter.torque_ratio != plain.torque_ratio)
    assert np.all(np.diff(converter.torque_ratio) <= 0)
    assert "smoothed" in {note.code for note in converter.notes}
    import tomllib

    kept = tomllib.loads((tmp_path / "smooth.toml").read_text(encoding="utf-8"))["unsmoothed"]
    assert [table["column"] for table in kept] == ["torque ratio", "K [rpm/sqrt(N.m)]"]
    np.testing.assert_array_equal(kept[0]["values"], plain.torque_ratio)
    np.testing.assert_array_equal(kept[0]["positions"], plain.speed_ratio)
    assert len(converter.speed_ratio) == len(plain.speed_ratio)


def test_engine_is_smoothed_on_each_side_of_rated_speed():
    rpm = np.arange(800, 2401, 100)
    torque = np.where(rpm <= 2200, 780 - 150 * ((rpm - 1400) / 800) ** 2, 630 - 3.0 * (rpm - 2200))
    torque = torque + np.random.default_rng(5).normal(0, 4, rpm.size)
    text = "rpm;torque [N.m]\n" + "".join(
        f"{a};{b:.1f}\n" for a, b in zip(rpm, torque, strict=True)
    )
    draft = intake_text(text, rating_basis="gross", governing="speed", low_idle="750 rpm",
                        rated_speed="2200 rpm", high_idle="2420 rpm", smooth=True)  # fmt: skip
    draft = draft.answered(confirm=[problem.key for problem in draft.open])
    before, after = draft.residuals["torque"]
    assert 0 < np.abs(after - before).max() < 20
    assert draft.accept().torque.size == rpm.size
