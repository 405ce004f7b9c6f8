"""What the tables and facts of an answer are called on paper, and in which unit each stands.

The words are those of the trade (docs/glossary.md); a column under another's word, or without its
unit, is read wrongly however right the number is.
"""

import re

import pytest

from converter_match.answer.console import console
from converter_match.components.arrangement import (
    HydraulicSharing,
    ImpellerClutch,
    OverrunDuty,
    PartLoadDuty,
    Permissions,
)
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.engine_wanted import torque_wanted
from converter_match.judgement.sizing.size import size_for_speed
from converter_match.judgement.sizing.trials import try_converters
from converter_match.judgement.wheels.acceleration import acceleration
from tests.examples import RPM, converter, engine, full_range, hole_engine
from tests.haul_examples import parts, road
from tests.judgement.arrangement.test_parts_by_hand import DIVIDER, WHEELS, by_speed, table
from tests.judgement.arrangement.test_parts_by_hand import result as arranged
from tests.judgement.sizing.test_size_trials import PARTS
from tests.judgement.wheels.test_traction import result as tractive
from tests.machines import driveline, machine, surface
from tests.study_examples import flat_engine


def heads(text, first):
    """Return the column heads of the table whose first column is so called, and its units."""
    lines = text.splitlines()
    row = next(k for k, line in enumerate(lines) if re.match(rf"\s*{first}\s\s", line + "  "))
    columns = re.split(r"\s{2,}", lines[row].strip())
    return columns, lines[row + 1].split()


def facts(text):
    """Return the labels of the facts, ``label: value``."""
    return [match[1] for match in re.finditer(r"^  ([^:\[]+): ", text, re.MULTILINE)]


def columns(text):
    return [column.strip() for column in text.split("|")]


def test_points_of_a_match():
    text = solve(engine(), converter()).text()
    assert text.startswith("Test engine  +  Test converter\n")
    assert facts(text) == ["torque basis", "accessories deducted", "site"]
    assert heads(text, "point") == (
        columns(
            "point | speed ratio | torque ratio | efficiency | engine | input torque | turbine | "
            "turbine torque | output | heat"
        ),
        ["rpm", "N·m", "rpm", "N·m", "kW", "kW"],
    )
    assert [line[2:].split("  ")[0] for line in text.splitlines()[6:14]] == [
        "stall",
        "70 % efficiency, lower",
        "80 % efficiency, lower",
        "best with stator held",
        "governed limit",
        "coupling point",
        "end of data, above 80 %",
        "best efficiency",
    ]


def test_tables_of_a_tractive_calculation():
    text = tractive().text()
    assert text.startswith("Test machine, laden, full throttle\n")
    assert facts(text) == [
        "mass", "engine", "converter", "driveline", "site", "surface",
        "rolling resistance, of weight", "traction coefficient", "adhesion limit on the level",
    ]  # fmt: skip
    assert "Gear by gear at full throttle\n" in text
    assert heads(text, "gear") == (
        columns(
            "gear | drive | ratio | stall effort | heat at stall | effort at coupling | "
            "speed there | heat there | best efficiency | drawbar pull | top speed | set by | "
            "heat at top speed | startability | set by | continuous grade | set by"
        ),
        ["kN", "kW", "kN", "km/h", "kW", "kN", "km/h", "kW", "%", "%"],
    )
    assert "Top speed on a grade, forward\n" in text
    assert heads(text, "grade") == (
        columns(
            "grade | resistance | gear | drive | speed | engine | heat | steady oil temperature | "
            "converter outlet | continuous | set by"
        ),
        ["%", "kN", "km/h", "rpm", "kW", "°C", "°C"],
    )
    assert "Cooler needed to stay on a grade at full throttle\n" in text
    after = text[text.index("Cooler needed to stay") :]
    assert heads(after, "grade") == (
        columns("grade | gear | drive | heat to be rejected | cooler needed"), ["%", "kW", "kW/K"]
    )  # fmt: skip
    assert "Shift points for greatest effort\n" in text
    assert heads(text, "gears") == (
        columns(
            "gears | best shift at | effort | upshift given | downshift | hysteresis needed | hunts"
        ),
        ["km/h", "kN", "km/h", "km/h", "km/h"],
    )


def test_tables_of_an_acceleration():
    text = acceleration(
        solve(engine(), converter()), driveline(), machine(), surface(), to_speed=6.0
    ).text()
    assert text.startswith("Test machine, laden, full throttle from rest\n")
    assert facts(text) == [
        "engine", "converter", "driveline", "surface", "grade", "method",
        "time in shifts, without drive",
    ]  # fmt: skip
    assert "Speed, time and distance\n" in text
    assert heads(text, "speed") == (["speed", "time", "distance"], ["km/h", "s", "m"])
    assert "Gear by gear\n" in text
    assert heads(text, "gear") == (
        ["gear", "drive", "from", "to", "time", "distance"], ["km/h", "km/h", "s", "m"]
    )  # fmt: skip


def test_tables_of_a_machine_on_a_route():
    text = haul(*parts(), road([0.0, -0.05, 0.05], [200.0, 50.0, 100.0])).text()
    assert "  route: Test route (3 segments)\n" in text
    assert facts(text) == [
        "engine", "converter", "driveline", "route", "distance", "time, stops included",
        "mean speed while moving", "production", "fuel", "fuel for the load moved", "engine work",
        "heat in the converter", "service brake work", "maximum oil temperature",
        "maximum oil temperature, first lap", "maximum at the converter outlet",
        "mean heat into the oil", "cooler needed", "gear shifts",
        "distance in lock-up",
    ]  # fmt: skip
    assert "One cycle\n" in text
    assert "Segments\n" in text
    assert heads(text, "segment") == (
        columns(
            "segment | length | grade | load | mean speed | top speed | time | gears | "
            "heat in the converter | oil at end of segment | service brake work | "
            "retarding power required | engine retarding available"
        ),
        ["m", "%", "km/h", "km/h", "s", "kJ", "°C", "kJ", "kW", "kW"],
    )


ALL = {
    "overrun": OverrunDuty(),
    "permissions": Permissions(overrun=True),
    "part_load": PartLoadDuty(no_load_speeds=(1500 * RPM,)),
    "lock_up": by_speed(engagement_time=0.5),
    "impeller_clutch": ImpellerClutch(
        torque_capacity=1000.0, engine_speed=1700 * RPM, turbine_torque_limit=1500.0
    ),
    "hydraulic_sharing": HydraulicSharing(relief=table(300.0), standby=table(50.0)),
    "wheels": WHEELS,
}


@pytest.fixture(scope="module")
def printed():
    answer = arranged(None, flat_engine(inertia=1.5), **ALL)
    return {part.name: console([part], []) for part in answer.parts}


def printed_title(text):
    return text.lstrip("\n").splitlines()[0]


@pytest.mark.parametrize(
    ("part", "title", "labels", "first", "row", "units"),
    [
        (
            "lock_up",
            "Lock-up clutch, at full load",
            "engaged by | engages at turbine speed | releases at turbine speed | torque capacity | "
            "speed step at engagement | turbine torque before | turbine torque after | "
            "heat of engagement | with the slip falling in a straight line | clutch torque then",
            "turbine",
            "turbine | torque, open | torque, locked | output, open | output, locked | heat, open |"
            " heat, locked | engaged, accelerating | engaged, decelerating | blank because",
            "rpm N·m N·m kW kW kW kW",
        ),
        (
            "impeller_clutch",
            "Impeller clutch; last rows: at the turbine torque limit",
            "torque capacity | engine held at | turbine torque limit | "
            "setting that keeps it at standstill",
            "setting",
            "setting | turbine | engine | impeller | clutch torque | turbine torque | clutch heat |"
            " converter heat | left for hydraulics | slips | speed held | engine, opening | "
            "travel speed | tractive effort | blank because",
            "rpm rpm rpm N·m N·m kW kW kW rpm km/h kN",
        ),
        (
            "hydraulic_sharing",
            "Hydraulics: what the pumps leave for the wheels",
            "",
            "pumps",
            "pumps | at | engine | pump torque | input torque | turbine torque | share left | "
            "pump power | heat | travel speed | tractive effort | blank because",
            "rpm N·m N·m N·m kW kW km/h kN",
        ),
        (
            "overrun",
            "Overrun: engine braking, stator one-way",
            "exhaust brake | retards from turbine speed | up to turbine speed | "
            "retards from, by the tables | up to, by the tables",
            "turbine",
            "turbine | speed ratio | engine | turbine torque | retarding power | converter heat | "
            "torque, locked | retarding power, locked | engine speed, by the tables | "
            "retarding power, by the tables | converter heat, by the tables",
            "rpm rpm N·m kW kW N·m kW rpm kW kW",
        ),
        (
            "part_load",
            "Part load: governor settings",
            "governing | turbine torque at idle in gear | brake torque at the wheels to hold it",
            "no-load speed",
            "no-load speed | speed ratio | engine | turbine | turbine torque | output | heat | "
            "held at idle | blank because",
            "rpm rpm rpm N·m kW kW",
        ),
    ],
)
@pytest.mark.slow
def test_table_of_a_part_of_an_arrangement(printed, part, title, labels, first, row, units):
    text = printed[part]
    assert printed_title(text) == title
    assert facts(text) == (columns(labels) if labels else [])
    assert heads(text, first) == (columns(row), units.split())


def test_tables_of_a_divider_and_of_another_stator():
    text = console(arranged(full_range(), torque_divider=DIVIDER).parts, [])
    assert printed_title(text) == (
        "Torque divider: ring/sun 2.5, engine-and-impeller -> sun, turbine -> ring, "
        "output -> carrier"
    )
    assert facts(text) == [
        "ring / sun", "connection", "kind", "converter speed ratio at output stall",
        "torque ratio there", "share of torque through gears there",
    ]  # fmt: skip
    assert heads(text, "output ratio") == (
        columns(
            "output ratio | converter ratio | engine | engine power | mechanical | into impeller | "
            "from turbine | circulating | output | heat"
        ),
        ["rpm", *["kW"] * 7],
    )
    out = arranged(stator="none", permissions=Permissions(stator=True))
    text = console(out.parts, [])
    assert printed_title(text) == "Fluid coupling beside converter"
    assert facts(text) == [
        "stator of the data", "stator examined", "turbine torque lost at stall",
        "more turbine torque from turbine speed", "capacity without / with stator, at stall",
        "at least", "at most", "stall speed without stator", "turbine torque there",
    ]  # fmt: skip
    assert heads(text, "turbine") == (
        columns(
            "turbine | torque, one-way | torque, none | efficiency, one-way | efficiency, none | "
            "heat, one-way | heat, none | blank because"
        ),
        ["rpm", "N·m", "N·m", "kW", "kW"],
    )


def test_lines_of_a_size_and_of_the_torque_wanted():
    text = size_for_speed(engine(), converter(), 1600 * RPM).text()
    assert [line.partition(": ")[0] for line in text.splitlines()[:5]] == [
        "1600 rpm at stall", "capacity factor", "K at stall", "profile diameter",
        "change of diameter",
    ]  # fmt: skip
    none = size_for_speed(engine(), converter(), 16000 * RPM).text()
    assert none.startswith("16000 rpm at stall\nNo size meets the requirement: ")
    tight = converter(capacity=(60 / 47) ** 2 * converter().capacity)
    settled = solve(hole_engine(), tight).stall_from_high_idle
    text = torque_wanted(hole_engine(), tight, settled.engine_speed).text()
    assert text.startswith("Or with this converter as it is\n")
    assert "Torque shortfall of the engine\n" in text
    assert heads(text, "from") == (
        ["from", "to", "largest shortfall at", "torque shortfall there"],
        ["rpm", "rpm", "rpm", "N·m"],
    )
    assert heads(text, "engine speed") == (
        ["engine speed", "absorbed by the converter at stall", "net torque of the engine"],
        ["rpm", "N·m", "N·m"],
    )


def test_table_of_converters_tried_on_a_route():
    text = try_converters(engine(), [("one", converter())], *PARTS).text()
    assert heads(text, "converter") == (
        columns(
            "converter | route time | fuel | heat | turbine torque at stall | stall speed | "
            "maximum oil temperature | Pareto-optimal"
        ),
        ["s", "kg", "kJ", "N·m", "rpm", "°C"],
    )
