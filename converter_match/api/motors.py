"""An electric motor in the engine's place: coupled directly, or behind a converter."""

from __future__ import annotations

from typing import TYPE_CHECKING

from converter_match.api.door import Quantity, in_si, part, where_of

if TYPE_CHECKING:
    from converter_match.components.motor import Motor
    from converter_match.components.site import Site
    from converter_match.judgement.motor.drive import MotorDrive


def couple_directly(
    motor: Motor,
    *,
    ratio: float = 1.0,
    efficiency: float | None = None,
    site: Site | None = None,
    voltage: Quantity | None = None,
    hydraulic_torque: Quantity = 0.0,
) -> MotorDrive:
    """Couple a motor to the gearbox without a converter, through a reduction or none.

    Parameters
    ----------
    motor : Motor
    ratio : float
        Of the reduction in the converter's place: speed before / speed behind; 1 for none.
    efficiency : float, optional
        Of that reduction; without, that of one stage of gears.
    site : Site, optional
        The air that cools the motor.
    voltage : float or str, optional
        [V], or a text with its unit; the nominal one without.
    hydraulic_torque : float or str
        Taken at the shaft by implement pumps: [N.m], or a text with its unit.

    Returns
    -------
    MotorDrive
        For `tractive` and `hold`, in the place of a match.

    Raises
    ------
    InputError
        If it is no motor, or a number is out of range.

    Examples
    --------
    >>> import converter_match as cm
    >>> motor, line, truck = cm.read(
    ...     "lift-truck-80v-30kw", "two-speed-lift-truck", "lift-truck-5t"
    ... )
    >>> drive = cm.couple_directly(motor, ratio=1.6)
    >>> wheels = cm.tractive(drive, line, truck, "concrete or asphalt", grades=["0 %"])
    >>> wheels.grades[0].limited_by
    'speed limit'
    """
    from converter_match.components.motor import Motor
    from converter_match.judgement.motor.drive import MotorDrive
    from converter_match.judgement.motor.setup import MotorSetup

    volts = None if voltage is None else in_si(voltage, "voltage", "voltage")
    where = where_of(site, hydraulic_torque)
    setup = MotorSetup(part(motor, Motor, "motor"), voltage=volts, **where)
    reduction = in_si(ratio, "ratio", "ratio")
    share = None if efficiency is None else in_si(efficiency, "ratio", "efficiency")
    return MotorDrive(setup, ratio=reduction, efficiency=share)


def motor_drive(match: object) -> MotorDrive | None:
    """Return the motor of a match or a coupling where it is one of a motor; None for others."""
    from converter_match.judgement.motor.drive import MotorDrive
    from converter_match.judgement.motor.result import MotorMatch

    if isinstance(match, MotorMatch):
        return MotorDrive(match.setup, match.converter)
    return match if isinstance(match, MotorDrive) else None
