"""A driveline file becomes a `Driveline`."""

from __future__ import annotations

from typing import Any

from converter_match.components.driveline import Driveline, DrivelineLimits, Stage
from converter_match.components.gear import (
    Drag,
    DragLaw,
    DragTable,
    Gear,
    LockUp,
    fall_back_drag,
)
from converter_match.library.assemble.places import Places, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema import driveline as schema
from converter_match.library.schema.quantity import si_of
from converter_match.notes import Note, assumption


def assemble(toml: TomlFile) -> Driveline:
    """Return the driveline that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(schema.DrivelineFile, toml)
    shared, assumed = _shared_drag(file)
    gears = tuple(_gear(table, f"gear[{row}]", shared) for row, table in enumerate(file.gear))
    stages = tuple(_stage(table, f"stage[{row}]") for row, table in enumerate(file.stage))
    places: Places = {
        **{f"limits.{key}": (f"limits.{key}.value", value) for key, value in file.limits},
        "shift_time": ("shift_time.value", file.shift_time),
        "shift_hysteresis": ("shift_hysteresis.value", file.shift_hysteresis),
        "speed_limit": ("speed_limit.value", file.speed_limit),
        "input_inertia": ("inertia.input.value", file.inertia.input),
        "output_inertia": ("inertia.output.value", file.inertia.output),
    }
    with said_in_file_words(places):
        return Driveline(
            id=file.id,
            name=file.name,
            source=file.source,
            gears=gears,
            stages=stages,
            limits=DrivelineLimits(**{key: si_of(value) for key, value in file.limits}),
            shift_time=si_of(file.shift_time),
            shift_hysteresis=si_of(file.shift_hysteresis),
            input_inertia=si_of(file.inertia.input),
            output_inertia=si_of(file.inertia.output),
            speed_limit=si_of(file.speed_limit),
            given_notes=(*file.notes(), *assumed),
        )


def _shared_drag(file: schema.DrivelineFile) -> tuple[Drag | None, tuple[Note, ...]]:
    """Return the drag of gears that give none, and a note where it is assumed."""
    given, rating = _drag(file.drag, "drag"), file.limits.turbine_torque
    without = ", ".join(table.name for table in file.gear if table.drag is None)
    if given is not None or not without or rating is None or not file.assume_drag:
        return given, ()
    note = assumption(
        "gear-drag-assumed",
        f"No drag torque is given in gear {without}: the fall-back of Regulation (EU) 2017/2400, "
        "Annex VI, is taken, 1.5 % of the gearbox's input rating and again 1.5 % per 1000 rpm of "
        "turbine speed. A good gearbox drags less.",
    )
    return fall_back_drag(rating.si), (note,)


def _gear(table: schema.GearTable, field: str, shared: Drag | None) -> Gear:
    where = f"gear {table.name!r}"
    reverse = table.ratio.si < 0 or table.direction == "reverse"
    places: dict[str, Any] = {
        f"{where}.ratio": (f"{field}.ratio", table.ratio),
        f"{where}.efficiency": (f"{field}.efficiency", table.efficiency),
    }
    for key in ("upshift_turbine_speed", "downshift_turbine_speed"):
        places[f"{where}.{key}"] = (f"{field}.{key}.value", getattr(table, key))
    for key, value in table.lock_up or ():
        ratio = key.endswith("ratio")
        place = f"{field}.lock_up.{key}" + ("" if ratio else ".value")
        places[f"lock_up.{key}"] = (place, value)
    drag = _drag(table.drag, f"{field}.drag")
    with said_in_file_words(places):
        lock_up = LockUp()
        if table.lock_up is not None:
            rule = {key: si_of(value) for key, value in table.lock_up}
            lock_up = LockUp(allowed=True, **rule)
        return Gear(
            name=table.name,
            ratio=abs(table.ratio.si),
            direction="reverse" if reverse else "forward",
            efficiency=table.efficiency.si,
            drag=shared if drag is None else drag,
            lock_up=lock_up,
            upshift_turbine_speed=si_of(table.upshift_turbine_speed),
            downshift_turbine_speed=si_of(table.downshift_turbine_speed),
        )


def _drag(table: schema.GearDragTable | None, field: str) -> Drag | None:
    if table is None:
        return None
    places: Places = {
        "drag torque": (f"{field}.torque", table.torque),
        "drag.speed": (f"{field}.speed", table.speed),
        "drag.constant": (f"{field}.constant.value", table.constant),
        "drag.torque": (f"{field}.rising.value", table.rising),
        "drag.at_speed": (f"{field}.at_speed.value", table.at_speed),
        "drag.exponent": (f"{field}.exponent", table.exponent),
    }
    with said_in_file_words(places):
        if table.speed is not None and table.torque is not None:
            return DragTable(speed=table.speed.si, value=table.torque.si)
        return DragLaw(
            constant=si_of(table.constant) or 0.0,
            torque=si_of(table.rising) or 0.0,
            at_speed=table.at_speed.si if table.at_speed else 1.0,
            exponent=table.exponent.si if table.exponent else 1.0,
        )


def _stage(table: schema.StageTable, field: str) -> Stage:
    where = f"stage {table.name!r}"
    places: Places = {
        f"{where}.ratio": (f"{field}.ratio", table.ratio),
        f"{where}.efficiency": (f"{field}.efficiency", table.efficiency),
    }
    with said_in_file_words(places):
        return Stage(name=table.name, ratio=table.ratio.si, efficiency=table.efficiency.si)
