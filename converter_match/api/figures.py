"""Every figure, one function each: ``cm.figures.overlay(match)``.

Each takes what it draws, ``system="us"`` for US units, and returns a matplotlib figure: `write`
puts it into a file, `picture` into a notebook with its words. None computes anything.

====================  =====================================================
``overlay``           a match: engine and converter, what the gearbox sees
``characteristic``    converters by themselves
``velocity_triangles``  what the oil does in a blading
``arrangement``       what clutches, dividers and the like do
``transient``         a course in time
``tractive``          effort, grades and heat at the wheels
``acceleration``      a run from rest
``haul``              a haul route
``work_cycle``        a short cycle
``diagnosis``         what explains the readings of a stall test
``trials``            converters tried on a route
``trend``             stall tests of one machine over time
``fleet``             the last stall test of every machine
``identification``    a characteristic from a machine's own log
``motor``             an electric motor and a converter
``motor_route``       a machine with a motor on a route
``motor_tractive``    a machine with a motor at its wheels
``measured_run``      a measured run beside what its converter's bench curve makes of it
``draft``             what was understood of a sheet
``uncertainty``       how sure a study is
``evidence``          what readings made of that
``practice_chart``    a chart to practise reading on
====================  =====================================================
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from importlib import import_module
from typing import TYPE_CHECKING, Any

from converter_match.api.door import part

if TYPE_CHECKING:
    from converter_match.present.figures.acceleration import acceleration_figure as acceleration
    from converter_match.present.figures.arrangement import arrangement_figure as arrangement
    from converter_match.present.figures.characteristic import characteristic
    from converter_match.present.figures.evidence import evidence_figure as evidence
    from converter_match.present.figures.identify import identify_figure as identification
    from converter_match.present.figures.intake import draft_figure as draft
    from converter_match.present.figures.measured_run import measured_run_figure as measured_run
    from converter_match.present.figures.motor import motor_figure as motor
    from converter_match.present.figures.motor_route import motor_route_figure as motor_route
    from converter_match.present.figures.motor_tractive import (
        motor_tractive_figure as motor_tractive,
    )
    from converter_match.present.figures.overlay import overlay
    from converter_match.present.figures.practice_chart import practice_chart
    from converter_match.present.figures.route import route_figure as haul
    from converter_match.present.figures.short_cycle import short_cycle_figure as work_cycle
    from converter_match.present.figures.tractive import tractive_figure as tractive
    from converter_match.present.figures.transient import transient_figure as transient
    from converter_match.present.figures.trials import trials_figure as trials
    from converter_match.present.figures.uncertainty import uncertainty_figure as uncertainty
    from converter_match.present.figures.velocity_triangles import (
        velocity_triangles_figure as velocity_triangles,
    )
    from converter_match.present.stall.figures import (
        explanations_figure as diagnosis,
    )
    from converter_match.present.stall.figures import (
        fleet_figure as fleet,
    )
    from converter_match.present.stall.figures import (
        trend_figure as trend,
    )

_PRESENT, _JUDGED = "converter_match.present", "converter_match.judgement"
# Name -> module and function that draw it, and the class of what is drawn (None: several, or rows).
_DRAWN: dict[str, tuple[str, str, str | None]] = {
    "acceleration": (
        "figures.acceleration",
        "acceleration_figure",
        f"{_JUDGED}.wheels.acceleration.AccelerationResult",
    ),
    "arrangement": (
        "figures.arrangement",
        "arrangement_figure",
        f"{_JUDGED}.arrangement.solve.ArrangedResult",
    ),
    "characteristic": ("figures.characteristic", "characteristic", None),
    "diagnosis": (
        "stall.figures",
        "explanations_figure",
        f"{_JUDGED}.stall.result.StallDiagnosis",
    ),
    "draft": (
        "figures.intake",
        "draft_figure",
        "converter_match.library.intake.draft.Draft",
    ),
    "evidence": (
        "figures.evidence",
        "evidence_figure",
        f"{_JUDGED}.evidence.result.EvidenceResult",
    ),
    "fleet": ("stall.figures", "fleet_figure", None),
    "haul": ("figures.route", "route_figure", f"{_JUDGED}.haul.result.RouteResult"),
    "identification": (
        "figures.identify",
        "identify_figure",
        f"{_JUDGED}.identify.result.Identification",
    ),
    "measured_run": (
        "figures.measured_run",
        "measured_run_figure",
        f"{_JUDGED}.identify.full_throttle.NextGear",
    ),
    "motor": ("figures.motor", "motor_figure", f"{_JUDGED}.motor.result.MotorMatch"),
    "motor_route": (
        "figures.motor_route",
        "motor_route_figure",
        f"{_JUDGED}.motor.route_result.MotorRoute",
    ),
    "motor_tractive": (
        "figures.motor_tractive",
        "motor_tractive_figure",
        f"{_JUDGED}.motor.tractive_result.MotorTractive",
    ),
    "overlay": ("figures.overlay", "overlay", f"{_JUDGED}.match.result.MatchResult"),
    "practice_chart": (
        "figures.practice_chart",
        "practice_chart",
        "converter_match.components.converter.Converter",
    ),
    "tractive": ("figures.tractive", "tractive_figure", f"{_JUDGED}.wheels.result.TractiveResult"),
    "transient": (
        "figures.transient",
        "transient_figure",
        "converter_match.physics.dynamics.transient.Transient",
    ),
    "trials": ("figures.trials", "trials_figure", f"{_JUDGED}.sizing.trials.Trials"),
    "trend": ("stall.figures", "trend_figure", None),
    "uncertainty": (
        "figures.uncertainty",
        "uncertainty_figure",
        f"{_JUDGED}.uncertainty.result.UncertaintyResult",
    ),
    "velocity_triangles": (
        "figures.velocity_triangles",
        "velocity_triangles_figure",
        "converter_match.physics.converter.velocity_triangles.VelocityTriangles",
    ),
    "work_cycle": (
        "figures.short_cycle",
        "short_cycle_figure",
        f"{_JUDGED}.haul.short_cycle.CycleResult",
    ),
}

__all__ = [
    "acceleration",
    "arrangement",
    "characteristic",
    "diagnosis",
    "draft",
    "evidence",
    "fleet",
    "haul",
    "identification",
    "measured_run",
    "motor",
    "motor_route",
    "motor_tractive",
    "overlay",
    "practice_chart",
    "tractive",
    "transient",
    "trend",
    "trials",
    "uncertainty",
    "velocity_triangles",
    "work_cycle",
]


def __getattr__(name: str) -> Callable[..., Any]:
    """Import what draws a figure the first time that it is asked for (PEP 562)."""
    if name not in _DRAWN:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, function, drawn = _DRAWN[name]
    draw = getattr(import_module(f"{_PRESENT}.{module}"), function)
    checked = draw if drawn is None else _checked(name, draw, drawn)
    globals()[name] = checked
    return checked


def __dir__() -> list[str]:
    """List the figures, those not yet imported included."""
    return sorted(__all__)


def _checked(name: str, draw: Callable[..., Any], drawn: str) -> Callable[..., Any]:
    """Return a figure that refuses what it cannot draw, and says what it can."""
    module, _, class_name = drawn.rpartition(".")
    wanted = getattr(import_module(module), class_name)

    @wraps(draw)
    def figure(result: object, /, *args: Any, **kwargs: Any) -> Any:
        return draw(part(result, wanted, f"figures.{name}"), *args, **kwargs)

    figure.__name__ = figure.__qualname__ = name
    return figure
