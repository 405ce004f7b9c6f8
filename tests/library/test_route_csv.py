"""Reading routes, cycles and fuel maps; every refusal names line and column."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.fuel_csv import read_fuel_map
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.shipped import find

HEAD = "length [m],grade [%],surface,speed limit [km/h],load,stop [s]\n"
ROW = "100,5,firm smooth earth,40,laden,\n"


@pytest.fixture
def written(tmp_path):
    def write(text, name="road.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.mark.parametrize("name", ["quarry-to-crusher", "too-steep", "island-round-20km"])
def test_shipped_routes_can_be_read(name):
    route = read_route(find_route(name))
    assert "invented" in route.source
    assert "Hollowskerry" in route.name


def test_units_stand_in_the_head(written):
    text = "length (ft),grade [1],surface,speed_limit [mph]\n328.084,0.05,firm smooth earth,25\n"
    route = read_route(written(text))
    assert route.length[0] == pytest.approx(100.0, rel=1e-6)
    assert route.grade[0] == 0.05
    assert route.speed_limit[0] == pytest.approx(11.176)
    assert route.load == ("laden",)


def test_semicolons_allow_decimal_commas(written):
    route = read_route(written("length [m];grade [%];surface\n100,5;2,5;firm smooth earth\n"))
    assert (route.length[0], route.grade[0]) == (100.5, pytest.approx(0.025))


def test_empty_limit_is_none_and_is_noted(written):
    route = read_route(written(HEAD + "100,5,firm smooth earth,,laden,\n"))
    assert np.isinf(route.speed_limit[0])
    assert "no-speed-limit" in {note.code for note in route.notes}


def test_machine_stops_where_the_load_changes(written):
    route = read_route(written(HEAD + ROW + ROW.replace("laden", "empty")))
    assert route.stops.tolist() == [0.0, 0.0]
    assert "load-change-takes-no-time" in {note.code for note in route.notes}
    assert route.trips == 1


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("-100,5,firm smooth earth,40,laden,\n", r"line 3, length: out of range; found -100"),
        ("0,5,firm smooth earth,40,laden,\n", r"line 3, length: out of range; found 0"),
        ("100,140,firm smooth earth,40,laden,\n", r"line 3, grade: .*found '140 %'"),
        ("100,5,firm smoth earth,40,laden,\n", r"line 3, surface: no such surface.*did you mean"),
        ("100,5,firm smooth earth,-4,laden,\n", r"line 3, speed limit: out of range"),
        ("100,5,firm smooth earth,40,lden,\n", r"line 3, load: not a load state.*did you mean"),
        ("100,5,firm smooth earth,40,laden,-3\n", r"line 3, stop: out of range"),
        ("100,abc,firm smooth earth,40,laden,\n", r"line 3, grade: not a number; found 'abc'"),
        ("100,nan,firm smooth earth,40,laden,\n", r"line 3, grade: not a number; found 'nan'"),
        ("100,,firm smooth earth,40,laden,\n", r"line 3, grade: empty"),
        ("100,5,5,firm smooth earth,40,laden,\n", r"line 3: another number.*decimal commas\?"),
    ],
)
def test_bad_row_is_refused(written, rows, message):
    with pytest.raises(InputError, match=message):
        read_route(written(HEAD + ROW + rows))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("length [m],grad [%],surface\n", r"line 1: unknown column; found 'grad'.*did you mean"),
        ("length [m],surface\n1,sand\n", r"line 1: the column grade is missing"),
        ("length,grade [%],surface\n1,2,sand\n", r"line 1: the column length names no unit"),
        ("length [kg],grade [%],surface\n1,2,sand\n", r"line 1, length: 'kg' is a mass unit"),
        ("length [m],length [m],grade [%]\n", r"line 1: the column appears twice"),
        (HEAD, r"a head and no rows"),
        ("# name: nothing\n", r"no table"),
    ],
)
def test_bad_head_is_refused(written, text, message):
    with pytest.raises(InputError, match=message):
        read_route(written(text))


@pytest.mark.parametrize(
    ("second", "what"), [("120", "a gap of 20 m"), ("90", "an overlap of 10 m")]
)
def test_gap_between_segments_is_refused(written, second, what):
    text = "from [m],length [m],grade [%],surface\n0,100,0,sand\n" + f"{second},50,0,sand\n"
    with pytest.raises(InputError, match=rf"line 3, from: {what} between two segments"):
        read_route(written(text.replace("sand", '"sand, truck"')))


def test_route_that_is_not_there_names_the_nearest():
    with pytest.raises(InputError, match="did you mean 'quarry-to-crusher'"):
        find_route("quarry-to-crushr")


def test_shipped_cycle_can_be_read():
    cycle = read_cycle(find("cycles", "loader-truck-loading"))
    assert [phase.kind for phase in cycle.phases].count("crowd") == 1


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("crowd,crowd,,\n", r"a phase of kind crowd needs its time"),
        ("go,drive,,\n", r"a phase of kind drive needs its distance"),
        ("go,fly,10,\n", r"kind: not a known choice; found 'fly'"),
    ],
)
def test_bad_phase_is_refused(written, row, message):
    head = "# surface: firm smooth earth\nphase,kind,distance [m],time [s]\n"
    with pytest.raises(InputError, match=message):
        read_cycle(written(head + row))


def test_cycle_without_ground_is_refused(written):
    with pytest.raises(InputError, match="does not name its ground"):
        read_cycle(written("phase,kind,distance [m]\ngo,drive,10\n"))


def test_fuel_map_is_read_from_bsfc(written):
    text = "speed [rpm],torque [N*m],bsfc [g/kWh]\n"
    text += "1000,100,250\n1000,500,210\n2000,100,280\n2000,500,220\n"
    fuel = read_fuel_map(written(text))
    # 210 g/kWh at 500 N.m and 1000 rpm: 52.36 kW, 11.0 kg/h.
    rate, inside = fuel.at(500.0, 1000 * np.pi / 30)
    assert float(rate) * 3600 == pytest.approx(0.210 * 500 * 1000 * np.pi / 30 / 1e3)
    assert bool(inside)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("1000,100,1\n1000,500,2\n2000,100,2\n", r"the map has a hole; found 'no row at 2000 rpm"),
        ("1000,100,1\n1000,100,2\n2000,100,2\n", r"line 3: the point is given twice"),
        ("1000,100,-1\n", r"line 2, rate: below zero"),
    ],
)
def test_bad_fuel_map_is_refused(written, rows, message):
    with pytest.raises(InputError, match=message):
        read_fuel_map(written("speed [rpm],torque [N*m],rate [kg/h]\n" + rows))


def test_a_route_that_lacks_only_its_ending_or_is_nearly_spelt_is_named(tmp_path):
    (tmp_path / "my-road.csv").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match=r"my-road\.csv' is there: give the name with its ending"):
        find_route(tmp_path / "my-road")
    with pytest.raises(InputError, match=r"did you mean '.*my-road\.csv'\?"):
        find_route(tmp_path / "my-raod.csv")
