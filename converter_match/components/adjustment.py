"""That a converter can be adjusted at work: by which parameter, and at which settings it is known.

Stator blades that turn, a filling that is drawn off, a second turbine that is coupled: each makes
of one converter a family of characteristics over a parameter.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, Self

import numpy as np

from converter_match.components.base import require_choice
from converter_match.errors import InputError

Between = Literal["linear", "none"]
BETWEEN: tuple[Between, ...] = ("linear", "none")
_SAME = 1e-12


@dataclass(frozen=True, kw_only=True)
class Adjustment:
    """The parameter of a family of characteristics.

    Parameters
    ----------
    parameter : str
        What it is called, such as ``stator angle`` or ``filling``.
    unit : str
        Of its numbers, as the sheet has it; empty for none.
    between : {"linear", "none"}
        Whether the characteristic between two settings is interpolated, or there are only these.
    settings : tuple of float
        At which it is known, rising; two or more.
    setting : float
        At which it stands.

    Raises
    ------
    InputError
        If settings are fewer than two, do not rise, or do not include the setting.
    """

    parameter: str
    unit: str
    between: Between
    settings: tuple[float, ...]
    setting: float

    def __post_init__(self) -> None:
        require_choice(self.between, "family.between", BETWEEN)
        object.__setattr__(self, "settings", tuple(float(value) for value in self.settings))
        if len(self.settings) < 2:
            raise InputError(
                "one setting is no family",
                field="family.member",
                found=self.settings,
                expected="two or more settings, the nominal one included",
            )
        if not np.all(np.isfinite(self.settings)):
            raise InputError("not finite", field="family.member", found=self.settings)
        for before, after in pairwise(self.settings):
            if not after > before:
                raise InputError(
                    "two members have one setting" if after == before else "settings do not rise",
                    field="family.member",
                    found=after,
                    expected="settings that differ, the nominal one included",
                )
        self.check(self.setting)

    def check(self, setting: float) -> None:
        """Refuse a setting for which there are no data: nothing is extrapolated.

        Parameters
        ----------
        setting : float

        Raises
        ------
        InputError
            Naming the settings for which there are.
        """
        low, high = self.settings[0], self.settings[-1]
        listed = ", ".join(f"{value:g}" for value in self.settings)
        if self.between == "none" and self.row(setting) is None:
            raise InputError(
                "the converter has no such setting, and none between its settings",
                field="setting",
                found=setting,
                expected=f"one of {listed} ({self.called})",
            )
        if not low <= setting <= high:
            raise InputError(
                "outside the settings for which there are data, and nothing is extrapolated",
                field="setting",
                found=setting,
                expected=f"{low:g} .. {high:g} ({self.called})",
            )

    def row(self, setting: float) -> int | None:
        """Return which member has a setting; None where none has it exactly."""
        for row, value in enumerate(self.settings):
            if abs(value - setting) <= _SAME * max(1.0, abs(value)):
                return row
        return None

    @property
    def called(self) -> str:
        """The parameter with its unit."""
        return f"{self.parameter}, {self.unit}" if self.unit else self.parameter

    def at(self, setting: float) -> Self:
        """Return the same at another setting."""
        return replace(self, setting=setting)
