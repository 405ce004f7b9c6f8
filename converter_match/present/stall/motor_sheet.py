"""What stands on the sheet for a stall test of a machine with a motor."""

from __future__ import annotations

import math

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.judgement.motor.stall import MotorStall
from converter_match.judgement.stall.band import Band
from converter_match.judgement.stall.gears import to_be_held
from converter_match.judgement.stall.words import joined
from converter_match.notes import Note
from converter_match.present.stall import motor_words, words
from converter_match.present.stall.content import (
    SHORTEST_COOL_DOWN,
    WARM_OIL,
    Sheet,
    SheetRow,
    rows_of_gears,
    short,
)
from converter_match.units import System

note = motor_words.note


def motor_sheet_of(answer: MotorStall, *, machine_name: str = "", system: System = "si") -> Sheet:
    """Return the sheet of a test with a motor.

    Parameters
    ----------
    answer : MotorStall
    machine_name : str
        As on the machine; a blank to fill where empty.
    system : {"si", "us"}
    """
    rpm, degree, force = (
        Heading("", "", amount).unit(system) for amount in ("angular_speed", "temperature", "force")
    )
    low, high = WARM_OIL
    machine = answer.setup.machine
    tracks = machine is not None and machine.on_tracks
    prepare = (
        note("warm", low=low, high=high),
        note("battery"),
        note("high-voltage"),
        words.note("second-person", what="tracks" if tracks else "wheels"),
    )
    return Sheet(
        title="Stall test, electric motor",
        system=system,
        cautions=Block("", "CAUTION – read first", above=words.cautions(on_tracks=tracks)),
        subject=Block("", facts=_subject(answer, machine_name)),
        prepare=Block("", "Prepare", above=prepare),
        steps=Block("", "Hold", above=_steps(answer)),
        relief=Block("", "With the pumps at relief"),
        stop=Block("", "Stop", above=_stop(answer)),
        expected=Block("", "Expect", facts=_expected(answer)),
        columns=("test", "gear", f"pull / grip {force}", f"motor {rpm}", f"oil before {degree}",
                 f"oil after {degree}", "battery V", "seconds", "brakes held?"),
        rows=_rows(answer, system),
        blanks=("date, place", f"air {degree}", "machine hours", f"motor after {degree}",
                "tested by", "checked by"),
        footer=motor_words.FOOTER,
    )  # fmt: skip


def _subject(answer: MotorStall, machine_name: str) -> Facts:
    setup = answer.setup
    motor = setup.drive.setup
    name = machine_name or (setup.machine.name if setup.machine else "")
    voltage: object = NoValue("not given")
    if motor.voltage is not None or motor.motor.voltage is not None:
        voltage = motor.voltage or (motor.motor.voltage and motor.motor.voltage.nominal)
    return (
        (Heading("", "machine"), short(name) or NoValue("")),  # a blank to fill
        (Heading("", "motor"), short(motor.motor.name)),
        (Heading("", "converter"), short(setup.converter.title)),
        (Heading("", "calculated for a supply of", "voltage", ".4g"), voltage),
        (Heading("", "calculated for oil of", "temperature", ".0f"), setup.oil),
    )


def _steps(answer: MotorStall) -> tuple[Note, ...]:
    hold = answer.hold
    if not answer.stalls or hold.seconds < 1.0:
        return (note("no-time"),)
    if answer.gears and not to_be_held(answer.gears):
        return (words.note("no-gear-holds"),)
    return (
        note("select-gear"),
        note("full", seconds=hold.seconds),
        note("release"),
        note("cool-down", time=SHORTEST_COOL_DOWN),
        note("write-down"),
    )


def _stop(answer: MotorStall) -> tuple[Note, ...]:
    published = answer.setup.published
    highest = answer.bands["peak"].high if published is None else published[1]
    moves = note("moves") if highest is None else note("too-fast", speed=highest)
    return moves, note("too-hot", limit=answer.hold.oil_limit)


def _rows(answer: MotorStall, system: System) -> tuple[SheetRow, ...]:
    can = answer.stalls and answer.hold.seconds >= 1.0
    return rows_of_gears(answer.gears, system, stalls=can) or (SheetRow(("none: do not test",)),)


def _expected(answer: MotorStall) -> Facts:
    published = answer.setup.published
    facts: Facts = ()
    if published is not None:
        span = words.note("span", low=published[0], high=published[1])
        facts += ((Heading("", "maker's published span (comes first)"), span),)
    facts += ((Heading("", "expected, accelerator fully down"), _band(answer.bands["peak"])),)
    facts += (
        (
            Heading("", "derated to the continuous torque"),
            _band(answer.bands["continuous"]),
        ),
    )
    facts += tuple(
        (Heading("", "the first, as on the sheets"), note("at-voltage", voltage=volts, speed=speed))
        for volts, speed in answer.setup.by_voltage
        if speed is not None
    )
    return (*facts, (Heading("", "longest hold"), _hold(answer)))


def _band(band: Band) -> Note:
    if band.ends is None:
        return note("no-band")
    low, high = band.ends
    return words.note("band", low=low, high=high, coverage=f"{100 * band.coverage:.0f}")


def _hold(answer: MotorStall) -> Note:
    hold = answer.hold
    if hold.seconds < 1.0:
        return note("no-time")
    parts = [words.note("hold", seconds=hold.seconds)]
    if hold.set_by == "maker":
        parts.append(words.note("by-maker"))
    if hold.to_oil_limit is None:
        parts.append(words.note("no-oil-data"))
    else:
        parts.append(
            words.note(
                "by-oil",
                heat=hold.oil_heat,
                start=hold.oil_start,
                limit=hold.oil_limit,
                time=hold.to_oil_limit,
            )
        )
    winding = hold.to_winding_limit[1 if hold.winding_warm else 0]
    if math.isfinite(winding):
        parts.append(note("by-winding", time=winding))
    if hold.set_by == "common-practice":
        parts.append(words.note("capped"))
    return joined("hold", *parts, words.note("end"))
