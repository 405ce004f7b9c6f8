"""What has to bolt together: the given interface data of both sides, item by item.

A match of torque curves says nothing about housings and pilots. Only designations and values that
the component files give are compared; nothing is looked up and no dimension is filled in. Where a
side says nothing, the honest result is "measure before ordering".
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from converter_match.errors import InputError
from converter_match.study.study import Combination
from converter_match.units import dimensions_of, to_si

Status = Literal["same", "differs", "measure before ordering", "given"]

_QUANTITY = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s+(\S.*?)\s*")
# Two roundings of one dimension, as 50 mm and 1.9685 in: closer than any fit of this trade.
_ROUNDING = 2e-4


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing that has to agree.

    Parameters
    ----------
    key : str
        In the ``[interface]`` tables.
    title : str
    designation : str
        Where the designations come from, or what to look for.
    both : bool
        Whether both sides have it; else it is told for one side only.
    """

    key: str
    title: str
    designation: str = ""
    both: bool = True


ENGINE_SIDE = (
    Item(key="housing", title="flywheel housing", designation="size by SAE J617"),
    Item(
        key="flywheel",
        title="flywheel or flex plate pattern",
        designation="by SAE J620 (clutch size) or SAE J927 (flex plate)",
    ),
    Item(key="pilot_diameter", title="pilot diameter"),
    Item(key="pilot_depth", title="pilot depth"),
    Item(key="rotation", title="rotation", designation="say from which end it is seen"),
    Item(key="end_play", title="crank end play against flex-plate float",
         designation="the float has to be the larger"),
    Item(key="ring_gear", title="ring gear and starter"),
    Item(key="balance", title="balance", designation="of engine and of flywheel"),
    Item(key="dry_mass", title="dry mass", both=False),
    Item(key="wet_mass", title="mass with oil", both=False),
)  # fmt: skip
TRANSMISSION_SIDE = (
    Item(key="spline", title="turbine shaft spline"),
    Item(key="charge_pump_drive", title="charge-pump drive"),
    Item(key="oil_flow", title="charge oil flow", designation="against what the converter needs"),
    Item(key="oil_pressure", title="charge oil pressure"),
    Item(key="mounting", title="mounting and length"),
)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One item with what both sides say.

    Parameters
    ----------
    title, designation : str
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

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "item": self.title,
            "designation": self.designation,
            self.sides[0]: self.left or None,
            self.sides[1]: self.right or None,
            "status": self.status,
        }


@dataclass(frozen=True, kw_only=True)
class BoltOnSheet:
    """The sheet of one combination.

    Parameters
    ----------
    combination : str
        Its id.
    rows : tuple of Row
    """

    combination: str
    rows: tuple[Row, ...]

    def of(self, status: Status) -> tuple[Row, ...]:
        """Return the rows of a status."""
        return tuple(row for row in self.rows if row.status == status)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {"combination": self.combination, "items": [row.to_dict() for row in self.rows]}


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
    known = {item.key for item in (*ENGINE_SIDE, *TRANSMISSION_SIDE)}
    others = [key for key in {**engine, **converter} if key not in known]
    more = tuple(Item(key=key, title=key.replace("_", " ")) for key in others)
    rows += _compared(more, ("engine", "converter"), engine, converter)
    rows += _compared(TRANSMISSION_SIDE, ("converter", "transmission"), converter, behind)
    return BoltOnSheet(combination=combination.id, rows=tuple(rows))


def _compared(
    items: tuple[Item, ...],
    sides: tuple[str, str],
    left: Mapping[str, str],
    right: Mapping[str, str],
) -> list[Row]:
    rows = []
    for item in items:
        pair = left.get(item.key, ""), right.get(item.key, "")
        rows.append(
            Row(
                title=item.title,
                designation=item.designation,
                sides=sides,
                left=pair[0],
                right=pair[1],
                status=_status(item, *pair),
            )
        )
    return rows


def _status(item: Item, left: str, right: str) -> Status:
    if not item.both and (left or right):
        return "given"
    if not left or not right:
        return "measure before ordering"
    if item.key == "end_play":  # two different things: whether one clears the other is measured
        return "measure before ordering"
    return "same" if same_designation(left, right) else "differs"


def same_designation(left: str, right: str) -> bool:
    """Return whether two designations or quantities are the same, case and spaces aside.

    Examples
    --------
    >>> same_designation("SAE 2", "sae  2"), same_designation("50 mm", "1.9685 in")
    (True, True)
    >>> same_designation("SAE 2", "SAE 3"), same_designation("50 mm", "51 mm")
    (False, False)
    """
    if " ".join(left.casefold().split()) == " ".join(right.casefold().split()):
        return True
    sizes = [_quantity(text) for text in (left, right)]
    if sizes[0] is None or sizes[1] is None or sizes[0][1] != sizes[1][1]:
        return False
    first, second = sizes[0][0], sizes[1][0]
    return abs(first - second) <= _ROUNDING * max(abs(first), abs(second))


def _quantity(text: str) -> tuple[float, str] | None:
    """Return an entry that is a number with a unit in SI, with its dimension."""
    found = _QUANTITY.fullmatch(text)
    if found is None:
        return None
    known = dimensions_of(found[2])
    if not known:
        return None
    try:
        return to_si(float(found[1]), found[2], known[0]), known[0]
    except InputError:
        return None
