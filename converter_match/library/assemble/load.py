"""A load file becomes a `ShaftLoad`."""

from __future__ import annotations

from converter_match.components.engine import SpeedTable
from converter_match.components.load import (
    Conveyor,
    Driven,
    FlowMachine,
    Machine,
    ShaftLoad,
    TorqueTable,
    Winch,
)
from converter_match.library.assemble.places import Places, places_of, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema.load import (
    FlowMachineTable,
    LoadFile,
    SpeedTorqueTable,
    WinchTable,
)
from converter_match.library.schema.quantity import si_of
from converter_match.notes import Note, assumption


def assemble(toml: TomlFile) -> ShaftLoad:
    """Return the load that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(LoadFile, toml)
    driven = _driven(file)
    places: Places = {
        "ratio": ("ratio", file.ratio),
        "efficiency": ("efficiency", file.efficiency),
        "inertia": ("inertia", file.inertia),
    }
    with said_in_file_words(places):
        return ShaftLoad(
            id=file.id,
            name=file.name,
            source=file.source,
            driven=driven,
            ratio=1.0 if file.ratio is None else file.ratio.si,
            efficiency=1.0 if file.efficiency is None else file.efficiency.si,
            inertia=si_of(file.inertia),
            given_notes=file.notes() + _assumed(file),
        )


def _driven(file: LoadFile) -> Driven:
    if file.winch is not None:
        return _winch(file.winch)
    if file.pump is not None:
        return _flow_machine(file.pump, "pump")
    if file.propeller is not None:
        return _flow_machine(file.propeller, "propeller")
    if file.conveyor is not None:
        with said_in_file_words(places_of("conveyor", file.conveyor)):
            return Conveyor(
                torque=file.conveyor.torque.si,
                breakaway_torque=si_of(file.conveyor.breakaway_torque),
            )
    assert file.table is not None  # the file has one of them
    return _table(file.table)


def _winch(table: WinchTable) -> Winch:
    assert table.drum_diameter is not None  # the model refuses a winch without
    assert table.rope_diameter is not None
    with said_in_file_words(places_of("winch", table)):
        return Winch(
            line_pull=table.line_pull.si,
            drum_diameter=table.drum_diameter.si,
            rope_diameter=table.rope_diameter.si,
            layers=1 if table.layers is None else table.layers.si,  # type: ignore[arg-type]
            work=table.work,
            breakaway_pull=si_of(table.breakaway_pull),
            lowering_efficiency=si_of(table.lowering_efficiency),
        )


def _flow_machine(table: FlowMachineTable, machine: Machine) -> FlowMachine:
    places = dict(places_of(machine, table))
    torque = si_of(table.torque)
    with said_in_file_words(places):
        if torque is None:
            assert table.power is not None  # the model wants one of the two
            places[f"{machine}.torque"] = (f"{machine}.power", table.power)
            torque = table.power.si / table.speed.si if table.speed.si > 0 else table.power.si
        return FlowMachine(
            machine=machine,
            torque=torque,
            speed=table.speed.si,
            breakaway_torque=si_of(table.breakaway_torque),
        )


def _table(table: SpeedTorqueTable) -> TorqueTable:
    with said_in_file_words(
        {
            "table.speed": ("table.speed", table.speed),
            "table.torque": ("table.torque", table.torque),
            "table.breakaway_torque": ("table.breakaway_torque", table.breakaway_torque),
        }
    ):
        return TorqueTable(
            table=SpeedTable(speed=table.speed.si, value=table.torque.si, name="table.torque"),
            breakaway_torque=si_of(table.breakaway_torque),
        )


def _assumed(file: LoadFile) -> tuple[Note, ...]:
    """Return what is taken where the file says nothing."""
    notes = []
    if file.ratio is None:
        notes.append(
            assumption(
                "load-ratio-assumed",
                "The load file gives no ratio: its shaft is taken to turn with the turbine.",
            )
        )
    if file.efficiency is None:
        notes.append(
            assumption(
                "load-efficiency-assumed",
                "The load file gives no efficiency: no loss is counted between turbine and load.",
            )
        )
    table = file.pump or file.propeller
    if table is not None and table.breakaway_torque is None:
        notes.append(
            assumption(
                "load-breakaway-assumed",
                "The load file gives no breakaway torque: from rest the load is taken to turn "
                "freely.",
            )
        )
    others = (file.conveyor, file.table)
    if any(item is not None and item.breakaway_torque is None for item in others) or (
        file.winch is not None and file.winch.breakaway_pull is None
    ):
        notes.append(
            assumption(
                "load-breakaway-assumed",
                "The load file gives no breakaway value: the load is taken to start at what it "
                "takes while it runs. Many take half as much again or more.",
            )
        )
    if file.winch is not None:
        notes += _winch_assumptions(file.winch)
    said = {note.code for note in file.notes()}
    return tuple(note for note in notes if note.code not in said)


def _winch_assumptions(table: WinchTable) -> list[Note]:
    notes = []
    if table.layers is not None and table.layers.si > 1:
        notes.append(
            assumption(
                "rope-layers-stacked",
                "Each layer of rope is taken to lie straight above the one below, one rope "
                "diameter further out; rope that beds in between winds a little closer.",
            )
        )
    if table.work == "hoist" and table.lowering_efficiency is None:
        notes.append(
            assumption(
                "lowering-efficiency-assumed",
                "The load file gives no lowering efficiency: that of hoisting is taken while the "
                "load drives gear and drum.",
            )
        )
    return notes
