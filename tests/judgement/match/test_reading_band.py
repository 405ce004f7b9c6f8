"""A converter read within a band: least and most against matches found by hand, all over it."""

import numpy as np
import pytest
from scipy.optimize import brentq

from converter_match.components.converter_read import with_reading_band
from converter_match.components.reading_band import ReadingBand
from converter_match.errors import InputError
from converter_match.judgement.arrangement.characteristic import arranged_converter
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.size import with_capacity_factor
from converter_match.judgement.verdict.measure import Verdict
from converter_match.library.read import read_arrangement, read_converter
from converter_match.library.shipped import shipped
from converter_match.library.write import component_text, write_component
from converter_match.study.reading_bands import with_reading_bands
from converter_match.study.study import Tolerance
from tests.examples import RPM, converter, engine
from tests.study_examples import combination

ROWS = 8
RATIO = (0.02, 0.015, 0.02, 0.01, 0.02, 0.0, 0.0, 0.0)
CAPACITY = (0.04, 0.03, 0.05, 0.04, 0.04, 0.05, 0.08, 0.2)


def banded(ratio=RATIO, capacity=CAPACITY, **changes):
    return with_reading_band(
        converter(**changes), ReadingBand(torque_ratio=ratio, capacity=capacity)
    )


def stall_by_hand(motor, capacity):
    """T(omega) = C omega^2, straight lines between the rows of the engine; no solver of ours."""
    bare = motor.speed, motor.torque
    fall = lambda omega: float(np.interp(omega, *bare)) - capacity * omega**2  # noqa: E731
    return brentq(fall, motor.speed[0], motor.speed[-1], xtol=1e-10)


def test_the_band_of_the_stall_speed_holds_every_stall_within_the_band_and_no_more():
    motor = engine(accessories=())
    result = solve(motor, banded())
    low, high = result.stall_band
    rng = np.random.default_rng(1)
    stall = converter().capacity[0]
    found = [
        stall_by_hand(motor, stall * (1.0 + share))
        for share in [-CAPACITY[0], CAPACITY[0], *rng.uniform(-CAPACITY[0], CAPACITY[0], 200)]
    ]
    # The engine's curve is smooth between its rows, by hand it is straight: half a per cent.
    assert low == pytest.approx(min(found), rel=5e-3)
    assert high == pytest.approx(max(found), rel=5e-3)
    assert "stall speed over the reading band" in result.text()


@pytest.mark.slow
def test_converters_drawn_within_the_band_stay_within_least_and_most():
    motor = engine()
    plain, result = converter(), solve(motor, banded())
    [block] = [item for item in result.blocks() if item.name == "estimate" and item.title]
    rows = {row["code"]: row for row in block.records()}
    assert "read within a band" in block.title
    rng = np.random.default_rng(2)
    keys = {
        "engine_speed_rpm": ("engine_speed", RPM),
        "input_torque_nm": ("input_torque", 1.0),
        "turbine_torque_nm": ("turbine_torque", 1.0),
        "output_power_kw": ("output_power", 1e3),
    }
    worst = dict.fromkeys(keys, 0.0)
    for _ in range(60):
        drawn = plain.replace(
            torque_ratio=plain.torque_ratio * (1 + rng.uniform(-1, 1, ROWS) * RATIO),
            capacity=plain.capacity * (1 + rng.uniform(-1, 1, ROWS) * CAPACITY),
        )
        found = solve(motor, drawn)
        for code in ("stall", "coupling"):
            for key, (name, unit) in keys.items():
                low, high = rows[code][key]
                value = getattr(getattr(found, code), name) / unit
                slack = 1e-3 * abs(high)
                assert low - slack <= value <= high + slack
                worst[key] = max(worst[key], (value - low) / (high - low) if high > low else 0.0)
    assert all(reach > 0.5 for reach in worst.values())  # not wider than it has to be


def test_both_bands_of_engine_and_converter_count_at_stall():
    motor = engine(accessories=(), torque_band=0.03)
    low, high = solve(motor, banded()).stall_band
    alone = solve(motor, converter()).stall_band
    assert low < alone[0]
    assert high > alone[1]


def test_a_torque_ratio_stays_one_beyond_the_coupling_point_and_gives_no_energy():
    unit = banded(ratio=(0.3,) * ROWS)
    for other in (unit, *unit.alternatives):
        assert np.all(other.torque_ratio[5:] == 1.0)
        assert np.all(other.efficiency_at(np.linspace(0, 0.99, 200)) <= 1.0)
    least, most = unit.band([0.0])["torque_ratio"]
    assert least[0] == pytest.approx(2.2 * 0.7)
    assert most[0] == pytest.approx(2.2 * 1.3)


def test_a_file_keeps_the_band_and_takes_one_number_for_all_rows(tmp_path):
    unit = banded()
    path = tmp_path / "unit.toml"
    write_component(unit, path)
    assert read_converter(path) == unit
    assert component_text(read_converter(path)) == path.read_text(encoding="utf-8")
    rows = path.read_text(encoding="utf-8").splitlines()
    told = [line for line in rows if not line.startswith(("torque_ratio_band", "capacity_band"))]
    at = told.index("[characteristic]") + 1
    path.write_text("\n".join([*told[:at], "capacity_band = [0.05]", *told[at:]]), encoding="utf-8")
    assert read_converter(path).reading_band == ReadingBand(
        torque_ratio=(0.0,) * ROWS, capacity=(0.05,) * ROWS
    )
    for wrong, message in (("[0.05, 0.04]", "one share a row"), ("[1.5]", "out of range")):
        text = "\n".join([*told[:at], f"capacity_band = {wrong}", *told[at:]])
        path.write_text(text, encoding="utf-8")
        with pytest.raises(InputError, match=message) as refused:
            read_converter(path)
        assert "capacity_band" in str(refused.value)


def test_a_scaled_converter_keeps_what_it_may_be():
    scaled = banded().scaled(profile_diameter=0.36)
    assert scaled.banded
    assert not scaled.estimated
    # Similarity multiplies the capacity; shares of it stay.
    spread = [item.capacity[0] / scaled.capacity[0] for item in scaled.alternatives]
    assert sorted(set(np.round(spread, 9))) == [0.96, 1.04]


def test_a_scaled_converter_can_be_written_and_reads_back_with_its_band(tmp_path):
    unit = banded(oil_density=850.0)
    for scaled in (unit.scaled(profile_diameter=0.36), unit.scaled(oil_density=830.0)):
        path = tmp_path / f"{scaled.profile_diameter:.3f}-{scaled.oil_density:.0f}.toml"
        write_component(scaled, path)
        back = read_converter(path)
        assert back.reading_band == unit.reading_band
        np.testing.assert_array_equal(back.capacity, scaled.capacity)
        assert {note.code for note in back.notes} == {note.code for note in scaled.notes}


def test_a_torque_divider_leaves_a_band_and_draws_as_wide():
    # By the gears alone: C' = C (1 + mu a_e / a_h), TR = -a_o mu / (a_h + a_e mu), sun 1, ring k.
    arrangement = read_arrangement(shipped("arrangements")["dozer-torque-divider"])
    unit = banded(capacity=(0.04,) * ROWS)
    whole = arranged_converter(unit, arrangement).whole
    k = arrangement.torque_divider.planetary.ratio
    row = int(np.argmin(np.abs(whole.speed_ratio - 1.0 / (1.0 + k))))  # where nu = 0: SR = 1/(1+k)
    assert whole.speed_ratio[row] == pytest.approx(1.0 / (1.0 + k))
    inner = [2.2 * (1.0 - RATIO[0]), 2.2, 2.2 * (1.0 + RATIO[0])]
    ratio = [(1.0 + k) * mu / (k + mu) for mu in inner]
    load = [(1.0 + mu / k) * c for mu, c in zip(inner, (0.96, 1.0, 1.04), strict=True)]
    for values, shares in ((ratio, "torque_ratio"), (load, "capacity")):
        worst = max(values[2] / values[1] - 1.0, 1.0 - values[0] / values[1])
        assert getattr(whole.reading_band, shares)[row] == pytest.approx(worst, rel=1e-6)
    narrow = (Tolerance(quantity="k-factor", half_width=0.01),)
    [_, wide, *_] = with_reading_bands(narrow, [combination("new", converter=whole)], ())
    assert wide.half_width > 0.02
    with pytest.raises(InputError, match="changed since"):
        component_text(whole)


@pytest.mark.parametrize("diameter", [0.345, None])
def test_another_size_keeps_the_band_and_can_be_written(tmp_path, diameter):
    unit = banded(profile_diameter=diameter)
    sized = with_capacity_factor(unit, 1.2)
    assert sized.banded
    assert sized.reading_band == unit.reading_band
    path = tmp_path / "sized.toml"
    write_component(sized, path)
    assert read_converter(path) == sized
    low, high = sized.band([0.0])["capacity"]
    stall = 1.2 * converter().capacity[0]
    assert (low[0], high[0]) == pytest.approx((0.96 * stall, 1.04 * stall))


@pytest.mark.slow
def test_a_criterion_that_the_band_lies_across_is_not_known_and_asks_for_a_closer_reading():
    from tests.judgement.verdict.test_estimated import asked, finding
    from tests.study_examples import PRESENT

    kept = asked("tractive-effort-kept", least=1.0, margin=0.0)
    today = combination(PRESENT, converter=converter(id="today"))
    result, found = finding(kept, combination(converter=banded()), today)
    assert found.verdict is Verdict.NOT_KNOWN
    assert any("closer reading" in what and "test-converter" in what for what in found.missing)
    assert result.estimated == ()  # rows that were read are data
    _, far = finding(
        asked("tractive-effort-kept", least=0.8, margin=0.0), combination(converter=banded()), today
    )
    assert far.verdict is Verdict.PASS


def test_draws_are_no_narrower_than_the_band():
    own = combination("new", converter=banded())
    narrow = (Tolerance(quantity="k-factor", half_width=0.01),)
    rows = with_reading_bands(narrow, [own], ())
    by_quantity = {(row.quantity, row.of): row for row in rows}
    # K = omega / sqrt(T): half the share of the capacity, where that is not nearly nothing.
    assert by_quantity["k-factor", own.converter.id].half_width == pytest.approx(0.025)
    assert by_quantity["torque-ratio", own.converter.id].half_width == pytest.approx(0.02)
    assert with_reading_bands(rows, [own], ()) == rows
    wide = (Tolerance(quantity="k-factor", half_width=0.1),)
    assert with_reading_bands(wide, [own], ())[0] == wide[0]
    assert with_reading_bands((), [own], ()) == ()
