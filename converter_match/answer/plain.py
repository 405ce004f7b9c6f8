"""Blocks as plain data that JSON can carry: units in the keys, null for what is not known."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from converter_match.answer.block import Block


def plain(blocks: Iterable[Block]) -> dict[str, Any]:
    """Return the facts and rows of blocks as one object (NaN never appears).

    Parameters
    ----------
    blocks : iterable of Block
        Those of one name are merged, in their order.

    Examples
    --------
    >>> from converter_match.answer.block import Heading
    >>> speed = Heading("engine_speed", "engine", "angular_speed")
    >>> plain([Block("stall", facts=((speed, 0.0),)), Block("coupling", facts=None)])
    {'stall': {'engine_speed_rpm': 0.0}, 'coupling': None}
    """
    whole: dict[str, Any] = {}
    for block in blocks:
        if block.in_plain:
            _put(whole, block)
    return whole


def _put(whole: dict[str, Any], block: Block) -> None:
    *above, last = block.name.split(".")
    place = whole
    for key in above:
        place = place.setdefault(key, {})
    rows = list(block.records()) if block.columns else None
    if block.facts is None:
        place[last] = None
        return
    if rows is not None and not block.rows_key:
        place[last] = rows
        return
    target = place.setdefault(last, {}) if last else place
    for head, value in block.facts:
        if head.key:
            target[head.plain_key] = head.plain(value)
    if rows is not None:
        target[block.rows_key] = rows
