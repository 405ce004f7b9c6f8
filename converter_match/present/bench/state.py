"""What has been chosen at the bench: plain frozen data, no widget, no file.

A state is two settings, one of which is being worked on: A, the present machine, and B, the
candidate; or A alone. Every change makes a new state; `History` remembers the old ones for undo.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Literal

from converter_match.errors import InputError, did_you_mean
from converter_match.units import System

Side = Literal["a", "b"]
# What the two are to each other, on screen and in a saved study.
ROLES = {"a": "present machine", "b": "candidate"}
_MOST_REMEMBERED = 200


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One combination, SI units.

    Parameters
    ----------
    engine, converter : str
        Ids on the shelf; `engine` may be that of a motor.
    altitude, air_temperature : float or None
        [m], [K]; None for both means the engine's own reference air.
    hydraulic_torque : float
        Taken at the flywheel [N.m].
    accessory_share : float
        Multiplies the power of every listed accessory; 1 as in the data.
    diameter_share : float
        Profile diameter as a share of the one in the data; 1 as in the data.
    voltage : float or None
        That a motor runs at [V]; None for its nominal one, and for an engine.
    """

    engine: str
    converter: str
    altitude: float | None = None
    air_temperature: float | None = None
    hydraulic_torque: float = 0.0
    accessory_share: float = 1.0
    diameter_share: float = 1.0
    voltage: float | None = None


@dataclass(frozen=True, kw_only=True)
class BenchState:
    """Everything the bench shows follows from this.

    Parameters
    ----------
    a, b : Setting
        Present machine and candidate; B is None until it is asked for, and A stands for itself.
    active : {"a", "b"}
        The one the controls work on.
    system : {"si", "us"}
    font_scale : float
        1 at a desk, more on a projector.
    """

    a: Setting
    b: Setting | None = None
    active: Side = "a"
    system: System = "si"
    font_scale: float = 1.0

    def __post_init__(self) -> None:
        if self.active == "b" and self.b is None:
            raise InputError("B cannot be worked on before it is there", field="active")

    @property
    def setting(self) -> Setting:
        """The setting the controls work on."""
        return self.b if self.active == "b" and self.b is not None else self.a

    def changed(self, **changes: Any) -> BenchState:
        """Return a state with the active setting changed.

        Raises
        ------
        InputError
            If a field has no such name.
        """
        known = Setting.__dataclass_fields__
        for name in changes:
            if name not in known:
                raise InputError("no such control", field=name, hint=did_you_mean(name, known))
        if "engine" in changes and changes["engine"] != self.setting.engine:
            changes = {"voltage": None} | changes  # that of one motor is not that of the next
        setting = replace(self.setting, **changes)
        return replace(self, a=setting) if self.active == "a" else replace(self, b=setting)

    def pinned(self) -> BenchState:
        """Return a state that keeps the active setting as A and changes a copy of it, B."""
        return replace(self, a=self.setting, b=self.setting, active="b")

    def without_b(self) -> BenchState:
        """Return a state with A alone."""
        return replace(self, b=None, active="a")

    def swapped(self) -> BenchState:
        """Return a state with A and B exchanged; unchanged when there is no B."""
        return self if self.b is None else replace(self, a=self.b, b=self.a)

    def seen_as(self, other: BenchState) -> BenchState:
        """Return a state that is shown as another one is: its units, its size of letters."""
        return replace(self, system=other.system, font_scale=other.font_scale)


@dataclass
class History:
    """Past states, for undo and redo.

    What is looked at is not what was set: units, size of letters and the side that the controls
    work on are no steps of their own, and undo leaves units and letters as they are.

    Parameters
    ----------
    present : BenchState
    """

    present: BenchState
    past: list[BenchState] = field(default_factory=list)
    future: list[BenchState] = field(default_factory=list)

    def to(self, state: BenchState) -> bool:
        """Go to a new state; return whether it differs from the present one."""
        if state == self.present:
            return False
        if replace(state.seen_as(self.present), active=self.present.active) == self.present:
            self.present = state
            return True
        self.past.append(self.present)
        del self.past[:-_MOST_REMEMBERED]
        self.future.clear()
        self.present = state
        return True

    def replace_present(self, state: BenchState) -> None:
        """Go to a state without remembering the present one: the middle of a slider's travel."""
        self.present = state

    def undo(self) -> BenchState:
        """Go back one state and return it; stays where it is at the beginning."""
        if self.past:
            self.future.append(self.present)
            self.present = self.past.pop().seen_as(self.present)
        return self.present

    def redo(self) -> BenchState:
        """Go forward again and return the state; stays where it is at the end."""
        if self.future:
            self.past.append(self.present)
            self.present = self.future.pop().seen_as(self.present)
        return self.present
