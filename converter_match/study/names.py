"""Names that a study uses: each once, and none that is not there."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from converter_match.errors import InputError, did_you_mean


def once_each(names: list[str], place: str, key: str) -> None:
    """Refuse a name that occurs twice.

    Raises
    ------
    InputError
        Naming the row.
    """
    for row, name in enumerate(names):
        if name in names[:row]:
            raise InputError(
                "given twice", field=f"{place}{'.' if key else ''}{key}", found=name,
                expected="each once",
            )  # fmt: skip


def refer(name: str, known: list[str], place: str, what: str) -> None:
    """Refuse a name that is not among those known.

    Raises
    ------
    InputError
        Naming those known and the nearest.
    """
    if name not in known:
        raise InputError(
            f"there is no such {what}",
            field=place,
            found=name,
            expected=" | ".join(known) or "none is given",
            hint=did_you_mean(name, known),
        )


def called(component: Any) -> str:
    """Return what to call a component of a study, such as ``engine 'six-cylinder'``."""
    return f"{type(component).__name__.lower()} {component.id!r}"


def whose_in_doubt(doubts: Iterable[tuple[str, str, Any]], ids: Collection[str]) -> tuple[str, ...]:
    """Return whose data are in doubt, of the combinations or parts of some ids; each once."""
    return tuple(dict.fromkeys(whose for item, whose, _ in doubts if item in ids))
