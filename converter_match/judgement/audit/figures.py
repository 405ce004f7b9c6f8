"""Our figure for what a claim is about, by the functions that the other verbs ask."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.judgement.audit.case import Case, missing
from converter_match.judgement.wheels.tractive import fastest
from converter_match.physics.wheels.envelope import effort_at
from converter_match.physics.wheels.tractive import steepest_start
from converter_match.physics.wheels.wheels import GearDrive
from converter_match.study.study import Claim

CONVERSION_RANGE = "conversion-range"
WHOLE_TABLE = "whole-table"
# Two readings closer than this are one.
_SAME_READING = 1e-6


def readings(case: Case, claim: Claim) -> tuple[str, ...]:
    """Return the ways in which the quantity of a claim can be meant; one, empty, as a rule.

    The best efficiency is quoted for the conversion range, with the stator held: below the
    coupling point. Beyond it a freewheeling stator leaves a fluid coupling, whose efficiency is
    the speed ratio: there the best is where the table ends.
    """
    if claim.quantity != "best-efficiency":
        return ("",)
    converter = case.characteristic
    end = _best(converter, None)
    nu = converter.coupling
    if converter.stator != "one-way" or nu is None or end - _best(converter, nu) < _SAME_READING:
        return ("",)
    return (CONVERSION_RANGE, WHOLE_TABLE)


def figure(case: Case, claim: Claim, reading: str = "") -> float:
    """Return our figure for what a claim is about, SI.

    Parameters
    ----------
    case : Case
    claim : Claim
    reading : str
        One of `readings`.

    Raises
    ------
    Missing
        If it cannot be worked out; the message names the datum.
    """
    try:
        if reading:
            nu = case.coupling if reading == CONVERSION_RANGE else None
            value = _best(case.characteristic, nu)
        else:
            value = float(_FIGURES[claim.quantity](case, claim))
    except InputError as error:
        raise missing("refused", problem=str(error)) from None
    return value * case.printed


def _best(converter: Converter, end: float | None) -> float:
    """Return the best efficiency up to a speed ratio, or up to where the turbine drives."""
    return converter.best_efficiency(0.0, 1.0 if end is None else min(end, 1.0))[1]


def _capacity(case: Case) -> float:
    return float(case.characteristic.capacity_at(case.creep))


def _torque_ratio(case: Case, claim: Claim) -> float:
    return float(case.characteristic.torque_ratio_at(case.creep))


def _stall_torque(case: Case, claim: Claim) -> float:
    return _capacity(case) * case.stall_speed**2


def _turbine_torque(case: Case, claim: Claim) -> float:
    return _torque_ratio(case, claim) * _stall_torque(case, claim)


def _stall_heat(case: Case, claim: Claim) -> float:
    # At stall all of the power becomes heat; what a turbine that creeps puts out does not.
    lost = 1.0 - case.creep * _torque_ratio(case, claim)
    return _stall_torque(case, claim) * case.stall_speed * lost


def _chosen(case: Case, claim: Claim) -> list[GearDrive]:
    """Return the drives that a claim is about: those of its gear, or every forward one."""
    if claim.gear is None:
        return [drive for drive in case.drives if drive.gear.direction == "forward"]
    if case.driveline is not None:
        case.driveline.gear(claim.gear)  # names the gears there are
    return [drive for drive in case.drives if drive.gear.name == claim.gear]


def _effort(case: Case, claim: Claim) -> float:
    """Tractive effort on the level, at standstill without a speed: of the best drive in force.

    At most what the ground allows. The road speed is that after slip.
    """
    wanted = (claim.speed or 0.0) * case.speed_read
    drives = _chosen(case, claim)
    limit = case.driveline.speed_limit if case.driveline is not None else None
    if limit is not None and wanted > limit:
        raise missing("beyond-limiter", limit=limit)
    efforts = []
    for drive in drives:
        load = case.road_load(drive, ground=False)
        effort = min(float(effort_at(drive, load, np.array(wanted))), float(load.adhesion(0.0)))
        efforts += [effort] if np.isfinite(effort) else []
    if not efforts:
        raise missing("no-gear-at-speed")
    return max(efforts)


def _steepest(case: Case, claim: Claim) -> float:
    grades = [
        float(steepest_start(drive, case.road_load(drive))[0])
        for drive in _chosen(case, claim)
        if drive.drive == "converter"
    ]
    if not grades:
        raise missing("no-converter-gear")
    if not np.isfinite(max(grades)):
        raise missing("any-grade")
    return max(grades)


def _speed_on(case: Case, claim: Claim, grade: float) -> float:
    drives = _chosen(case, claim)
    loads = [case.road_load(drive) for drive in drives]
    if not drives:
        raise missing("no-steady-speed", grade=grade)
    row = fastest(drives, loads, grade, case.engine.rated_speed)
    if row.speed is None:
        raise missing("no-steady-speed", grade=grade)
    if row.limited_by == "data end":
        raise missing("data-end", grade=grade, speed=row.speed)
    return row.speed


def _on_grade(case: Case, claim: Claim) -> float:
    if claim.grade is None:
        raise missing("no-grade")
    return _speed_on(case, claim, claim.grade)


_FIGURES: Mapping[str, Callable[[Case, Claim], float]] = MappingProxyType(
    {
        "stall-speed": lambda case, claim: case.stall_speed,
        "stall-input-torque": _stall_torque,
        "stall-turbine-torque": _turbine_torque,
        "stall-torque-ratio": _torque_ratio,
        "stall-k-factor": lambda case, claim: _capacity(case) ** -0.5,
        "stall-heat": _stall_heat,
        "coupling-speed-ratio": lambda case, claim: case.coupling,
        "coupling-engine-speed": lambda case, claim: case.engine_speed(case.coupling),
        "coupling-turbine-speed": lambda case, claim: (
            case.coupling * case.engine_speed(case.coupling)
        ),
        "best-efficiency": lambda case, claim: _best(case.characteristic, None),
        "tractive-effort": _effort,
        "steepest-grade": _steepest,
        "speed-on-grade": _on_grade,
        "top-speed": lambda case, claim: _speed_on(case, claim, 0.0),
    }
)
