"""Files of adjustable converters: members as whole sheets, and what is wrong with one."""

import pytest

from converter_match.errors import InputError
from converter_match.library.read import read_converter
from converter_match.library.shipped import find, shipped
from converter_match.library.write import write_component


def edited(tmp_path, name, *changes):
    text = shipped("adjustable")[name].read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "edited.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(shipped("adjustable")))
def test_a_shipped_family_says_that_it_is_invented_and_survives_writing(name, tmp_path):
    unit = read_converter(find("converters", name))
    assert "invented" in unit.source
    assert unit.adjustment.setting in unit.adjustment.settings
    assert len(unit.members) == len(unit.adjustment.settings) >= 2
    write_component(unit, tmp_path / "again.toml")
    assert read_converter(tmp_path / "again.toml") == unit


def test_members_share_what_is_not_their_own():
    unit = read_converter(find("converters", "adjustable-stator-365mm"))
    assert {member.profile_diameter for member in unit.members} == {0.365}
    # lambda rho D^5 of the file, at stall.
    scale = 840.0 * 0.365**5
    got = [float(member.capacity_at(0.0)) / scale for member in unit.members]
    assert got == pytest.approx([0.00540, 0.00395, 0.00215])


def test_an_adjustable_converter_is_not_tried_from_the_library():
    assert not set(shipped("adjustable")) & set(shipped("converters"))


STATOR, FILLING = "adjustable-stator-365mm", "filling-controlled-coupling-420mm"


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        (STATOR, ("setting = 15", "setting = 30"), "family.member (no. 2).setting: another member"),
        (STATOR, ("setting = 15", "setting = 0"), "family.member (no. 1).setting: another member"),
        (
            STATOR,
            ("[2.35, 2.00", "[2.35, 9.00"),
            "(no. 1).characteristic.torque_ratio",
        ),
        (
            STATOR,
            ("{ value = 0.80 }", "{ value = 1.80 }"),
            "(no. 1).coupling_speed_ratio",
        ),
        (STATOR, ('unit = "deg"', 'unit = "deg"\nbetween = "cubic"'), "linear"),
        (STATOR, ("parameter =", "parametre ="), "parameter"),
        (STATOR, ("nominal = 0", ""), "family.nominal"),
        (FILLING, ("setting = 75", 'setting = "three quarters"'), "setting"),
    ],
)
def test_what_is_wrong_is_said_with_file_and_member(tmp_path, name, change, says):
    with pytest.raises(InputError) as refused:
        read_converter(edited(tmp_path, name, change))
    said = str(refused.value)
    assert says in said
    assert "edited.toml" in said
    assert "\n" not in said
