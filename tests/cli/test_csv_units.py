"""CSV in the units asked for, which stand in its second line; metric ones on request."""

import csv

import pytest

from converter_match.cli import main
from converter_match.library.shipped import find
from converter_match.units import dimensions_of, to_si
from tests.cli.test_messages import HAULER, LOADER
from tests.cli.test_parser import PAIR
from tests.cli.test_us_units import METRIC

RUNS = {
    "solve": ("solve", *PAIR),
    "tractive": ("tractive", *LOADER),
    "accelerate": (
        *("accelerate", *HAULER, "--surface", "firm smooth earth", "--to-speed", "20 km/h"),
    ),
    "route": ("route", *HAULER, "--route", "quarry-to-crusher"),
    "cycle": ("route", *LOADER, "--cycle", "loader-truck-loading"),
}


def written(folder, name, *words):
    path = folder / f"{name}.csv"
    assert main([*words, "--csv", str(path)]) in (0, 3)
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def same(one, unit, other, its):
    """Compare two cells in their units; words are the same in both."""
    try:
        numbers = float(one), float(other)
    except ValueError:
        return one == other
    if not unit:
        return numbers[0] == numbers[1]
    shared = set(dimensions_of(unit)) & set(dimensions_of(its))
    dimension = "temperature" if "temperature" in shared else min(shared)
    return to_si(numbers[0], unit, dimension) == pytest.approx(
        to_si(numbers[1], its, dimension), rel=1e-9, abs=1e-9
    )


@pytest.mark.slow
@pytest.mark.parametrize("run", RUNS.values(), ids=RUNS)
def test_same_table_in_both_systems(run, tmp_path, capsys):
    si = written(tmp_path, "si", *run)
    us = written(tmp_path, "us", *run, "--units", "us")
    assert len(si) == len(us) > 3
    assert [name for name in us[0] if name.endswith(("_nm", "_kw", "_kmh", "_kn", "_degc"))] == []
    assert not any(METRIC.search(f"1 {unit}") for unit in us[1] if unit)
    assert any(us[1])
    for row, other in zip(si[2:], us[2:], strict=True):
        for cell, unit, its_cell, its in zip(row, si[1], other, us[1], strict=True):
            assert same(cell, unit, its_cell, its), (cell, unit, its_cell, its)
    # Metric on request, whatever the answer is read in.
    asked = written(tmp_path, "asked", *run, "--units", "us", "--csv-units", "si")
    assert asked == si


def test_units_stand_in_the_second_line_and_in_the_names(tmp_path, capsys):
    head, units, *_ = written(tmp_path, "si", "solve", *PAIR)
    at = head.index("input_torque_nm")
    assert (units[at], units[head.index("speed_ratio")]) == ("N·m", "")
    head, units, *_ = written(tmp_path, "us", "solve", *PAIR, "--csv-units", "us")
    assert units[head.index("input_torque_lbf_ft")] == "lbf·ft"
    assert units[head.index("heat_hp")] == "hp"


@pytest.mark.slow
def test_tables_of_a_study_are_in_the_units_of_its_report_or_as_asked(
    tmp_path, capsys, without_pictures
):
    words = ("study", str(find("studies", "loader-stall-too-low")), "--draws", "0", "--units", "us")

    def table(folder, name, *more):
        out = tmp_path / folder
        if not out.exists():
            assert main([*words, "--out", str(out), *more]) in (0, 3)
        with (out / "tables" / name).open(encoding="utf-8", newline="") as file:
            return list(csv.reader(file))

    head, units, *_ = table("us", "effort.csv")
    assert dict(zip(head, units, strict=True))["tractive_effort_lbf"] == "lbf"
    head, units, *_ = table("us", "match-points.csv")
    assert dict(zip(head, units, strict=True))["heat_hp"] == "hp"
    head, units, *_ = table("si", "match-points.csv", "--csv-units", "si")
    assert dict(zip(head, units, strict=True))["heat_kw"] == "kW"
