"""The characteristic that a log tells of: nodes with bands, gaps, and how to fill them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.answer.noted import note_lines
from converter_match.curves import FloatArray
from converter_match.notes import Note
from converter_match.units import System, from_si, note_plain

Band = tuple[float, float, float]  # value, low, high

# Upper end of a stretch of speed ratio -> what driving gives readings there.
_DRIVING = (
    (0.06, "short stall holds by the machine maker's procedure (see the stall test), or pushing "
           "against a face until the wheels all but stand, a few seconds each"),
    (0.4, "heavy pushing or climbing at a crawl at full throttle, several seconds at one speed"),
    (0.7, "steady pulls and climbs at full throttle in a gear too high for the grade"),
    (0.86, "steady climbs at full throttle at half to full speed of the gear, lock-up off"),
    (1.0, "light steady driving near the top speed of a gear, converter open, lock-up off"),
)  # fmt: skip


@dataclass(frozen=True)
class Node:
    """The characteristic at one speed ratio, SI units.

    Parameters
    ----------
    speed_ratio : float
    capacity : tuple of float or None
        C and its band [N.m/(rad/s)^2]; None where the log does not cover it.
    torque_ratio : tuple of float or None
    samples, episodes : int
        Steady stretches, and separate times, that speak for it.
    sheet_capacity, sheet_torque_ratio : float or None
        On the sheet to compare with.
    """

    speed_ratio: float
    capacity: Band | None
    torque_ratio: Band | None
    samples: int
    episodes: int
    sheet_capacity: float | None
    sheet_torque_ratio: float | None

    @property
    def against_sheet(self) -> Band | None:
        """Capacity / sheet, with its band."""
        if self.capacity is None or not self.sheet_capacity:
            return None
        value, low, high = (c / self.sheet_capacity for c in self.capacity)
        return value, low, high

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        names = ("value", "low", "high")
        capacity = self.capacity
        k_factor = None
        if capacity is not None and min(capacity) > 0:
            # Highest C is lowest K.
            k_factor = [_k(capacity[0]), _k(capacity[2]), _k(capacity[1])]
        return {
            "speed_ratio": self.speed_ratio,
            "capacity_nms2_per_rad2": dict(zip(names, capacity, strict=True)) if capacity else None,
            "k_factor_rpm_per_sqrt_nm": dict(zip(names, k_factor, strict=True))
            if k_factor
            else None,
            "torque_ratio": (
                dict(zip(names, self.torque_ratio, strict=True)) if self.torque_ratio else None
            ),
            "samples": self.samples,
            "episodes": self.episodes,
            "sheet_capacity_nms2_per_rad2": self.sheet_capacity,
            "sheet_torque_ratio": self.sheet_torque_ratio,
            "capacity_against_sheet": (
                dict(zip(names, self.against_sheet, strict=True)) if self.against_sheet else None
            ),
            "sheet_inside_band": (
                None
                if self.against_sheet is None
                else self.against_sheet[1] <= 1.0 <= self.against_sheet[2]
            ),
        }


def _k(capacity: float) -> float:
    return float(from_si(capacity**-0.5, "rpm/(N*m)**0.5", "k_factor"))


@dataclass(frozen=True)
class Gap:
    """A stretch of speed ratio that the log does not cover.

    Parameters
    ----------
    low, high : float
    driving : str
        What would fill it.
    """

    low: float
    high: float
    driving: str


@dataclass(frozen=True, eq=False)
class Identification:
    """What a log tells of the converter.

    Parameters
    ----------
    basis_engine, basis_converter : str or None
        Ids of what was taken off, and compared with.
    coverage : float
        Of the bands, node by node; scatter only.
    nodes : tuple of Node
    coupling_used, coupling_found : float or None
    stretches, steady, locked, cold, driven, outside : int
        Stretches of the log; of them steady; of these locked up, with cold oil, with no torque
        into the converter, outside the engine's known speeds.
    samples : int
        Usable.
    sample_nu, sample_capacity, sample_torque_ratio : ndarray
        The samples kept, for a figure.
    notes : tuple of Note
    """

    basis_engine: str | None
    basis_converter: str | None
    coverage: float
    nodes: tuple[Node, ...]
    coupling_used: float | None
    coupling_found: float | None
    stretches: int
    steady: int
    locked: int
    cold: int
    driven: int
    outside: int
    samples: int
    sample_nu: FloatArray
    sample_capacity: FloatArray
    sample_torque_ratio: FloatArray
    notes: tuple[Note, ...]

    @property
    def covered(self) -> tuple[Node, ...]:
        """Nodes with a value."""
        return tuple(node for node in self.nodes if node.capacity is not None)

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """Stretches without a value, and what would fill them."""
        found: list[Gap] = []
        open_at: float | None = None
        last = self.nodes[0].speed_ratio
        for node in self.nodes:
            if node.capacity is None and open_at is None:
                open_at = last
            elif node.capacity is not None and open_at is not None:
                found += _split(open_at, node.speed_ratio)
                open_at = None
            last = node.speed_ratio
        if open_at is not None:
            found += _split(open_at, last)
        return tuple(found)

    @property
    def to_fill(self) -> tuple[Gap, ...]:
        """Gaps that touch and want the same driving as one: single nodes do not make a stretch."""
        found: list[Gap] = []
        for gap in self.gaps:
            if found and (found[-1].high, found[-1].driving) == (gap.low, gap.driving):
                gap = Gap(found.pop().low, gap.high, gap.driving)
            found.append(gap)
        return tuple(found)

    @property
    def level(self) -> float | None:
        """Median of capacity / sheet over the covered nodes; None without a sheet."""
        ratios = [n.against_sheet[0] for n in self.covered if n.against_sheet is not None]
        return float(np.median(ratios)) if ratios else None

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry."""
        compared = [n for n in self.covered if n.against_sheet is not None]
        inside = [
            n for n in compared if n.against_sheet and n.against_sheet[1] <= 1 <= n.against_sheet[2]
        ]
        return {
            "engine": self.basis_engine,
            "converter": self.basis_converter,
            "coverage": self.coverage,
            "log": {
                "stretches": self.stretches,
                "steady": self.steady,
                "locked_up": self.locked,
                "cold_oil": self.cold,
                "not_driven": self.driven,
                "outside_engine_data": self.outside,
                "samples": self.samples,
            },
            "coupling_speed_ratio": {"used": self.coupling_used, "found": self.coupling_found},
            "nodes": [node.to_dict() for node in self.nodes],
            "compared_with_sheet": {
                "nodes": len(compared),
                "sheet_inside_band": len(inside),
                "capacity_level": self.level,
            },
            "gaps": [vars(gap) for gap in self.gaps],
            "notes": [note_plain(note) for note in self.notes],
        }

    def text(self, system: System = "si") -> str:
        """Return the nodes, gaps and notes as lines for a console."""
        unit = "rpm/(N*m)**0.5" if system == "si" else "rpm/(lbf*ft)**0.5"
        words = "rpm/√(N·m)" if system == "si" else "rpm/√(lbf·ft)"
        percent = f"{100 * self.coverage:.0f} %"
        lines = [
            f"{self.stretches} stretches, {self.steady} steady; left out: {self.locked} locked up, "
            f"{self.cold} with cold oil, {self.driven} not driven, {self.outside} outside the "
            f"engine's speeds; {self.samples} samples",
            "",
            f"{'speed ratio':>11}   {f'K {words} ({percent} band)':<31} "
            f"{f'torque ratio ({percent} band)':<30} {'capacity/sheet':>14}   samples  times",
        ]
        for node in self.nodes:
            k = mu = sheet = "not covered"
            if node.capacity is not None and min(node.capacity) > 0:
                a, b, c = (
                    float(from_si(node.capacity[i] ** -0.5, unit, "k_factor")) for i in (0, 2, 1)
                )
                k = f"{a:.1f} ({b:.1f} to {c:.1f})"
            mu = "" if node.torque_ratio is None else "{:.3f} ({:.3f} to {:.3f})".format(
                *node.torque_ratio
            )  # fmt: skip
            sheet = "" if node.against_sheet is None else f"{node.against_sheet[0]:.3f}"
            lines.append(
                f"{node.speed_ratio:11.3f}   {k:<31} {mu:<30} {sheet:>14}   {node.samples:7d} "
                f"{node.episodes:6d}"
            )
        if self.level is not None:
            lines += ["", f"capacity over all: {self.level:.3f} times the sheet (median)"]
        if self.gaps:
            lines += ["", "To fill the gaps:"]
            lines += [f"  {gap.low:.2f} .. {gap.high:.2f}: {gap.driving}" for gap in self.to_fill]
        lines += note_lines(self.notes, system)
        return "\n".join(lines)

    def __repr__(self) -> str:
        return self.text()


def _split(low: float, high: float) -> list[Gap]:
    """Cut a gap where another kind of driving is needed."""
    found = []
    begin = low
    for end, driving in _DRIVING:
        if begin < end and begin < high:
            found.append(Gap(begin, min(high, end), driving))
            begin = end
    return found
