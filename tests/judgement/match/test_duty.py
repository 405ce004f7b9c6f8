"""A duty as a weighted table, against sums by hand and against single matches."""

import numpy as np
import pytest

from converter_match.components.duty_points import DutyPoints
from converter_match.components.engine import Fuel, SpeedTable
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.match.duty import over_duty
from converter_match.judgement.match.solve import solve
from converter_match.library.duty_csv import read_duty
from converter_match.library.study_file import read_study
from tests.examples import RPM, converter, engine
from tests.study_examples import combination, flat_engine, study, study_file

NAN = float("nan")


def duty(**changes):
    fields = {
        "id": "day",
        "name": "A day",
        "source": "round numbers for a test",
        "label": ("stall", "work", "travel"),
        "share": [0.2, 0.3, 0.5],
        "speed_ratio": [0.0, 0.5, 0.8],
        "turbine_speed": [NAN, NAN, NAN],
    }
    return DutyPoints(**(fields | changes))


def straight():
    """Torque ratio 2 - nu and constant capacity: a flat engine stays at one speed."""
    nu = np.linspace(0.0, 0.9, 10)
    return converter(speed_ratio=nu, torque_ratio=2.0 - nu, capacity=np.full(10, 0.02),
                     coupling_speed_ratio=None)  # fmt: skip


def burning(specific=220.0 / 3.6e9):
    speed = np.array([800, 1500, 2200]) * RPM
    table = SpeedTable(speed=speed, value=[specific] * 3, name="fuel")
    return flat_engine(800.0, fuel=Fuel(specific=table))


def test_means_over_the_duty_of_a_flat_engine_are_the_sums_by_hand():
    # omega = sqrt(T / C) at every point; eta = nu (2 - nu).
    done = over_duty(solve(burning(), straight()), duty())
    power = 800.0 * np.sqrt(800.0 / 0.02)
    eta = 0.3 * 0.5 * 1.5 + 0.5 * 0.8 * 1.2
    assert done.mean_efficiency == pytest.approx(eta, rel=1e-9)
    assert done.work_efficiency == pytest.approx(eta, rel=1e-9)  # the same power goes in everywhere
    assert done.mean_output_power == pytest.approx(power * eta, rel=1e-9)
    assert done.mean_heat == pytest.approx(power * (1.0 - eta), rel=1e-9)
    # The fuel line is tabulated at 60 speeds.
    assert done.mean_fuel == pytest.approx(power * 220.0 / 3.6e9, rel=1e-6)
    assert done.mean_specific_fuel == pytest.approx(220.0 / 3.6e9 / eta, rel=1e-6)


def test_time_and_work_are_not_averaged_alike_where_the_power_differs():
    # Pumps take half of the torque at stall: omega goes with its root, the power with T^1.5.
    taken = [400.0, 0.0, 0.0]
    done = over_duty(solve(burning(), straight()), duty(pump_torque=taken))
    put_in = np.array([0.5**1.5, 1.0, 1.0]) * [0.2, 0.3, 0.5]
    eta = np.array([0.0, 0.75, 0.96])
    assert done.work_efficiency == pytest.approx(put_in @ eta / put_in.sum(), rel=1e-9)
    assert done.mean_efficiency == pytest.approx(0.3 * 0.75 + 0.5 * 0.96, rel=1e-9)


def test_turbine_speed_and_speed_ratio_name_the_same_points():
    match = solve(engine(), converter())
    by_ratio = over_duty(match, duty())
    speeds = by_ratio.run.points.turbine_speed
    by_speed = over_duty(match, duty(speed_ratio=[NAN] * 3, turbine_speed=speeds))
    assert by_speed.mean_output_power == pytest.approx(by_ratio.mean_output_power, rel=1e-9)
    assert by_speed.mean_heat == pytest.approx(by_ratio.mean_heat, rel=1e-9)


def test_pump_torque_of_the_table_stands_in_place_of_that_of_the_match_and_in_its_air():
    site = Site.at("3000 m", "30 degC")
    match = solve(engine(), converter(), site=site, hydraulic_torque=70.0)
    points = duty(pump_torque=[0.0, 120.0, 40.0])
    done = over_duty(match, points).run.points.engine_speed
    for row, (torque, nu) in enumerate(zip([0.0, 120.0, 40.0], [0.0, 0.5, 0.8], strict=True)):
        alone = solve(engine(), converter(), site=site, hydraulic_torque=torque)
        rows = alone.locus.from_idle()
        expected = np.interp(nu, rows.speed_ratio, rows.engine_speed)
        assert done[row] == pytest.approx(expected, rel=1e-9)
    # A table that says nothing of pumps leaves those of the match, and says so.
    silent = over_duty(match, duty())
    assert silent.run.points.engine_speed[0] == pytest.approx(match.stall.engine_speed)
    assert "duty-without-pumps" in {note.code for note in silent.notes}
    assert "duty-without-pumps" not in {note.code for note in over_duty(match, points).notes}


@pytest.mark.parametrize(("changes", "code"), [
    ({"speed_ratio": [0.0, 0.5, 0.999]}, "duty-beyond-data"),
    ({"speed_ratio": [0.0, 0.5, NAN], "turbine_speed": [NAN, NAN, 2600 * RPM]}, "duty-too-fast"),
    ({"pump_torque": [900.0, 0.0, 0.0]}, "duty-no-match"),
])  # fmt: skip
def test_point_that_the_pair_cannot_run_is_named_and_no_mean_is_given(changes, code):
    done = over_duty(solve(engine(), converter()), duty(**changes))
    [note] = [note for note in done.notes if note.kind == "limit"]
    assert note.code == code
    assert dict(note.values)["point"] in duty().label
    plain = done.to_dict()["duty"]
    for key in plain:
        assert not key.startswith("mean_") or plain[key] is None
    assert len(plain["points"]) == 3
    assert [row["runs"] for row in plain["points"]].count(False) == 1
    assert done.fails


def test_point_that_takes_no_time_does_not_stop_the_means():
    points = duty(share=[0.4, 0.6, 0.0], speed_ratio=[0.0, 0.5, 0.999])
    done = over_duty(solve(engine(), converter()), points)
    assert done.mean_output_power > 0.0
    assert not done.fails


def test_without_fuel_data_the_fuel_is_not_known_and_the_rest_is():
    done = over_duty(solve(engine(), converter()), duty())
    assert done.mean_fuel is None
    assert done.mean_heat > 0.0
    assert "not known" in done.text()


@pytest.mark.parametrize(("changes", "word"), [
    ({"share": [0.2, 0.3, 0.4]}, "do not add up to one"),
    ({"share": [20.0, 30.0, 50.0]}, "do not add up to one"),
    ({"share": [-0.5, 1.0, 0.5]}, r"share \(row 1\)"),
    ({"turbine_speed": [NAN, 100.0, NAN]}, "both"),
    ({"speed_ratio": [NAN, 0.5, 0.8]}, "neither"),
    ({"pump_torque": [0.0, -5.0, 0.0]}, r"pump_torque \(row 2\)"),
    ({"speed_ratio": [-0.2, 0.5, 0.8]}, r"speed_ratio \(row 1\)"),
    ({"label": ("one",)}, "not one value for each point"),
])  # fmt: skip
def test_duty_that_is_none_is_refused(changes, word):
    with pytest.raises(InputError, match=word):
        duty(**changes)


def test_thirds_that_were_rounded_are_shared_out():
    assert duty(share=[0.333, 0.333, 0.333]).share.tolist() == pytest.approx([1 / 3] * 3)


def test_duty_file_may_have_its_units_in_a_line_and_errors_name_the_line(tmp_path):
    path = tmp_path / "day.csv"
    head = "# name: Two points\nturbine speed,pump torque,share\nrpm,lbf.ft,%\n"
    path.write_text(head + "0,10,40\n900,,60\n", encoding="utf-8")
    read = read_duty(path)
    assert read.name == "Two points"
    assert read.share.tolist() == [0.4, 0.6]
    assert read.turbine_speed[1] == pytest.approx(900 * RPM)
    assert read.pump_torque.tolist() == pytest.approx([13.558, 0.0], rel=1e-4)
    path.write_text(head + "0,10,40\n-900,,60\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"day\.csv: line 5, turbine speed: out of range"):
        read_duty(path)


def test_study_compares_means_over_the_duty_and_over_the_working_range():
    own = study(combination(engine=burning(), converter=straight()))
    result = run_study(own.replace(duty=own.duty.replace(points=duty())))
    figures = {item.key: item for item in result.comparison.figures}
    match = solve(burning(), straight())
    done = over_duty(match, duty())
    assert figures["duty_mean_output_power"]["new"] == pytest.approx(done.mean_output_power)
    assert figures["duty_mean_heat"]["new"] == pytest.approx(done.mean_heat)
    assert figures["duty_mean_heat"].better == -1
    for item in match.indices:
        level = f"{100 * item.level:.0f}"
        assert figures[f"mean_output_power_{level}"]["new"] == item.mean_output_power
        assert figures[f"mean_efficiency_{level}"]["new"] == item.mean_efficiency
        assert figures[f"span_{level}"]["new"] == item.span
        assert figures[f"mean_specific_fuel_{level}"]["new"] == item.mean_specific_fuel
    assert figures["mean_specific_fuel_75"]["present"] is None  # no fuel data there


def test_study_names_the_point_that_a_combination_cannot_run():
    own = study()
    fast = duty(speed_ratio=[0.0, 0.5, 0.999])
    result = run_study(own.replace(duty=own.duty.replace(points=fast)))
    assert not [item for item in result.comparison.figures if item.key.startswith("duty")]
    codes = {note.code for items in result.outcomes for item in items for note in item.notes}
    assert "duty-beyond-data" in codes


def test_study_file_names_its_duty_and_what_is_wrong_in_it(tmp_path):
    line = ("[duty]\n", '[duty]\npoints = "loader-loading-shift"\n')
    read = read_study(study_file(tmp_path, line))
    assert read.duty.points.label[0] == "crowding at stall"
    assert [item.path for item in read.inputs if item.role == "duty.points"] == [
        "loader-loading-shift"
    ]
    (tmp_path / "mine.csv").write_text("speed ratio [1],share [%]\n0,50\n", encoding="utf-8")
    with pytest.raises(InputError, match="do not add up to one") as caught:
        read_study(study_file(tmp_path, ("[duty]\n", '[duty]\npoints = "mine.csv"\n')))
    assert "duty.points" in str(caught.value)
