"""Decide whether an engine and a torque converter belong together.

Floor plan; imports point one way only, from the bottom of this list to the top:

==============  ========================================================================
``errors``      the one error type for bad input
``notes``       what travels with a component or a result: assumptions, warnings
``constants``   constants of nature and of the standards, each typed once
``units``       the only place that knows a unit other than SI
``curves``      shape-preserving curves with explicit kinks and an explicit domain
``answer``      the one form of a result: blocks of SI values, and their renderers
``components``  what can be bought, or found on site: frozen, validated, SI
``study``       a study as an input: what is compared, where, by which criteria
``library``     reading, checking and writing component files
``physics``     pure functions of components: arrays in, arrays out
``judgement``   from numbers to a decision
``present``     figures, tables, report, bench
``cli``         the command line, one module a verb
==============  ========================================================================

The names below are found on first use, so that ``import converter_match`` costs nothing: it loads
neither scipy nor pandas nor matplotlib.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from converter_match.version import __version__

if TYPE_CHECKING:  # what an editor and the type checker see; the same names as in _HOME
    from converter_match.components.arrangement import Arrangement
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.engine import Engine
    from converter_match.components.machine import Machine
    from converter_match.components.site import Site
    from converter_match.curves import Curve
    from converter_match.errors import InputError
    from converter_match.judgement.arrangement.solve import solve_arranged
    from converter_match.judgement.audit.audit import audit_study
    from converter_match.judgement.decision.extras import with_extras
    from converter_match.judgement.decision.run import StudyResult, run_study
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.match.solve import solve
    from converter_match.judgement.sizing.size import size_for_speed
    from converter_match.judgement.uncertainty.uncertainty import uncertainty
    from converter_match.judgement.verdict.ranking import rank_library
    from converter_match.judgement.wheels.tractive import tractive
    from converter_match.library.check import oddities
    from converter_match.library.read import (
        read_arrangement,
        read_component,
        read_converter,
        read_driveline,
        read_engine,
        read_machine,
        read_site,
    )
    from converter_match.library.shipped import shipped
    from converter_match.library.study_file import read_study
    from converter_match.library.write import write_component
    from converter_match.notes import Note
    from converter_match.physics.match.solver import match, match_in_blocks
    from converter_match.present.report.study_folder import write_study
    from converter_match.study.study import Study
    from converter_match.units import from_si, to_si

_HOME = {
    "Arrangement": "components.arrangement",
    "Converter": "components.converter",
    "Curve": "curves",
    "Driveline": "components.driveline",
    "Engine": "components.engine",
    "InputError": "errors",
    "Machine": "components.machine",
    "MatchResult": "judgement.match.result",
    "Note": "notes",
    "Site": "components.site",
    "Study": "study.study",
    "StudyResult": "judgement.decision.run",
    "audit_study": "judgement.audit.audit",
    "from_si": "units",
    "match": "physics.match.solver",
    "match_in_blocks": "physics.match.solver",
    "oddities": "library.check",
    "rank_library": "judgement.verdict.ranking",
    "read_arrangement": "library.read",
    "read_component": "library.read",
    "read_converter": "library.read",
    "read_driveline": "library.read",
    "read_engine": "library.read",
    "read_machine": "library.read",
    "read_site": "library.read",
    "read_study": "library.study_file",
    "run_study": "judgement.decision.run",
    "shipped": "library.shipped",
    "size_for_speed": "judgement.sizing.size",
    "solve": "judgement.match.solve",
    "solve_arranged": "judgement.arrangement.solve",
    "to_si": "units",
    "tractive": "judgement.wheels.tractive",
    "uncertainty": "judgement.uncertainty.uncertainty",
    "with_extras": "judgement.decision.extras",
    "write_component": "library.write",
    "write_study": "present.report.study_folder",
}

__all__ = [
    "Arrangement",
    "Converter",
    "Curve",
    "Driveline",
    "Engine",
    "InputError",
    "Machine",
    "MatchResult",
    "Note",
    "Site",
    "Study",
    "StudyResult",
    "__version__",
    "audit_study",
    "from_si",
    "match",
    "match_in_blocks",
    "oddities",
    "rank_library",
    "read_arrangement",
    "read_component",
    "read_converter",
    "read_driveline",
    "read_engine",
    "read_machine",
    "read_site",
    "read_study",
    "run_study",
    "shipped",
    "size_for_speed",
    "solve",
    "solve_arranged",
    "to_si",
    "tractive",
    "uncertainty",
    "with_extras",
    "write_component",
    "write_study",
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
