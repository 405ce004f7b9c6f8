from dataclasses import fields

import pytest

from converter_match.components.surface import QUANTITIES, Surface
from converter_match.errors import InputError
from converter_match.library.checked import check_file
from converter_match.library.schema.surfaces import SurfaceTable
from converter_match.library.surfaces import find_surface, full_name, read_surfaces

CSV = """\
surface,quantity,value,unit,source
crusher floor,rolling_resistance,3.5,%,measured with a load cell
crusher floor,traction_coefficient,0.6,1,measured with a load cell
spoil heap,rolling_resistance,160,lb/short ton,guess of the foreman
"""
TOML = """\
schema = "converter-match/surfaces/1"
id = "yard"
name = "Our yard"
source = "measured in May"
[[surface]]
name = "ramp"
rolling_resistance = { unit = "kgf/t", value = 28 }
traction = { value = 0.7 }
[[surface]]
name = "mud"
rolling_resistance = { unit = "percent", value = 12 }
source = "guess"
"""


@pytest.fixture
def file(tmp_path):
    def write(text, name):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_own_table_as_csv(file):
    floor, spoil = read_surfaces(file(CSV, "mine.csv"))
    assert (floor.rolling_resistance, floor.traction) == (0.035, 0.6)
    assert (spoil.rolling_resistance, spoil.traction) == (0.08, None)
    assert spoil.source == "guess of the foreman"


def test_own_table_as_toml(file):
    ramp, mud = read_surfaces(file(TOML, "mine.toml"))
    assert (ramp.rolling_resistance, ramp.traction, ramp.source) == (0.028, 0.7, "measured in May")
    assert (mud.rolling_resistance, mud.source) == (0.12, "guess")


def test_name_is_found_whatever_its_case():
    surfaces = read_surfaces()
    assert find_surface(" Firm smooth  EARTH ", surfaces).traction == 0.55
    assert find_surface("sand, tractor", surfaces).rolling_resistance == 0.2
    for surface in surfaces:
        assert find_surface(full_name(surface), surfaces) == surface


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("firm smoth earth", "did you mean 'firm smooth earth'"),
        ("zzzz", "known: concrete or asphalt, firm smooth earth, "),
        ("sand", "listed more than once; found 'sand'; expected 'sand, truck' or 'sand, tractor'"),
    ],
)
def test_unknown_surface_names_the_nearest(name, message):
    with pytest.raises(InputError, match=message):
        find_surface(name, read_surfaces(), source="--surface")


@pytest.mark.parametrize(
    ("right", "wrong", "message"),
    [
        ("0.6,1,", "60,1,", "not a traction coefficient"),
        ("3.5,%,", "3.5,lb/ton,", "line 2, unit: 'lb/ton' does not say which ton"),
        ("3.5,%,", "hard,%,", "line 2, value: not a number; found 'hard'"),
        (",quantity,", ",quantities,", "a column is missing"),
        ("traction_coefficient", "traction", "did you mean 'traction_coefficient'"),
        ("traction_coefficient", "rolling_resistance", "line 3: the rolling_resistance of this"),
        (
            "160,lb/short ton",
            "nan,%",
            "not a rolling resistance",
        ),
        (
            "spoil heap,rolling_resistance,160,lb/short ton",
            "spoil heap,traction_coefficient,0.3,1",
            "a surface without rolling_resistance; found 'spoil heap'",
        ),
        ("crusher floor,rolling", ",rolling", "line 2, surface: no name"),
    ],
)
def test_bad_table_is_named_with_its_line(file, right, wrong, message):
    path = file(CSV.replace(right, wrong, 1), "mine.csv")
    with pytest.raises(InputError, match=message) as caught:
        read_surfaces(path)
    assert str(path) in str(caught.value)


def test_bad_toml_is_named_with_its_field(file):
    path = file(TOML.replace("value = 28", "value = 2800"), "mine.toml")
    with pytest.raises(
        InputError, match=r"surface \(no\. 1\).rolling_resistance.value: not a rolling"
    ):
        read_surfaces(path)
    other = file(TOML.replace("surfaces/1", "machine/1"), "other.toml")
    with pytest.raises(InputError, match="not a file of surfaces"):
        read_surfaces(other)


def test_every_quantity_of_a_surface_has_a_name_in_both_kinds_of_table():
    numbers = {field.name for field in fields(Surface) if "float" in str(field.type)}
    assert set(QUANTITIES.values()) == numbers
    assert numbers <= set(SurfaceTable.model_fields)


@pytest.mark.parametrize(
    ("old", "new", "odd"),
    [("28", "28", []), ("28", "2", ["ramp"]), ("28", "450", ["ramp"]), ("12", "45", ["mud"])],
)
def test_an_unusual_number_of_a_surface_is_asked_about(file, old, new, odd):
    checked = check_file(file(TOML.replace(f"value = {old}", f"value = {new}"), "yard.toml"))
    assert (checked.kind, checked.size) == ("surfaces", "2 surfaces")
    assert [name for name, _ in checked.odd] == odd
