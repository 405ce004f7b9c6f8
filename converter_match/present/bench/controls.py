"""The controls of the bench: what they are called, how they stand, what they may show."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets

from converter_match.present.bench.shelf import Shelf
from converter_match.present.bench.sliders import NAMES, fitted
from converter_match.present.bench.state import ROLES, BenchState

LETTERS = ((1.0, "desk", ""), (1.3, "large", "cm-large"), (1.6, "projector", "cm-projector"))
_CONTENTS = (
    ("study", "study (TOML)"),
    ("svg", "figure (SVG)"),
    ("png", "figure (PNG)"),
    ("pdf", "figure (PDF)"),
    ("table", "key figures (CSV)"),
    ("csv", "match points (CSV)"),
    ("json", "data (JSON)"),
)


def controls(shelf: Shelf, state: BenchState) -> dict[str, Any]:
    """Return every control but the buttons, by name."""
    return {
        **fitted({}, state.setting, state.system, shelf.known_mover(state.setting.engine)),
        "side": widgets.ToggleButtons(
            options=[("change A", "a"), ("change B", "b")],
            tooltips=[f"the controls work on {s.upper()}, the {ROLES[s]}" for s in ("a", "b")],
            style={"button_width": "auto"},
        ),
        "units": _choice("units", [("SI", "si"), ("US", "us")]),
        "fold": widgets.ToggleButton(
            description="fold", tooltip="fold the controls: leave the curves the room"
        ),
        "letters": _choice("letters", [(name, scale) for scale, name, _ in LETTERS]),
        "engine": _choice("engine or motor", shelf.movers()),
        "converter": _choice("converter", shelf.offered("converters")),
        "use_site": widgets.Checkbox(description="correct for a site", value=False, indent=False),
        "file": widgets.Combobox(
            description="file",
            placeholder="name, without folder",
            ensure_option=False,
            style={"description_width": "initial"},
        ),
        "work": widgets.HTML().add_class("cm-work"),
        "content": _choice("as", [(words, key) for key, words in _CONTENTS]),
    }


def buttons() -> dict[str, Any]:
    """Return the buttons, by name."""
    texts = {
        "pin": ("keep as present", "keep this as A, the present machine, and change a copy, B"),
        "swap": ("exchange", "exchange present machine and candidate"),
        "drop": ("A alone", "remove B, the candidate"),
        "undo": ("undo", "undo the last change; units and letters stay"),
        "redo": ("redo", "redo the change"),
        "save": ("save", "write the file; nothing is overwritten that this bench did not write"),
        "open": ("open", "show the combinations of a study file"),
    }
    return {
        name: widgets.Button(description=text, tooltip=hint) for name, (text, hint) in texts.items()
    }


def laid_out(
    c: dict[str, Any], b: dict[str, Any], picture: widgets.Widget, shelf: Shelf
) -> tuple[list[widgets.Widget], widgets.Box]:
    """Return everything in the order of the Tab key, and the row of sliders.

    Files stand below the picture: above it every row counts on a small screen.
    """
    top = ("pin", "swap", "drop", "undo", "redo")
    sliders = _row(*conditions(c), name="cm-grid-row cm-conditions")
    above = widgets.VBox(
        [
            _row(c["side"], *(b[name] for name in top), c["units"], c["letters"], c["fold"]),
            _row(c["engine"], c["converter"], name="cm-grid-row cm-choices"),
            sliders,
        ]
    )
    below = widgets.VBox([_row(c["file"], c["content"], b["save"], b["open"], c["work"])])
    for box in (above, below):
        box.add_class("cm-controls")
    return [above, picture, below, *([broken_files(shelf)] if shelf.broken else [])], sliders


def mark_last(c: dict[str, Any], name: str) -> None:
    """Mark the slider that stays when the controls are folded."""
    for each in NAMES:
        (c[each].add_class if each == name else c[each].remove_class)("cm-last")


def _row(*children: widgets.Widget, name: str = "cm-row") -> widgets.Box:
    made = widgets.Box(list(children))
    for part in name.split():
        made.add_class(part)
    return made


def conditions(c: dict[str, Any]) -> list[widgets.Widget]:
    """Return the controls of the row of sliders; that of the voltage where there is a choice."""
    order = ["hydraulic", "accessories", "diameter", "use_site", "altitude", "temperature"]
    return [c[name] for name in order + ([] if c["voltage"].disabled else ["voltage"])]


def broken_files(shelf: Shelf) -> widgets.HTML:
    """Return the list of files that cannot be used, each with its message."""
    listed = "".join(f"<li>{escape(message)}</li>" for _, message in shelf.broken)
    made = widgets.HTML(f"<b>Files that cannot be used:</b><ul>{listed}</ul>")
    made.add_class("cm-broken")
    return made


def fill(c: dict[str, Any], state: BenchState, shelf: Shelf) -> tuple[str, ...]:
    """Set every control to what a state says; return the names of sliders that had to be new."""
    setting = state.setting
    for name, id in (("engine", setting.engine), ("converter", setting.converter)):
        # What is not on the shelf cannot be shown here; the notes say so.
        c[name].value = id if id in [value for _, value in c[name].options] else None
    new = fitted(c, setting, state.system, shelf.known_mover(setting.engine))
    for name, made in new.items():
        c[name].close()
        c[name] = made
    c["use_site"].value = setting.altitude is not None or setting.air_temperature is not None
    c["units"].value = state.system
    c["letters"].value = state.font_scale
    c["side"].value = state.active
    return tuple(new)


def offer(c: dict[str, Any], shelf: Shelf) -> None:
    """Offer what is on another shelf."""
    c["engine"].options = shelf.movers()
    c["converter"].options = shelf.offered("converters")


def _choice(name: str, items: Any) -> Any:
    made = widgets.Dropdown(
        description=name,
        options=items,
        style={"description_width": "initial"},
    )
    made.layout.width = "auto"
    return made
