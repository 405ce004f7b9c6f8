"""What the numbers of a log say against its head: a column in another unit, dead, or swapped.

A log is seen piece by piece; what only the whole of it tells is said at its end.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from converter_match.components.base import in_celsius, in_rpm
from converter_match.constants import RPM
from converter_match.curves import FloatArray
from converter_match.errors import InputError

# A turbine signal in rad/s under a head that says rpm is low by pi / 30: with a lock-up at speed
# ratio 1 it ends there.
_AS_RADIANS = 1.2 * RPM
_FEWEST = 100
# A turbine that turns, and says one and the same number for so long [s] while the engine covers so
# much [rad/s], stands still in the log alone: common practice, no source. Held at stall, it says 0.
_FROZEN, _FROZEN_ENGINE = 20.0, 300.0 * RPM
# No oil changes so fast, of so many readings a second apart: common practice, no source [K].
_JUMP, _JUMPS = 5.0, 0.02


class LogSense:
    """What was seen of a log so far.

    Parameters
    ----------
    source : str
        Named in messages.
    units : mapping
        Column -> unit in the head.
    peak_torque : float or None
        Of the engine [N.m].
    """

    def __init__(self, source: str, units: Mapping[str, str], peak_torque: float | None) -> None:
        self._source, self._units, self._peak = source, units, peak_torque
        self._highest_torque = 0.0
        self._turbine = (np.inf, -np.inf)
        self._engine = (np.inf, -np.inf)
        self._highest_ratio = 0.0
        self._rows = 0
        self._oil_steps = self._oil_jumps = 0
        # The stretch of one turbine speed that is going on: that speed, since when, engine speeds.
        self._still: tuple[float, float, float, float] | None = None

    def see(self, columns: Mapping[str, FloatArray]) -> None:
        """Take a piece in.

        Raises
        ------
        InputError
            Naming the column that cannot be what the head says.
        """
        engine, turbine = columns["engine speed"], columns["turbine speed"]
        self._speeds(engine, turbine)
        self._frozen(columns["time"], engine, turbine)
        self._oil(columns)
        torque = columns["engine torque"]
        self._highest_torque = max(self._highest_torque, float(np.quantile(torque, 0.999)))
        self._rows += engine.size
        self._turbine = _joined(self._turbine, turbine)
        running = engine > 300 * RPM
        if running.any():
            self._engine = _joined(self._engine, engine[running])
            ratio = turbine[running] / engine[running]
            self._highest_ratio = max(self._highest_ratio, float(np.quantile(ratio, 0.999)))

    def _speeds(self, engine: FloatArray, turbine: FloatArray) -> None:
        running = engine[engine > 1.0]
        middle = float(np.median(running)) if running.size else 0.0
        if running.size > _FEWEST and not 300 * RPM <= middle <= 6000 * RPM:
            number = {"as rad/s": middle / RPM, "as rpm": middle * RPM, "as rev/s": middle * 60}
            fits = [n for n, v in number.items() if 300 * RPM <= v <= 6000 * RPM]
            raise InputError(
                "no engine runs at such speeds: is the unit in the head right?",
                source=self._source,
                field=f"engine speed [{self._units['engine speed']}]",
                found=f"a median of {in_rpm(middle)}",
                expected="300 to 6000 rpm",
                hint=f"read {fits[0]} it would fit" if fits else None,
            )
        both = (engine > 20.0) & (turbine > 20.0)
        if both.sum() > _FEWEST and float(np.mean(turbine[both] > 1.03 * engine[both])) > 0.6:
            raise InputError(
                "the turbine runs faster than the engine nearly always: the two columns have "
                "changed places, or one has another unit",
                source=self._source,
                field="engine speed, turbine speed",
                found=f"medians {np.median(engine[both]) / RPM:.0f} and "
                f"{np.median(turbine[both]) / RPM:.0f} rpm",
                expected="turbine speed at or below engine speed but for overrun",
            )

    def _frozen(self, time: FloatArray, engine: FloatArray, turbine: FloatArray) -> None:
        """Refuse a turbine speed that stops following the machine somewhere in the log."""
        if not time.size:
            return
        first = np.concatenate(([0], np.flatnonzero(np.diff(turbine)) + 1))
        speed, since = turbine[first], time[first]
        until = time[np.append(first[1:], time.size) - 1]
        low, high = np.minimum.reduceat(engine, first), np.maximum.reduceat(engine, first)
        if self._still is not None and self._still[0] == speed[0]:
            since[0] = self._still[1]
            low[0], high[0] = min(low[0], self._still[2]), max(high[0], self._still[3])
        frozen = (speed != 0.0) & (until - since > _FROZEN) & (high - low > _FROZEN_ENGINE)
        for k in np.flatnonzero(frozen)[:1].tolist():
            raise InputError(
                "the signal stands still for a while: it does not change while the engine does",
                source=self._source,
                field="turbine speed",
                found=f"{speed[k] / RPM:.0f} rpm from {since[k]:.1f} s to {until[k]:.1f} s or "
                f"longer, engine {low[k] / RPM:.0f} to {high[k] / RPM:.0f} rpm",
                expected="a speed that follows the machine; cut that stretch out of the log",
            )
        self._still = (float(speed[-1]), float(since[-1]), float(low[-1]), float(high[-1]))

    def _oil(self, columns: Mapping[str, FloatArray]) -> None:
        oil = columns.get("oil temperature")
        if oil is None:
            return
        if not 233.0 <= float(np.median(oil)) <= 443.0:
            raise InputError(
                "no oil is at such temperatures: is the unit in the head right?",
                source=self._source,
                field=f"oil temperature [{self._units['oil temperature']}]",
                found=f"a median of {in_celsius(float(np.median(oil)))}",
                expected="-40 to 170 degC",
                hint="Celsius and Fahrenheit mixed up, or has it changed places with a torque?",
            )
        time = columns["time"]
        later = np.searchsorted(time, time + 1.0)
        known = np.flatnonzero(later < time.size)
        known = known[time[later[known]] - time[known] < 2.0]
        self._oil_steps += known.size
        self._oil_jumps += int((np.abs(oil[later[known]] - oil[known]) > _JUMP).sum())

    def finish(self) -> None:
        """Say what only the whole log tells.

        Raises
        ------
        InputError
            As `see`.
        """
        if self._oil_steps > _FEWEST and self._oil_jumps > _JUMPS * self._oil_steps:
            raise InputError(
                "no oil changes so fast: has it changed places with the engine torque?",
                source=self._source,
                field=f"oil temperature [{self._units['oil temperature']}]",
                found=f"steps of more than {_JUMP:.0f} K within a second in "
                f"{100 * self._oil_jumps / self._oil_steps:.0f} % of them",
                expected="a temperature that changes slowly",
            )
        self._check_turbine()
        self._check_torque()

    def _check_turbine(self) -> None:
        low, high = self._turbine
        engine = self._engine[1] - self._engine[0]
        if self._rows < _FEWEST or engine < 200 * RPM:
            return  # an engine that runs at one speed may have a turbine that does
        if high == low and high != 0.0:
            raise InputError(
                "the signal is dead: it never changes while the engine does",
                source=self._source,
                field="turbine speed",
                found=f"{high / RPM:.0f} rpm throughout",
                expected="a speed that follows the machine",
            )
        if 0.0 < self._highest_ratio < _AS_RADIANS:
            raise InputError(
                "the turbine never comes near the engine: is the unit in the head right?",
                source=self._source,
                field=f"turbine speed [{self._units['turbine speed']}]",
                found=f"at most {self._highest_ratio:.3f} of the engine speed",
                expected="a speed ratio of 0 to about 1",
                hint="read as rad/s it would fit",
            )

    def _check_torque(self) -> None:
        most, peak = self._highest_torque, self._peak
        if peak is not None and (most > 1.6 * peak or most < 0.2 * peak):
            raise InputError(
                "the torque cannot be this engine's: is the unit in the head right?",
                source=self._source,
                field=f"engine torque [{self._units['engine torque']}]",
                found=f"at most {most:.4g} N.m",
                expected=f"up to about {peak:.4g} N.m",
                hint="percent and N.m mixed up?",
            )


def _joined(span: tuple[float, float], values: FloatArray) -> tuple[float, float]:
    return min(span[0], float(values.min())), max(span[1], float(values.max()))
