"""A machine file becomes a `Machine`."""

from __future__ import annotations

from typing import Any

from converter_match.components.cooling import STEEL_SPECIFIC_HEAT, Cooler, Oil
from converter_match.components.machine import Balance, Machine, Slip, Tracks
from converter_match.components.tyre import Tyre
from converter_match.library.assemble.places import said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema import machine as schema
from converter_match.library.schema.quantity import GivenQuantity, si_of
from converter_match.notes import Note, assumption

_OWN = ("mass_empty", "payload", "frontal_area", "wheel_inertia", "running_drag")


def assemble(toml: TomlFile) -> Machine:
    """Return the machine that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(schema.MachineFile, toml)
    places: dict[str, Any] = {key: (f"{key}.value", getattr(file, key)) for key in _OWN}
    places["drag_coefficient"] = ("drag_coefficient", file.drag_coefficient)
    for name, table in (("tyre", file.tyre), ("tracks", file.tracks), ("oil", file.oil)):
        for key, value in table or ():
            if isinstance(value, GivenQuantity):
                places[f"{name}.{key}"] = (f"{name}.{key}.value", value)
    if file.tyre is not None and file.tyre.loaded_radius is not None:
        places["tyre.rolling_radius"] = ("tyre.loaded_radius.value", file.tyre.loaded_radius)
    with said_in_file_words(places):
        balance, notes = _balance(file.balance)
        return Machine(
            id=file.id,
            name=file.name,
            source=file.source,
            mass_empty=file.mass_empty.si,
            payload=si_of(file.payload) or 0.0,
            running_gear=_running_gear(file),
            slip=_slip(file.slip),
            balance=balance,
            frontal_area=si_of(file.frontal_area),
            drag_coefficient=si_of(file.drag_coefficient),
            wheel_inertia=si_of(file.wheel_inertia),
            running_drag=si_of(file.running_drag) or 0.0,
            cooler=_cooler(file.cooler),
            oil=_oil(file.oil),
            interface=file.interface,
            given_notes=(*file.notes(), *notes),
        )


def _running_gear(file: schema.MachineFile) -> Tyre | Tracks:
    if file.tracks is not None:
        return Tracks(sprocket_radius=file.tracks.sprocket_radius.si)
    table = file.tyre
    assert table is not None  # the file model has seen to it
    given = table.rolling_radius or table.loaded_radius
    notes: tuple[Note, ...] = ()
    if table.loaded_radius is not None:
        notes = (
            assumption(
                "loaded-radius-as-rolling",
                "The standing loaded radius is used as rolling radius: a radial tyre rolls some "
                "2 to 4 % further in a turn (common practice).",
            ),
        )
    if table.size is None:
        assert given is not None  # the file model has seen to it
        return Tyre(rolling_radius=given.si, given_notes=notes)
    tyre = Tyre.from_size(table.size, si_of(given))
    return tyre.replace(given_notes=tyre.given_notes + notes)


def _slip(table: schema.SlipTable | None) -> Slip:
    if table is None:
        return Slip()
    places: dict[str, Any] = {
        "slip.constant": ("slip.value", table.value),
        "slip.use": ("slip.use", table.use),
        "slip.slip": ("slip.slip", table.slip),
    }
    with said_in_file_words(places):
        return Slip(
            constant=si_of(table.value) or 0.0,
            use=table.use.si if table.use else None,
            slip=table.slip.si if table.slip else None,
        )


def _balance(table: schema.BalanceTable | None) -> tuple[Balance, tuple[Note, ...]]:
    if table is None:
        note = assumption(
            "all-wheels-driven",
            "No table [balance] is given: all wheels are taken to be driven, so the whole weight "
            "helps the grip.",
        )
        return Balance(), (note,)
    keys = (
        "driven_share_empty",
        "driven_share_laden",
        "wheelbase",
        "gravity_height_empty",
        "gravity_height_laden",
    )
    given = {key: si_of(getattr(table, key)) for key in keys}
    notes = []
    for laden, empty, what in (
        ("driven_share_laden", "driven_share_empty", "driven share of the weight"),
        ("gravity_height_laden", "gravity_height_empty", "height of the centre of gravity"),
    ):
        if given[laden] is None and given[empty] is not None:
            given[laden] = given[empty]
            if table.driven_axle != "all":
                notes.append(
                    assumption(
                        f"{laden.replace('_', '-')}-not-given",
                        f"The {what} laden is not given: it is taken as that of the empty machine.",
                    )
                )
    places: dict[str, Any] = {
        f"balance.{key}": (f"balance.{key}.value", getattr(table, key)) for key in keys
    }
    with said_in_file_words(places):
        known: dict[str, Any] = {key: value for key, value in given.items() if value is not None}
        return Balance(driven_axle=table.driven_axle, **known), tuple(notes)


def _cooler(table: schema.CoolerTable | None) -> Cooler | None:
    if table is None:
        return None
    cooler = _as_rated(table)
    if table.air_density is None:
        return cooler
    places = {"cooler.air_density": ("cooler.air_density.value", table.air_density)}
    with said_in_file_words(places):
        return cooler.replace(air_density=table.air_density.si)


def _as_rated(table: schema.CoolerTable) -> Cooler:
    places: dict[str, Any] = {
        "cooler.heat": ("cooler.heat", table.heat),
        "cooler.difference": ("cooler.difference", table.difference),
        "cooler.rated_heat": ("cooler.rated_heat.value", table.rated_heat),
        "cooler.oil_temperature": ("cooler.oil_temperature.value", table.oil_temperature),
        "cooler.conductance": (
            "cooler.conductance.value" if table.conductance else "cooler.rated_heat.value",
            table.conductance or table.rated_heat,
        ),
    }
    with said_in_file_words(places):
        if table.difference is not None and table.heat is not None:
            return Cooler(difference=table.difference.si, heat=table.heat.si)
        if table.conductance is not None:
            return Cooler.from_conductance(table.conductance.si)
        assert table.rated_heat is not None  # the file model has seen to all three
        assert table.oil_temperature is not None
        assert table.air_temperature is not None
        return Cooler.from_rating(
            table.rated_heat.si, table.oil_temperature.si, table.air_temperature.si
        )


def _oil(table: schema.OilTable) -> Oil:
    given = {key: si_of(value) for key, value in table}
    steel = given.pop("metal_specific_heat")
    return Oil(**given, metal_specific_heat=STEEL_SPECIFIC_HEAT if steel is None else steel)
