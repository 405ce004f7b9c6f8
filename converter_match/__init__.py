"""Decide whether an engine and a torque converter belong together.

Floor plan; imports point one way only, from the bottom of this list to the top:

==============  ==================================================================
``errors``      the one error type for bad input
``units``       the only place that knows a unit other than SI
``curves``      shape-preserving curves with explicit kinks and an explicit domain
``components``  what can be bought, or found on site: frozen, validated, SI
``library``     reading, checking and writing component files
``physics``     pure functions of components: arrays in, arrays out
``judgement``   from numbers to a decision
``present``     figures, tables, report, bench
``cli``         the command line, one module a verb
==============  ==================================================================

The names below are found on first use, so that ``import converter_match`` costs nothing: it loads
neither scipy nor pandas nor matplotlib.
"""

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:  # what an editor and the type checker see; the same names as in _HOME
    from converter_match.components.converter import Converter
    from converter_match.components.engine import Engine
    from converter_match.components.site import Site
    from converter_match.curves import Curve
    from converter_match.errors import InputError
    from converter_match.library.read import read_converter, read_engine, read_site
    from converter_match.units import from_si, to_si

_HOME = {
    "Converter": "components.converter",
    "Curve": "curves",
    "Engine": "components.engine",
    "InputError": "errors",
    "Site": "components.site",
    "from_si": "units",
    "read_converter": "library.read",
    "read_engine": "library.read",
    "read_site": "library.read",
    "to_si": "units",
}

__all__ = [
    "Converter",
    "Curve",
    "Engine",
    "InputError",
    "Site",
    "__version__",
    "from_si",
    "read_converter",
    "read_engine",
    "read_site",
    "to_si",
]


def __getattr__(name: str) -> object:
    """Import the room of a public name the first time that the name is asked for (PEP 562)."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value  # so that the next look-up does not come here
    return value


def __dir__() -> list[str]:
    """List the public names, those not yet imported included."""
    return sorted(__all__)
