"""A motor file becomes a `Motor`."""

from __future__ import annotations

from typing import Any

from converter_match.components.motor import Motor, Supply
from converter_match.components.motor_losses import EfficiencyMap, LossModel
from converter_match.components.winding import RATED_COOLANT, Winding
from converter_match.library.assemble.engine import accessory
from converter_match.library.assemble.places import said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema.motor import (
    EfficiencyTable,
    LossTable,
    MotorFile,
    ThermalTable,
    VoltageTable,
)
from converter_match.library.schema.quantity import si_of

EXPONENT = 1.5


def assemble(toml: TomlFile) -> Motor:
    """Return the motor that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(MotorFile, toml)
    rows = file.torque
    places: dict[str, Any] = {
        "speed_limit": ("speed_limit.value", file.speed_limit),
        "duty.peak_time": ("duty.peak_time.value", file.duty.peak_time),
        "inertia": ("inertia.value.value", file.inertia.value if file.inertia else None),
        "torque.speed": ("torque.speed", rows.speed),
        "torque.peak": ("torque.peak", rows.peak),
        "torque.continuous": ("torque.continuous", rows.continuous),
        "torque.regenerative": ("torque.regenerative", rows.regenerative),
    }
    winding, voltage, losses = _winding(file.thermal), _voltage(file.voltage), _losses(file)
    accessories = tuple(
        accessory(table, f"accessory[{number}]") for number, table in enumerate(file.accessory)
    )
    with said_in_file_words(places):
        return Motor(
            id=file.id,
            name=file.name,
            source=file.source,
            speed=rows.speed.si,
            peak=rows.peak.si,
            continuous=rows.continuous.si,
            regenerative=rows.regenerative.si if rows.regenerative else None,
            speed_limit=file.speed_limit.si,
            peak_time=file.duty.peak_time.si,
            peak_from=file.duty.peak_from,
            voltage=voltage,
            losses=losses,
            covers=file.losses_cover,
            winding=winding,
            inertia=file.inertia.value.si if file.inertia else None,
            accessories=accessories,
            interface=file.interface,
            given_notes=file.notes(),
        )


def _voltage(table: VoltageTable | None) -> Supply | None:
    if table is None:
        return None
    places = {f"voltage.{key}": (f"voltage.{key}.value", given) for key, given in table}
    with said_in_file_words(places):
        return Supply(nominal=table.nominal.si, least=si_of(table.least), most=si_of(table.most))


def _losses(file: MotorFile) -> LossModel | EfficiencyMap | None:
    if file.losses is not None:
        return _model(file.losses)
    return None if file.efficiency_map is None else _map(file.efficiency_map)


def _model(table: LossTable) -> LossModel:
    turning = table.turning
    places: dict[str, Any] = {
        "losses.standing": ("losses.standing.value", table.standing),
        "losses.copper_power": ("losses.copper.power.value", table.copper.power),
        "losses.copper_torque": ("losses.copper.at_torque.value", table.copper.at_torque),
    }
    if turning is not None:
        places["losses.speed_power"] = ("losses.turning.power.value", turning.power)
        places["losses.at_speed"] = ("losses.turning.at_speed.value", turning.at_speed)
        places["losses.exponent"] = ("losses.turning.exponent", turning.exponent)
    with said_in_file_words(places):
        return LossModel(
            standing=si_of(table.standing) or 0.0,
            copper_power=table.copper.power.si,
            copper_torque=table.copper.at_torque.si,
            speed_power=0.0 if turning is None else turning.power.si,
            at_speed=1.0 if turning is None else turning.at_speed.si,
            exponent=EXPONENT if turning is None or turning.exponent is None
            else turning.exponent.si,
        )  # fmt: skip


def _map(table: EfficiencyTable) -> EfficiencyMap:
    places: dict[str, Any] = {
        "efficiency_map.speed": ("efficiency_map.speed", table.speed),
        "efficiency_map.torque": ("efficiency_map.torque", table.torque),
    }
    with said_in_file_words(places):
        return EfficiencyMap(
            speed=table.speed.si,
            torque=table.torque.si,
            efficiency=[row.si.tolist() for row in table.efficiency],  # type: ignore[arg-type]
        )


def _winding(table: ThermalTable | None) -> Winding:
    if table is None:
        return Winding()
    places: dict[str, Any] = {
        f"thermal.{key}": (f"thermal.{key}.value", getattr(table, key))
        for key in ("rise_at_continuous", "coolant", "time_constant")
    }
    with said_in_file_words(places):
        return Winding(
            thermal_class=table.thermal_class,
            rise_at_continuous=si_of(table.rise_at_continuous),
            coolant=RATED_COOLANT if table.coolant is None else table.coolant.si,
            time_constant=si_of(table.time_constant),
        )
