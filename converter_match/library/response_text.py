"""The response of an engine as a person types it: ``typical``, or ``60 %, 0.8 s``."""

from __future__ import annotations

from converter_match.components.engine import Engine
from converter_match.components.response import EngineResponse, typical_response
from converter_match.errors import InputError
from converter_match.units.written import written_to_si

TYPICAL = "typical"


def response_from_text(text: str, engine: Engine, *, source: str) -> EngineResponse:
    """Return a response from its text.

    Parameters
    ----------
    text : str
        ``typical`` for what is usual of the engine's aspiration, or the share of the torque that is
        there at once and the time constant of the rest.
    engine : Engine
    source : str
        Option or argument, for messages.

    Raises
    ------
    InputError
        If it is neither, a number is out of range, or the engine's aspiration is not known.

    Examples
    --------
    >>> from converter_match.library.read import read_engine
    >>> from converter_match.library.shipped import find
    >>> engine = read_engine(find("engines", "six-cylinder-7l-185kw"))
    >>> response_from_text("60 %, 0.8 s", engine, source="--response")
    EngineResponse(share=0.6, time=0.8, typical=False)
    """
    if text.strip() == TYPICAL:
        return typical_response(engine.aspiration, engine.id)
    parts = text.split(",")
    if len(parts) != 2:
        raise InputError(
            "not a response of an engine",
            source=source,
            found=text,
            expected=f"{TYPICAL}, or share and time, as in '60 %, 0.8 s'",
        )
    share = written_to_si(parts[0].strip(), "ratio", "%", source=source)
    time = written_to_si(parts[1].strip(), "time", "s", source=source)
    try:
        return EngineResponse(share, time)
    except InputError as error:
        raise error.located(source=source) from None
