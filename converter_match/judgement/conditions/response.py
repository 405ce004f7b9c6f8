"""What is said of an engine's response: ideal, as given, or as usual for its aspiration."""

from __future__ import annotations

from converter_match.components.engine import Engine
from converter_match.components.response import EngineResponse
from converter_match.judgement.conditions.words import RESPONSE
from converter_match.notes import Note


def response_notes(engine: Engine, response: EngineResponse | None) -> list[Note]:
    """Return what is to be known of how fast the engine's torque is there.

    Parameters
    ----------
    engine : Engine
    response : EngineResponse or None
        None where the torque is taken to be there at once.
    """
    if response is None:
        return [RESPONSE.note("ideal-engine")]
    if not response.typical:
        return [RESPONSE.note("engine-response", share=response.share, time=response.time)]
    return [
        RESPONSE.note(
            "engine-response-typical",
            share=response.share,
            time=response.time,
            aspiration=engine.aspiration or "",
        )
    ]
