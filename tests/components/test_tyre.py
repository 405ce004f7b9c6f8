"""What a tyre size says, worked out by hand from the way sizes are written."""

import math

import pytest

from converter_match.components.tyre import Tyre, tyre_size
from converter_match.errors import InputError
from converter_match.units import note_text

INCH = 0.0254
# Rolling circumference / free diameter: ETRTO, second-hand.
RADIAL, CROSS_PLY = 3.05 / (2 * math.pi), 2.99 / (2 * math.pi)
# Section height / width where the size does not say: from memory of tyre tables.
WIDE_BASE, FULL_SECTION = 0.82, 1.03


@pytest.mark.parametrize(
    ("designation", "diameter", "radial", "assumed"),
    [
        # Section in millimetres, height in percent of it, rim in inches.
        ("650/65R25", 25 * INCH + 2 * 0.650 * 0.65, True, False),
        (" 875/65 b 29 ", 29 * INCH + 2 * 0.875 * 0.65, False, False),
        ("400/80-24", 24 * INCH + 2 * 0.400 * 0.80, False, False),
        # Overall diameter, section, rim, all in inches.
        ("28x9-15", 28 * INCH, False, False),
        ("28 × 9 r 15", 28 * INCH, True, False),
        ("28X9B15", 28 * INCH, False, False),
        # Section and rim in inches; sizes that end in .5 from 13 inches on are wide-base.
        ("23.5R25", (25 + 2 * 23.5 * WIDE_BASE) * INCH, True, True),
        ("23,5-25", (25 + 2 * 23.5 * WIDE_BASE) * INCH, False, True),
        ("13.5-20", (20 + 2 * 13.5 * WIDE_BASE) * INCH, False, True),
        ("12.5-20", (20 + 2 * 12.5 * FULL_SECTION) * INCH, False, True),
        ("12.00-20", (20 + 2 * 12.0 * FULL_SECTION) * INCH, False, True),
        ("18.00r33", (33 + 2 * 18.0 * FULL_SECTION) * INCH, True, True),
        ("13.0-20", (20 + 2 * 13.0 * FULL_SECTION) * INCH, False, True),
        ("8.25-15.3", (15.3 + 2 * 8.25 * FULL_SECTION) * INCH, False, True),
    ],
)
def test_size_gives_diameter_construction_and_radius(designation, diameter, radial, assumed):
    size = tyre_size(designation)
    assert size.free_diameter == pytest.approx(diameter, rel=1e-14)
    assert size.construction == ("radial" if radial else "cross-ply")
    assert size.aspect_assumed is assumed
    assert size.designation == designation.strip()
    radius = (RADIAL if radial else CROSS_PLY) * diameter
    assert size.rolling_radius == pytest.approx(radius, rel=1e-14)
    tyre = Tyre.from_size(designation)
    assert tyre.rolling_radius == size.rolling_radius
    assert (tyre.size, tyre.construction) == (size.designation, size.construction)


@pytest.mark.parametrize(
    ("last_good", "first_bad"),
    [
        # A rim of 4 to 78 inches: 0.1 m is 3.94 inches, 2 m is 78.7.
        ("500/65R3.94", "500/65R3.93"),
        ("500/65R78.7", "500/65R78.8"),
        # A section height of 3 to 120 cm.
        ("100/30R25", "100/29.9R25"),
        ("1000/120R25", "1000/120.1R25"),
        # Overall less rim, halved: 3 cm is 1.181 inches.
        ("27.37x9-25", "27.36x9-25"),
    ],
)
def test_size_that_makes_no_tyre_is_refused_from_its_bound_on(last_good, first_bad):
    tyre_size(last_good)
    with pytest.raises(InputError, match="the size makes no tyre") as caught:
        tyre_size(first_bad)
    assert caught.value.field == "tyre.size"


@pytest.mark.parametrize("designation", ["R25", "23.5", "/65R25", "x9-15", "twelve-20"])
def test_what_is_no_size_is_refused_and_the_radius_asked_for(designation):
    with pytest.raises(InputError, match="not a tyre size that can be read") as caught:
        tyre_size(designation)
    assert caught.value.field == "tyre.size"
    assert caught.value.found == designation
    assert "rolling radius" in caught.value.hint


def test_estimate_says_what_it_rests_on():
    [note] = Tyre.from_size("23.5R25").given_notes
    # (25 + 2 x 23.5 x 0.82) inches = 1.6139 m; x 3.05 / 2 pi = 783 mm.
    for part in ("radius 783 mm", "23.5R25", "3.05 free", "(radial)", "assumed section height"):
        assert part in note_text(note, "si")
    assert (note.code, note.kind) == ("tyre-radius-estimated", "assumption")
    [note] = Tyre.from_size("28x9-15").given_notes
    assert "2.99 free" in note_text(note, "si")
    assert "(cross-ply)" in note_text(note, "si")
    assert "assumed section height" not in note_text(note, "si")


@pytest.mark.parametrize(
    ("size", "shown", "us"),
    [
        ("23.5R25", "783 mm", "30.8 in"),
        # 27 + 2 x 18.00 x 1.03 inches = 1.6276 m, x 2.99 / 2 pi = 0.775 m
        ("18.00-27", "775 mm", "30.5 in"),
        # 57 + 2 x 27.00 x 1.03 inches = 2.8606 m, x 3.05 / 2 pi = 1.389 m
        ("27.00R57", "1389 mm", "54.67 in"),
        # just beside a metre: overall diameter in inches x 0.0254 x 3.05 / 2 pi = 0.9999 m
        ("81.1x30R45", "999.9 mm", "39.37 in"),
    ],
)
def test_estimated_radius_is_given_in_as_many_digits_as_it_is_worth(size, shown, us):
    [note] = Tyre.from_size(size).given_notes
    assert f"rolling radius {shown} from" in note_text(note, "si")
    assert f"rolling radius {us} from" in note_text(note, "us")


@pytest.mark.parametrize(("off", "odd"), [(-0.081, 1), (-0.079, 0), (0.079, 0), (0.081, 1)])
def test_radius_given_beside_a_size_is_used_and_questioned_beyond_eight_percent(off, odd):
    expected = tyre_size("650/65R25").rolling_radius
    tyre = Tyre.from_size("650/65R25", expected * (1 + off))
    assert tyre.rolling_radius == expected * (1 + off)
    assert (tyre.size, tyre.construction) == ("650/65R25", "radial")
    assert [note.code for note in tyre.given_notes] == ["tyre-radius-odd"] * odd
    for note in tyre.given_notes:
        assert note.kind == "warning"
        assert f"is {100 * off:+.0f} % off" in note_text(note, "si")
        assert "size 650/65R25 " in note_text(note, "si")


def test_unknown_construction_is_refused_by_its_field():
    for construction in ("radial", "cross-ply", None):
        assert Tyre(rolling_radius=0.7, construction=construction).construction == construction
    with pytest.raises(InputError, match="'radial'") as caught:
        Tyre(rolling_radius=0.7, construction="radials")
    assert caught.value.field == "tyre.construction"
    assert Tyre(rolling_radius=0.7).size == ""
