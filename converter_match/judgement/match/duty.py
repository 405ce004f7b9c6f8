"""What a pair does over a duty: means over its points, weighted with their shares of the time.

With s_i the shares of the time at full throttle, and P, Q, m the output power, heat and fuel flow,

    mean output power      sum s_i P_i             mean heat    sum s_i Q_i
    mean efficiency        sum s_i eta_i           mean fuel    sum s_i m_i
    work out over work in  sum s_i P_i / sum s_i P_in,i

The mean efficiency is that over time, as in the indices of a working range; what heats the oil and
burns the fuel is the work. At stall the one counts nothing, the other all that goes in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.duty_points import DutyPoints
from converter_match.curves import FloatArray
from converter_match.judgement.match import words
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.notes import Note
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.duty import DutyRun, run_duty

_MEANS = (
    Heading("mean_output_power", "mean output", "power"),
    Heading("mean_efficiency", "mean efficiency"),
    Heading("work_efficiency", "work out over work in"),
    Heading("mean_heat", "mean heat", "power"),
    Heading("mean_fuel", "mean fuel", "fuel_rate"),
    Heading("mean_specific_fuel", "fuel over output", "specific_fuel"),
)
_POINTS = (
    Heading("point", "point"),
    Heading("share", "time", "share"),
    Heading("pump_torque", "pumps", "torque"),
    Heading("speed_ratio", "speed ratio"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("turbine_speed", "turbine", "angular_speed"),
    Heading("turbine_torque", "turbine torque", "torque"),
    Heading("output_power", "output", "power"),
    Heading("heat", "heat", "power"),
    Heading("fuel_rate", "fuel", "fuel_rate"),
    Heading("runs", "runs"),
)


@dataclass(frozen=True, eq=False, repr=False)
class DutyResult(Answer):
    """A pair over a duty, SI units.

    Parameters
    ----------
    duty : DutyPoints
    run : DutyRun
        The match at each point.
    pump_torque : ndarray, shape (n,)
        What the pumps take at each point [N.m].
    notes : tuple of Note
        Each point at which the pair cannot run, and what was assumed.
    alternatives : tuple of DutyResult
        With each converter that an estimated one may be.
    banded : bool
        Whether these are the ends of a reading band.
    """

    duty: DutyPoints
    run: DutyRun
    pump_torque: FloatArray
    notes: tuple[Note, ...]
    alternatives: tuple[DutyResult, ...] = ()
    banded: bool = False

    def decisive(self) -> Facts:
        """Return the means; None where there is none."""
        return tuple((head, getattr(self, head.key)) for head in _MEANS)

    @property
    def runs(self) -> bool:
        """Whether the pair runs at every point that takes time."""
        return bool(np.all(self.run.points.found | (self.duty.share == 0.0)))

    def mean(self, values: FloatArray | None) -> float | None:
        """Return the mean over the time; None where the pair does not run all of it.

        Parameters
        ----------
        values : ndarray, shape (n,), or None
        """
        if values is None or not self.runs:
            return None
        return float(np.dot(self.duty.share, np.where(self.duty.share > 0.0, values, 0.0)))

    @property
    def mean_output_power(self) -> float | None:
        """[W]."""
        return self.mean(self.run.points.output_power)

    @property
    def mean_efficiency(self) -> float | None:
        """Over the time."""
        return self.mean(self.run.points.efficiency)

    @property
    def work_efficiency(self) -> float | None:
        """Work at the turbine over work at the impeller."""
        given, taken = self.mean_output_power, self.mean(self.run.points.input_power)
        return None if given is None or not taken else given / taken

    @property
    def mean_heat(self) -> float | None:
        """[W]."""
        return self.mean(self.run.points.heat)

    @property
    def mean_fuel(self) -> float | None:
        """[kg/s]; None without fuel data as well."""
        return self.mean(self.run.fuel_rate)

    @property
    def mean_specific_fuel(self) -> float | None:
        """Fuel over work at the turbine [kg/J]."""
        fuel, power = self.mean_fuel, self.mean_output_power
        return None if fuel is None or not power else fuel / power

    def blocks(self) -> tuple[Block, ...]:
        """Return the means, and every point."""
        points, duty = self.run.points, self.duty
        why = NoValue(words.NOT_RUN if not self.runs else words.NOT_KNOWN)
        means = self.decisive()
        unknown = np.full(duty.share.shape, np.nan)
        columns = (
            duty.share, self.pump_torque, points.speed_ratio, points.engine_speed,
            points.turbine_speed, points.turbine_torque, points.output_power, points.heat,
            unknown if self.run.fuel_rate is None else self.run.fuel_rate, points.found,
        )  # fmt: skip
        listed = (column.tolist() for column in columns)
        own = tuple((Heading(key, ""), getattr(duty, key)) for key in ("id", "name", "source"))
        facts = ((head, why if value is None else value) for head, value in means)
        return (
            Block(
                "duty",
                title=words.DUTY.format(name=duty.name),
                facts=(*own, (Heading("fingerprint", ""), duty.fingerprint()), *facts),
                columns=_POINTS,
                rows=tuple(zip(duty.label, *listed, strict=True)),
                rows_key="points",
            ),
            *decisive_blocks(self, "duty.estimate", banded=self.banded),
        )


def over_duty(match: MatchResult, duty: DutyPoints) -> DutyResult:
    """Run a pair over a duty, in the air and with the arrangement of its match.

    Parameters
    ----------
    match : MatchResult
    duty : DutyPoints
        Where it gives pump torques, they stand in place of those of the match.

    Returns
    -------
    DutyResult
        Without means where the pair cannot run at a point: what is left out would flatter it.
    """
    supplies = _supplies(match, duty)
    fuel = fuel_law(match.engine)
    run = run_duty(supplies, match.converter, duty.turbine_speed, duty.speed_ratio, fuel)
    pumps = duty.pump_torque
    if pumps is None:
        pumps = np.full(duty.share.shape, match.hydraulic_torque)
    notes = [words.note("duty-at-full-throttle")]
    if duty.pump_torque is None:
        notes.append(words.note("duty-without-pumps", torque=match.hydraulic_torque))
    notes += () if fuel is None else fuel.notes
    for row in np.flatnonzero(~run.points.found & (duty.share > 0.0)):
        notes.append(_cannot_run(match, duty, int(row), supplies[row]))
    others = tuple(over_duty(other, duty) for other in match.alternatives)
    return DutyResult(duty, run, pumps, tuple(notes), others, match.converter.banded)


def _supplies(match: MatchResult, duty: DutyPoints) -> list[TorqueSupply]:
    """Return the net torque at each point; those with the same pump torque share one."""
    if duty.pump_torque is None:
        return [match.supply] * duty.share.size
    without = match.engine.replace(pumps=None)
    factor = match.site.torque_factor
    made = {
        torque: engine_supply(without, torque_factor=factor, hydraulic_torque=torque)
        for torque in set(duty.pump_torque.tolist())
    }
    return [made[torque] for torque in duty.pump_torque.tolist()]


def _cannot_run(match: MatchResult, duty: DutyPoints, row: int, supply: TorqueSupply) -> Note:
    """Say of a point why engine and converter do not run there."""
    low, high = match.converter.domain
    share, nu = float(duty.share[row]), float(duty.speed_ratio[row])
    said: dict[str, str | float] = {"point": duty.label[row], "share": share}
    if nu > high or nu < low:
        return words.note("duty-beyond-data", ratio=nu, last=high, **said)
    grid = np.linspace(max(low, 0.0), min(high, 1.0), 101)
    reached = run_duty(
        [supply] * grid.size, match.converter, np.full(grid.shape, np.nan), grid
    ).points.turbine_speed
    speed = float(duty.turbine_speed[row])
    fastest = float(np.nanmax(reached)) if np.isfinite(reached).any() else 0.0
    if speed > fastest > 0.0:
        return words.note("duty-too-fast", speed=speed, fastest=fastest, **said)
    return words.note("duty-no-match", **said)
