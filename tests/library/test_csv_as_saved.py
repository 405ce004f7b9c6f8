"""Tables as spreadsheets save them: byte-order mark, semicolons, decimal commas, a units line."""

import csv
import io

import numpy as np
import pytest

from converter_match.answer.block import Block, Heading
from converter_match.answer.csv_table import block_csv
from converter_match.errors import InputError
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.duty_csv import read_duty
from converter_match.library.fuel_csv import read_fuel_map
from converter_match.library.machine_log import MachineLog
from converter_match.library.route_csv import read_route
from converter_match.library.shipped import data_folder, find
from converter_match.library.stall_log import append_rows, read_log
from converter_match.library.stall_readings import read_readings
from converter_match.library.surfaces import read_surfaces
from converter_match.units import DIMENSIONS, to_si
from converter_match.units.amounts import AMOUNTS

MARK = "\ufeff"
FUEL = "speed [rpm],torque [N.m],rate [kg/h]\n" + "".join(
    f"{speed},{torque},{rate}\n"
    for speed, torque, rate in (
        (800, 100.5, 3.5),
        (800, 500, 9.5),
        (2000, 100.5, 8.5),
        (2000, 500, 22),
    )
)
READINGS = "engine speed [rpm],gear,oil temperature [degC]\n1750.5,3,85.5\n"


def log_of(path):
    return next(MachineLog(path, reference_torque=1004.0).pieces()).columns


# Reader, a table it reads, and what of it is compared.
READERS = {
    "route": (read_route, find("routes", "quarry-to-crusher"), lambda it: it.fingerprint()),
    "cycle": (read_cycle, find("cycles", "loader-truck-loading"), lambda it: it.fingerprint()),
    "duty": (read_duty, find("duties", "loader-loading-shift"), lambda it: it.fingerprint()),
    "fuel map": (read_fuel_map, FUEL, lambda it: it.fingerprint()),
    "readings": (read_readings, READINGS, repr),
    "surfaces": (read_surfaces, data_folder() / "published" / "surfaces.csv", repr),
    "machine log": (
        log_of,
        "time [s],engine speed [rpm],turbine speed [rpm],engine torque [percent]\n"
        "0,800,0,10\n0.1,801.5,0.5,11.5\n",
        lambda it: {name: values.tolist() for name, values in it.items()},
    ),
    "stall log": (read_log, data_folder() / "logs" / "stall-tests.csv", repr),
}


def text_of(given):
    return given if isinstance(given, str) else given.read_text(encoding="utf-8")


def with_semicolons(text):
    """Return a table as a spreadsheet saves it where the comma is the decimal mark."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    for line in text.splitlines():
        if line.startswith("#"):
            out.write(line + "\n")
            continue
        for cells in csv.reader([line]):
            writer.writerow([_comma(cell) for cell in cells])
    return out.getvalue()


def _comma(cell):
    try:
        float(cell)
    except ValueError:
        return cell
    return cell.replace(".", ",")


@pytest.mark.parametrize("saved", ["mark", "semicolons", "mark and semicolons", "CR LF"])
@pytest.mark.parametrize("name", READERS)
def test_table_as_a_spreadsheet_saves_it_is_the_same_table(tmp_path, name, saved):
    read, given, key = READERS[name]
    text = text_of(given)
    folder = tmp_path / "plain"
    folder.mkdir()
    plain = folder / "table.csv"
    plain.write_text(text, encoding="utf-8")
    if "semicolons" in saved:
        text = with_semicolons(text)
    if "mark" in saved:
        text = MARK + text
    path = tmp_path / "table.csv"
    if saved == "CR LF":
        text = text.replace("\n", "\r\n")
    path.write_bytes(text.encode("utf-8"))
    expected = key(read(plain))
    assert repr(key(read(path))).replace(str(path), "") == repr(expected).replace(str(plain), "")


def test_units_may_stand_below_the_names(tmp_path):
    above, below = tmp_path / "above.csv", tmp_path / "below.csv"
    above.write_text(READINGS, encoding="utf-8")
    below.write_text(
        "engine speed,gear,oil temperature\nrpm,,°F\n1750.5,3,185.9\n", encoding="utf-8"
    )
    (one,), (other,) = read_readings(above), read_readings(below)
    assert other.engine_speed == one.engine_speed
    assert other.oil_temperature == pytest.approx(one.oil_temperature)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("engine speed,gear\n1750,3\n", "names no unit"),
        ("engine speed,gear\nfurlong,\n1750,3\n", "names no unit"),
        ("engine speed,gear\nkW,\n1750,3\n", "line 2, engine speed"),
    ],
)
def test_line_that_is_no_line_of_units_is_none(tmp_path, text, says):
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_readings(path)
    assert says in str(caught.value)


def test_log_that_was_saved_with_semicolons_goes_on_in_that_manner(tmp_path):
    path = tmp_path / "log.csv"
    text = with_semicolons(text_of(READERS["stall log"][1]))
    path.write_text(text, encoding="utf-8")
    rows = read_log(path)
    append_rows(path, rows[-1:])
    added = path.read_text(encoding="utf-8").removeprefix(text)
    assert added.count("\n") == 1
    assert ";0,95;" in added
    assert read_log(path)[-1] == rows[-1]


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("name", AMOUNTS)
def test_what_is_written_reads_back_through_its_units_line(name, system):
    """Names, units, rows: the unit is one that a file may be written in, and the number its."""
    dimension = AMOUNTS[name].dimension
    block = Block("", columns=(Heading("it", "it", name),), rows=((1.5,), (370.25,)))
    (_,), (unit,), *rows = csv.reader(io.StringIO(block_csv(block, system)))
    back = [to_si(float(row[0]), unit, dimension) for row in rows]
    np.testing.assert_allclose(back, [1.5, 370.25], rtol=1e-12)
    assert dimension in DIMENSIONS


def test_table_without_units_has_no_line_for_them():
    block = Block("", columns=(Heading("name", "name"),), rows=(("=1+1",),))
    assert block_csv(block) == "name\n'=1+1\n"
