"""The units in which the study asks, for the figures on page one."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

from converter_match.answer.block import Heading
from converter_match.judgement.verdict.measure import figure_value
from converter_match.library.study_copies import STUDY
from converter_match.study.study import Study
from converter_match.units import System, display_unit, from_si, trimmed
from converter_match.units.spelling import label

# Where a study asks for a figure of a kind; the first that is given decides.
_KEYS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "angular_speed": (
        ("limits", "stall_speed_least"),
        ("limits", "stall_speed_most"),
        ("limits", "engine_speed"),
    ),
    "power": (("limits", "heat"),),
    "velocity": (("limits", "top_speed_least"), ("limits", "top_speed_most")),
    "weight_share": (("duty", "continuous_grade"), ("duty", "grades")),
}


@dataclass(frozen=True)
class Asked:
    """Figures in the units that the study typed; those of the report where it typed none.

    Parameters
    ----------
    units : mapping of str to str
        Dimension -> unit as typed.
    system : {"si", "us"}
    """

    units: Mapping[str, str]
    system: System

    def text(self, value: float, dimension: str) -> str:
        """Return a figure [SI] with its unit."""
        unit = self.units.get(dimension)
        if unit is None or label(unit) == label(display_unit(dimension, self.system)):
            return Heading("", "").text(figure_value(value, dimension), self.system)
        number = trimmed(float(from_si(value, unit, dimension)))
        # As many digits as the figure of a trade unit has; a grade as short as it was typed.
        whole = abs(number) >= 99.95  # three digits before the point
        form = "g" if dimension == "weight_share" else ".0f" if whole else "#.3g"
        return f"{format(number, form)} {label(unit)}"


def asked(study: Study, system: System) -> Asked:
    """Return the units in which a study asks.

    Parameters
    ----------
    study : Study
    system : {"si", "us"}
    """
    content = next((item.content for item in study.inputs if item.role == STUDY), b"")
    data = tomllib.loads(content.decode("utf-8"))
    units: dict[str, str] = {}
    for dimension, places in _KEYS.items():
        for section, key in places:
            given = data.get(section, {}).get(key)
            if isinstance(given, dict) and "unit" in given:
                units.setdefault(dimension, str(given["unit"]))
    return Asked(units, system)
