"""Factors of units against a printed table."""

import pytest

from converter_match.units import to_si


@pytest.mark.parametrize(
    ("unit", "dimension", "printed"),
    [
        ("lbf.ft", "torque", 1.355818),
        ("lbf.in", "torque", 0.1129848),
        ("hp", "power", 745.6999),
        ("PS", "power", 735.4988),
        ("lbf", "force", 4.448222),
        ("slug", "mass", 14.59390),
        ("short ton", "mass", 907.1847),
        ("long ton", "mass", 1016.047),
        ("psi", "pressure", 6894.757),
        ("inHg", "pressure", 3386.389),
        ("inH2O", "pressure", 249.0889),
        ("US gal", "volume", 3.785412e-3),
        ("lb/ft3", "density", 16.01846),
        ("lb/US gal", "density", 119.8264),
        ("lb.ft2", "inertia", 4.214011e-2),
        ("lb/(hp.h)", "specific_fuel", 1.689659e-7),
        ("BTU/(lb.degF)", "specific_heat", 4186.8),
    ],
)
def test_factors_agree_with_the_printed_table(unit, dimension, printed, published_case):
    published_case(
        topic="Units", source="NIST Special Publication 811 (2008), appendix B", tag="memory",
        quantity=f"1 {unit} in SI", inputs=dimension.replace("_", " "), published=printed,
        ours=to_si(1.0, unit, dimension), relative=5e-7, why="seven printed digits",
    )  # fmt: skip
