"""An arrangement file becomes an `Arrangement`."""

from __future__ import annotations

from typing import Any

from converter_match.components.arrangement import (
    Arrangement,
    HydraulicSharing,
    ImpellerClutch,
    LockUpClutch,
    OverrunDuty,
    PartLoadDuty,
    Permissions,
    TorqueDivider,
    Wheels,
)
from converter_match.components.engine import SpeedTable
from converter_match.components.planetary import CLASSIC, Connection, Planetary
from converter_match.library.assemble.parallel import assembled_parallel
from converter_match.library.assemble.places import Places, places_of, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema.arrangement import (
    ArrangementFile,
    HydraulicSharingTable,
    ImpellerClutchTable,
    LockUpTable,
    OverrunTable,
    PartLoadTable,
    TorqueDividerTable,
    WheelsTable,
)
from converter_match.library.schema.quantity import si_of
from converter_match.notes import Note, assumption


def assemble(toml: TomlFile) -> Arrangement:
    """Return the arrangement that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(ArrangementFile, toml)
    factor = file.stall_capacity_factor
    places: Places = {"stall_capacity_factor": ("stall_capacity_factor", factor)}
    with said_in_file_words(places):
        return _arrangement(file, toml)


def _arrangement(file: ArrangementFile, toml: TomlFile) -> Arrangement:
    return Arrangement(
        id=file.id,
        name=file.name,
        source=file.source,
        stator=file.stator,
        stall_capacity_factor=si_of(file.stall_capacity_factor),
        lock_up=_lock_up(file.lock_up),
        impeller_clutch=_impeller_clutch(file.impeller_clutch),
        torque_divider=_torque_divider(file.torque_divider),
        hydraulic_sharing=_hydraulic_sharing(file.hydraulic_sharing),
        overrun=_overrun(file.overrun),
        part_load=_part_load(file.part_load),
        parallel=assembled_parallel(file.parallel, toml),
        wheels=_wheels(file.wheels),
        permissions=Permissions(
            negative_speed_ratio=file.permission.negative_speed_ratio,
            overrun=file.permission.overrun,
            stator=file.permission.stator,
        ),
        given_notes=file.notes() + _connection_notes(file.torque_divider),
    )


def _lock_up(table: LockUpTable | None) -> LockUpClutch | None:
    if table is None:
        return None
    engage, release = table.threshold("engage"), table.threshold("release")
    with said_in_file_words(places_of("lock_up", table, engage=engage, release=release)):
        return LockUpClutch(
            engage_by=table.engage_by,
            engage=engage.si,
            release=release.si,
            torque_capacity=si_of(table.torque_capacity),
            engagement_time=si_of(table.engagement_time),
        )


def _impeller_clutch(table: ImpellerClutchTable | None) -> ImpellerClutch | None:
    if table is None:
        return None
    given: dict[str, Any] = {}
    if table.settings is not None:
        given["settings"] = tuple(table.settings.si.tolist())
    with said_in_file_words(places_of("impeller_clutch", table)):
        return ImpellerClutch(
            torque_capacity=table.torque_capacity.si,
            engine_speed=si_of(table.engine_speed),
            turbine_torque_limit=si_of(table.turbine_torque_limit),
            tractive_effort_limit=si_of(table.tractive_effort_limit),
            **given,
        )


def _torque_divider(table: TorqueDividerTable | None) -> TorqueDivider | None:
    if table is None:
        return None
    places: Places = {
        name: (f"torque_divider.{name}", getattr(table, name))
        for name in ("sun_teeth", "ring_teeth", "ratio", "connection")
    }
    given: dict[str, Any] = {} if table.ratio is None else {"ratio": table.ratio.si}
    with said_in_file_words(places):
        return TorqueDivider(
            planetary=Planetary(sun_teeth=table.sun_teeth, ring_teeth=table.ring_teeth, **given),
            connection=CLASSIC if table.connection is None else Connection.parse(table.connection),
        )


def _connection_notes(table: TorqueDividerTable | None) -> tuple[Note, ...]:
    if table is None or table.connection is not None:
        return ()
    return (
        assumption(
            "connection-assumed",
            f"The file does not say how the torque divider is connected: {CLASSIC} is assumed.",
        ),
    )


def _hydraulic_sharing(table: HydraulicSharingTable | None) -> HydraulicSharing | None:
    if table is None:
        return None
    with said_in_file_words(places_of("hydraulic_sharing", table)):
        states = {
            name: SpeedTable(
                speed=table.speed.si, value=column.si, name=f"hydraulic_sharing.{name}"
            )
            for name in ("standby", "partial", "relief")
            if (column := getattr(table, name)) is not None
        }
        return HydraulicSharing(**states)


def _overrun(table: OverrunTable | None) -> OverrunDuty | None:
    if table is None:
        return None
    with said_in_file_words(places_of("overrun", table)):
        return OverrunDuty(
            exhaust_brake=table.exhaust_brake, overspeed_limit=si_of(table.overspeed_limit)
        )


def _part_load(table: PartLoadTable | None) -> PartLoadDuty | None:
    if table is None:
        return None
    places: Places = {
        "part_load.no_load_speeds": ("part_load.no_load_speed", table.no_load_speed),
        "part_load.pedals": ("part_load.pedal", table.pedal),
    }
    with said_in_file_words(places):
        return PartLoadDuty(
            no_load_speeds=tuple(table.no_load_speed.si.tolist()) if table.no_load_speed else (),
            pedals=tuple(table.pedal.si.tolist()) if table.pedal else (),
        )


def _wheels(table: WheelsTable | None) -> Wheels | None:
    if table is None:
        return None
    with said_in_file_words(places_of("wheels", table)):
        return Wheels(
            overall_ratio=table.overall_ratio.si,
            rolling_radius=table.rolling_radius.si,
            efficiency=table.efficiency.si,
        )
