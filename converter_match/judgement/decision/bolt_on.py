"""What has to bolt together: the given interface data of both sides, item by item.

A match of torque curves says nothing about housings and pilots. Only designations and values that
the component files give are compared; nothing is looked up and no dimension is filled in. Where a
side says nothing, the honest result is "measure before ordering".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import PartOfAnswer
from converter_match.judgement.decision import words
from converter_match.judgement.match.interface import same_designation
from converter_match.judgement.match.words import BOLT_ON
from converter_match.study.study import Combination

Status = Literal["same", "differs", "measure before ordering", "given"]

# Keys of the ``[interface]`` tables, in the order of the sheet.
ENGINE_SIDE = (
    "housing", "flywheel", "pilot_diameter", "pilot_depth", "rotation", "end_play", "ring_gear",
    "balance", "dry_mass", "wet_mass",
)  # fmt: skip
TRANSMISSION_SIDE = ("spline", "charge_pump_drive", "oil_flow", "oil_pressure", "mounting")
# One side has it, and the other has nothing to answer.
_ONE_SIDED = ("dry_mass", "wet_mass")
# Two different things: whether one clears the other is measured.
_TWO_THINGS = ("end_play",)


@dataclass(frozen=True, kw_only=True)
class InterfaceRow:
    """One item with what both sides say.

    Parameters
    ----------
    title, designation : str
        What it is, and where its designations come from.
    sides : tuple of str
        Who is on the left and on the right.
    left, right : str
        As given; empty where nothing is.
    status : str
        ``same``, ``differs``, ``measure before ordering``, or ``given`` where only one side has it.
    """

    title: str
    designation: str
    sides: tuple[str, str]
    left: str
    right: str
    status: Status

    @property
    def named(self) -> str:
        """What it is, with its designation."""
        return f"{self.title} ({self.designation})" if self.designation else self.title

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, with the two sides as keys."""
        return {
            "item": self.title,
            "designation": self.designation,
            self.sides[0]: self.left or None,
            self.sides[1]: self.right or None,
            "status": self.status,
        }


_COLUMNS = (
    Heading("item", ""),
    Heading("designation", ""),
    Heading("", "item"),
    Heading("between", "between"),
    Heading("first", "first"),
    Heading("second", "second"),
    Heading("status", "status", choices=words.STATUSES),
)


@dataclass(frozen=True, kw_only=True, repr=False)
class BoltOnSheet(PartOfAnswer):
    """The sheet of one combination.

    Parameters
    ----------
    combination : str
        Its id.
    rows : tuple of InterfaceRow
    """

    combination: str
    rows: tuple[InterfaceRow, ...]

    def of(self, status: Status) -> tuple[InterfaceRow, ...]:
        """Return the rows of a status."""
        return tuple(row for row in self.rows if row.status == status)

    def blocks(self) -> tuple[Block, ...]:
        """Return the sheet as a table."""
        rows = (
            (
                *(row.title, row.designation, row.named),
                *(" and ".join(row.sides), row.left, row.right, row.status),
            )
            for row in self.rows
        )
        title = f"Bolt-on sheet: {self.combination}"
        return (Block("bolt_on", title=title, columns=_COLUMNS, rows=tuple(rows), rows_key=""),)


def bolt_on_sheet(combination: Combination) -> BoltOnSheet:
    """Compare what the files of a combination say about bolting together.

    Parameters
    ----------
    combination : Combination
        Engine and converter by their ``[interface]`` tables, and converter and transmission by
        those of converter and machine.

    Returns
    -------
    BoltOnSheet
    """
    machine = combination.machine
    engine = dict(combination.engine.interface)
    converter = dict(combination.converter.interface)
    # The gearbox belongs to the machine, and its interface stands in the machine's file.
    behind = {} if machine is None else dict(machine.interface)
    rows = _compared(ENGINE_SIDE, ("engine", "converter"), engine, converter)
    known = {*ENGINE_SIDE, *TRANSMISSION_SIDE}
    others = tuple(key for key in {**engine, **converter} if key not in known)
    rows += _compared(others, ("engine", "converter"), engine, converter)
    rows += _compared(TRANSMISSION_SIDE, ("converter", "transmission"), converter, behind)
    return BoltOnSheet(combination=combination.id, rows=tuple(rows))


def _compared(
    keys: tuple[str, ...],
    sides: tuple[str, str],
    left: Mapping[str, str],
    right: Mapping[str, str],
) -> list[InterfaceRow]:
    rows = []
    for key in keys:
        title, designation = BOLT_ON.get(key, (key.replace("_", " "), ""))
        one, other = left.get(key, ""), right.get(key, "")
        rows.append(
            InterfaceRow(
                title=title,
                designation=designation,
                sides=sides,
                left=one,
                right=other,
                status=_status(key, one, other),
            )
        )
    return rows


def _status(key: str, left: str, right: str) -> Status:
    if key in _ONE_SIDED and (left or right):
        return "given"
    if not left or not right or key in _TWO_THINGS:
        return "measure before ordering"
    return "same" if same_designation(left, right) else "differs"
