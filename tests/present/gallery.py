"""One of everything that is drawn, made once: results of the demo data, and how they are drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.cli.tests_kept import drift_in
from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.load import FlowMachine
from converter_match.components.reading import StallReading
from converter_match.components.stall_datum import StallDatum
from converter_match.components.surface import Surface
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.catalogue.result import Listed, Shortlist, compared
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.haul.short_cycle import work_cycle
from converter_match.judgement.identify.fleet import LogFleet, OfLog, OfMachine, fleet_of
from converter_match.judgement.identify.full_throttle import FirstGear, RoadAssumed
from converter_match.judgement.identify.identify import LogBasis, identify
from converter_match.judgement.identify.months import Trend
from converter_match.judgement.load.load import over_load
from converter_match.judgement.match.solve import solve
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.route import motor_route
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.solve import solve_motor
from converter_match.judgement.motor.tractive import motor_tractive
from converter_match.judgement.sizing.trials import Trial, Trials
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.setup import StallSetup
from converter_match.judgement.wheels.acceleration import acceleration
from converter_match.judgement.wheels.tractive import tractive
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.intake.draft import Chart, Followed
from converter_match.library.intake.reading import intake_text
from converter_match.library.published_run import published
from converter_match.library.read import (
    read_arrangement,
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
    read_motor,
    read_site,
)
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.shipped import data_folder, find
from converter_match.library.stall_log_table import LogRow
from converter_match.library.study_file import read_study
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.notes import Note
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from converter_match.physics.dynamics.drive_train import Schedule, drawn_to_unity
from converter_match.physics.dynamics.dynamics import (
    drive_train,
    load_step,
    lock_up_engagement,
    stall_run_up,
)
from converter_match.present.figures.acceleration import acceleration_figure
from converter_match.present.figures.arrangement import arrangement_figure
from converter_match.present.figures.characteristic import characteristic
from converter_match.present.figures.chart_path import chart_path
from converter_match.present.figures.clutch_map import clutch_map
from converter_match.present.figures.comparison import compared_efforts
from converter_match.present.figures.evidence import evidence_figure
from converter_match.present.figures.identify import identify_figure
from converter_match.present.figures.intake import draft_figure
from converter_match.present.figures.log_fleet import log_fleet_figure
from converter_match.present.figures.measured_run import measured_run_figure
from converter_match.present.figures.motor import motor_figure
from converter_match.present.figures.motor_route import motor_route_figure
from converter_match.present.figures.motor_tractive import motor_tractive_figure
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.present_and_candidate import present_and_candidate
from converter_match.present.figures.route import route_figure
from converter_match.present.figures.short_cycle import short_cycle_figure
from converter_match.present.figures.shortlist import shortlist_figure
from converter_match.present.figures.tractive import tractive_figure
from converter_match.present.figures.transient import transient_figure
from converter_match.present.figures.trials import trials_figure
from converter_match.present.figures.uncertainty import uncertainty_figure
from converter_match.present.figures.velocity_triangles import velocity_triangles_figure
from converter_match.present.stall.figures import explanations_figure, fleet_figure, trend_figure
from converter_match.study.catalogue import Member, PartsCatalogue
from tests.blading_examples import blading
from tests.examples import ARRANGED, RPM, converter, engine
from tests.haul_examples import HAULER, LOADER, earth, parts
from tests.judgement.identify.test_identify import steady
from tests.load_examples import load
from tests.study_examples import flat_engine, loose, study

# Arrangements of two on one shaft.
SHAFTS = ("two-pairs-on-one-shaft", "two-engines-one-converter", "two-converters-one-engine")


@cache
def pair(engine: str, fitted: str) -> Any:
    return solve(read_engine(find("engines", engine)), read_converter(find("converters", fitted)))


@cache
def arranged(row: int) -> Any:
    engine, fitted, how = ARRANGED[row]
    return solve_arranged(
        read_engine(find("engines", engine)),
        read_converter(find("converters", fitted)),
        read_arrangement(find("arrangements", how)),
    )


def _estimated() -> Any:
    datum = StallDatum(engine_speed=1900 * RPM, input_torque=880.0, torque_ratio=(2.1, 2.3))
    return estimated_converter(datum, id="known", name="Known", source="test", stator="one-way")


def _on_one_shaft(how: str) -> Any:
    return solve_arranged(
        read_engine(find("engines", "six-cylinder-7l-185kw")),
        read_converter(find("converters", "single-stage-345mm-tight")),
        read_arrangement(find("arrangements", how)),
    )


def _loaded() -> Any:
    match = pair("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    pump = load(FlowMachine(machine="pump", torque=600.0, speed=2000 * RPM))
    return match.with_beside(over_load(match, pump))


def _run() -> Any:
    return acceleration(*parts(), earth(), to_speed=30 / 3.6)


def _cycle() -> Any:
    path = data_folder() / "cycles" / "loader-truck-loading.csv"
    return work_cycle(*parts(LOADER), read_cycle(path, read_surfaces()))


def _train(hauler: Any, inertia: float = 45.0, *, unity: bool = False) -> Any:
    fitted = drawn_to_unity(hauler.converter) if unity else hauler.converter
    return drive_train(hauler.engine, hauler.supply, fitted, inertia)


def _run_up() -> Any:
    return stall_run_up(_train(parts()[0], 5.0), duration=3.0)


def _locked() -> Any:
    return lock_up_engagement(
        _train(parts()[0], unity=True),
        speed_ratio=0.88, capacity=1800.0, closing_time=0.6, begins=0.3, duration=2.0,
    ).transient  # fmt: skip


def _into_the_pile() -> Any:
    return load_step(
        _train(parts()[0]),
        speed_ratio=0.6, load_after=4000.0, rise_time=0.5, duration=2.0,
        impeller_clutch=Schedule.ramp(2500.0, 600.0, 0.6, 0.2),
    )  # fmt: skip


def _truck() -> tuple[Any, ...]:
    return (
        MotorDrive(MotorSetup(read_motor(find("motors", "lift-truck-80v-30kw"))), ratio=1.6),
        read_driveline(find("drivelines", "two-speed-lift-truck")),
        read_machine(find("machines", "lift-truck-5t")),
    )


def _motor() -> Any:
    fitted = read_converter(find("converters", "single-stage-260mm"))
    return solve_motor(read_motor(find("motors", "lift-truck-80v-30kw")), fitted)


def _concrete() -> Surface:
    return find_surface("concrete or asphalt", read_surfaces())


def _motor_wheels() -> Any:
    return motor_tractive(*_truck(), _concrete())


def _motor_run() -> Any:
    return motor_route(*_truck(), read_route(find_route("timber-stack-to-kiln")))


def _diagnosis() -> Any:
    setup = StallSetup(
        engine=read_engine(find("engines", "six-cylinder-7l-185kw")),
        converter=read_converter(find("converters", "single-stage-345mm-tight")),
        site=read_site(find("sites", "plateau-quarry-hot-day")),
        oil_temperature=358.15,
        relief_torque=250.0,
    )
    readings = (
        StallReading(engine_speed=1600 * RPM, gear="1", brakes="held"),
        StallReading(engine_speed=2262 * RPM, test="hydraulic"),
        StallReading(engine_speed=1335 * RPM, gear="1", test="both", brakes="held"),
    )
    return diagnose(setup, readings)


def _reading(day: int, speed: float, place: str, name: str = "loader 1") -> LogRow:
    return LogRow(
        time=datetime(2031, 3, 1, tzinfo=UTC) + timedelta(days=day), machine=name, engine="e",
        converter="c", test="converter", gear="3", brakes="held", engine_speed_rpm=speed,
        oil_temperature_degc=None, expected_low_rpm=1700.0, expected_high_rpm=1800.0, coverage=0.95,
        place=place, finding="engine-down", share=0.9,
    )  # fmt: skip


def _tests() -> list[LogRow]:
    return [_reading(200 * k, 1790.0 - 25 * k, "inside" if k < 4 else "below") for k in range(7)]


def _fleet() -> list[LogRow]:
    return [
        _reading(0, 1600.0, "below"), _reading(9, 1755.0, "inside"),
        _reading(3, 1650.0, "below", name="loader 2"),
        _reading(5, 1790.0, "inside", name="loader 3"),
    ]  # fmt: skip


def _trials() -> Trials:
    made = converter()
    rows = (
        Trial(name="a", converter=made, time=100.0, fuel=2.0, heat=3e6, stall_torque=2000.0,
              best=True),
        Trial(name="b", converter=made, time=110.0, fuel=2.1, heat=4e6, stall_torque=1900.0),
        Trial(name="c", converter=made, stall_torque=500.0,
              broken=(Note("cannot-move-on", "does not complete the route", "limit"),)),
    )  # fmt: skip
    return Trials(trials=rows, route="Hill")


def _identified() -> Any:
    return identify([steady(nu=0.5, blocks=60)], LogBasis(converter=converter()))


def _log_fleet() -> LogFleet:
    """Return six machines, one of which stands apart; two have months, and one of them loses."""
    losing = [(f"2031-{month:02d}", 1.06 - 0.02 * month, 0.01, 40, 8) for month in range(1, 6)]
    even = [(f"2031-{month:02d}", 1.0, 0.01, 40, 8) for month in range(1, 4)]
    levels = {"a 1": 1.01, "b": 0.99, "c": 1.0, "d": 1.005, "e": 0.995, "far": 1.25}
    trends = {"d": Trend.of(losing, (-0.24, -0.25, -0.23)), "b": Trend.of(even, None)}
    return fleet_of(
        [
            OfMachine(name, OfLog(level, 0.97 * level, 1.02 * level, 400, 12, ()),
                      trend=trends.get(name))
            for name, level in levels.items()
        ]
    )  # fmt: skip


def _few_logs() -> LogFleet:
    levels = (0.9, 1.0, 1.1)
    machines = [
        OfMachine(f"loader {k}", OfLog(level, level - 0.05, level + 0.1, 90, 5, ()))
        for k, level in enumerate(levels)
    ]
    return fleet_of(machines)


def _chart() -> Any:
    draft = intake_text("SR;TR;K [rpm/sqrt(N.m)]\n0;2.2;62\n0.5;1.5;63\n0.9;1;80\n")
    across = np.linspace(20.0, 380.0, 40)
    paths = (
        Followed("torque ratio", np.column_stack([across, 60.0 + 0.4 * across]), picked=False),
        Followed("input torque", np.column_stack([across, 250.0 - 0.3 * across])[::5], picked=True),
    )
    return replace(draft, chart=Chart(np.full((300, 400, 3), 230, np.uint8), paths))


def _without_units(draw: Callable[..., Figure]) -> Callable[..., Figure]:
    """Return how a figure is drawn whose amounts are the same in every system."""
    return lambda result, *, system="si", **options: draw(result, **options)


def _measured() -> Any:
    run, bench = published("full_throttle_run"), published("converter_273mm")
    return FirstGear(run, bench, RoadAssumed(mass=2676.0), (0.75, 7.0)).next_gear(8.0, 14.9)


def _route(name: str) -> Any:
    return haul(*parts(HAULER), read_route(find_route(name)))


def _clutch_map(result: Any, *, system: Any = "si", font_scale: float = 1.0) -> Figure:
    axes = clutch_map(result.part("impeller_clutch").detail, system=system, font_scale=font_scale)
    return _figure_of(axes[0])


def _figure_of(ax: Axes) -> Figure:
    figure = ax.get_figure(root=True)
    assert figure is not None
    return figure


def _trend(rows: Any, **options: Any) -> Figure:
    return trend_figure(rows, drift=drift_in(rows), **options)


def _two(results: Any, **options: Any) -> Figure:
    return present_and_candidate(*results, **options)


def _of_time(title: str) -> Callable[..., Figure]:
    return lambda result, **options: transient_figure(result, title, **options)


@cache
def _yard() -> Any:
    return with_extras(run_study(read_study("loader-in-the-yard")), draws=64)


def _shortlist() -> Any:
    ground = PartsCatalogue(
        id="made", name="Made for a test", source="tests", study=study(),
        engines=(flat_engine(),), converters=(loose(60.0),),
    )  # fmt: skip
    figures = ((600.0, 5.0, 0.4), (660.0, 6.0, 0.3), (540.0, None, 0.5))
    listed = [
        Listed(
            member=Member(0, 0, 0, 0), engine=f"engine-{k}", converter="round", driveline="four",
            site="", diameter=0.36 if k else None, verdict="pass", route_time=time, fuel=fuel,
            heat_margin=heat,
        )
        for k, (time, fuel, heat) in enumerate(figures)
    ]  # fmt: skip
    kept, aims = compared(listed)
    return Shortlist(
        catalogue=ground, kept=kept, excluded=(), unsettled=(), aims=aims,
        bounds=np.zeros((1, 1, 1, 1), np.uint8), fallen={},
    )  # fmt: skip


def _efforts(result: Any, **options: Any) -> Figure:
    return _figure_of(compared_efforts(result, **options))


GALLERY: dict[str, tuple[Callable[[], Any], Callable[..., Figure]]] = {
    "match": (lambda: pair("six-cylinder-7l-185kw", "single-stage-345mm-tight"), overlay),
    "match that cannot hold idle": (
        lambda: pair("four-cylinder-2l5-45kw", "single-stage-420mm"), overlay,
    ),
    "match with three intersections": (
        lambda: pair("six-cylinder-8l-205kw-late-boost", "single-stage-380mm-tight"), overlay,
    ),
    "match and load": (_loaded, overlay),
    "two matches": (
        lambda: (
            pair("six-cylinder-7l-185kw", "single-stage-345mm-tight"),
            pair("six-cylinder-7l-185kw", "single-stage-345mm-loose"),
        ),
        _two,
    ),
    "characteristic": (
        lambda: [converter(), read_converter(find("converters", "single-stage-390mm-full-range"))],
        characteristic,
    ),
    "characteristic by torque": (
        lambda: converter(),
        lambda result, **options: characteristic(
            result, capacity_form="torque_at_speed", reference_speed=1700 * RPM, **options
        ),
    ),
    "estimated characteristic": (_estimated, characteristic),
    "match of an estimate": (lambda: solve(engine(torque_band=0.05), _estimated()), overlay),
    "velocity triangles": (
        lambda: velocity_triangles(blading(), 0.6, 200.0), velocity_triangles_figure,
    ),
    "acceleration": (_run, acceleration_figure),
    "short cycle": (_cycle, short_cycle_figure),
    "stall run-up": (_run_up, _of_time("Stall run-up")),
    "lock-up": (_locked, _of_time("Lock-up closes")),
    "impeller clutch": (_into_the_pile, _of_time("Into the pile")),
    "clutch map": (lambda: arranged(3), _clutch_map),
    "route": (lambda: _route("quarry-to-crusher"), route_figure),
    "route too steep": (lambda: _route("too-steep"), route_figure),
    "wheels": (lambda: tractive(*parts(LOADER), earth()), tractive_figure),
    "motor": (_motor, motor_figure),
    "motor at the wheels": (_motor_wheels, motor_tractive_figure),
    "motor on wet ground": (
        lambda: motor_tractive(*_truck(), replace(_concrete(), traction=0.2)),
        motor_tractive_figure,
    ),
    "wheels on wet ground": (
        lambda: tractive(*parts(LOADER), replace(earth(), traction=0.25)), tractive_figure,
    ),
    "motor on a route": (_motor_run, motor_route_figure),
    "explanations": (_diagnosis, explanations_figure),
    "trend": (_tests, _trend),
    "fleet": (_fleet, fleet_figure),
    "trials": (_trials, trials_figure),
    "identified": (_identified, identify_figure),
    "log fleet": (_log_fleet, _without_units(log_fleet_figure)),
    "logs of few": (_few_logs, _without_units(log_fleet_figure)),
    "chart path": (_chart, _without_units(chart_path)),
    "measured run": (_measured, measured_run_figure),
    "draft": (
        lambda: intake_text("SR;TR;K [rpm/sqrt(N.m)]\n0;2.2;62\n0.5;1.5;63\n0.9;1;80\n"),
        draft_figure,
    ),
    "shortlist": (_shortlist, shortlist_figure),
    "efforts of a study": (_yard, _efforts),
    "uncertainty": (lambda: _yard().uncertainty, uncertainty_figure),
    "evidence": (lambda: _yard().evidence, evidence_figure),
    **{
        f"arrangement {how}": (lambda how=how: _on_one_shaft(how), arrangement_figure)  # type: ignore[misc]
        for how in SHAFTS
    },
    **{
        f"arrangement {how}": (lambda row=row: arranged(row), arrangement_figure)  # type: ignore[misc]
        for row, (_, _, how) in enumerate(ARRANGED)
    },
}  # fmt: skip


@cache
def result_of(name: str) -> Any:
    return GALLERY[name][0]()


@cache
def figure_of(name: str, system: str = "si") -> Figure:
    """Draw it once; nobody changes what is drawn."""
    return GALLERY[name][1](result_of(name), system=system)


@cache
def laid_out(name: str) -> Figure:
    """Return the figure with every word where it stands on the page."""
    figure = figure_of(name)
    figure.draw_without_rendering()
    return figure
