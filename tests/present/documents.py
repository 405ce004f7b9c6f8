"""One of every document: reports, sheets, pages, the bench; and how it is written in a system."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.stall import MotorStallSetup, expect_motor
from converter_match.judgement.motor.study import run_motor_study
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.setup import StallSetup
from converter_match.library.motor_study_file import read_motor_study
from converter_match.library.read import read_converter, read_motor, read_site
from converter_match.library.shipped import find
from converter_match.present.bench.shelf import load_shelf
from converter_match.present.bench.sliders import wanted
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.view import figures_table, notes_in_words, view
from converter_match.present.lesson.demo import lesson
from converter_match.present.lesson.handout import handout
from converter_match.present.pages.slider import slider_data
from converter_match.present.report.content import report_of
from converter_match.present.report.motor_study import motor_study_report
from converter_match.present.stall.motor_sheet import motor_sheet_of
from converter_match.present.stall.sheet import sheet_of
from converter_match.study.study import Claim, Tolerance
from tests.examples import RPM, converter, engine
from tests.machines import driveline, gear, machine
from tests.present.gallery import result_of
from tests.study_examples import combination, flat_engine, study

PAIR = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")


@cache
def shelf() -> Any:
    return load_shelf()


def _claimed() -> Any:
    claims = tuple(
        Claim(quantity="stall-speed", value=rpm * RPM, given=f"{rpm} rpm", combination="wild",
              tolerance=0.001)
        for rpm in (1801, 1555)
    )  # fmt: skip
    weak = combination("weak", engine=flat_engine(810.0))
    wild = combination("wild", converter=converter(interface=(("housing", "SAE 2"),)))
    tolerances = (Tolerance(quantity="mass", half_width=0.05, shared=True),)
    sites = tuple(read_site(find("sites", name)) for name in ("plateau-quarry-hot-day",
                                                              "harbour-cold-morning"))  # fmt: skip
    base = study(candidates=(weak, wild), claims=claims, tolerances=tolerances, sites=sites)
    return with_extras(run_study(base), draws=64)


def _motor_stall() -> Any:
    mover = read_motor(find("motors", "lift-truck-80v-30kw"))
    fitted = read_converter(find("converters", "single-stage-260mm"))
    return expect_motor(MotorStallSetup(drive=MotorDrive(MotorSetup(mover), fitted)))


def _stall() -> Any:
    gears = (gear("1", 5.0), gear("2", 2.5), gear("R", 3.8, direction="reverse"))
    return expect(
        StallSetup(
            engine=engine(), converter=converter(), driveline=driveline(gears=gears),
            machine=machine(), relief_torque=280.0, published=(1700 * RPM, 2000 * RPM),
        )
    )  # fmt: skip


def _bench(sides: int) -> Any:
    other = Setting(
        engine="six-cylinder-7l-185kw", converter="single-stage-345mm-loose", altitude=1500.0,
        air_temperature=303.15, hydraulic_torque=80.0, diameter_share=1.02,
    )  # fmt: skip
    return (PAIR, other)[:sides]


def _at_bench(settings: Any, system: Any) -> Any:
    state = BenchState(a=settings[0], b=settings[1] if len(settings) > 1 else None, system=system)
    seen = view(state, shelf())
    return (
        seen.scene, figures_table(seen), notes_in_words(seen, system),
        wanted(settings[0], system, shelf().known_mover(settings[0].engine)),
    )  # fmt: skip


def _slider(states: Any, system: Any) -> Any:
    return slider_data(states, system=system)


DOCUMENTS: dict[str, tuple[Callable[[], Any], Callable[[Any, Any], Any]]] = {
    "report with readings": (lambda: result_of("efforts of a study"), report_of),
    "report with claims": (_claimed, report_of),
    "report on motors": (
        lambda: run_motor_study(read_motor_study("lift-truck-electric")), motor_study_report,
    ),
    "stall sheet": (_stall, lambda result, system: sheet_of(result, system=system)),
    "stall sheet of a bare pair": (
        lambda: expect(StallSetup(engine=engine(), converter=converter(oil_density=None))),
        lambda result, system: sheet_of(result, machine_name="Loader", system=system),
    ),
    "stall sheet of a motor": (
        _motor_stall, lambda result, system: motor_sheet_of(result, system=system),
    ),
    "bench": (lambda: _bench(1), _at_bench),
    "bench of two": (lambda: _bench(2), _at_bench),
    "bench of a pair that cannot hold idle": (
        lambda: (Setting(engine="four-cylinder-2l5-45kw", converter="single-stage-420mm"),),
        _at_bench,
    ),
    "slider page": (lambda: lesson().states, _slider),
    "handout": (lesson, lambda result, system: handout(result, answers=True)),
}  # fmt: skip


@cache
def subject_of(name: str) -> Any:
    return DOCUMENTS[name][0]()


@cache
def document(name: str, system: str = "si") -> Any:
    return DOCUMENTS[name][1](subject_of(name), system)
