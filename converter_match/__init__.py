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
``api``         the names below: what a session in Python types, checked at the door
``cli``         the command line, one module a verb
==============  ========================================================================

The names below are found on first use, so that ``import converter_match`` costs nothing: it loads
neither scipy nor pandas nor matplotlib.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from converter_match.version import __version__

if TYPE_CHECKING:  # what an editor and the type checker see; the same names as in _HOME
    from converter_match.answer.noted import Answer
    from converter_match.api import figures
    from converter_match.api.acceptance import AcceptanceTest, acceptance
    from converter_match.api.data import check, full_throttle, identify, intake
    from converter_match.api.files import copy, read, write
    from converter_match.api.loads import at_setting, over_load, over_settings
    from converter_match.api.match import (
        arrange,
        blading_for,
        from_blading,
        governed_lower,
        over_duty,
        points,
        points_at_turbine_speed,
        solve,
        velocity_triangles,
    )
    from converter_match.api.motors import couple_directly
    from converter_match.api.notebook import (
        bench,
        bring_in,
        compare,
        lesson,
        notes_of,
        pick_chart,
        readings_form,
        shelf,
        still,
    )
    from converter_match.api.sizing import engine_wanted, size, size_on_route, try_on_route
    from converter_match.api.stall import StallTest, hold, stall_test
    from converter_match.api.studies import (
        audit,
        evidence,
        rank,
        report,
        run_study,
        shortlist,
        uncertainty,
    )
    from converter_match.api.transients import close_lock_up, run_up
    from converter_match.api.wheels import accelerate, haul, tractive, work_cycle
    from converter_match.components.arrangement import Arrangement
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.engine import Engine
    from converter_match.components.machine import Machine
    from converter_match.components.motor import Motor
    from converter_match.components.site import Site
    from converter_match.components.surface import Surface
    from converter_match.errors import InputError, OddData
    from converter_match.library.published_run import published
    from converter_match.library.shipped import shipped
    from converter_match.notes import Note
    from converter_match.present.notebook.answer import show
    from converter_match.present.notebook.parts import data_carried
    from converter_match.present.notebook.picture import picture, refusal
    from converter_match.present.notebook.report import section
    from converter_match.present.notebook.table import beside, table
    from converter_match.study.study import Study
    from converter_match.units import from_si, to_si

_HOME = {
    "AcceptanceTest": "api.acceptance",
    "Answer": "answer.noted",
    "Arrangement": "components.arrangement",
    "Converter": "components.converter",
    "Driveline": "components.driveline",
    "Engine": "components.engine",
    "InputError": "errors",
    "Machine": "components.machine",
    "Motor": "components.motor",
    "Note": "notes",
    "OddData": "errors",
    "Site": "components.site",
    "StallTest": "api.stall",
    "Study": "study.study",
    "Surface": "components.surface",
    "accelerate": "api.wheels",
    "acceptance": "api.acceptance",
    "arrange": "api.match",
    "at_setting": "api.loads",
    "audit": "api.studies",
    "bench": "api.notebook",
    "beside": "present.notebook.table",
    "blading_for": "api.match",
    "bring_in": "api.notebook",
    "check": "api.data",
    "close_lock_up": "api.transients",
    "compare": "api.notebook",
    "copy": "api.files",
    "couple_directly": "api.motors",
    "data_carried": "present.notebook.parts",
    "engine_wanted": "api.sizing",
    "evidence": "api.studies",
    "figures": "api",
    "from_blading": "api.match",
    "from_si": "units",
    "full_throttle": "api.data",
    "governed_lower": "api.match",
    "haul": "api.wheels",
    "hold": "api.stall",
    "identify": "api.data",
    "intake": "api.data",
    "lesson": "api.notebook",
    "notes_of": "api.notebook",
    "over_duty": "api.match",
    "over_load": "api.loads",
    "over_settings": "api.loads",
    "pick_chart": "api.notebook",
    "picture": "present.notebook.picture",
    "points": "api.match",
    "points_at_turbine_speed": "api.match",
    "published": "library.published_run",
    "rank": "api.studies",
    "read": "api.files",
    "readings_form": "api.notebook",
    "refusal": "present.notebook.picture",
    "report": "api.studies",
    "run_study": "api.studies",
    "run_up": "api.transients",
    "section": "present.notebook.report",
    "shelf": "api.notebook",
    "shipped": "library.shipped",
    "shortlist": "api.studies",
    "show": "present.notebook.answer",
    "size": "api.sizing",
    "size_on_route": "api.sizing",
    "solve": "api.match",
    "stall_test": "api.stall",
    "still": "api.notebook",
    "table": "present.notebook.table",
    "to_si": "units",
    "tractive": "api.wheels",
    "try_on_route": "api.sizing",
    "uncertainty": "api.studies",
    "velocity_triangles": "api.match",
    "work_cycle": "api.wheels",
    "write": "api.files",
}

__all__ = [
    "AcceptanceTest",
    "Answer",
    "Arrangement",
    "Converter",
    "Driveline",
    "Engine",
    "InputError",
    "Machine",
    "Motor",
    "Note",
    "OddData",
    "Site",
    "StallTest",
    "Study",
    "Surface",
    "__version__",
    "accelerate",
    "acceptance",
    "arrange",
    "at_setting",
    "audit",
    "bench",
    "beside",
    "blading_for",
    "bring_in",
    "check",
    "close_lock_up",
    "compare",
    "copy",
    "couple_directly",
    "data_carried",
    "engine_wanted",
    "evidence",
    "figures",
    "from_blading",
    "from_si",
    "full_throttle",
    "governed_lower",
    "haul",
    "hold",
    "identify",
    "intake",
    "lesson",
    "notes_of",
    "over_duty",
    "over_load",
    "over_settings",
    "pick_chart",
    "picture",
    "points",
    "points_at_turbine_speed",
    "published",
    "rank",
    "read",
    "readings_form",
    "refusal",
    "report",
    "run_study",
    "run_up",
    "section",
    "shelf",
    "shipped",
    "shortlist",
    "show",
    "size",
    "size_on_route",
    "solve",
    "stall_test",
    "still",
    "table",
    "to_si",
    "tractive",
    "try_on_route",
    "uncertainty",
    "velocity_triangles",
    "work_cycle",
    "write",
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
