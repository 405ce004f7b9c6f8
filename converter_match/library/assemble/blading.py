"""A blading file becomes a `BladingGeometry`."""

from __future__ import annotations

from converter_match.components.blading import BladeRow, BladingGeometry
from converter_match.library.assemble.places import Places, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema.blading import BladeRowTable, BladingFile
from converter_match.library.schema.quantity import si_of


def assemble(toml: TomlFile) -> BladingGeometry:
    """Return the blading that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(BladingFile, toml)
    rows = {"impeller": file.impeller, "turbine": file.turbine, "stator": file.stator}
    places: Places = {
        "profile_diameter": ("profile_diameter", file.profile_diameter),
        "flow_area": ("flow_area", file.flow_area),
        "oil_density": ("oil_density", file.oil_density),
        "friction_factor": ("friction_factor", file.friction_factor),
        "impeller_inertia": ("inertia.impeller", file.inertia.impeller),
        "turbine_inertia": ("inertia.turbine", file.inertia.turbine),
        **{
            f"{name}_exit_radius": (f"{name}.exit_radius", table.exit_radius if table else None)
            for name, table in rows.items()
        },
    }
    impeller, turbine = _row(file.impeller, "impeller"), _row(file.turbine, "turbine")
    stator = None if file.stator is None else _row(file.stator, "stator")
    with said_in_file_words(places):
        return BladingGeometry(
            id=file.id,
            name=file.name,
            source=file.source,
            mounting=file.mounting,
            impeller_exit_radius=file.impeller.exit_radius.si,
            turbine_exit_radius=file.turbine.exit_radius.si,
            stator_exit_radius=None if file.stator is None else file.stator.exit_radius.si,
            flow_area=file.flow_area.si,
            profile_diameter=file.profile_diameter.si,
            oil_density=file.oil_density.si,
            impeller=impeller,
            turbine=turbine,
            stator=stator,
            friction_factor=file.friction_factor.si,
            friction_form=file.friction_form,
            impeller_inertia=si_of(file.inertia.impeller),
            turbine_inertia=si_of(file.inertia.turbine),
            given_notes=file.notes(),
        )


def _row(table: BladeRowTable, name: str) -> BladeRow:
    places: Places = {
        key: (f"{name}.{key}", getattr(table, key))
        for key in ("entry_angle", "exit_angle", "shock_factor")
    }
    with said_in_file_words(places):
        return BladeRow(
            entry_angle=table.entry_angle.si,
            exit_angle=table.exit_angle.si,
            shock_factor=table.shock_factor.si,
        )
