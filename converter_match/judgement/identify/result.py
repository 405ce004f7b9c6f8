"""The characteristic that a log tells of: nodes with bands, gaps, and how to fill them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Estimate, Heading, NoValue, row_of
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.curves import FloatArray
from converter_match.judgement.identify.words import DRIVING, WORDS
from converter_match.notes import Note
from converter_match.units import note_plain

_BASIS = (Heading("engine", "engine"), Heading("converter", "compared with"))
_LOG = (
    Heading("stretches", "stretches of the log"),
    Heading("steady", "of them steady"),
    Heading("locked_up", "left out, locked up"),
    Heading("cold_oil", "left out, oil cold"),
    Heading("not_driven", "left out, converter not driven"),
    Heading("outside_engine_data", "left out, outside the engine's speeds"),
    Heading("samples", "samples"),
)
_COUPLING = (
    Heading("used", "coupling point used, speed ratio"),
    Heading("found", "coupling point found in the log, speed ratio"),
)
_SHEET = (
    Heading("nodes", "speed ratios compared with the sheet"),
    Heading("sheet_inside_band", "of them with the sheet inside the band"),
    Heading("capacity_level", "capacity / sheet (median)"),
)
_GAP = (Heading("low", ""), Heading("high", ""), Heading("driving", ""))


@dataclass(frozen=True)
class Node:
    """The characteristic at one speed ratio, SI units.

    Parameters
    ----------
    speed_ratio : float
    capacity : Estimate or None
        C and its band [N.m/(rad/s)^2]; None where the log does not cover it.
    torque_ratio : Estimate or None
    samples, episodes : int
        Steady stretches, and separate times, that speak for it.
    sheet_capacity, sheet_torque_ratio : float or None
        On the sheet to compare with.
    """

    speed_ratio: float
    capacity: Estimate | None
    torque_ratio: Estimate | None
    samples: int
    episodes: int
    sheet_capacity: float | None
    sheet_torque_ratio: float | None

    @property
    def k_factor(self) -> Estimate | None:
        """K and its band [(rad/s)/sqrt(N.m)]; None where that of the capacity reaches zero."""
        if self.capacity is None or min(self.capacity) <= 0:
            return None
        value, low, high = self.capacity
        return Estimate(value**-0.5, high**-0.5, low**-0.5)  # highest C is lowest K

    @property
    def capacity_against_sheet(self) -> Estimate | None:
        """Capacity / sheet, with its band."""
        if self.capacity is None or not self.sheet_capacity:
            return None
        return Estimate(*(capacity / self.sheet_capacity for capacity in self.capacity))

    @property
    def sheet_inside_band(self) -> bool | None:
        """Whether the sheet lies within the band; None where they cannot be compared."""
        ratio = self.capacity_against_sheet
        return None if ratio is None else ratio.low <= 1.0 <= ratio.high


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


@dataclass(frozen=True, eq=False, repr=False)
class Identification(Answer):
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
        gaps: list[Gap] = []
        open_at: float | None = None
        last = self.nodes[0].speed_ratio
        for node in self.nodes:
            if node.capacity is None and open_at is None:
                open_at = last
            elif node.capacity is not None and open_at is not None:
                gaps += _split(open_at, node.speed_ratio)
                open_at = None
            last = node.speed_ratio
        if open_at is not None:
            gaps += _split(open_at, last)
        return tuple(gaps)

    @property
    def to_fill(self) -> tuple[Gap, ...]:
        """Gaps that touch and want the same driving as one: single nodes do not make a stretch."""
        joined: list[Gap] = []
        for gap in self.gaps:
            if joined and (joined[-1].high, joined[-1].driving) == (gap.low, gap.driving):
                gap = Gap(joined.pop().low, gap.high, gap.driving)
            joined.append(gap)
        return tuple(joined)

    @property
    def compared(self) -> tuple[Node, ...]:
        """Covered nodes that the sheet covers too."""
        return tuple(node for node in self.covered if node.capacity_against_sheet is not None)

    @property
    def level(self) -> float | None:
        """Median of capacity / sheet over the covered nodes; None without a sheet."""
        ratios = [
            ratio.value for n in self.covered if (ratio := n.capacity_against_sheet) is not None
        ]
        return float(np.median(ratios)) if ratios else None

    def blocks(self) -> tuple[Block, ...]:
        """Return the log, the nodes with their bands, the comparison, and how to fill the gaps."""
        inside = sum(1 for node in self.compared if node.sheet_inside_band)
        columns = _columns(self.coverage)
        return (
            Block(
                "",
                facts=(
                    *zip(_BASIS, (self.basis_engine, self.basis_converter), strict=True),
                    (Heading("coverage", ""), self.coverage),
                ),
            ),
            Block(
                "log",
                facts=tuple(
                    zip(
                        _LOG,
                        (
                            self.stretches,
                            self.steady,
                            self.locked,
                            self.cold,
                            self.driven,
                            self.outside,
                            self.samples,
                        ),
                        strict=True,
                    )
                ),
            ),
            Block(
                "coupling_speed_ratio",
                facts=tuple(zip(_COUPLING, (self.coupling_used, self.coupling_found), strict=True)),
            ),
            Block(
                "nodes",
                "Characteristic from the log",
                columns=columns,
                rows=tuple(_node_row(node) for node in self.nodes),
                rows_key="",
            ),
            Block(
                "compared_with_sheet",
                facts=tuple(zip(_SHEET, (len(self.compared), inside, self.level), strict=True)),
                in_text=self.level is not None,
            ),
            Block(
                "gaps",
                columns=_GAP,
                rows=tuple(row_of(gap, _GAP) for gap in self.gaps),
                rows_key="",
                in_text=False,
            ),
            Block(
                "to_fill",
                "To fill the gaps" if self.gaps else "",
                below=tuple(WORDS.note("gap", **vars(gap)) for gap in self.to_fill),
                in_plain=False,
            ),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry; the notes are one list."""
        return plain(self.blocks()) | {"notes": [note_plain(note) for note in self.notes]}


def _columns(coverage: float) -> tuple[Heading, ...]:
    band = f"({100 * coverage:.0f} % band)"
    return (
        Heading("speed_ratio", "speed ratio"),
        Heading("capacity", "", "capacity"),
        Heading("k_factor", "", "k_factor"),
        Heading("", f"K {band}", "k_factor"),
        Heading("torque_ratio", f"torque ratio {band}"),
        Heading("sheet_capacity", "", "capacity"),
        Heading("sheet_torque_ratio", ""),
        Heading("capacity_against_sheet", ""),
        Heading("", "capacity / sheet"),
        Heading("sheet_inside_band", ""),
        Heading("samples", "samples"),
        Heading("episodes", "episodes"),
    )


def _node_row(node: Node) -> tuple[Any, ...]:
    against = node.capacity_against_sheet
    return (
        node.speed_ratio,
        node.capacity,
        node.k_factor,
        NoValue("not covered") if node.k_factor is None else node.k_factor,
        node.torque_ratio,
        node.sheet_capacity,
        node.sheet_torque_ratio,
        against,
        None if against is None else against.value,
        node.sheet_inside_band,
        node.samples,
        node.episodes,
    )


def _split(low: float, high: float) -> list[Gap]:
    """Cut a gap where another kind of driving is needed."""
    parts = []
    begin = low
    for end, driving in DRIVING:
        if begin < end and begin < high:
            parts.append(Gap(begin, min(high, end), driving))
            begin = end
    return parts
