"""What the data of parts carry beside the usual: which special drives they are enough for."""

from __future__ import annotations

from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.errors import InputError
from converter_match.present.notebook.answer import ShownAnswer

_ENGINE = (
    Heading("engine", "engine"),
    Heading("motoring", "motoring data"),
    Heading("exhaust_brake", "exhaust brake"),
    Heading("inertia", "inertia"),
)
_CONVERTER = (
    Heading("converter", "converter"),
    Heading("stator", "stator"),
    Heading("from", "from speed ratio", form=".2f"),
    Heading("to", "to speed ratio", form=".2f"),
    Heading("inertias", "inertias"),
)


def data_carried(*parts: Engine | Converter) -> ShownAnswer:
    """List what the data of engines and converters carry beside the usual.

    Parameters
    ----------
    *parts : Engine or Converter

    Returns
    -------
    ShownAnswer
        Of engines: motoring data, exhaust brake, inertia. Of converters: stator, speed ratios,
        inertias.

    Raises
    ------
    InputError
        If one is neither.

    Examples
    --------
    >>> import converter_match as cm
    >>> print(cm.data_carried(cm.read("single-stage-345mm-tight")))
    converter                 stator   from speed ratio  to speed ratio  inertias
    single-stage-345mm-tight  one-way              0.00            0.98       yes
    """
    for each in parts:
        if not isinstance(each, Engine | Converter):
            raise InputError(
                "neither an engine nor a converter",
                found=type(each).__name__,
                expected="parts, from cm.read(...)",
            )
    rows: dict[tuple[Heading, ...], list[tuple[Any, ...]]] = {}
    for each in parts:
        heads, row = _carried(each)
        rows.setdefault(heads, []).append(row)
    blocks = (Block(heads[0].key, columns=heads, rows=tuple(r)) for heads, r in rows.items())
    return ShownAnswer(tuple(blocks), ())


def _carried(part: Engine | Converter) -> tuple[tuple[Heading, ...], tuple[Any, ...]]:
    if isinstance(part, Engine):
        known = (part.motoring, part.exhaust_brake, part.inertia)
        return _ENGINE, (part.id, *(each is not None for each in known))
    inertias = None not in (part.impeller_inertia, part.turbine_inertia)
    return _CONVERTER, (part.id, part.stator, *part.domain, inertias)
