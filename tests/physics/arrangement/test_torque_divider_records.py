"""What is carried over to the combined converter, and on which rows it is tabulated."""

import numpy as np
import pytest

from converter_match.components.arrangement import TorqueDivider
from converter_match.components.converter import ConverterLimits
from converter_match.components.planetary import CLASSIC, Connection, Planetary
from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.arrangement.torque_divider import (
    combine,
    combined_converter,
    impeller_points,
    inner_speed_ratio,
    power_split,
    reaching,
    stall_speed_ratio,
)
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from tests.examples import converter, engine, full_range

# Willis coefficients with k = 2.5: sun 1, ring 2.5, carrier -3.5. Here the impeller turns at
# s = 3.5 / (1 + 2.5 nu) times engine speed, and the engine gives 3.5 times the impeller's torque.
OUTPUT_SPLIT = Connection.parse("engine -> carrier, impeller -> sun, turbine-and-output -> ring")
# The output would have to turn faster than the turbine for the gears to be driven forwards: power
# goes round. s = -1 / (k - (1 + k) nu).
CIRCULATING = Connection.parse("engine -> sun, impeller -> ring, turbine-and-output -> carrier")


def divider(k=2.5, connection=CLASSIC):
    return TorqueDivider(planetary=Planetary(ratio=k), connection=connection)


def laden(**changes):
    """The converter with everything known that could be carried over."""
    return full_range().replace(
        kinks=(-0.4, 0.4),
        limits=ConverterLimits(
            input_torque=900.0, input_speed=250.0, input_power=150e3, oil_temperature=390.0
        ),
        impeller_inertia=0.4,
        turbine_inertia=0.2,
        given_notes=(assumption("of-the-converter", "Something assumed before."),),
        **changes,
    )


def fixed():
    return converter(
        stator="fixed",
        speed_ratio=[-0.5, 0, 0.2, 0.4, 0.6, 0.76, 0.8, 0.9, 1.0],
        torque_ratio=[3.4, 3.2, 2.5, 1.93, 1.4, 1.0, 0.9, 0.66, 0.42],
        capacity=[0.0262, 0.026, 0.0255, 0.0245, 0.023, 0.0212, 0.0205, 0.0185, 0.016],
        coupling_speed_ratio=None,
    )


def test_input_split_keeps_what_belongs_to_the_impeller_on_the_engine_shaft():
    whole = combined_converter(laden(), divider())
    assert whole.id == "test-converter+divider"
    assert whole.name == "Test converter, with torque divider"
    assert whole.source == laden().source
    # The impeller is on the engine shaft: its highest speed and its inertia are met there.
    assert whole.limits == ConverterLimits(input_speed=250.0, oil_temperature=390.0)
    assert whole.impeller_inertia == 0.4
    assert whole.turbine_inertia is None
    assert whole.profile_diameter is None
    assert [(note.code, note.kind) for note in whole.given_notes] == [
        ("of-the-converter", "assumption"),
        ("torque-divider", "assumption"),
    ]
    assert "ring/sun = 2.5 " in whole.given_notes[-1].message


def test_output_split_turns_the_impeller_at_another_speed_and_keeps_less():
    whole = combined_converter(laden(), divider(connection=OUTPUT_SPLIT))
    assert whole.limits == ConverterLimits(oil_temperature=390.0)
    assert whole.impeller_inertia is None
    assert whole.turbine_inertia is None


def test_corners_come_along_on_the_output_scale():
    # SR = (1 + 2.5 nu) / 3.5; output stall at nu = -0.4 is a row like any other there.
    whole = combined_converter(laden(), divider())
    assert whole.kinks == pytest.approx((0.0, 2.0 / 3.5), rel=1e-12)
    assert whole.coupling_speed_ratio == pytest.approx((1 + 2.5 * 0.86) / 3.5, rel=1e-12)


def test_corners_beyond_the_usable_stretch_are_dropped():
    # SR = 3.5 nu / (1 + 2.5 nu) falls to -1 at nu = -1/6, so that the corner at -0.4 is out and the
    # first row is the multiple of 0.005 above.
    whole = combined_converter(laden(), divider(connection=OUTPUT_SPLIT))
    assert whole.kinks == pytest.approx((3.5 * 0.4 / 2.0,), rel=1e-12)
    assert whole.domain[0] == pytest.approx(3.5 * -0.165 / (1 - 2.5 * 0.165), rel=1e-9)
    inner = inner_speed_ratio(divider(connection=OUTPUT_SPLIT), whole.speed_ratio)
    assert inner == pytest.approx(np.arange(-33, 199) * 0.005, abs=1e-12)


def test_fixed_stator_stays_fixed_and_states_no_coupling_point():
    whole = combined_converter(fixed(), divider())
    assert whole.stator == "fixed"
    assert whole.coupling_speed_ratio is None
    assert whole.kinks == ()
    assert whole.coupling == pytest.approx((1 + 2.5 * 0.76) / 3.5, abs=1e-4)


def test_rows_are_the_given_ones_and_multiples_of_the_step_not_next_to_them():
    # A row 0.0003 from a multiple of 0.005 replaces it, one 0.0006 away stands beside it; an end
    # between multiples is a row too.
    base = full_range()
    nu = np.concatenate([[-0.698], base.speed_ratio[1:]])
    nu[nu == 0.8] = 0.8003
    nu[nu == 0.6] = 0.6006
    nu[-1] = 0.9917
    unit = base.replace(speed_ratio=nu)
    inner = inner_speed_ratio(divider(), combined_converter(unit, divider()).speed_ratio)
    fine = np.arange(-139, 199) * 0.005
    fine = fine[np.abs(fine - 0.8) > 1e-9]
    expected = np.unique(np.round(np.concatenate([fine, [-0.698, 0.8003, 0.6006, 0.9917]]), 9))
    assert inner.size == expected.size
    assert inner == pytest.approx(expected, abs=1e-12)


def test_row_next_to_output_stall_gives_way_to_it():
    # Output stall at nu = -1/k: with k = 2e5 half a step of the given row 0 and taken instead.
    gears = divider(2e5)
    inner = inner_speed_ratio(gears, combined_converter(full_range(), gears).speed_ratio)
    assert np.abs(inner).min() == pytest.approx(5e-6, rel=1e-6)
    gears = divider(5e4)
    inner = inner_speed_ratio(gears, combined_converter(full_range(), gears).speed_ratio)
    assert np.abs(inner).min() == pytest.approx(0.0, abs=1e-9)


def test_last_row_in_overrun_is_the_last_before_the_pole():
    # s = 1 / ((1 + k) - k nu), pole at 5.03 / 4.03 = 1.2481: the last multiple below is 1.245.
    base = converter()
    unit = base.replace(
        speed_ratio=[*base.speed_ratio, 1.0, 1.1, 1.3],
        torque_ratio=[*base.torque_ratio, 1.0, 1.0, 1.0],
        capacity=[*base.capacity, 0.0, -0.002, -0.005],
    )
    connection = Connection.parse("engine -> sun, impeller -> carrier, turbine-and-output -> ring")
    whole = combined_converter(unit, divider(4.03, connection))
    assert whole.domain[1] == pytest.approx(1.245 / (5.03 - 4.03 * 1.245), rel=1e-9)


def test_output_split_by_hand():
    nu = np.array([0.0, 0.2, 0.4])
    mu, c = np.array([2.2, 1.95, 1.7]), np.asarray(converter().capacity_at(nu))
    rows = combine(converter(), divider(connection=OUTPUT_SPLIT), nu)
    s = 3.5 / (1 + 2.5 * nu)
    assert rows.speed_ratio == pytest.approx(nu)
    assert rows.impeller_ratio == pytest.approx(s, rel=1e-12)
    assert rows.output_ratio == pytest.approx(nu * s, rel=1e-12)
    assert rows.capacity == pytest.approx(3.5 * c * s**2, rel=1e-12)
    # Torque on the output: mu from the turbine and 2.5 from the ring, per unit of impeller torque.
    assert rows.torque_ratio == pytest.approx((mu + 2.5) / 3.5, rel=1e-12)
    assert rows.mechanical_share == pytest.approx(2.5 / (mu + 2.5), rel=1e-12)
    assert stall_speed_ratio(divider(connection=OUTPUT_SPLIT)) == 0.0
    assert stall_speed_ratio(divider()) == pytest.approx(-0.4)


def test_impeller_points_follow_from_gears_in_an_output_split():
    gears = divider(connection=OUTPUT_SPLIT)
    # The impeller turns 3.5 times as fast as the engine: a small one will do.
    small = converter(capacity=converter().capacity / 40)
    whole = combined_converter(small, gears)
    output = np.array([0.0, 0.5, 0.8])
    points = match(engine_supply(engine()), whole, output).from_idle()
    assert points.found.all()
    speed, torque = impeller_points(small, gears, points)
    # SR = 3.5 nu / (1 + 2.5 nu) inverted, and s at that nu; torque by the ratio of the gears.
    nu = output / (3.5 - 2.5 * output)
    assert speed == pytest.approx(3.5 / (1 + 2.5 * nu) * points.engine_speed, rel=1e-12)
    assert torque == pytest.approx(points.input_torque / 3.5, rel=2e-4)


def test_power_of_each_path_by_hand_in_the_classic_connection():
    omega, nu = 150.0, np.array([-0.2, 0.4])
    mu, c = np.array([2.38, 1.7]), np.asarray(full_range().capacity_at(nu))
    split = power_split(full_range(), divider(), nu, omega)
    into = c * omega**3
    # The ring carries mu T, the sun mu T / k, at engine speed.
    assert split.hydraulic_in == pytest.approx(into, rel=1e-12)
    assert split.hydraulic_out == pytest.approx(nu * mu * into, rel=1e-12)
    assert split.mechanical == pytest.approx(mu / 2.5 * into, rel=1e-12)
    assert split.engine == pytest.approx((1 + mu / 2.5) * into, rel=1e-12)
    assert split.output == pytest.approx(split.mechanical + split.hydraulic_out, rel=1e-12)
    assert split.heat == pytest.approx((1 - nu * mu) * into, rel=1e-12)
    assert split.circulating == pytest.approx([0.2 * 2.38 * into[0], 0.0], rel=1e-12)


def test_power_that_goes_round_is_counted():
    omega, nu = 100.0, 0.8
    # k = 1.5: s = 1 / (2.5 nu - 1.5) = 2, output at 1.6 times engine speed. The carrier takes 2.5 /
    # 1.5 of the impeller's torque from the output shaft.
    split = power_split(converter(), divider(1.5, CIRCULATING), nu, omega)
    torque = float(converter().capacity_at(nu)) * (2 * omega) ** 2
    back = 2.5 / 1.5 * torque * 1.6 * omega
    assert float(split.hydraulic_in) == pytest.approx(torque * 200.0, rel=1e-12)
    assert float(split.mechanical) == pytest.approx(-back, rel=1e-12)
    assert float(split.circulating) == pytest.approx(back, rel=1e-12)
    assert float(split.hydraulic_out) == pytest.approx(1.12 * torque * 160.0, rel=1e-12)
    assert float(split.output) == pytest.approx(1.12 * torque * 160.0 - back, rel=1e-12)
    # The sun turns against its torque: 1 / 1.5 of the impeller's, and the engine is driven.
    assert float(split.engine) == pytest.approx(-torque / 1.5 * omega, rel=1e-12)


def test_power_split_takes_one_engine_speed_for_each_speed_ratio_and_none_at_all():
    both = power_split(full_range(), divider(), [0.0, 0.4], [100.0, 200.0])
    single = power_split(full_range(), divider(), 0.4, 200.0)
    assert both.engine.shape == (2,)
    assert both.engine[1] == float(single.engine)
    assert power_split(full_range(), divider(), [], 100.0).engine.shape == (0,)


def test_power_split_may_hold_the_stall_values_for_a_turbine_driven_backwards():
    split = power_split(converter(), divider(), [-0.3, 0.4], 100.0, assume_negative=True)
    torque = float(converter().capacity_at(0.0)) * 100.0**2
    assert split.hydraulic_in[0] == pytest.approx(torque * 100.0, rel=1e-12)
    assert split.hydraulic_out[0] == pytest.approx(-0.3 * 2.2 * torque * 100.0, rel=1e-12)


def test_impeller_turned_backwards_is_refused_with_the_usual_connection():
    with pytest.raises(InputError, match="turns the impeller backwards") as caught:
        power_split(converter(), divider(1.5, CIRCULATING), 0.5, 100.0)
    assert caught.value.field == "torque_divider.connection"
    assert caught.value.found == str(CIRCULATING)
    assert "the usual one is" in caught.value.hint


@pytest.mark.parametrize(
    "connection",
    [
        Connection.parse("engine-and-impeller -> carrier, turbine -> ring, output -> sun"),
        CIRCULATING,
    ],
)
def test_refused_connection_is_named_with_the_usual_one(connection):
    with pytest.raises(InputError, match="cannot drive a machine") as caught:
        combined_converter(full_range(), divider(1.5, connection))
    assert caught.value.field == "torque_divider.connection"
    assert caught.value.found == str(connection)
    assert "the usual one is" in caught.value.hint


def test_data_that_reach_are_left_alone():
    unit = full_range()
    assert reaching(unit, -0.7, assume_negative=False) is unit
    with pytest.raises(InputError, match="driven backwards further") as caught:
        reaching(unit, float(np.nextafter(-0.7, -1)), assume_negative=False)
    assert (caught.value.source, caught.value.field) == ("test-converter", "speed_ratio")
    assert caught.value.found == "data from -0.7"


def test_assumed_backward_data_hold_the_last_row_and_leave_the_rest():
    unit = converter(
        kinks=(0.4,), given_notes=(assumption("of-the-converter", "Something assumed before."),)
    )
    found = reaching(unit, -0.5, assume_negative=True)
    assert found.speed_ratio.tolist() == [-0.5, *unit.speed_ratio]
    assert found.torque_ratio.tolist() == [2.2, *unit.torque_ratio]
    assert found.capacity.tolist() == [unit.capacity[0], *unit.capacity]
    # Between the assumed row and the first measured one nothing curves: the corner stands there.
    assert found.kinks == (0.0, 0.4)
    assert float(found.capacity_at(-0.25)) == unit.capacity[0]
    assert found.coupling_speed_ratio == 0.86
    assert [note.code for note in found.given_notes] == [
        "of-the-converter",
        "negative-speed-ratio-assumed",
    ]
    assert found.given_notes[-1].kind == "assumption"


def test_coupling_point_found_in_the_data_stays_where_it_was():
    unit = converter(coupling_speed_ratio=None)
    found = reaching(unit, -0.5, assume_negative=True)
    assert found.coupling_speed_ratio == unit.coupling
    codes = [note.code for note in found.notes]
    assert len(codes) == len(set(codes)) == len(unit.notes) + 1
    held = fixed().replace(
        speed_ratio=fixed().speed_ratio[1:],
        torque_ratio=fixed().torque_ratio[1:],
        capacity=fixed().capacity[1:],
    )
    assert reaching(held, -0.5, assume_negative=True).coupling_speed_ratio is None


def test_nothing_is_assumed_below_data_that_do_not_include_stall():
    late = converter(
        speed_ratio=[0.2, 0.86, 0.95], torque_ratio=[2, 1, 1], capacity=[0.02, 0.013, 0.005]
    )
    with pytest.raises(InputError, match="does not include stall"):
        reaching(late, -0.1, assume_negative=True)


@pytest.mark.parametrize("connection", [CLASSIC, OUTPUT_SPLIT], ids=["input-split", "output-split"])
def test_corners_of_the_characteristic_stay_corners_at_their_own_speed_ratio(connection):
    gears = divider(connection=connection)
    inside = full_range().replace(kinks=(0.4,))
    whole = combined_converter(inside, gears)
    assert len(whole.kinks) == 1
    assert float(inner_speed_ratio(gears, whole.kinks[0])) == pytest.approx(0.4, abs=1e-9)
