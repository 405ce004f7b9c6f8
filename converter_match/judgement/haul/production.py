"""What a cycle moves, and what fuel it takes for that: per hour and per load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from converter_match.answer.block import Heading
from converter_match.components.route import ShortCycle
from converter_match.judgement.haul import words

PRODUCTION = Heading("production", "production", "production")
FUEL_FLOW = Heading("fuel", "fuel", "fuel_flow")
FUEL_OF_LOAD = Heading("fuel", "fuel for the load moved", "fuel_of_load")
_VOLUME = Heading("fuel", "", "volume")

# Where the cycle's file does not say: common practice, no source. 50 minutes of an hour are worked;
# shot rock heaps to less than struck; a hauling unit takes four passes and 40 s to be replaced.
JOB_EFFICIENCY, BUCKET_FILL, EXCHANGE_TIME, PASSES = 0.83, 0.95, 40.0, 4.0


@dataclass(frozen=True)
class Production:
    """Load and fuel of one cycle, SI units; None where it is not known or nothing is moved.

    Parameters
    ----------
    load : float
        Moved to its place in one cycle [kg].
    time : float
        Of one cycle [s].
    fuel : float or None
        Of one cycle [kg].
    fuel_density : float
        [kg/m^3].
    """

    load: float
    time: float
    fuel: float | None
    fuel_density: float

    @property
    def rate(self) -> float | None:
        """What is moved in a time [kg/s]."""
        return self.load / self.time if self.load and self.time else None

    @property
    def fuel_volume(self) -> float | None:
        """Of one cycle [m^3]."""
        return None if self.fuel is None else self.fuel / self.fuel_density

    @property
    def fuel_flow(self) -> float | None:
        """Fuel in a time [m^3/s]."""
        volume = self.fuel_volume
        return volume / self.time if volume is not None and self.time else None

    @property
    def fuel_of_load(self) -> float | None:
        """Fuel for what is moved [m^3/kg]."""
        volume = self.fuel_volume
        return volume / self.load if volume is not None and self.load else None

    def facts(self) -> tuple[tuple[Heading, Any], ...]:
        """Return rates and fuel; a figure that is not known stands in plain data only."""
        given = (
            (PRODUCTION, self.rate),
            (_VOLUME, self.fuel_volume),
            (FUEL_FLOW, self.fuel_flow),
            (FUEL_OF_LOAD, self.fuel_of_load),
        )
        known = tuple((head if value is not None else head.said(""), value)
                      for head, value in given)  # fmt: skip
        no_fuel = ((Heading("", "fuel"), words.NO_FUEL),) if self.fuel is None else ()
        return known + no_fuel


@dataclass(frozen=True)
class Expected:
    """What a loader moves of what it could, SI units.

    Parameters
    ----------
    job_efficiency : float
        Share of the time that is worked.
    bucket_fill : float
        Load over the payload.
    exchange_time : float
        Lost while a hauling unit is replaced by the next [s].
    passes : float
        Cycles for one hauling unit.
    assumed : tuple of str
        Names of those that are usual values, for want of others.
    """

    job_efficiency: float
    bucket_fill: float
    exchange_time: float
    passes: float
    assumed: tuple[str, ...]

    @classmethod
    def of(cls, cycle: ShortCycle) -> Expected:
        """Return what a cycle's file says, and usual values for what it does not."""
        usual = {
            "job_efficiency": JOB_EFFICIENCY,
            "bucket_fill": BUCKET_FILL,
            "exchange_time": EXCHANGE_TIME,
            "passes": PASSES,
        }
        given = {name: getattr(cycle, name) for name in usual}
        missing = tuple(name for name, value in given.items() if value is None)
        return cls(
            **{name: usual[name] if given[name] is None else given[name] for name in usual},
            assumed=missing,
        )

    def rate(self, production: Production) -> float | None:
        """Return what is moved in a time, all told [kg/s]; None where nothing is moved.

        Parameters
        ----------
        production : Production
            Of cycles without waiting and with a full bucket.
        """
        if not (production.load and production.time):
            return None
        time = production.time + self.exchange_time / self.passes
        return production.load * self.bucket_fill / time * self.job_efficiency

    def facts(self, production: Production) -> tuple[tuple[Heading, Any], ...]:
        """Return what is to be expected, and by which values."""
        rate = self.rate(production)
        head = Heading("expected_production", "production to expect", "production")
        return (
            (head if rate is not None else head.said(""), rate),
            (Heading("job_efficiency", "job efficiency", "share"), self.job_efficiency),
            (Heading("bucket_fill", "bucket fill", "share"), self.bucket_fill),
            (Heading("exchange_time", "exchange of hauling units", "time", ".0f"),
             self.exchange_time),
            (Heading("passes", "passes for one", form="g"), self.passes),
        )  # fmt: skip
