"""Every spelling of a unit that a spec line takes, against the pint library.

What a spelling of the vocabulary means in pint's words stands in `tests/test_units_against_pint`;
those of brochures in five languages stand here (common practice, no source).
"""

import pint
import pytest

from converter_match.library.intake import line_scan
from converter_match.library.intake.answers import Answers
from converter_match.units import to_si
from tests.test_units_against_pint import MEANING

SI = {"power": "watt", "torque": "newton*meter", "angular_speed": "radian/second",
      "volume": "meter**3", "length": "meter"}  # fmt: skip
# What brochures write beside the vocabulary: dimension, spelling -> pint's words.
BROCHURE = {
    # English
    ("power", "bhp"): "horsepower",
    ("angular_speed", "min-1"): "revolution/minute",
    ("angular_speed", "r/min"): "revolution/minute",
    ("angular_speed", "/min"): "revolution/minute",
    ("torque", "lb-ft"): "force_pound*foot",
    ("torque", "lb.-ft."): "force_pound*foot",
    ("torque", "ft-lbs"): "force_pound*foot",
    ("volume", "cu.in"): "inch**3",
    # German
    ("power", "PS"): "metric_horsepower",
    ("angular_speed", "U/min"): "revolution/minute",
    ("angular_speed", "1/min"): "revolution/minute",
    ("angular_speed", "u/min"): "revolution/minute",
    ("torque", "mkg"): "force_kilogram*meter",
    ("torque", "mkp"): "force_kilogram*meter",
    ("volume", "ccm"): "centimeter**3",
    ("volume", "Liter"): "liter",
    ("volume", "Ltr"): "liter",
    # French
    ("power", "ch"): "metric_horsepower",
    ("angular_speed", "tr/min"): "revolution/minute",
    ("angular_speed", "tr/mn"): "revolution/minute",
    ("torque", "m.daN"): "decanewton*meter",
    ("volume", "cm3"): "centimeter**3",
    # Spanish and Portuguese
    ("power", "CV"): "metric_horsepower",
    ("power", "cv"): "metric_horsepower",
    ("torque", "kgm"): "force_kilogram*meter",
    ("torque", "kgf.m"): "force_kilogram*meter",
    ("torque", "m.kgf"): "force_kilogram*meter",
    ("volume", "litros"): "liter",
    ("volume", "lts"): "liter",
    ("angular_speed", "t/min"): "revolution/minute",
}
VOCABULARY = {
    (dimension, spelling.strip()): meaning
    for dimension in SI
    for meaning, listed in MEANING[dimension].items()
    for spelling in listed.split(",")
    if spelling.strip()
}
# Between a number and a word that brochures put behind it; words would not end the unit.
FRAMES = ("max. 123 {} bei 7", "123{} @ 7", "123 {}, net")


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


def read(text):
    return line_scan.quantities(text, Answers())[0]


def amount(registry, words, dimension):
    made = registry.parse_expression(words)
    return float((123 * made).to(SI[dimension]).magnitude)


@pytest.mark.parametrize("frame", FRAMES)
def test_every_spelling_that_is_taken_means_what_pint_says(registry, frame):
    wrong, taken = [], 0
    for (dimension, spelling), words in {**VOCABULARY, **BROCHURE}.items():
        if _runs_on(frame, spelling):
            continue
        found = read(frame.format(spelling))
        if not found.unit:
            continue  # not read as a unit, so asked about
        taken += 1
        known = {each for each in SI if _is(found.unit, each)}
        if dimension not in known and dimension in found.dimension:
            wrong.append(f"{spelling}: read as {found.unit}")
            continue
        if dimension in known:
            value = float(to_si(found.values[0], found.unit, dimension))
            if value != pytest.approx(amount(registry, words, dimension), rel=1e-6):
                wrong.append(f"{spelling} ({dimension}): {value:g} as {found.unit}")
        elif found.dimension:
            wrong.append(f"{spelling}: meant as {dimension}, read as {found.unit}")
    assert wrong == []
    assert taken > 100


def _runs_on(frame, spelling):
    """Return whether the unit begins with a digit that would belong to the number."""
    return spelling[0].isdigit() and "123{}" in frame


def test_a_speed_run_into_one_over_a_minute_is_asked_about():
    # "2300 1/min", copied without its space, is no engine at 23001 rpm.
    from converter_match.library.intake.reading import intake_line

    draft = intake_line("168 kW @ 21001/min; 930 Nm @ 14001/min; high idle 23501/min")
    assert draft.open
    assert any("21001" in problem.text() or "14001" in problem.text() for problem in draft.open)


def _is(unit, dimension):
    from converter_match.units import dimensions_of

    return dimension in dimensions_of(unit)


@pytest.mark.parametrize(("dimension", "spelling"), BROCHURE)
def test_every_spelling_of_brochures_is_taken(registry, dimension, spelling):
    for frame in FRAMES:
        if _runs_on(frame, spelling):
            continue
        found = read(frame.format(spelling))
        assert found.unit, frame.format(spelling)
        value = float(to_si(found.values[0], found.unit, dimension))
        assert value == pytest.approx(
            amount(registry, BROCHURE[dimension, spelling], dimension), rel=1e-6
        )


def test_no_spelling_of_its_own_is_left_out_here():
    ours = {spelling.casefold() for spelling in line_scan._SPELLINGS}
    told = {spelling.casefold() for _, spelling in [*BROCHURE, *VOCABULARY]}
    assert ours <= told | {"litro", "omw/min"}
    for spelling, meaning in (("litro", "L"), ("omw/min", "r/min")):
        assert line_scan._SPELLINGS[spelling] == meaning
