"""The widget that draws: one message a change, numbers as bytes, elements moved and not remade.

Redrawing a matplotlib figure for each move of a slider is three times as slow as the round trip to
the kernel; a picture built from curves in the browser keeps up with a held key.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets

from converter_match.present.bench.scene import packed
from converter_match.present.bench.state import ROLES, BenchState
from converter_match.present.bench.view import BenchView, combination_words, notes_in_words
from converter_match.present.drawing.style import STROKES

_HERE = Path(__file__).parent
_STROKE_OF = {"torque": "turbine-torque"}
# What holds at a torque that is given for a time only is dashed like that torque itself.
_DASHED = ("torque", "efficiency", "heat")
_FOR_A_TIME = "gross"


def look() -> dict[str, tuple[str, float, str]]:
    """Return colour (a name of the style sheet), width [px] and dash of each stroke."""
    table = {}
    for name, stroke in STROKES.items():
        dash = (
            "" if isinstance(stroke.dash, str) else " ".join(f"{d * 1.3:g}" for d in stroke.dash[1])
        )
        table[name] = (stroke.name, stroke.width, dash)
    table |= {name: table[stroke] for name, stroke in _STROKE_OF.items()}
    dash = table[_FOR_A_TIME][2]
    return table | {f"{name}-dashed": (*table[name][:2], dash) for name in _DASHED}


class MatchPicture(anywidget.AnyWidget):
    """Overlay, output curves, key figures and notes of one or two combinations.

    Parameters
    ----------
    frame : dict
        What is drawn, as `frame_of` makes it.
    room : int
        Height of the reader's window [px]; 0 before it is known.
    """

    _esm = _HERE / "picture.js"
    _css = _HERE / "picture.css"
    frame = traitlets.Dict().tag(sync=True)
    look = traitlets.Dict().tag(sync=True)
    room = traitlets.Int(0).tag(sync=True)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(look=look(), **kwargs)

    def show(self, view: BenchView, state: BenchState, messages: tuple[str, ...] = ()) -> None:
        """Draw a view."""
        count = int(self.frame.get("count", 0)) + 1
        self.frame = frame_of(view, state, messages) | {"count": count}


def named(view: BenchView, state: BenchState) -> list[tuple[str, str, str]]:
    """Return side, role and words of each combination that is shown; alone it has no role."""
    settings = {"a": state.a} | ({} if state.b is None else {"b": state.b})
    one_engine = state.b is not None and state.a.engine == state.b.engine
    return [
        (
            side.upper(),
            ROLES[side] if len(settings) > 1 else "",
            combination_words(
                setting, view.results.get(side), state.system, engine_last=one_engine
            ),
        )
        for side, setting in settings.items()
    ]


def frame_of(view: BenchView, state: BenchState, messages: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return what the browser needs to draw a view."""
    plain, numbers = (
        packed(view.scene) if view.scene is not None else ({"panels": [], "alt": "nothing"}, b"")
    )
    notes = [("", "message", words) for words in messages]
    notes += [("", "problem", words) for words in view.problems]
    notes += notes_in_words(view, state.system)
    return plain | {
        "numbers": numbers,
        "figures": [(row.name, row.unit, row.a, row.b, row.difference) for row in view.figures],
        "notes": notes,
        "two": state.b is not None,
        "who": named(view, state),
        "font_scale": state.font_scale,
    }
