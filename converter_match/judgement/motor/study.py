"""Whether the converter stays behind the motor, or it is coupled directly, and how."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.match.solve import solve
from converter_match.judgement.motor import study_words as words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.hold import motor_hold
from converter_match.judgement.motor.route import motor_route, peak_run
from converter_match.judgement.motor.route_result import MotorRun
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.solve import solve_with
from converter_match.judgement.motor.study_result import (
    JudgedMotor,
    MotorFinding,
    MotorStudyResult,
    PresentFigures,
    Status,
)
from converter_match.judgement.motor.tractive import motor_tractive
from converter_match.judgement.motor.tractive_result import MotorTractive
from converter_match.judgement.wheels.tractive import tractive
from converter_match.notes import Note
from converter_match.study.motor_study import MotorCandidate, MotorStudy
from converter_match.tasks.plain import digest
from converter_match.tasks.sweep import Progress, Store, sweep
from converter_match.tasks.workers import HERE, Workers

# Of the present machine's top speed, where the study asks for none (common practice, no source).
TOP_SPEED_KEPT = 0.95
# Nearer to its bound than this share a criterion is met, but hangs in the balance.
CLOSE = 0.03
# Of a motor study: what nothing that is calculated depends on.
_ASIDE = ("id", "name", "source", "question", "inputs")


def run_motor_study(
    study: MotorStudy,
    progress: Progress | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> MotorStudyResult:
    """Work out every candidate of a motor study, judge it, and say which to take.

    Parameters
    ----------
    study : MotorStudy
    progress : callable, optional
        Called with (done, all, what comes next).
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what is found of a candidate is kept, and taken from the next time.

    Returns
    -------
    MotorStudyResult

    Raises
    ------
    InputError
        If parts cannot be combined; the message names the candidate.
    """
    total = len(study.candidates) + 1

    def said(done: int, _of: int, what: str) -> None:
        if progress:
            progress(done + 1, total, what)

    if progress:
        progress(0, total, "the present machine")
    asked = asked_of(study, candidates=False)
    [present] = sweep(
        _present, [study], store=store, keys=None if store is None else [digest(asked)]
    ).all()
    keys = None if store is None else [digest(asked, item) for item in study.candidates]
    names = [item.name for item in study.candidates]
    judged = sweep(
        _candidate, study.candidates, shared=(study, present), workers=workers, progress=said,
        what=[*names, "judging"], store=store, keys=keys, names=names,
    ).all()  # fmt: skip
    return MotorStudyResult(study=study, present=present, candidates=judged)


def asked_of(study: MotorStudy, *, candidates: bool = True) -> dict[str, object]:
    """Return all of a motor study that its findings depend on, by the name of the field.

    Parameters
    ----------
    study : MotorStudy
    candidates : bool
        Whether these as well.
    """
    aside = _ASIDE if candidates else (*_ASIDE, "candidates")
    return {
        item.name: getattr(study, item.name) for item in fields(study) if item.name not in aside
    }


def _candidate(
    shared: tuple[MotorStudy, PresentFigures | None], candidate: MotorCandidate
) -> JudgedMotor:
    """Judge one candidate; an error names it."""
    study, present = shared
    try:
        return _judged(study, candidate, present)
    except InputError as error:
        raise error.located(source=f"{study.id}: {candidate.id}") from None


def _present(_: None, study: MotorStudy) -> PresentFigures | None:
    parts = study.present
    if parts is None or parts.driveline is None or parts.machine is None:
        return None
    match = solve(
        parts.engine,
        parts.converter,
        site=study.site,
        hydraulic_torque=study.hydraulic_torque,
    )
    wheels = tractive(
        match,
        parts.driveline,
        parts.machine,
        study.surface,
        load=study.load,
        grades=study.grades,
        band=False,
    )
    runs = [haul(match, parts.driveline, parts.machine, route, band=False)
            for route in study.routes]  # fmt: skip
    ahead = [row for row in wheels.gears if row.direction == "forward"]
    efforts = [row.stall_effort for row in ahead if row.stall_effort is not None]
    start = wheels.steepest_start
    arrives = all(run.standstill is None for run in runs)
    return PresentFigures(
        wheels=wheels,
        routes=tuple(runs),
        effort=max(efforts, default=None),
        startability=None if start is None else start.steepest_start,
        top_speed=wheels.top_speed.speed,
        cycle_time=sum(run.time for run in runs) if runs and arrives else None,
    )


@dataclass(frozen=True, eq=False)
class _Case:
    """A candidate, worked out."""

    study: MotorStudy
    candidate: MotorCandidate
    drive: MotorDrive
    wheels: MotorTractive
    runs: tuple[MotorRun, ...]
    present: PresentFigures | None


def _drive(study: MotorStudy, candidate: MotorCandidate, site: Site | None) -> MotorDrive:
    setup = MotorSetup(candidate.motor, site, candidate.voltage, study.hydraulic_torque)
    if candidate.converter is None:
        return MotorDrive(setup, ratio=candidate.ratio, efficiency=candidate.efficiency)
    candidate.converter.require_stall()
    return MotorDrive(setup, candidate.converter)


def _wheels(study: MotorStudy, candidate: MotorCandidate, drive: MotorDrive) -> MotorTractive:
    asked = study.requirements.continuous_grade
    return motor_tractive(
        drive,
        candidate.driveline,
        candidate.machine,
        study.surface,
        load=study.load,
        grades=sorted({*study.grades, 0.0, *(() if asked is None else (asked,))}),
    )


def findings_of(study: MotorStudy) -> tuple[tuple[tuple[MotorFinding, ...], float | None], ...]:
    """Return what every criterion says of each candidate, and its net energy [J]; nothing else.

    Raises
    ------
    InputError
        If parts cannot be combined.
    """
    present = _present(None, study)
    found = []
    for candidate in study.candidates:
        drive = _drive(study, candidate, study.site)
        runs = tuple(
            peak_run(drive, candidate.driveline, candidate.machine, route) for route in study.routes
        )
        wheels = _wheels(study, candidate, drive)
        case = _Case(study, candidate, drive, wheels, runs, present)
        energy = sum(run.energy.net for run in runs) if runs else None
        found.append((tuple(rule(case) for rule in _RULES), energy))
    return tuple(found)


def _judged(
    study: MotorStudy, candidate: MotorCandidate, present: PresentFigures | None
) -> JudgedMotor:
    drive = _drive(study, candidate, study.site)
    line, machine = candidate.driveline, candidate.machine
    wheels = _wheels(study, candidate, drive)
    routes = tuple(motor_route(drive, line, machine, route) for route in study.routes)
    held = motor_hold(drive, machine)
    runs = tuple(route.runs["peak"] for route in routes)
    case = _Case(study, candidate, drive, wheels, runs, present)
    notes: list[Note] = [*wheels.notes, *held.notes]
    if drive.converter is not None:
        notes += solve_with(drive.setup, drive.converter).notes
    for run in routes:
        notes += run.notes
    return JudgedMotor(
        candidate=candidate,
        wheels=wheels,
        routes=routes,
        held=held,
        findings=tuple(rule(case) for rule in _RULES),
        notes=tuple(dict.fromkeys(notes)),
    )


def _finding(
    name: str, value: float | None, bound: float | None, *, least: bool, amount: str
) -> MotorFinding:
    """Return a finding on a value held against a bound; unknown is never taken for kept."""
    status: Status
    if bound is None:
        status = "not-asked"
    elif value is None or np.isnan(value):
        status = "unknown"
    else:
        reach = value - bound if least else bound - value
        scale = max(abs(bound), 1e-12)
        status = "fail" if reach < 0.0 else "close" if reach < CLOSE * scale else "pass"
    return MotorFinding(name, status, value, bound, least, amount)


def _startability(case: _Case) -> MotorFinding:
    bound = case.study.requirements.startability
    if bound is None and case.present is not None:
        bound = case.present.startability
    value = case.wheels.startability["peak"]
    return _finding("startability", value or 0.0, bound, least=True, amount="grade")


def _grades(case: _Case) -> MotorFinding:
    asked = max(case.study.grades, default=0.0)
    rows = [row for row in case.wheels.grades if row.grade in case.study.grades]
    climbed = [row.grade for row in rows if row.speed is not None and row.speed > 0.0]
    status: Status = "pass" if len(climbed) == len(rows) else "fail"
    return MotorFinding("grades", status, max(climbed, default=0.0), asked, True, "grade")


def _continuous(case: _Case) -> MotorFinding:
    bound = case.study.requirements.continuous_grade
    if bound is None:
        return _finding("continuous-grade", None, None, least=True, amount="grade")
    row = next(row for row in case.wheels.grades if row.grade == bound)
    holds = row.continuous_speed is not None
    if holds and row.cooled is None and row.continuous_heat:
        return MotorFinding("continuous-grade", "unknown", None, bound, True, "grade")
    value = bound if holds and row.cooled is not False else 0.0
    status: Status = "pass" if value else "fail"
    return MotorFinding("continuous-grade", status, value, bound, True, "grade")


def _top_speed(case: _Case) -> MotorFinding:
    bound = case.study.requirements.top_speed
    if bound is None and case.present is not None and case.present.top_speed is not None:
        bound = TOP_SPEED_KEPT * case.present.top_speed
    level = next(row for row in case.wheels.grades if row.grade == 0.0)
    return _finding("top-speed", level.speed or 0.0, bound, least=True, amount="velocity")


def _cycle_time(case: _Case) -> MotorFinding:
    before = None if case.present is None else case.present.cycle_time
    if not case.runs or before is None:
        return _finding("cycle-time", None, None, least=False, amount="share")
    if any(run.stuck for run in case.runs):
        most = case.study.requirements.cycle_time
        return MotorFinding("cycle-time", "fail", None, most, False, "share")
    value = sum(run.time for run in case.runs) / before
    most = case.study.requirements.cycle_time
    return _finding("cycle-time", value, most, least=False, amount="share")


def _winding(case: _Case) -> MotorFinding:
    if not case.runs:
        return _finding("winding", None, None, least=False, amount="share")
    laps = [run.winding for run in case.runs]
    shares = [lap.hottest / lap.permitted if lap.permitted > 0.0 else np.inf for lap in laps]
    return _finding("winding", max(shares), 1.0, least=False, amount="share")


def _oil(case: _Case) -> MotorFinding:
    limit = case.candidate.machine.oil.temperature_limit
    if not case.runs:
        return _finding("oil", None, None, least=False, amount="temperature")
    hottest = [run.oil_hottest for run in case.runs]
    known = [value for value in hottest if value is not None]
    if limit is None or len(known) < len(hottest):
        return MotorFinding("oil", "unknown", None, limit, False, "temperature")
    status: Status = "pass" if max(known) <= limit else "fail"
    return MotorFinding("oil", status, max(known), limit, False, "temperature")


def _limits(case: _Case) -> MotorFinding:
    exceeded = [note for note in case.wheels.notes if note.code in words.PART_LIMITS]
    if case.drive.converter is not None:
        match = solve_with(case.drive.setup, case.drive.converter)
        exceeded += [note for note in match.notes if note.code in words.PART_LIMITS]
    status: Status = "fail" if exceeded else "pass"
    return MotorFinding("part-limits", status, float(len(exceeded)), 0.0, False, None)


_RULES: tuple[Callable[[_Case], MotorFinding], ...] = (
    _startability, _grades, _continuous, _top_speed, _cycle_time, _winding, _oil, _limits,
)  # fmt: skip
