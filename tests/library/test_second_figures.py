"""A figure printed in two units: the two are held against each other, kept, and change nothing.

Factors are those of NIST SP 811 (2008), appendix B.8: 1 lbf.ft = 1.355 818 N.m, 1 hp (550 ft.lbf/s)
= 745.6999 W; of DIN 66036: 1 PS = 735.498 75 W; and 1 ft = 0.3048 m. Where more digits are used the
definitions give them.
"""

import json
import pickle
import tomllib

import pytest

import converter_match as cm
from converter_match.components.base import SecondFigure
from converter_match.errors import InputError
from converter_match.library.checked import check_file
from converter_match.library.misread import misreadings
from converter_match.library.odd.doubts import throws_doubt
from converter_match.library.schema import json_schema
from converter_match.library.schema.second_figures import differ, half_a_digit, second_notes
from converter_match.library.shipped import data_folder, find
from converter_match.library.toml_text import Inline, toml_text
from converter_match.notes import ASKED, SECOND_DIFFERS
from converter_match.units import note_text
from tests.library.sheets import changed_file, printed_once, saved

LBF_FT, HP, PS = 1.3558179483, 745.69987158, 735.49875
FAN = 'value = 11.0, also = { unit = "hp", value = 14.8 } }'


def note_of(number, unit, other, other_unit, dimension="torque"):
    """Return what is asked about two prints of one figure; None where nothing is."""
    figure = SecondFigure("limits.torque", dimension, (0.0,), unit, number, ((other_unit, other),))
    notes = list(second_notes(figure))
    assert len(notes) <= 1
    return dict(notes[0].values) if notes else None


# --- when two prints agree


@pytest.mark.parametrize(
    ("first", "second", "dimension"),
    [
        ((1050, "N.m"), (774, "lbf.ft"), "torque"),  # 774 x 1.3558 = 1049.4
        ((1050, "N.m"), (770, "lbf.ft"), "torque"),  # rounded to tens: 1044.0, 0.57 % less
        ((129, "kW"), (173, "hp"), "power"),  # 173 x 0.74570 = 129.01
        ((129, "kW"), (175, "PS"), "power"),  # 175 x 0.73550 = 128.71
        ((5, "kW"), (7, "hp"), "power"),  # 7 hp is 4.85 to 5.59 kW, 5 kW is 4.5 to 5.5
        ((1.2, "kW"), (1.6, "hp"), "power"),  # 1.193
        ((345, "mm"), (13.6, "in"), "length"),  # 345.4
        ((120, "degC"), (250, "degF"), "temperature"),  # 121.1
        ((-5, "degC"), (23, "degF"), "temperature"),  # -5.0
        ((0, "kW"), (0, "hp"), "power"),
        ((85, "percent"), (0.85, ""), "ratio"),
    ],
)
def test_prints_of_one_figure_agree_within_their_digits_and_a_percent(first, second, dimension):
    assert not differ((float(first[0]), first[1]), (float(second[0]), second[1]), dimension)


@pytest.mark.parametrize(
    ("first", "second", "dimension"),
    [
        ((1050, "N.m"), (790, "lbf.ft"), "torque"),  # 1071.1, 2 % more
        ((129, "kW"), (173, "PS"), "power"),  # 127.24, 1.4 % less: the other horsepower
        ((774, "N.m"), (774, "lbf.ft"), "torque"),
        ((120, "degC"), (120, "degF"), "temperature"),  # 48.9
        ((308, "K"), (35, "degF"), "temperature"),  # 34.9 degC
        ((200, "m"), (6562, "ft"), "length"),  # 2000 m
        ((0, "kW"), (10, "hp"), "power"),
        ((-180, "N.m"), (133, "lbf.ft"), "torque"),
    ],
)
def test_prints_of_two_figures_do_not_agree(first, second, dimension):
    assert differ((float(first[0]), first[1]), (float(second[0]), second[1]), dimension)


@pytest.mark.parametrize(
    ("number", "half"),
    [(774.0, 0.5), (1050.0, 0.5), (7.0, 0.5), (5.25, 0.005), (0.201, 0.0005), (2e15, 0.5)],
)
def test_printed_digits_leave_half_a_unit_of_the_last_one_open(number, half):
    assert half_a_digit(number) == pytest.approx(half)


# --- what is said where they do not


def test_question_names_both_figures_and_what_each_is_in_the_unit_of_the_other():
    said = note_of(774.0, "N.m", 774.0, "lbf.ft")
    assert (said["field"], said["found"], said["second"]) == (
        "limits.torque", "774 N.m", "774 lbf.ft",
    )  # fmt: skip
    assert said["found_in_second"] == "570.9 lbf.ft"  # 774 / 1.3558179
    assert said["second_in_found"] == "1049 N.m"  # 774 x 1.3558179 = 1049.4


@pytest.mark.parametrize(
    ("first", "second", "dimension", "hint"),
    [
        ((774, "N.m"), (774, "lbf.ft"), "torque", "Is N.m the right unit? 774 lbf.ft"),
        ((774, "N.m"), (1050, "lbf.ft"), "torque", "interchanged? 774 lbf.ft and 1050 N.m"),
        ((173, "kW"), (173, "hp"), "power", "Is kW the right unit? 173 hp"),
        ((129, "kW"), (173, "PS"), "power", "Is PS the right unit? 173 hp"),
        ((128, "PS"), (94, "kW"), "power", None),  # 94.1 kW
        ((105, "N.m"), (774, "lbf.ft"), "torque", "digit too many or too few? 1050 N.m"),
        ((1050, "N.m"), (747, "lbf.ft"), "torque", "Is a digit wrong? 774 lbf.ft"),
        ((1950, "N.m"), (774, "lbf.ft"), "torque", "Is a digit wrong? 1050 N.m"),
        ((308.15, "degC"), (95, "degF"), "temperature", "Is degC the right unit? 308.15 K"),
        ((129, "W"), (173, "hp"), "power", "Is W the right unit? 129 kW"),
        ((13.6, "mm"), (13.6, "in"), "length", "Is mm the right unit? 13.6 in"),
        ((500, "N.m"), (774, "lbf.ft"), "torque", "One of the two is wrong"),
    ],
)
def test_slip_that_explains_the_difference_is_named(first, second, dimension, hint):
    said = note_of(float(first[0]), first[1], float(second[0]), second[1], dimension)
    if hint is None:
        assert said is None
    else:
        assert hint in said["hint"]


# --- in files


def engine_file(tmp_path, old, new):
    return changed_file(tmp_path, find("engines", "six-cylinder-7l-185kw"), old, new)


def test_horsepower_typed_as_kilowatts_is_asked_about_wherever_the_engine_goes(tmp_path, capsys):
    path = engine_file(tmp_path, FAN, FAN.replace("value = 11.0", "value = 14.8"))
    engine = cm.read(path)
    [note] = [note for note in engine.notes if note.code in ASKED]
    assert note.code == SECOND_DIFFERS
    assert throws_doubt(note)
    assert dict(note.values)["field"] == "accessory[0].power"
    assert "14.8 hp would go with 14.8 hp" in note_text(note, "si")
    assert [odd for _, odd in check_file(str(path)).odd] == [note]
    match = cm.solve(engine, cm.read("single-stage-345mm-tight"))
    assert note in match.notes
    assert SECOND_DIFFERS in json.dumps(match.to_dict())


def test_study_motor_study_and_catalogue_ask_about_the_parts_they_name(tmp_path):
    engine_file(tmp_path, FAN, FAN.replace("value = 11.0", "value = 14.8"))
    study = changed_file(
        tmp_path, find("studies", "quarry-loader-repower"), '"six-cylinder-7l-185kw"',
        '"changed.toml"', to="study.toml",
    )  # fmt: skip
    listed = changed_file(
        tmp_path, find("catalogues", "quarry-loader-parts"), 'engines = ["six-cylinder-7l-185kw"',
        'engines = ["changed.toml"', to="parts.toml",
    )  # fmt: skip
    motor = changed_file(
        tmp_path, find("motors", "lift-truck-80v-30kw"), "value = 2.4, also", "value = 3.2, also",
        to="motor.toml",
    )  # fmt: skip
    motors = changed_file(
        tmp_path, find("motor-studies", "lift-truck-electric"), '"lift-truck-80v-30kw"',
        f'"{motor.name}"', to="motors.toml",
    )  # fmt: skip
    for path in (study, listed, motors):
        assert SECOND_DIFFERS in [note.code for _, note in cm.read(path).odd], path
        assert SECOND_DIFFERS in [note.code for _, note in check_file(str(path)).odd], path
        assert SECOND_DIFFERS in [note.code for *_, note in cm.read(path).doubts], path


def test_claim_of_a_study_is_held_against_its_second_figure(tmp_path):
    # 2150 lbf.ft are 2915 N.m; 2150 N.m are not.
    path = changed_file(
        tmp_path, find("studies", "hauler-converter"), '"lbf*ft", value = 2150',
        '"N*m", value = 2150', to="study.toml",
    )  # fmt: skip
    [said] = [dict(note.values) for _, note in cm.read(path).odd if note.code == SECOND_DIFFERS]
    assert (said["field"], said["second"]) == ("claim[0].value", "2915 N*m")


def test_tolerance_in_degrees_may_be_a_difference(tmp_path):
    # A band of 6 K is one of 10.8 degF, though 6 degC on the scale are 42.8 degF.
    path = changed_file(
        tmp_path, find("studies", "hauler-converter"), '{ unit = "K", value = 6 }',
        '{ unit = "K", value = 6, also = { unit = "degF", value = 10.8 } }', to="study.toml",
    )  # fmt: skip
    assert SECOND_DIFFERS not in [note.code for _, note in cm.read(path).odd]


def test_site_asks_about_an_altitude_with_a_digit_too_few(tmp_path):
    path = changed_file(
        tmp_path, find("sites", "plateau-quarry-hot-day"), '"m", value = 2000', '"m", value = 200'
    )
    with pytest.warns(match="altitude is 200 m, and beside it stands 6562 ft"):
        site = cm.read(path)
    [note] = check_file(str(path)).odd
    assert "2000 m would go with it" in note_text(note[1], "si")
    assert site.altitude == 200.0


def test_column_names_the_first_row_that_differs(tmp_path):
    path = engine_file(tmp_path, "[602, 725,", "[602, 752,")
    [note] = [note for note in cm.read(path).notes if note.code == SECOND_DIFFERS]
    said = dict(note.values)
    assert (said["field"], said["found"]) == ("full_load.torque.values[1]", "752 N*m")
    assert "725 N*m would go with 535 lbf*ft" in said["hint"]  # 535 x 1.35582 = 725.4


def test_column_in_the_wrong_unit_is_one_question(tmp_path):
    path = engine_file(tmp_path, 'torque = { unit = "N*m", values = [602',
                       'torque = { unit = "lbf*ft", values = [602')  # fmt: skip
    notes = [note for note in cm.read(path).notes if note.code == SECOND_DIFFERS]
    assert len(notes) == 1
    assert "Is lbf*ft the right unit? 602 N.m" in dict(notes[0].values)["hint"]


def test_capacity_of_a_converter_is_held_against_its_second_column(tmp_path):
    path = changed_file(
        tmp_path, find("converters", "single-stage-345mm-tight"), 'unit = "rpm/(N*m)**0.5"',
        'unit = "rpm/(lbf*ft)**0.5"',
    )  # fmt: skip
    notes = [note for note in cm.read(path).notes if note.code == SECOND_DIFFERS]
    assert [dict(note.values)["field"] for note in notes] == [
        "characteristic.capacity[0].values[0]"
    ]


def test_limit_among_free_keys_is_held_against_its_second_figure(tmp_path):
    limit = '[limits]\ntorque = { unit = "N.m", value = 1050, also = %s }\n\n[interface]'
    right = engine_file(tmp_path, "[interface]", limit % '{ unit = "lbf.ft", value = 774 }')
    engine = cm.read(right)
    assert engine.limits.torque == 1050.0
    assert not [note for note in engine.notes if note.code in ASKED]
    wrong = engine_file(tmp_path, "[interface]", limit % '{ unit = "lbf.ft", value = 1050 }')
    [note] = [note for note in cm.read(wrong).notes if note.code in ASKED]
    assert dict(note.values)["field"] == "limits.torque"


@pytest.mark.parametrize(
    ("second", "field", "said"),
    [
        ('{ unit = "lbf.ft", value = 14.8 }', "also.unit", "torque or energy unit"),
        ('{ value = 14.8 }', "also.unit", "no unit given"),
        ('{ unit = "hp", values = [14.8] }', "also.values", "one value is due here"),
        ('{ unit = "hp", vlaue = 14.8 }', "also.vlaue", "did you mean 'value'"),
        ('{ unit = "hp", value = "14.8" }', "also.value", "not a number"),
        ('14.8', "also", "a bare number hides its unit"),
        ('[{ unit = "hp", value = 14.8 }, { unit = "K", value = 1 }]', "also[1].unit", "expected"),
        ('{ unit = "hp", value = 15, also = { unit = "PS", value = 15 } }', "also.also",
         "has none of its own"),
    ],
)  # fmt: skip
def test_second_figure_that_cannot_be_one_is_refused_at_its_place(tmp_path, second, field, said):
    path = engine_file(tmp_path, FAN, f"value = 11.0, also = {second} }}")
    with pytest.raises(InputError, match=said.replace(".", r"\.")) as refused:
        cm.read(path)
    assert refused.value.field == f"accessory[0].power.{field}"


def test_second_column_with_a_row_less_is_refused(tmp_path):
    path = engine_file(tmp_path, "values = [444, 535,", "values = [535,")
    with pytest.raises(InputError, match="as many rows as the first") as refused:
        cm.read(path)
    assert refused.value.field == "full_load.torque.also.values"
    assert refused.value.found == "13 values beside 14"


def test_two_second_figures_are_both_looked_at(tmp_path):
    # 11 kW are 14.75 hp and 14.96 PS.
    two = 'value = 11.0, also = [{ unit = "hp", value = 14.8 }, { unit = "PS", value = %s }] }'
    assert not [
        note for note in cm.read(engine_file(tmp_path, FAN, two % "15.0")).notes
        if note.code in ASKED
    ]  # fmt: skip
    [note] = [
        note for note in cm.read(engine_file(tmp_path, FAN, two % "11.0")).notes
        if note.code in ASKED
    ]  # fmt: skip
    assert dict(note.values)["second"] == "11 PS"


# --- no number hangs on it


def test_part_is_the_same_with_its_second_figures_and_without(tmp_path):
    path = find("engines", "six-cylinder-7l-185kw")
    bare = saved(tmp_path, printed_once(path.read_text(encoding="utf-8")))
    twice, once = cm.read(path), cm.read(bare)
    assert twice.second_figures
    assert once.second_figures == ()
    assert twice == once
    assert twice.fingerprint() == once.fingerprint()


# --- written again


def written(component, tmp_path):
    path = tmp_path / "copy.toml"
    cm.write(component, path, overwrite=True)
    return tomllib.loads(path.read_text(encoding="utf-8"))


def test_second_figures_are_written_beside_the_first_and_read_again(tmp_path):
    engine = cm.read("six-cylinder-7l-185kw")
    data = written(engine, tmp_path)
    assert data["accessory"][0]["power"]["also"] == {"unit": "hp", "value": 14.8}
    assert data["full_load"]["torque"]["also"]["values"][:2] == [444, 535]
    again = cm.read(tmp_path / "copy.toml")
    assert {figure.place for figure in again.second_figures} >= {
        "accessory[3].power", "full_load.torque", "motoring.torque",
    }  # fmt: skip


def test_question_about_a_second_figure_is_asked_again_of_the_copy(tmp_path):
    engine = cm.read(engine_file(tmp_path, FAN, FAN.replace("value = 11.0", "value = 14.8")))
    data = written(engine, tmp_path)
    assert data["accessory"][0]["power"]["also"] == {"unit": "hp", "value": 14.8}
    assert "note" not in data
    assert SECOND_DIFFERS in [note.code for note in cm.read(tmp_path / "copy.toml").notes]


def test_second_figure_goes_with_the_number_it_stood_beside(tmp_path):
    engine = cm.read("six-cylinder-7l-185kw")
    weaker = engine.replace(torque=engine.torque * 0.9)
    data = written(weaker, tmp_path)
    assert "also" not in data["full_load"]["torque"]
    assert "also" in data["accessory"][0]["power"]


def test_second_figure_of_a_bolt_on_dimension_is_written_again(tmp_path):
    pilot = 'pilot_diameter = { unit = "mm", value = 50'
    twice = pilot + ', also = { unit = "in", value = 1.97 } }'
    engine = cm.read(engine_file(tmp_path, pilot + " }", twice))
    assert dict(engine.interface)["pilot_diameter"] == "50 mm"
    assert written(engine, tmp_path)["interface"]["pilot_diameter"] == {
        "unit": "mm", "value": 50, "also": {"unit": "in", "value": 1.97},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("folder", "name", "keys"),
    [
        ("converters", "single-stage-345mm-tight", ("characteristic", "capacity")),
        ("converters", "single-stage-345mm-tight", ("limits", "input_power")),
        ("drivelines", "four-speed-loader", ("limits", "turbine_torque")),
        ("machines", "wheel-loader-17t", ("cooler", "rated_heat")),
        ("motors", "lift-truck-80v-30kw", ("losses", "copper", "power")),
        ("loads", "quarry-drain-pump", ("pump", "power")),
        ("arrangements", "ore-hauler-lock-up", ("lock_up", "torque_capacity")),
        ("sites", "plateau-quarry-hot-day", ("altitude",)),
    ],
)
def test_every_kind_of_component_keeps_its_second_figures(tmp_path, folder, name, keys):
    path = find(folder, name)
    here, there = tomllib.loads(path.read_text(encoding="utf-8")), written(cm.read(path), tmp_path)
    for key in keys:
        here, there = here[key], there[key]
    assert there["also"] == here["also"]


def test_copy_of_a_component_keeps_its_second_figures():
    engine = cm.read("six-cylinder-7l-185kw")
    for copy in (pickle.loads(pickle.dumps(engine)), engine.replace(name="another name")):
        assert copy.second_figures == engine.second_figures


def test_several_second_figures_stand_in_one_list():
    seconds = [Inline(unit="hp", value=173.0), Inline(unit="PS", value=175.0)]
    text = toml_text({"power": Inline(unit="kW", value=129.0, also=seconds)})
    assert tomllib.loads(text) == {
        "power": {
            "unit": "kW", "value": 129,
            "also": [{"unit": "hp", "value": 173}, {"unit": "PS", "value": 175}],
        }
    }  # fmt: skip


# --- a unit that a second figure tells is not taken for another


def test_horsepower_with_kilowatts_beside_is_not_taken_for_the_metric_one(tmp_path):
    text = find("engines", "six-cylinder-10l5-138kw").read_text(encoding="utf-8")
    data = tomllib.loads(printed_once(text))
    powers = data["full_load"]["power"]["values"]
    horses = [round(power * 1000.0 / HP, 1) for power in powers]
    path = tmp_path / "engine.toml"
    data["full_load"]["power"] = {"unit": "hp", "values": horses}
    path.write_text(toml_text(data), encoding="utf-8")
    assert [each.read for each in misreadings("engine", path)] == ["PS"]
    data["full_load"]["power"]["also"] = {"unit": "kW", "values": powers}
    path.write_text(toml_text(data), encoding="utf-8")
    assert misreadings("engine", path) == ()


# --- for an editor


def test_schema_of_an_editor_knows_the_second_figure():
    altitude = json_schema("site")["properties"]["altitude"]["anyOf"][0]
    one, several = altitude["properties"]["also"]["anyOf"]
    assert one["required"] == ["unit", "value"]
    assert several["items"] == one


# --- shipped files


def second_figures():
    """Yield (file, first unit, first number, second unit, second number) of all shipped files."""
    for path in sorted(data_folder().glob("*/*.toml")):
        stack = [tomllib.loads(path.read_text(encoding="utf-8"))]
        while stack:
            here = stack.pop()
            stack += [v for v in (here.values() if isinstance(here, dict) else here)
                      if isinstance(v, dict | list)]  # fmt: skip
            if isinstance(here, dict) and "also" in here:
                also, key = here["also"], "values" if "values" in here else "value"
                pairs = zip(here[key], also[key], strict=True) if key == "values" else (
                    (here[key], also[key]),
                )  # fmt: skip
                yield from ((path, here["unit"], a, also["unit"], b) for a, b in pairs)


# First unit -> second unit, and its number from the first.
PRINTED = {
    "N*m": ("lbf*ft", lambda x: x / LBF_FT),
    "kN*m": ("lbf*ft", lambda x: 1000 * x / LBF_FT),
    "lbf*ft": ("N*m", lambda x: x * LBF_FT),
    "kW": ("hp", lambda x: 1000 * x / HP),
    "hp": ("kW", lambda x: x * HP / 1000),
    "rpm/(N*m)**0.5": ("rpm/(lbf*ft)**0.5", lambda x: x * LBF_FT**0.5),
    "rpm/(lbf*ft)**0.5": ("rpm/(N*m)**0.5", lambda x: x / LBF_FT**0.5),
    "m": ("ft", lambda x: x / 0.3048),
    "degC": ("degF", lambda x: 1.8 * x + 32),
}


def test_second_figures_of_shipped_files_are_the_first_ones_rounded():
    files = set()
    for path, unit, first, second_unit, second in second_figures():
        named, convert = PRINTED[unit]
        assert second_unit == named, path
        # Whole numbers from 100 on, three digits below, whole degrees.
        step = 1.0 if named == "degF" or abs(second) >= 100 else 0.1 if abs(second) >= 10 else 0.01
        step = 0.001 if abs(second) < 1 else step
        assert convert(first) == pytest.approx(second, abs=0.5001 * step), (path, first)
        files.add(path.parent.name)
    assert {"engines", "converters", "drivelines", "motors", "loads", "studies"} <= files


SMALL = {"N*m": LBF_FT, "kN*m": LBF_FT, "lbf*ft": 1 / LBF_FT, "kW": HP / 1000, "hp": 1000 / HP}


def test_pound_feet_or_horsepower_read_into_any_shipped_figure_are_asked_about():
    dimensions = {"N*m": "torque", "kN*m": "torque", "lbf*ft": "torque"}
    seen = 0
    for path, unit, first, second_unit, second in second_figures():
        if unit not in SMALL or first == 0:
            continue
        for factor in (SMALL[unit], 1 / SMALL[unit]):
            slip = (float(first * factor), unit)
            dimension = dimensions.get(unit, "power")
            assert differ(slip, (float(second), second_unit), dimension), (path, first)
            seen += 1
    assert seen > 400
