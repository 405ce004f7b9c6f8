"""What a sheet states of its curve in words is held against the curve, and changes no number.

The engine is the shipped one of 185 kW: 803 N.m at 2200 rpm are 803 x 2200 x 2 pi / 60 = 184 998 W,
and the highest row is 1004 N.m at 1400 rpm.
"""

import re

import pytest

import converter_match as cm
from converter_match.errors import InputError
from converter_match.library.checked import check_file
from converter_match.library.odd.doubts import throws_doubt
from converter_match.library.schema.words import RATING
from converter_match.library.shipped import find
from tests.library.sheets import RATING_LINE, saved, text_of

TABLE = re.compile(r"\[rating\]\n(?:.+\n)+\n")


def engine(folder, *lines):
    """Return the engine with a rating line of these keys; without one where there are none."""
    text = find("engines", "six-cylinder-7l-185kw").read_text(encoding="utf-8")
    assert len(TABLE.findall(text)) == 1
    table = "".join(f"{line}\n" for line in ("[rating]", *lines, "")) if lines else ""
    return cm.read(saved(folder, TABLE.sub(table, text)))


def asked(component):
    return [note for note in component.notes if note.code in RATING]


POWER = 'rated_power = { unit = "%s", value = %s }'
TORQUE = 'peak_torque = { unit = "%s", value = %s }'
SPEED = 'peak_torque_speed = { unit = "rpm", value = %s }'


@pytest.mark.parametrize(
    "lines",
    [
        (POWER % ("kW", 185), TORQUE % ("N.m", 1004), SPEED % 1400),
        (POWER % ("hp", 248),),  # 184.9 kW
        (POWER % ("PS", 252),),  # 185.3 kW
        (TORQUE % ("lbf.ft", 741),),  # 1004.7 N.m
        (TORQUE % ("N.m", 1020),),  # between two rows it may be a little higher: 1.6 %
        (SPEED % 1500,),  # the curve is flat there: 998 N.m
    ],
)
def test_rating_of_the_curve_is_asked_nothing(tmp_path, lines):
    assert asked(engine(tmp_path, *lines)) == []


@pytest.mark.parametrize(
    ("line", "code", "share"),
    [
        (POWER % ("kW", 248), "rated-power-and-curve-differ", 184.998 / 248 - 1),
        (POWER % ("kW", 18.5), "rated-power-and-curve-differ", 9.0),
        (TORQUE % ("N.m", 741), "peak-torque-and-curve-differ", 1004 / 741 - 1),
        (TORQUE % ("N.m", 1040), "peak-torque-and-curve-differ", 1004 / 1040 - 1),
    ],
)
def test_rating_of_another_curve_is_asked_about(tmp_path, line, code, share):
    [note] = asked(engine(tmp_path, line))
    assert note.code == code
    assert dict(note.values)["share"] == pytest.approx(share, rel=1e-3)
    assert throws_doubt(note)


def test_peak_where_the_curve_has_none_is_asked_about(tmp_path):
    [note] = asked(engine(tmp_path, SPEED % 1900))
    assert note.code == "peak-torque-elsewhere"
    assert dict(note.values)["there"] == pytest.approx(899.0)
    [note] = asked(engine(tmp_path, SPEED % 3000))  # beyond the curve
    assert dict(note.values)["there"] == 0.0


def test_check_and_results_ask_about_it(tmp_path):
    motor = engine(tmp_path, POWER % ("kW", 248))
    assert "rated-power-and-curve-differ" in [
        note.code for note in cm.solve(motor, cm.read("single-stage-345mm-tight")).notes
    ]
    checked = check_file(str(tmp_path / "sheet.toml"))
    assert [note.code for _, note in checked.odd] == ["rated-power-and-curve-differ"]


def test_rating_beside_a_curve_changes_no_number(tmp_path):
    line = POWER % ("kW", 185)
    assert engine(tmp_path, line).fingerprint() == engine(tmp_path).fingerprint()


@pytest.mark.parametrize("key", ["rated_power", "peak_torque", "peak_torque_speed"])
def test_rating_without_a_curve_needs_all_of_it(tmp_path, key):
    text = re.sub(rf"{key} = .*\n", "", text_of(RATING_LINE))
    with pytest.raises(InputError, match="missing") as refused:
        cm.read(saved(tmp_path, text))
    assert refused.value.field == f"rating.{key}"
