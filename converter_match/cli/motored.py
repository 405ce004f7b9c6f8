"""A motor in the engine's place, for the verbs that take one."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from converter_match.cli import options
from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.components.converter import Converter
    from converter_match.components.motor import Motor
    from converter_match.judgement.motor.drive import MotorDrive
    from converter_match.judgement.motor.setup import MotorSetup

_OF_AN_ENGINE = "does not apply to an electric motor, which has no engine's governor and no idle"
_READINGS = (
    "readings are judged of an engine only; of a motor hold the speed that was read against the "
    "band"
)
# Option -> why it does not go with a motor, where that is something else.
_WHY = {
    "--fuel-map": "a motor burns no fuel",
    "--response": "a motor's torque is there at once as far as is known: there is no lag to give",
    "--arrangement": "no arrangement holds with a motor yet: leave it out, or take an engine",
    "--relief-torque": "no test with the pumps at relief is known of a motor; what they take in "
    "the test goes into --hydraulic-torque",
    "--library": "goes with readings or trials of an engine only",
    "--figure": "there is no such figure of a motor",
    **dict.fromkeys(
        ("--study", "--candidate"),
        "a study judges engines; motors are compared by a motor study (motor-study/1): "
        "`converter-match study FILE`",
    ),
    **dict.fromkeys(
        (
            "--input-speed-at-80",
            "--route",
            "--driveline",
            "--machine",
            "--surfaces",
            "--converters",
        ),
        "a converter is sized for a motor by its stall speed only",
    ),
    **dict.fromkeys(
        ("--reading", "--readings", "--log", "--date", "--trend", "--fleet"), _READINGS
    ),
}


def is_motor(args: argparse.Namespace, *, not_with: tuple[str, ...] = ()) -> bool:
    """Return whether ``--motor`` was given, and refuse what goes with one of the two only.

    Parameters
    ----------
    args : Namespace
    not_with : tuple of str
        Options that mean something for an engine only, such as ``--governed``.

    Raises
    ------
    InputError
        Naming the option.
    """
    if args.motor is None:
        for option in ("--voltage", "--direct"):
            if getattr(args, option[2:], None) is not None:
                raise InputError(
                    "goes with --motor only: an engine needs its converter"
                    if option == "--direct"
                    else "goes with --motor only",
                    source=option,
                )
        return False
    for option in not_with:
        if getattr(args, option[2:].replace("-", "_")):
            raise InputError(_WHY.get(option, _OF_AN_ENGINE), source=option)
    return True


def setup_from(args: argparse.Namespace) -> MotorSetup:
    """Return the motor asked for, where it works.

    Raises
    ------
    InputError
        If a file cannot be used, or the motor cannot be run at the voltage.
    """
    from converter_match.judgement.motor.setup import MotorSetup

    voltage = voltage_from(args)
    site, torque = options.site_from(args), options.hydraulic_torque_from(args)
    try:
        return MotorSetup(motor_from(args), site, voltage, torque)
    except InputError as error:
        typed = options.Typed("--voltage", args.voltage)
        raise options.as_typed(error, {"voltage": typed}) from None


def drive_from(args: argparse.Namespace) -> MotorDrive:
    """Return the motor asked for behind its converter, or coupled directly.

    Raises
    ------
    InputError
        If a file cannot be used, or they cannot be combined.
    """
    from converter_match.judgement.motor.drive import MotorDrive

    setup = setup_from(args)
    ratio = direct_from(args) if hasattr(args, "direct") else None
    if ratio is not None:
        return MotorDrive(setup, ratio=ratio)
    converter = converter_from(args)
    converter.require_stall()
    return MotorDrive(setup, converter)


def motor_from(args: argparse.Namespace) -> Motor:
    """Return the motor named on the command line."""
    from converter_match.library.read import read_motor
    from converter_match.library.shipped import find

    return read_motor(find("motors", args.motor))


def converter_from(args: argparse.Namespace) -> Converter:
    """Return the converter named on the command line."""
    from converter_match.library.read import read_converter
    from converter_match.library.shipped import find

    return read_converter(find("converters", args.converter))


def voltage_from(args: argparse.Namespace) -> float | None:
    """Return the voltage asked for [V]; None when none was."""
    return options.in_si(args.voltage, "--voltage", "voltage", "V")


def direct_from(args: argparse.Namespace) -> float | None:
    """Return the reduction asked for in the converter's place; None when none was.

    Raises
    ------
    InputError
        If it is no reduction.
    """
    ratio = options.in_si(args.direct, "--direct", "ratio", "1")
    if ratio is not None and not 0.1 <= ratio <= 100.0:
        raise InputError(
            "out of range",
            source="--direct",
            found=args.direct,
            expected="a reduction, 0.1 to 100; 1 is none",
        )
    return ratio
