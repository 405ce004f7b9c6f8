"""Machines of one kind by their logs: which of them stands apart from the others.

Each log is read by itself. A torque signal may be wrong by several percent at every load alike,
and so may a sheet; what all machines share says nothing of one of them. So each is held against the
middle of the fleet, and against how the fleet scatters about it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.errors import InputError
from converter_match.judgement.identify.months import FEWEST_MONTHS, Trend
from converter_match.judgement.identify.result import Identification
from converter_match.judgement.identify.words import WORDS
from converter_match.judgement.stall.words import STALL_TEST
from converter_match.notes import Note

FEWEST = 5
"""Machines below which the middle and the scatter of a fleet say nothing."""
# So many robust standard deviations from the middle, and so much at least, stand apart: of a
# hundred sound machines fewer than one.
_SIGMAS, _LEAST = 3.0, 0.04
_HEADS = (
    Heading("machine", "machine"),
    Heading("level", "capacity / sheet", form=".3f"),
    Heading("against_fleet", "against the fleet", "share", "+.1f"),
    Heading("samples", "samples"),
    Heading("nodes", "speed ratios"),
    Heading("apart", "apart"),
    Heading("said", ""),
    Heading("", "what was said of its log"),  # in few words: a refusal would stretch the table
)
_OUTLIERS = (
    Heading("rank", "rank"),
    Heading("machine", "machine"),
    Heading("why", "why"),
    Heading("off", "by", "share", "+.1f"),
    Heading("scatters", "times the fleet's scatter", form=".1f"),
)
_TRENDS = (
    Heading("machine", "machine"),
    Heading("months", "months"),
    Heading("first", "from"),
    Heading("last", "to"),
    Heading("capacity_a_year", "capacity a year", "share", "+.1f"),
    Heading("low", "least", "share", "+.1f"),
    Heading("high", "most", "share", "+.1f"),
    Heading("k_a_year", "K a year", "share", "+.1f"),
    Heading("change", "capacity, first to last", "share", "+.1f"),
    Heading("moves", "moves"),
)
_MONTHS = (
    Heading("machine", "machine"),
    Heading("month", "month"),
    Heading("level", "capacity / sheet", form=".3f"),
    Heading("k_level", "K / sheet", form=".3f"),
    Heading("scatter", "scatter of a reading", "share"),
    Heading("samples", "samples"),
    Heading("episodes", "times"),
)
_LEFT_OUT = (Heading("machine", "machine"), Heading("part", "part"), Heading("why", "why"))


class LeftOut(NamedTuple):
    """A part of a machine's log that is not used.

    Parameters
    ----------
    machine, part : str
        Such as ``2031-05-04``.
    why : str
        In one line.
    """

    machine: str
    part: str
    why: str


class OfLog(NamedTuple):
    """What is told of a machine beside the others.

    Parameters
    ----------
    level, least, greatest : float or None
        Capacity / sheet over the speed ratios: the median and the ends; None without a sheet.
    samples, nodes : int
        Steady stretches, and speed ratios with a value.
    doubts : tuple of str
        Codes of the warnings.
    """

    level: float | None
    least: float | None
    greatest: float | None
    samples: int
    nodes: int
    doubts: tuple[str, ...]

    @classmethod
    def of(cls, result: Identification) -> OfLog:
        """Return what is told of a log, out of all that it says.

        Parameters
        ----------
        result : Identification
        """
        against = [
            ratio.value
            for node in result.nodes
            if (ratio := node.capacity_against_sheet) is not None
        ]
        doubts = tuple(note.code for note in result.notes if note.kind == "warning")
        return cls(
            level=result.level,
            least=min(against, default=None),
            greatest=max(against, default=None),
            samples=result.samples,
            nodes=len(result.covered),
            doubts=doubts,
        )


class OfMachine(NamedTuple):
    """A machine of a fleet.

    Parameters
    ----------
    name : str
    told : OfLog or None
        None where its log is refused.
    refused : str
        Why, in one line; empty where it is not.
    parts : int
        In how many its log came.
    left_out : tuple of LeftOut
        Those that could not be read.
    trend : Trend or None
        Over the months; None where they are not told apart.
    """

    name: str
    told: OfLog | None
    refused: str = ""
    parts: int = 1
    left_out: tuple[LeftOut, ...] = ()
    trend: Trend | None = None

    @property
    def level(self) -> float | None:
        """Capacity / sheet, the median over the speed ratios."""
        return None if self.told is None else self.told.level

    def as_plain(self) -> dict[str, Any]:
        """Return plain data that JSON can carry and `from_plain` takes back, digit for digit."""
        return {
            **self._asdict(),
            "told": self.told,
            "trend": None if self.trend is None else [self.trend.months, self.trend.slope],
        }

    @classmethod
    def from_plain(cls, data: Mapping[str, Any]) -> OfMachine:
        """Return a machine as it was.

        Parameters
        ----------
        data : mapping
            As `as_plain` gives it.
        """
        told, trend = data["told"], data["trend"]
        return cls(
            name=data["name"],
            told=None if told is None else OfLog(*told)._replace(doubts=tuple(told[-1])),
            refused=data["refused"],
            parts=data["parts"],
            left_out=tuple(LeftOut(*part) for part in data["left_out"]),
            trend=None if trend is None else Trend.of(*trend),
        )


@dataclass(frozen=True, eq=False)
class LogFleet(Answer):
    """The logs of a fleet.

    Parameters
    ----------
    machines : tuple of OfMachine
    notes : tuple of Note
    """

    machines: tuple[OfMachine, ...]
    notes: tuple[Note, ...] = ()

    @property
    def levels(self) -> dict[str, float]:
        """Capacity / sheet of each machine whose log was read."""
        return {m.name: m.level for m in self.machines if m.level is not None}

    @property
    def middle(self) -> float | None:
        """The median of the levels; None with fewer than `FEWEST` machines."""
        return float(np.median(list(self.levels.values()))) if len(self.levels) >= FEWEST else None

    @property
    def allowed(self) -> float | None:
        """By what share a machine may be off the middle; None where there is none."""
        middle = self.middle
        if middle is None:
            return None
        off = np.abs(np.array(list(self.levels.values())) / middle - 1.0)
        return max(_SIGMAS * 1.4826 * float(np.median(off)), _LEAST)

    def apart(self, name: str) -> bool | None:
        """Return whether a machine stands apart; None where that cannot be told."""
        level, middle, allowed = self.levels.get(name), self.middle, self.allowed
        if level is None or middle is None or allowed is None:
            return None
        return abs(level / middle - 1.0) > allowed

    @property
    def standing_apart(self) -> tuple[str, ...]:
        """Names of the machines that stand apart, the farthest first."""
        middle = self.middle or 1.0
        far = [name for name in self.levels if self.apart(name)]
        return tuple(sorted(far, key=lambda name: -abs(self.levels[name] / middle - 1.0)))

    @property
    def moving(self) -> tuple[str, ...]:
        """Names of the machines that move over the months, the most first."""
        change = {m.name: m.trend.change or 0.0 for m in self.machines if m.trend and m.trend.moves}
        return tuple(sorted(change, key=lambda name: -abs(change[name])))

    @property
    def complete(self) -> bool:
        """Whether every part of every log was used."""
        return not any(machine.refused or machine.left_out for machine in self.machines)

    def blocks(self) -> Sequence[Block]:
        """Return the fleet as one table, and with months the outliers by rank and the trends."""
        return (*self._fleet(), *self._over_months(), *self._outliers())

    def _outliers(self) -> Sequence[Block]:
        rows: list[tuple[object, ...]] = []
        middle, allowed = self.middle or 1.0, self.allowed
        for name in self.standing_apart:
            off = self.levels[name] / middle - 1.0
            rows.append((f"takes {'more' if off > 0 else 'less'} than the fleet", name, off,
                         None if allowed is None else _SIGMAS * abs(off) / allowed))  # fmt: skip
        by_name = {machine.name: machine.trend for machine in self.machines}
        for name in self.moving:
            trend = by_name[name]
            change = 0.0 if trend is None or trend.change is None else trend.change
            rows.append((f"takes {'more' if change > 0 else 'less'} from month to month", name,
                         change, NoValue("–")))  # fmt: skip
        told = tuple(
            (rank, name, why, off, times)
            for rank, (why, name, off, times) in enumerate(rows, start=1)
        )
        return (Block("outliers", "To look at, the farthest first" if told else "",
                      columns=_OUTLIERS, rows=told, rows_key="", in_text=bool(told)),)  # fmt: skip

    def _over_months(self) -> Sequence[Block]:
        trended = [(m.name, m.trend, m.level or 1.0) for m in self.machines if m.trend is not None]
        left_out = tuple(part for machine in self.machines for part in machine.left_out)
        if not trended and not left_out:
            return ()
        months = tuple(
            (name, month.month, level * month.level, (level * month.level) ** -0.5,
             month.scatter, month.samples, month.episodes)
            for name, trend, level in trended
            for month in trend.months
        )  # fmt: skip
        return (
            Block("trends", "Over the months, each machine against its own curve", columns=_TRENDS,
                  rows=tuple(_trend_row(name, trend) for name, trend, _ in trended), rows_key="",
                  in_text=bool(trended)),
            Block("months", columns=_MONTHS, rows=months, rows_key="", in_text=False),
            Block("left_out", columns=_LEFT_OUT, rows=left_out, rows_key="", in_text=False),
        )  # fmt: skip

    def _fleet(self) -> Sequence[Block]:
        return (
            Block(
                "fleet",
                "Fleet, by the logs of its machines",
                facts=(
                    (Heading("machines", "machines"), len(self.machines)),
                    (Heading("read", "of them read"), len(self.levels)),
                    (Heading("middle", "capacity / sheet, middle of the fleet", form=".3f"),
                     self.middle),
                    (Heading("allowed", "farther off than that stands apart", "share", ".1f"),
                     self.allowed),
                ),
                columns=_HEADS,
                rows=tuple(self._row(machine) for machine in self.machines),
                rows_key="rows",
            ),
        )  # fmt: skip

    def _row(self, machine: OfMachine) -> tuple[object, ...]:
        level, middle, log = machine.level, self.middle, machine.told
        apart = self.apart(machine.name)
        none = NoValue("–")
        doubts = () if log is None else log.doubts
        words = (
            "not used, see below"
            if machine.refused
            else ", ".join(code for code in doubts if code in _TELLING)
        )
        told = machine.refused or words
        return (
            machine.name,
            none if level is None else level,
            none if level is None or middle is None else level / middle - 1.0,
            none if log is None else log.samples,
            none if log is None else log.nodes,
            NoValue("not told") if apart is None else "apart" if apart else "with the others",
            told or none,
            words or none,
        )


def _trend_row(name: str, trend: Trend) -> tuple[object, ...]:
    none, slope = NoValue("–"), trend.slope
    ends = (trend.months[0].month, trend.months[-1].month) if trend.months else (none, none)
    if slope is None:
        return (name, len(trend.months), *ends, none, none, none, none, none, NoValue("not told"))
    return (name, len(trend.months), *ends, *slope, trend.k_slope, trend.change,
            "moves" if trend.moves else "stays")  # fmt: skip


_TELLING = ("far-from-sheet", "pump-work-suspected", "torque-ratio-below-one", "friction-in-torque")


def fleet_of(machines: Sequence[OfMachine]) -> LogFleet:
    """Return what the logs of machines of one kind say beside one another.

    Parameters
    ----------
    machines : sequence of OfMachine

    Raises
    ------
    InputError
        If there is no machine, none of the logs can be read, or none is compared with a sheet.
    """
    if not machines:
        raise InputError("no machine", field="fleet", expected="a log of at least one machine")
    known = [machine for machine in machines if machine.told is not None]
    if not known:
        raise InputError(
            "none of the logs can be used", field="fleet", found=machines[0].refused,
            expected="logs that can be read",
        )  # fmt: skip
    if all(machine.level is None for machine in known):
        raise InputError(
            "nothing to compare the machines by", field="converter",
            expected="the converter on the sheet",
        )  # fmt: skip
    fleet = LogFleet(tuple(machines))
    notes = [WORDS.note("fleet-of-one-kind"), STALL_TEST]
    for machine in machines:
        if machine.refused:
            notes.append(WORDS.note("log-not-used", machine=machine.name, what=machine.refused))
        elif machine.left_out:
            first, count = machine.left_out[0], len(machine.left_out)
            code = "part-not-used" if count == 1 else "parts-not-used"
            notes.append(WORDS.note(code, machine=machine.name, count=count, of=machine.parts,
                                    part=first.part, what=first.why))  # fmt: skip
    if fleet.middle is None:
        notes.append(WORDS.note("fleet-too-small", count=len(fleet.levels), fewest=FEWEST))
    for name in fleet.standing_apart:
        off = fleet.levels[name] / (fleet.middle or 1.0) - 1.0
        code = "takes-more-than-the-fleet" if off > 0 else "takes-less-than-the-fleet"
        notes.append(WORDS.note(code, machine=name, off=abs(off)))
    if any(machine.trend for machine in machines):
        notes.append(WORDS.note("trend-against-itself"))
    if any(machine.trend and machine.trend.slope is None for machine in machines):
        notes.append(WORDS.note("months-too-few", fewest=FEWEST_MONTHS))
    return LogFleet(fleet.machines, tuple(notes))
