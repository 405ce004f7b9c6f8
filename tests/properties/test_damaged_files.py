"""Damaged component files: refused in one line, or read and answered with finite numbers.

Warnings are errors, so that a division by zero on the way is a failure as well.
"""

import copy
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.arrangement import Arrangement
from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.load import ShaftLoad
from converter_match.components.machine import Machine
from converter_match.components.motor import Motor
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.load.load import over_load
from converter_match.judgement.match.solve import solve
from converter_match.judgement.motor.solve import solve_motor
from converter_match.judgement.wheels.tractive import tractive
from converter_match.library.check import oddities
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.duty_csv import read_duty
from converter_match.library.fuel_csv import read_fuel_map
from converter_match.library.intake.reading import intake
from converter_match.library.read import (
    read_component,
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
)
from converter_match.library.route_csv import read_route
from converter_match.library.shipped import shipped
from converter_match.library.stall_log import read_log
from converter_match.library.stall_readings import read_readings
from converter_match.library.study_file import read_study
from converter_match.library.surfaces import read_surfaces
from converter_match.physics.converter.blading import characteristic_from_blading
from tests.haul_examples import earth
from tests.properties.damage import (
    DATA,
    TOML,
    changed_sheet,
    damaged_bytes,
    damaged_text,
    one_change,
    saved,
    toml,
    trees,
)
from tests.properties.depth import depth
from tests.properties.plain import check_finite, check_refusal, survives_json

TREES = trees()
CHANCE = st.randoms(use_true_random=False)
SHEETS = sorted(
    path
    for path in (DATA.parent / "tests" / "data" / "sheets").iterdir()
    if path.suffix in (".csv", ".tsv", ".txt") and path.name != "utf16.txt"
)


@cache
def partners():
    return (
        read_engine(shipped("engines")["six-cylinder-7l-185kw"]),
        read_converter(shipped("converters")["single-stage-345mm-tight"]),
        read_driveline(shipped("drivelines")["four-speed-loader"]),
        read_machine(shipped("machines")["wheel-loader-17t"]),
    )


def answer(component):
    """Put a component to its use; what comes of it survives JSON."""
    engine, converter, driveline, machine = partners()
    if isinstance(component, Engine):
        return solve(component, converter)
    if isinstance(component, Converter):
        return solve(engine, component)
    if isinstance(component, Site):
        return solve(engine, converter, site=component)
    if isinstance(component, Arrangement):
        return solve_arranged(engine, converter, component)
    if isinstance(component, BladingGeometry):
        return solve(engine, characteristic_from_blading(component))
    if isinstance(component, Motor):
        return solve_motor(component, converter)
    match = solve(engine, converter)
    if isinstance(component, ShaftLoad):
        return over_load(match, component)
    if isinstance(component, Driveline):
        return tractive(match, component, machine, earth())
    assert isinstance(component, Machine)
    return tractive(match, driveline, component, earth())


def try_file(path):
    """Return whether a file could be read; it is refused in one line or gives finite numbers."""
    try:
        component = read_component(path)
    except InputError as error:
        # A file that it names stands first where that is wrong, and then who named it.
        named = str(path) in str(error)
        check_refusal(error, None if named else str(path))
        return False
    check_finite(component)
    assert component.fingerprint()
    for note in oddities(component):
        assert note.message
    try:
        result = answer(component)
    except InputError as error:
        check_refusal(error)
        return True
    survives_json(result)
    assert result.text("si")
    assert result.text("us")
    return True


def try_study(path):
    try:
        read_study(path)
    except InputError as error:
        check_refusal(error)


@depth(120, 10_000)
@given(which=st.integers(0, len(TOML) - 1), count=st.integers(1, 4), chance=CHANCE)
def test_file_with_its_tree_changed_is_refused_or_answered(tmp_path, which, count, chance):
    tree = copy.deepcopy(TREES[which])
    for _ in range(count):
        one_change(tree, chance, TREES)
    path = saved(tmp_path, toml(tree).encode("utf-8", "surrogatepass"), ".toml")
    (try_study if TOML[which].parent.name == "studies" else try_file)(path)


@depth(200, 10_000)
@given(which=st.integers(0, len(TOML) - 1), chance=CHANCE)
def test_file_with_its_words_and_lines_changed_is_refused_or_answered(tmp_path, which, chance):
    text = damaged_text(TOML[which].read_text(encoding="utf-8"), chance)
    path = saved(tmp_path, text.encode("utf-8"), ".toml")
    (try_study if TOML[which].parent.name == "studies" else try_file)(path)


@depth(200, 10_000)
@given(which=st.integers(0, len(TOML) - 1), chance=CHANCE)
def test_file_with_its_bytes_changed_is_refused_or_answered(tmp_path, which, chance):
    path = saved(tmp_path, damaged_bytes(TOML[which].read_bytes(), chance), ".toml")
    (try_study if TOML[which].parent.name == "studies" else try_file)(path)


@pytest.mark.parametrize("path", TOML, ids=lambda path: path.stem)
def test_writer_of_the_fuzz_writes_what_was_read(path, tmp_path):
    # Else the trees above would all be refused, for a reason of no interest.
    if path.parent.name == "studies":
        return
    again = saved(tmp_path, toml(TREES[TOML.index(path)]).encode("utf-8"), ".toml")
    assert read_component(again) == read_component(path)
    assert try_file(again)


LOG = """\
time,machine,engine,converter,test,gear,brakes,engine_speed_rpm,oil_temperature_degc,\
expected_low_rpm,expected_high_rpm,coverage,place,finding,share
2031-05-04T13:30:00+00:00,loader 4,e,c,converter,3,held,1750,85,1700,1850,0.95,inside,\
nothing-to-see,0.7
2031-06-04T13:30:00+00:00,loader 4,e,c,converter,,held,1600,,1700,1850,0.95,below,engine-down,0.8
"""
READINGS = """\
engine speed [rpm],gear,oil temperature [degC],brakes,test
1750,3,85,held,converter
1400,3,88,held,both
"""
FUEL = "speed [rpm],torque [N.m],rate [kg/h]\n" + "".join(
    f"{speed},{torque},{0.2e-4 * speed * torque + 2}\n"
    for speed in (800, 1400, 2200) for torque in (0, 400, 900)
)  # fmt: skip
TABLES = {
    "route": (read_route, (DATA / "routes" / "quarry-to-crusher.csv").read_text("utf-8")),
    "cycle": (read_cycle, (DATA / "cycles" / "loader-truck-loading.csv").read_text("utf-8")),
    "duty": (read_duty, (DATA / "duties" / "loader-loading-shift.csv").read_text("utf-8")),
    "surfaces": (read_surfaces, (DATA / "published" / "surfaces.csv").read_text("utf-8")),
    "fuel map": (read_fuel_map, FUEL),
    "stall log": (read_log, LOG),
    "stall readings": (read_readings, READINGS),
}


@pytest.mark.parametrize("kind", TABLES)
def test_tables_of_the_fuzz_can_be_read_as_they_stand(kind, tmp_path):
    read, text = TABLES[kind]
    assert read(saved(tmp_path, text.encode(), ".csv"))


@pytest.mark.parametrize("kind", TABLES)
@depth(60, 2000)
@given(chance=CHANCE, cells=st.booleans())
def test_damaged_table_is_refused_in_one_line_or_read(kind, tmp_path, chance, cells):
    read, text = TABLES[kind]
    raw = changed_sheet(text, chance).encode() if cells else damaged_bytes(text.encode(), chance)
    path = saved(tmp_path, raw, ".csv")
    try:
        found = read(path)
    except InputError as error:
        check_refusal(error, str(path))
        return
    # No limit and no stop are infinite and missing there; of speed and ratio one is.
    if kind not in ("route", "cycle", "duty"):
        check_finite(found)


@depth(100, 10_000)
@given(which=st.integers(0, len(SHEETS) - 1), chance=CHANCE, cells=st.booleans())
def test_damaged_dealers_sheet_is_refused_or_leaves_open_what_it_must(
    tmp_path, which, chance, cells
):
    source = SHEETS[which]
    raw = source.read_bytes()
    if cells:
        raw = changed_sheet(raw.decode("utf-8", "replace"), chance).encode("utf-8", "replace")
    else:
        raw = damaged_bytes(raw, chance)
    path = saved(tmp_path, raw, source.suffix)
    try:
        draft = intake(path)
        assert draft.text()
        component = draft.accept()
    except InputError as error:
        check_refusal(error, longest=20_000)  # it lists every open question
        return
    check_finite(component)
    try:
        survives_json(answer(component))
    except InputError as error:
        check_refusal(error)
