"""The sliders of the bench, and what a page may report of them without anybody having moved one."""

from __future__ import annotations

from typing import Any, NamedTuple

import ipywidgets as widgets
import traitlets

from converter_match.components.engine import Engine
from converter_match.components.motor import Motor
from converter_match.judgement.conditions.air import WARM_DAY
from converter_match.present.bench.state import Setting
from converter_match.units import System, from_si

NAMES = ("hydraulic", "accessories", "diameter", "altitude", "temperature", "voltage")
_OF_A_MOTOR = "does not apply to a motor: "


class LiveSlider(widgets.FloatSlider):  # type: ignore[misc]
    """A slider whose moves are not sent back to the page that made them: one message less a move.

    A page can show steps only. Given a value between two of them it reports the nearest one as if
    it had been moved there, and given other ends it reports the old value as well. So the ends of a
    slider never change, and `was_moved` tells a person's hand from the nearest step.
    """

    value = traitlets.CFloat(0.0, help="Float value").tag(sync=True, echo_update=False)
    _shown = 0.0

    def show(self, value: float) -> None:
        """Show a value that lies between the ends."""
        self._shown = value
        self.value = value

    def was_moved(self) -> bool:
        """Whether a person moved it since a value was shown."""
        low, step, value = float(self.min), float(self.step), float(self.value)
        nearest = low + step * round((self._shown - low) / step)
        moved = min(abs(value - self._shown), abs(value - nearest)) > 1e-6 * step
        if moved:
            self._shown = value
        return moved


class Wanted(NamedTuple):
    """A slider as it has to be."""

    value: float
    low: float
    high: float
    step: float
    words: str
    hint: str
    off: bool = False


def wanted(
    setting: Setting, system: System, mover: Engine | Motor | None = None
) -> dict[str, Wanted]:
    """Return every slider as a setting wants it, by name.

    A value beyond the usual ends widens them rather than being clamped. What does not apply to the
    prime mover is off, and says why.

    Parameters
    ----------
    setting : Setting
    system : {"si", "us"}
    mover : Engine or Motor, optional
        None where there is none of the id that is set.
    """
    motor = isinstance(mover, Motor)
    bare = isinstance(mover, Motor) and not mover.accessories
    us = system == "us"
    torque = from_si(setting.hydraulic_torque, "lbf.ft" if us else "N.m", "torque")
    altitude = 0.0 if setting.altitude is None else setting.altitude
    height = from_si(altitude, "ft" if us else "m", "length")
    kelvin = WARM_DAY if setting.air_temperature is None else setting.air_temperature
    warmth = from_si(kelvin, "degF" if us else "degC", "temperature")
    usual = {
        "hydraulic": Wanted(
            torque,
            0.0,
            450.0 if us else 600.0,
            1.0,
            f"hydraulics ({'lbf·ft' if us else 'N·m'})",
            "torque that hydraulic pumps take at the flywheel",
        ),
        "accessories": Wanted(
            100.0 * setting.accessory_share,
            0.0,
            200.0,
            1.0,
            "accessories (%)",
            _OF_A_MOTOR + "it drives none beside the converter"
            if bare
            else "power of every accessory, in % of what is listed",
            off=bare,
        ),
        "diameter": Wanted(
            100.0 * setting.diameter_share,
            85.0,
            115.0,
            0.1,
            "diameter (%)",
            "profile diameter, in % of the one in the data",
        ),
        "altitude": Wanted(
            height,
            0.0,
            14000.0 if us else 4200.0,
            10.0,
            f"altitude ({'ft' if us else 'm'})",
            _OF_A_MOTOR + "it takes in no air; the air cools it"
            if motor
            else "of the site, above sea level",
            off=motor,
        ),
        "temperature": Wanted(
            warmth,
            -22.0 if us else -30.0,
            122.0 if us else 50.0,
            1.0,
            f"air ({'°F' if us else '°C'})",
            "temperature of the air that cools the motor"
            if motor
            else "temperature of the air at the intake",
        ),
        "voltage": _voltage(setting, mover),
    }
    return {
        name: item._replace(low=min(item.low, item.value), high=max(item.high, item.value))
        for name, item in usual.items()
    }


def _voltage(setting: Setting, mover: Engine | Motor | None) -> Wanted:
    """Return the slider of a motor's voltage; off where no other is stated than the nominal."""
    given = mover.voltage if isinstance(mover, Motor) else None
    if given is None:
        return Wanted(0.0, 0.0, 1.0, 1.0, "voltage (V)", "of a motor that states one", off=True)
    nominal = given.nominal
    low, high = given.least or nominal, given.most or nominal
    fixed = low == high
    return Wanted(
        nominal if setting.voltage is None else setting.voltage,
        low,
        high + fixed,
        1.0,
        "voltage (V)",
        f"that the motor runs at; nominal {nominal:g} V",
        off=fixed,
    )


def slider(item: Wanted) -> LiveSlider:
    """Return a new slider."""
    made = LiveSlider(
        description=item.words,
        tooltip=item.hint,
        min=item.low,
        max=item.high,
        step=item.step,
        value=item.value,
        style={"description_width": "initial"},
        readout_format=".0f" if item.step >= 1 else ".1f",
        continuous_update=True,
        disabled=item.off,
    )
    made.show(item.value)
    return made


def fitted(
    existing: dict[str, Any], setting: Setting, system: System, mover: Engine | Motor | None = None
) -> dict[str, LiveSlider]:
    """Show a setting on the sliders that are there; return those that have to be new."""
    new = {}
    for name, item in wanted(setting, system, mover).items():
        there = existing.get(name)
        if there is not None and (there.min, there.max, there.description) == (
            item.low,
            item.high,
            item.words,
        ):
            there.show(item.value)
            there.disabled, there.tooltip = item.off, item.hint
        else:
            new[name] = slider(item)
    return new
