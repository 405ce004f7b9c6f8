"""The verb ``stall`` with a motor in the engine's place: what to expect, and the sheet."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any

from converter_match.cli import motored, options
from converter_match.errors import InputError

# What only an engine has, or what judges readings of one.
_NOT_WITH_MOTOR = (
    "--arrangement", "--relief-torque", "--reading", "--readings", "--log", "--figure", "--date",
    "--trend", "--fleet", "--library",
)  # fmt: skip


def run_motor(
    args: argparse.Namespace,
    *,
    name: str | None,
    published: Callable[[str | None], tuple[float, float] | None],
) -> int:
    """Say what to expect, write the sheet, print; return the exit status.

    Parameters
    ----------
    args : Namespace
    name : str or None
        Of the machine, as the sheet can hold it.
    published : callable
        Reads ``--published``.
    """
    from converter_match.cli import FAILS
    from converter_match.judgement.motor.stall import expect_motor

    motored.is_motor(args, not_with=_NOT_WITH_MOTOR)
    if args.converter is None:
        raise InputError(
            "needed here", source="--converter", expected="a file, or the id of a shipped one"
        )
    answer = expect_motor(_setup(args, published(args.published)))
    if args.sheet:
        from converter_match.present.stall.motor_sheet import motor_sheet_of
        from converter_match.present.stall.sheet import write_sheet

        sheet = motor_sheet_of(answer, machine_name=name or "", system=args.units)
        write_sheet(sheet, args.sheet, overwrite=args.overwrite)
    if args.json:
        options.print_json({"expectation": answer.to_dict(), "diagnosis": None})
    else:
        options.say_answer(answer, args.units)
        if args.sheet:
            print()
            options.say(f"Written: {args.sheet}")
    return FAILS if answer.fails else 0


def _setup(args: argparse.Namespace, published: tuple[float, float] | None) -> Any:
    from converter_match.judgement.motor.stall import MotorStallSetup
    from converter_match.judgement.stall.setup import Tolerances
    from converter_match.library.read import read_driveline, read_machine
    from converter_match.library.shipped import find

    torque = options.in_si(args.engine_tolerance, "--engine-tolerance", "ratio", "%")
    capacity = options.in_si(args.capacity_tolerance, "--capacity-tolerance", "ratio", "%")
    oil = options.in_si(args.oil_temperature, "--oil-temperature", "temperature", "degC")
    maker_hold = options.in_si(args.maker_hold, "--maker-hold", "time", "s")
    coverage = options.coverage_from(args)
    usual = Tolerances()
    typed = {
        key: options.Typed(option, getattr(args, option[2:].replace("-", "_")), expected)
        for key, option, expected in (
            ("engine_torque", "--engine-tolerance", "above 0, at most 30 %"),
            ("capacity", "--capacity-tolerance", "above 0, at most 50 %"),
            ("oil_temperature", "--oil-temperature", None),
            ("published", "--published", None),
            ("maker_hold", "--maker-hold", None),
            ("coverage", "--coverage", "50 to 99.9 %"),
        )
    }
    drive = motored.drive_from(args)
    machine = None if args.machine is None else read_machine(find("machines", args.machine))
    driveline = None
    if args.driveline is not None:
        driveline = read_driveline(find("drivelines", args.driveline))
    try:
        return MotorStallSetup(
            drive=drive,
            driveline=driveline,
            machine=machine,
            oil_temperature=oil,
            tolerances=Tolerances(
                engine_torque=usual.engine_torque if torque is None else torque,
                capacity=usual.capacity if capacity is None else capacity,
            ),
            coverage=MotorStallSetup.coverage if coverage is None else coverage,
            published=published,
            maker_hold=maker_hold,
            load=args.load,
            surface=options.surface_from(args),
        )
    except InputError as error:
        raise options.as_typed(error, typed) from None
