"""Which physical part a tolerance is about, and which combinations have that part in common.

A component that a candidate takes over from the present machine is the same object, and the same
part. One that is named anew, be it by the same file, is another unit of its type. Site and ground
are those of the whole study, and a machine is always the same one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

from converter_match.components.base import require_choice
from converter_match.errors import InputError, did_you_mean
from converter_match.study.doubts import Tolerance

SITE = "site"
PART_OF: Mapping[str, str] = MappingProxyType(
    {
        "engine-torque": "engine",
        "accessories": "engine",
        "k-factor": "converter",
        "torque-ratio": "converter",
        "mass": "machine",
        "pumps": "machine",
        "rolling-radius": "machine",
        "rolling-resistance": SITE,
        "air-pressure": SITE,
        "air-temperature": SITE,
    }
)
"""What a quantity is one of."""

PARTS = ("engine", "converter", "driveline", "machine")
"""Parts that combinations may have in common."""


class PartsTogether(Protocol):
    """Parts that work together, each by its name in `PARTS`: a `study.study.Combination`."""

    @property
    def id(self) -> str:
        """Short name."""


@dataclass(frozen=True, kw_only=True)
class SamePart:
    """A part that some combinations have in common, though their files do not show it.

    Parameters
    ----------
    part : {"engine", "converter", "driveline", "machine"}
    combinations : tuple of str
        Their ids, at least two.

    Raises
    ------
    InputError
        If the part is not known, or fewer than two combinations are named.
    """

    part: str
    combinations: tuple[str, ...]

    def __post_init__(self) -> None:
        require_choice(self.part, "same_part.part", PARTS)
        object.__setattr__(self, "combinations", tuple(self.combinations))
        if len(set(self.combinations)) < 2:
            raise InputError(
                "one combination has every part in common with itself",
                field="same_part.combinations",
                found=", ".join(self.combinations) or "none",
                expected="at least two ids",
            )


def type_ids(combinations: Sequence[PartsTogether], kind: str) -> list[str]:
    """Return the id of each combination's component of a kind; empty where it has none."""
    if kind == SITE:
        return [""] * len(combinations)
    parts = [getattr(item, kind) for item in combinations]
    return ["" if part is None else part.id for part in parts]


def units(combinations: Sequence[PartsTogether], same: Sequence[SamePart], kind: str) -> list[int]:
    """Return a number for each combination: equal where they have the part in common.

    Parameters
    ----------
    combinations : sequence of Combination
    same : sequence of SamePart
    kind : str
        A value of `PART_OF`.
    """
    types = type_ids(combinations, kind)
    number = list(range(len(types)))
    place = {item.id: k for k, item in enumerate(combinations)}
    pairs = [
        (i, j)
        for j, own in enumerate(combinations)
        for i, other in enumerate(combinations[:j])
        if kind == SITE
        or (kind == "machine" and types[i] == types[j])
        or (getattr(own, kind) is not None and getattr(own, kind) is getattr(other, kind))
    ]
    for item in same:
        if item.part == kind:
            first, *others = (place[name] for name in item.combinations)
            pairs += [(first, k) for k in others]
    for i, j in pairs:
        joined = {number[i], number[j]}
        number = [min(joined) if k in joined else k for k in number]
    return number


def rows_of(
    tolerances: Sequence[Tolerance],
    combinations: Sequence[PartsTogether],
    same: Sequence[SamePart],
    quantity: str,
) -> list[Tolerance | None]:
    """Return which tolerance of a quantity holds for each combination's part.

    Parameters
    ----------
    tolerances : sequence of Tolerance
    combinations : sequence of Combination
    same : sequence of SamePart
    quantity : str

    Returns
    -------
    list of Tolerance or None
        None where no tolerance is given for the part.

    Raises
    ------
    InputError
        If two rows name the same part, or a row names what is not there.
    """
    kind = PART_OF[quantity]
    number, types = units(combinations, same, kind), type_ids(combinations, kind)
    given: dict[int, Tolerance] = {}
    common: Tolerance | None = None
    for row, item in enumerate(tolerances):
        if item.quantity != quantity:
            continue
        place = f"tolerance[{row}]"
        if item.of is None:
            if common is not None:
                raise InputError(
                    "given twice", field=f"{place}.quantity", found=quantity,
                    expected="each once, or rows that name different parts with the key of",
                )  # fmt: skip
            common = item
            continue
        for part in _named(item.of, combinations, number, types, kind, f"{place}.of"):
            if part in given:
                raise InputError(
                    f"another tolerance of {quantity} names the same part already",
                    field=f"{place}.of",
                    found=item.of,
                    expected="one tolerance for each part",
                )
            given[part] = item
    if common is not None and common.shared and given:
        raise InputError(
            "contradicts shared: with one draw for all combinations no part has its own tolerance",
            field="tolerance.of", found=next(iter(given.values())).of,
        )  # fmt: skip
    return [given.get(part, common) for part in number]


def _named(
    name: str,
    combinations: Sequence[PartsTogether],
    number: list[int],
    types: list[str],
    kind: str,
    place: str,
) -> list[int]:
    """Return the parts that a name means: that of a combination, or all of a component's id."""
    if kind == SITE:
        raise InputError(
            "site and ground are the same for every combination", field=place, found=name,
            expected="the key left out",
        )  # fmt: skip
    ids = [item.id for item in combinations]
    if name in ids and name in types:
        raise InputError(
            f"means a combination and {_an(kind)}", field=place, found=name,
            expected="names that differ",
        )  # fmt: skip
    if name in ids:
        return [number[ids.index(name)]]
    found = sorted({part for part, own in zip(number, types, strict=True) if own == name})
    if not found:
        known = [*ids, *dict.fromkeys(own for own in types if own)]
        raise InputError(
            f"there is no such combination, and no {kind} of that id",
            field=place,
            found=name,
            expected=" | ".join(known),
            hint=did_you_mean(name, known),
        )
    return found


def check_same(same: Sequence[SamePart], combinations: Sequence[PartsTogether]) -> None:
    """Refuse parts in common of combinations that are not there, or that differ in type.

    Raises
    ------
    InputError
        Naming the row.
    """
    by_id = {item.id: item for item in combinations}
    for row, item in enumerate(same):
        place = f"same_part[{row}].combinations"
        for name in item.combinations:
            if name not in by_id:
                raise InputError(
                    "there is no such combination", field=place, found=name,
                    expected=" | ".join(by_id), hint=did_you_mean(name, list(by_id)),
                )  # fmt: skip
        types = dict.fromkeys(type_ids([by_id[k] for k in item.combinations], item.part))
        if len(types) > 1 or "" in types:
            raise InputError(
                f"these do not have the same {item.part}",
                field=place,
                found=", ".join(own or "none" for own in types),
                expected=f"combinations with one {item.part} file",
            )


def _an(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"
