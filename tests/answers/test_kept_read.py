"""Every shipped file is read, and written again, as it was when somebody last looked at it.

What a file becomes, field by field in SI, and what is asked and doubted of it; and a study that has
a row of every kind. Held as the answers are (see there).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

import converter_match as cm
from converter_match.errors import InputError
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.duty_csv import read_duty
from converter_match.library.route_csv import read_route
from converter_match.library.shipped import data_folder, shipped
from converter_match.library.study_file import read_study
from converter_match.library.surfaces import read_surfaces
from converter_match.library.write import component_text
from converter_match.notes import Note
from converter_match.units import note_text
from tests.answers.drawn import number, numbers
from tests.answers.holding import compare, kept_names
from tests.study_examples import study_file

KINDS = (
    "adjustable", "arrangements", "blading", "converters", "drivelines", "engines", "loads",
    "machines", "motors", "sites", "studies",
)  # fmt: skip
TABLES = {
    "cycle": lambda: read_cycle(shipped("cycles")["loader-truck-loading"], read_surfaces()),
    "duty": lambda: read_duty(shipped("duties")["loader-loading-shift"]),
    "route": lambda: read_route(shipped("routes")["quarry-to-crusher"], read_surfaces()),
    "surfaces": read_surfaces,
}
# A row of every kind that a study can have.
EVERYTHING = """
rolling_resistance = { unit = "percent", value = 3 }
traction = 0.5
hydraulic_torque = { unit = "N.m", value = 90 }
points = "loader-loading-shift"
routes = "quarry-to-crusher"
load = "empty"

[limits]
input_torque = { unit = "N.m", value = 1500 }
turbine_speed = { unit = "rpm", value = 2600 }
heat = { unit = "kW", value = 60 }
oil_temperature = { unit = "degC", value = 118 }
stall_speed_most = { unit = "rpm", value = 2100 }
top_speed_least = { unit = "km/h", value = 25 }

[[criterion]]
name = "stall-speed-window"
weight = "must"
margin = { unit = "percent", value = 1 }

[[criterion]]
name = "continuous-heat"
weight = "should"
conditions = ["plateau-quarry-hot-day", "working"]

[decision]
reject_probability = { unit = "percent", value = 40 }

[losses]
wrong_order = 4
missed_order = 2
minutes = 0.01
dear = 0.3

[evidence]
work_error = { unit = "percent", value = 2 }

[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 3 }
distribution = "normal"
shared = true

[[tolerance]]
quantity = "k-factor"
half_width = 0.04
of = "present"
shift = { unit = "percent", value = -1 }
scatter = 0.3

[[tolerance]]
quantity = "air-temperature"
half_width = { unit = "K", value = 5 }
distribution = "triangular"

[[same_part]]
part = "engine"
combinations = ["new-engine", "larger"]

[[correlation]]
between = ["engine-torque", "k-factor"]
coefficient = -0.4

[[measurement]]
quantity = "stall-speed"
value = { unit = "rpm", value = 1388 }
deviation = { unit = "percent", value = 1 }
repeats = 3
combination = "present"
site = "plateau-quarry-hot-day"
air_temperature = { unit = "degC", value = 27 }
air_pressure = { unit = "kPa", value = 79 }
oil_temperature = { unit = "degC", value = 85 }
model_error = { unit = "percent", value = 2 }
date = 2026-05-04
source = "tachometer"

[[possible]]
quantity = "pull"
combination = "present"
gear = "2"
cost = "hours"
deviation = { unit = "kN", value = 1 }
air_temperature = { unit = "degC", value = 20 }
ground = "other"
surface = "concrete or asphalt"

[[possible]]
quantity = "weight"
combination = "present"
load = "laden"

[[possible]]
quantity = "top-speed"
combination = "present"
cost = "off"

[[claim]]
quantity = "stall-speed"
value = { unit = "rpm", value = 1900 }
combination = "larger"
source = "a dealer"
tolerance = 0.01
site = "plateau-quarry-hot-day"
hydraulic_torque = { unit = "N.m", value = 50 }

[[claim]]
quantity = "tractive-effort"
value = { unit = "kN", value = 80 }
combination = "new-engine"
gear = "2"
speed = { unit = "km/h", value = 5 }
load = "laden"
grade = { unit = "percent", value = 4 }

[[candidate]]
id = "larger"
engine = "six-cylinder-7l-185kw"
converter = "single-stage-360mm"
diameter = { unit = "mm", value = 370 }
arrangement = "stator-set-free"
"""
HEAD = """sites = ["plateau-quarry-hot-day", "harbour-cold-morning"]
question = "Which one?"
customer = "Hollowskerry quarry"
machine_serial_number = "HQ 7"
date = 2026-11-02
author = "somebody"
siblings = ["single-stage-345mm-loose"]
ratings = "six-cylinder-8l-205kw-late-boost"
"""


def parts_of(item: Any, place: str = "") -> Iterator[str]:
    """Yield what an object holds, each part with its place."""
    if isinstance(item, Note):
        yield f"{place} = {item.code}: {note_text(item, 'si')}"
    elif isinstance(item, np.ndarray) and item.dtype.kind in "fiu":
        yield f"{place} = {item.shape} {numbers(item)}"
    elif is_dataclass(item) and place and hasattr(item, "id") and hasattr(item, "source"):
        # Of a component of a study only which it is: its own file is read above.
        diameter = getattr(item, "profile_diameter", None)
        yield f"{place} is {item.id}" + (f", {number(diameter)}" if diameter else "")
    elif is_dataclass(item):
        for field in fields(item):
            if field.name not in ("inputs", "content"):
                yield from parts_of(getattr(item, field.name), f"{place}.{field.name}")
    elif isinstance(item, dict):
        for key, value in item.items():
            yield from parts_of(value, f"{place}[{key!r}]")
    elif isinstance(item, list | tuple):
        yield f"{place}: {len(item)}"
        for row, value in enumerate(item):
            yield from parts_of(value, f"{place}[{row}]")
    elif isinstance(item, float | np.floating):
        yield f"{place} = {number(float(item))}"
    elif isinstance(item, str | int | None):
        yield f"{place} = {item!r}"
    else:
        yield f"{place} is a {type(item).__name__}"


def asked_of(read: Any) -> Iterator[str]:
    """Yield what is asked and doubted of a file."""
    for note in getattr(read, "notes", ()):
        yield f"note {note.code}: {note_text(note, 'us')}"


@pytest.mark.parametrize("kind", KINDS)
def test_shipped_files_are_read_and_written_as_they_were(kind, request):
    lines = []
    for id, path in shipped(kind).items():
        read = cm.read(path)
        lines += [f"# {id}: {type(read).__name__}", *parts_of(read), *asked_of(read)]
        if kind != "studies":
            try:
                lines += component_text(read).splitlines()
            except InputError as error:
                lines.append(f"not written: {error}")
    lines = [line.replace(str(data_folder()), "data") for line in lines]
    compare(f"read-{kind}", lines, request)


@pytest.mark.parametrize("name", TABLES)
def test_shipped_tables_are_read_as_they_were(name, request):
    lines = [line.replace(str(data_folder()), "data") for line in parts_of(TABLES[name]())]
    compare(f"read-{name}", lines, request)


def test_a_row_of_every_kind_is_read_as_it_was(request, tmp_path):
    path = study_file(tmp_path, ('sites = ["plateau-quarry-hot-day"]\n', HEAD), more=EVERYTHING)
    study = read_study(path)
    lines = [line.replace(str(data_folder()), "data") for line in parts_of(study)]
    lines += [f"{item.role}: {item.name}" for item in study.inputs]
    compare("read-everything", lines, request)


def test_every_kept_reading_is_of_a_file():
    assert kept_names("read-") == {*KINDS, *TABLES, "everything"}
