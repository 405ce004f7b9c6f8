"""The controls of the bench: what they are called, how they stand, what they may show."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets
import traitlets

from converter_match.present.bench.shelf import Shelf
from converter_match.units import from_si

LETTERS = ((1.0, "desk", ""), (1.3, "large", "cm-large"), (1.6, "projector", "cm-projector"))
_CONTENTS = (
    ("study", "study (TOML)"),
    ("svg", "figure (SVG)"),
    ("png", "figure (PNG)"),
    ("pdf", "figure (PDF)"),
    ("csv", "data (CSV)"),
    ("json", "data (JSON)"),
)


class LiveSlider(widgets.FloatSlider):  # type: ignore[misc]
    """A slider whose moves are not sent back to the page that made them: one message less a move.

    The page of a second view of the same slider is told by the kernel only when the kernel itself
    sets the value.
    """

    value = traitlets.CFloat(0.0, help="Float value").tag(sync=True, echo_update=False)


def controls(shelf: Shelf) -> dict[str, Any]:
    """Return every control but the buttons, by name."""
    return {
        "side": widgets.ToggleButtons(
            options=[("change A", "a"), ("change B", "b")],
            tooltips=["the controls work on A", "the controls work on B"],
            style={"button_width": "auto"},
        ),
        "units": _choice("units", [("SI", "si"), ("US", "us")]),
        "letters": _choice("letters", [(name, scale) for scale, name, _ in LETTERS]),
        "engine": _choice("engine", [(item.name, id) for id, item in shelf.engines.items()]),
        "converter": _choice(
            "converter", [(item.name, id) for id, item in shelf.converters.items()]
        ),
        "hydraulic": _slider(
            "hydraulics (N·m)", 0, 600, 1, 0, "torque that hydraulic pumps take at the flywheel"
        ),
        "accessories": _slider(
            "accessories (%)", 0, 200, 1, 100, "power of every accessory, in % of what is listed"
        ),
        "diameter": _slider(
            "diameter (%)", 85, 115, 0.1, 100, "profile diameter, in % of the one in the data"
        ),
        "use_site": widgets.Checkbox(description="correct for a site", value=False, indent=False),
        "altitude": _slider("altitude (m)", 0, 4200, 10, 0, "of the site, above sea level"),
        "temperature": _slider("air (°C)", -30, 50, 1, 25, "temperature of the air at the intake"),
        "file": widgets.Combobox(
            description="file",
            placeholder="name, without folder",
            ensure_option=False,
            style={"description_width": "initial"},
        ),
        "content": _choice("as", [(words, key) for key, words in _CONTENTS]),
    }


def buttons() -> dict[str, Any]:
    """Return the buttons, by name."""
    texts = {
        "pin": ("keep as B", "copy this combination to B and go on changing A"),
        "swap": ("exchange", "exchange A and B"),
        "drop": ("A alone", "take B away"),
        "undo": ("undo", "take the last change back"),
        "redo": ("redo", "do it again"),
        "save": ("save", "write the file; nothing is overwritten that this bench did not write"),
        "open": ("open", "show the combinations of a study file"),
    }
    return {
        name: widgets.Button(description=text, tooltip=hint) for name, (text, hint) in texts.items()
    }


def laid_out(c: dict[str, Any], b: dict[str, Any], shelf: Shelf) -> list[widgets.Widget]:
    """Return the rows above the picture, in the order in which the Tab key goes through them."""

    def row(*children: widgets.Widget, name: str = "cm-row") -> widgets.Box:
        made = widgets.Box(list(children))
        for part in name.split():
            made.add_class(part)
        return made

    sliders = ("hydraulic", "accessories", "diameter", "use_site", "altitude", "temperature")
    top = ("pin", "swap", "drop", "undo", "redo")
    rows = [
        row(c["side"], *(b[name] for name in top), c["units"], c["letters"]),
        row(c["engine"], c["converter"], name="cm-grid-row cm-choices"),
        row(*(c[name] for name in sliders), name="cm-grid-row"),
        row(c["file"], c["content"], b["save"], b["open"]),
    ]
    box = widgets.VBox(rows)
    box.add_class("cm-controls")
    return [box, *([broken_files(shelf)] if shelf.broken else [])]


def broken_files(shelf: Shelf) -> widgets.HTML:
    """Return the list of files that cannot be used, each with its message."""
    listed = "".join(f"<li>{escape(message)}</li>" for _, message in shelf.broken)
    made = widgets.HTML(f"<b>Files that cannot be used:</b><ul>{listed}</ul>")
    made.add_class("cm-broken")
    return made


def fill(c: dict[str, Any], state: Any) -> None:
    """Set every control to what a state says."""
    setting = state.setting
    us = state.system == "us"
    c["engine"].value = setting.engine
    c["converter"].value = setting.converter
    _range(c["hydraulic"], 0.0, 450.0 if us else 600.0)
    c["hydraulic"].description = f"hydraulics ({'lbf·ft' if us else 'N·m'})"
    _set(c["hydraulic"], from_si(setting.hydraulic_torque, "lbf.ft" if us else "N.m", "torque"))
    _set(c["accessories"], 100.0 * setting.accessory_share)
    _set(c["diameter"], 100.0 * setting.diameter_share)
    c["use_site"].value = setting.altitude is not None or setting.air_temperature is not None
    c["altitude"].description = f"altitude ({'ft' if us else 'm'})"
    _range(c["altitude"], 0.0, 14000.0 if us else 4200.0)
    if setting.altitude is not None:
        _set(c["altitude"], from_si(setting.altitude, "ft" if us else "m", "length"))
    c["temperature"].description = f"air ({'°F' if us else '°C'})"
    _range(c["temperature"], -22.0 if us else -30.0, 122.0 if us else 50.0)
    kelvin = 298.15 if setting.air_temperature is None else setting.air_temperature
    _set(c["temperature"], from_si(kelvin, "degF" if us else "degC", "temperature"))
    c["units"].value = state.system
    c["letters"].value = state.font_scale
    c["side"].value = state.active


def offer(c: dict[str, Any], shelf: Shelf) -> None:
    """Offer what is on another shelf."""
    for name, items in (("engine", shelf.engines), ("converter", shelf.converters)):
        c[name].options = [(item.name, id) for id, item in items.items()]


def _choice(name: str, items: Any) -> Any:
    made = widgets.Dropdown(
        description=name,
        options=items,
        style={"description_width": "initial"},
    )
    made.layout.width = "auto"
    return made


def _slider(name: str, low: float, high: float, step: float, value: float, hint: str) -> Any:
    return LiveSlider(
        description=name,
        tooltip=hint,
        min=low,
        max=high,
        step=step,
        value=value,
        style={"description_width": "initial"},
        readout_format=".0f" if step >= 1 else ".1f",
        continuous_update=True,
    )


def _range(slider: Any, low: float, high: float) -> None:
    # One step at a time, or the widget would refuse a low end above its present high end.
    slider.max = max(slider.max, high)
    slider.min, slider.max = low, high


def _set(slider: Any, value: float) -> None:
    """Set a slider; a value beyond its ends widens it rather than being clamped."""
    slider.min, slider.max = min(slider.min, value), max(slider.max, value)
    slider.value = value
