"""The bench: controls wired to a state, the state to a picture. Nothing is computed here.

Callbacks show an `InputError` in words and let every other error reach the log and `last_error`,
so that a fault of ours is never silent.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from converter_match.errors import InputError
from converter_match.judgement.match_result import MatchResult
from converter_match.present.bench.picture import MatchPicture
from converter_match.present.bench.shelf import Shelf, load_shelf
from converter_match.present.bench.state import BenchState, History, Setting
from converter_match.present.bench.view import View, view
from converter_match.units import from_si, to_si

_KELVIN = 273.15
# Changes of one slider that follow each other within this time are one step of undo [s].
_SAME_TRAVEL = 1.0


class MatchBench(widgets.VBox):  # type: ignore[misc]
    """The live match bench.

    Parameters
    ----------
    shelf : Shelf
        Components to choose from.
    state : BenchState, optional
        Where to begin; by default the first engine and converter on the shelf.
    clock : callable, optional
        Seconds; for tests.

    Attributes
    ----------
    state : BenchState
        What is chosen now.
    last_error : Exception or None
        The last error that was not the user's.
    """

    def __init__(
        self,
        shelf: Shelf,
        state: BenchState | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        if not shelf.engines or not shelf.converters:
            raise InputError(
                "the bench needs at least one engine and one converter",
                source="component folder",
                found=f"{len(shelf.engines)} engines, {len(shelf.converters)} converters",
            )
        self.shelf = shelf
        self.last_error: Exception | None = None
        self._clock = clock
        self._last_change = ("", -1e9)
        self._filling = False
        first = Setting(engine=next(iter(shelf.engines)), converter=next(iter(shelf.converters)))
        self._history = History(state or BenchState(a=first))
        self._messages: tuple[str, ...] = ()
        self.picture = MatchPicture()
        self.controls = _controls(shelf)
        self.buttons = _buttons()
        self.view: View = view(self.state, shelf)
        self._wire()
        self._fill()
        self._draw()
        super().__init__(children=self._layout())

    @property
    def state(self) -> BenchState:
        """What is chosen now."""
        return self._history.present

    @property
    def results(self) -> dict[str, MatchResult]:
        """The results shown, by side."""
        return self.view.results

    def go_to(self, state: BenchState) -> None:
        """Show another state; it can be undone."""
        self._history.to(state)
        self._fill()
        self._draw()

    def change(self, **changes: Any) -> None:
        """Change the active setting (SI units), as a control would."""
        name = ",".join(changes)
        now = self._clock()
        state = self.state.changed(**changes)
        travelling = self._last_change[0] == name and now - self._last_change[1] < _SAME_TRAVEL
        if travelling:
            self._history.replace_present(state)
        else:
            self._history.to(state)
        self._last_change = (name, now)
        self._draw()

    def undo(self) -> None:
        """Take the last change back."""
        self._history.undo()
        self._last_change = ("", -1e9)
        self._fill()
        self._draw()

    def redo(self) -> None:
        """Do the last change that was taken back again."""
        self._history.redo()
        self._fill()
        self._draw()

    def say(self, *messages: str) -> None:
        """Show messages above the notes."""
        self._messages = messages
        self._draw()

    def _draw(self) -> None:
        self.view = view(self.state, self.shelf)
        self.picture.show(self.view, self.state, self._messages)

    def _guarded(self, action: Callable[[], None]) -> None:
        try:
            self._messages = ()
            action()
        except InputError as error:
            self.say(str(error))
        except Exception as error:
            self.last_error = error
            raise

    def _wire(self) -> None:
        c = self.controls

        def on(name: str, to_change: Callable[[Any], dict[str, Any]]) -> None:
            def changed(change: dict[str, Any]) -> None:
                if not self._filling:
                    self._guarded(lambda: self.change(**to_change(change["new"])))

            c[name].observe(changed, names="value")

        on("engine", lambda value: {"engine": value})
        on("converter", lambda value: {"converter": value})
        on("hydraulic", lambda value: {"hydraulic_torque": self._torque_in(value)})
        on("accessories", lambda value: {"accessory_share": value / 100.0})
        on("diameter", lambda value: {"diameter_share": value / 100.0})
        for name in ("use_site", "altitude", "temperature"):
            on(name, lambda _: self._site_in())
        c["units"].observe(self._units_changed, names="value")
        c["letters"].observe(self._letters_changed, names="value")
        c["side"].observe(self._side_changed, names="value")
        for name, action in (
            ("pin", lambda: self.go_to(self.state.pinned())),
            ("drop", lambda: self.go_to(self.state.without_b())),
            ("swap", lambda: self.go_to(self.state.swapped())),
            ("undo", self.undo),
            ("redo", self.redo),
        ):
            self.buttons[name].on_click(lambda _, action=action: self._guarded(action))

    def _torque_in(self, value: float) -> float:
        return to_si(float(value), "N.m" if self.state.system == "si" else "lbf.ft", "torque")

    def _site_in(self) -> dict[str, Any]:
        c = self.controls
        if not c["use_site"].value:
            return {"altitude": None, "air_temperature": None}
        us = self.state.system == "us"
        return {
            "altitude": to_si(float(c["altitude"].value), "ft" if us else "m", "length"),
            "air_temperature": to_si(
                float(c["temperature"].value), "degF" if us else "degC", "temperature"
            ),
        }

    def _units_changed(self, change: dict[str, Any]) -> None:
        if not self._filling:
            self._guarded(lambda: self.go_to(replace(self.state, system=change["new"])))

    def _letters_changed(self, change: dict[str, Any]) -> None:
        if not self._filling:
            self._guarded(lambda: self.go_to(replace(self.state, font_scale=change["new"])))

    def _side_changed(self, change: dict[str, Any]) -> None:
        if self._filling:
            return
        if change["new"] == "b" and self.state.b is None:
            self._guarded(lambda: self.go_to(replace(self.state.pinned(), active="b")))
        else:
            self._guarded(lambda: self.go_to(replace(self.state, active=change["new"])))

    def _fill(self) -> None:
        """Set every control to what the state says, without reacting to it."""
        c, state, setting = self.controls, self.state, self.state.setting
        us = state.system == "us"
        self._filling = True
        try:
            c["engine"].value = setting.engine
            c["converter"].value = setting.converter
            unit = "lbf.ft" if us else "N.m"
            _range(c["hydraulic"], 0.0, 450.0 if us else 600.0)
            c["hydraulic"].description = f"hydraulic torque ({'lbf·ft' if us else 'N·m'})"
            _set(c["hydraulic"], from_si(setting.hydraulic_torque, unit, "torque"))
            _set(c["accessories"], 100.0 * setting.accessory_share)
            _set(c["diameter"], 100.0 * setting.diameter_share)
            c["use_site"].value = setting.altitude is not None
            c["altitude"].description = f"altitude ({'ft' if us else 'm'})"
            _range(c["altitude"], 0.0, 14000.0 if us else 4200.0)
            if setting.altitude is not None:
                _set(c["altitude"], from_si(setting.altitude, "ft" if us else "m", "length"))
            c["temperature"].description = f"air ({'°F' if us else '°C'})"
            _range(c["temperature"], -22.0 if us else -30.0, 122.0 if us else 50.0)
            kelvin = setting.air_temperature or 25.0 + _KELVIN
            _set(c["temperature"], from_si(kelvin, "degF" if us else "degC", "temperature"))
            c["units"].value = state.system
            c["letters"].value = state.font_scale
            c["side"].value = state.active
        finally:
            self._filling = False

    def _layout(self) -> list[widgets.Widget]:
        c, b = self.controls, self.buttons
        rows = [
            widgets.HBox(
                [
                    c["side"],
                    b["pin"],
                    b["swap"],
                    b["drop"],
                    b["undo"],
                    b["redo"],
                    c["units"],
                    c["letters"],
                ]
            ),
            widgets.HBox([c["engine"], c["converter"]]),
            widgets.HBox([c["hydraulic"], c["accessories"], c["diameter"]]),
            widgets.HBox([c["use_site"], c["altitude"], c["temperature"]]),
            self.picture,
        ]
        if self.shelf.broken:
            listed = "".join(f"<li>{_escaped(message)}</li>" for _, message in self.shelf.broken)
            rows.append(widgets.HTML(f"<b>Files that cannot be used:</b><ul>{listed}</ul>"))
        return rows


def bench(folder: str | Path | None = None, state: BenchState | None = None) -> MatchBench:
    """Return the bench with the shipped components and those in a folder of the user's.

    Raises
    ------
    InputError
        If the folder does not exist or there is nothing to choose from.
    """
    return MatchBench(load_shelf(folder), state)


def _controls(shelf: Shelf) -> dict[str, Any]:
    wide = {"description_width": "initial"}
    long = widgets.Layout(width="430px")
    middle = widgets.Layout(width="380px")

    def slider(name: str, low: float, high: float, step: float, value: float) -> Any:
        return widgets.FloatSlider(
            description=name,
            min=low,
            max=high,
            step=step,
            value=value,
            style=wide,
            layout=middle,
            readout_format=".0f" if step >= 1 else ".1f",
            continuous_update=True,
        )

    def choice(name: str, items: Any, layout: Any = long) -> Any:
        return widgets.Dropdown(description=name, options=items, style=wide, layout=layout)

    return {
        "engine": choice("engine", [(item.name, id) for id, item in shelf.engines.items()]),
        "converter": choice(
            "converter", [(item.name, id) for id, item in shelf.converters.items()]
        ),
        "hydraulic": slider("hydraulic torque (N·m)", 0, 600, 1, 0),
        "accessories": slider("accessories (% of listed)", 0, 200, 1, 100),
        "diameter": slider("profile diameter (% of data)", 85, 115, 0.1, 100),
        "use_site": widgets.Checkbox(
            description="correct for a site",
            value=False,
            indent=False,
            layout=widgets.Layout(width="180px"),
        ),
        "altitude": slider("altitude (m)", 0, 4200, 10, 0),
        "temperature": slider("air (°C)", -30, 50, 1, 25),
        "side": widgets.ToggleButtons(
            options=[("change A", "a"), ("change B", "b")], style={"button_width": "84px"}
        ),
        "units": widgets.Dropdown(
            options=[("SI", "si"), ("US", "us")],
            description="units",
            layout=widgets.Layout(width="150px"),
        ),
        "letters": widgets.Dropdown(
            options=[("desk", 1.0), ("large", 1.3), ("projector", 1.6)],
            description="letters",
            layout=widgets.Layout(width="190px"),
        ),
    }


def _buttons() -> dict[str, Any]:
    texts = {
        "pin": ("keep as B", "copy this combination to B and go on changing A"),
        "swap": ("exchange", "exchange A and B"),
        "drop": ("A alone", "take B away"),
        "undo": ("undo", "take the last change back"),
        "redo": ("redo", "do it again"),
    }
    return {
        name: widgets.Button(description=text, tooltip=hint, layout=widgets.Layout(width="90px"))
        for name, (text, hint) in texts.items()
    }


def _range(slider: Any, low: float, high: float) -> None:
    # One step at a time, or the widget would refuse a low end above its present high end.
    slider.max = max(slider.max, high)
    slider.min, slider.max = low, high


def _set(slider: Any, value: float) -> None:
    """Set a slider; a value beyond its ends widens it rather than being clamped."""
    slider.min, slider.max = min(slider.min, value), max(slider.max, value)
    slider.value = value


def _escaped(text: str) -> str:
    from html import escape

    return escape(text)
