"""Production and fuel of a haul or a cycle in words: metric, or short tons and US gallons."""

from __future__ import annotations

from converter_match.units import System, from_si, to_si

# One metric tonne and one litre in the units that US hauling reckons in.
_SHORT_TONS = from_si(to_si(1.0, "t", "mass"), "short ton", "mass")
_GALLONS = from_si(to_si(1.0, "L", "volume"), "US gal", "volume")


def production(tonnes_per_hour: float, system: System) -> str:
    """Return what is moved in an hour."""
    if system == "us":
        return f"{tonnes_per_hour * _SHORT_TONS:.0f} short tons/h"
    return f"{tonnes_per_hour:.0f} t/h"


def fuel_rate(litres_per_hour: float, system: System) -> str:
    """Return the fuel of an hour."""
    if system == "us":
        return f"{litres_per_hour * _GALLONS:.1f} US gal/h"
    return f"{litres_per_hour:.1f} L/h"


def fuel_of_load(litres_per_tonne: float, system: System) -> str:
    """Return the fuel for what is moved."""
    if system == "us":
        return f"{litres_per_tonne * _GALLONS / _SHORT_TONS:.4f} US gal/short ton"
    return f"{litres_per_tonne:.3f} L/t"
