"""The bench: controls wired to a state, the state to a picture. Nothing is computed here.

Callbacks show an `InputError` in words and let every other error reach the log and `last_error`,
so that a fault of ours is never silent.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from converter_match.errors import InputError
from converter_match.present.bench.controls import (
    LETTERS,
    buttons,
    conditions,
    controls,
    fill,
    laid_out,
    mark_last,
    offer,
)
from converter_match.present.bench.exports import Exports, Writing
from converter_match.present.bench.keeping import Keeper
from converter_match.present.bench.picture import MatchPicture
from converter_match.present.bench.shelf import Shelf, load_shelf
from converter_match.present.bench.shown import BenchMatch
from converter_match.present.bench.sliders import NAMES, LiveSlider
from converter_match.present.bench.state import BenchState, History, Setting
from converter_match.present.bench.view import BenchView, view
from converter_match.units import System, to_si

if TYPE_CHECKING:
    from converter_match.present.bench.still import Stills

# Changes of one slider that follow each other within this time are one step of undo [s].
_SAME_TRAVEL = 1.0
# On a screen lower than this [px], controls in large letters are folded.
_LOW_SCREEN = 900
# So many answers to presses on *save* are shown together.
_ANSWERS = 4


class MatchBench(widgets.VBox):  # type: ignore[misc]
    """The live match bench.

    Parameters
    ----------
    shelf : Shelf
        Components to choose from.
    state : BenchState, optional
        Where to begin; by default the first engine and converter on the shelf.
    keeper : Keeper, optional
        Writes and opens files; by default in the folder of the notebook.
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
        keeper: Keeper | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        movers = [id for _, id in shelf.movers()]
        if not movers or not shelf.converters:
            raise InputError(
                "the bench needs at least one engine or motor and one converter",
                source="component folder",
                found=f"{len(movers)} engines and motors, {len(shelf.converters)} converters",
            )
        self.shelf = shelf
        self.last_error: Exception | None = None
        self._clock = clock
        self._last_change = ("", -1e9)
        self._filling = False
        self._last_moved = "hydraulic"
        first = Setting(
            engine=next(iter((*shelf.engines, *shelf.motors))),
            converter=next(iter(shelf.converters)),
        )
        self._history = History(state or BenchState(a=first))
        self._messages: tuple[str, ...] = ()
        self._answers: tuple[str, ...] = ()
        self._exports = Exports(self._show_work)
        self.picture = MatchPicture()
        self.keeper = keeper or Keeper(".")
        self.controls = controls(shelf, self.state)
        self.controls["file"].options = self.keeper.names()
        self.buttons = buttons()
        self.view: BenchView = view(self.state, shelf)
        mark_last(self.controls, self._last_moved)
        rows, self._sliders = laid_out(self.controls, self.buttons, self.picture, shelf)
        super().__init__(children=rows)
        self.add_class("cm-app")
        self._wire()
        self._fill()
        self._draw()

    @property
    def state(self) -> BenchState:
        """What is chosen now."""
        return self._history.present

    @property
    def results(self) -> dict[str, BenchMatch]:
        """The results shown, by side."""
        return self.view.results

    @property
    def match(self) -> BenchMatch:
        """What A comes to.

        Raises
        ------
        InputError
            If A cannot be solved; says what is wrong with its setting.
        """
        return self.view.result("a")

    @property
    def system(self) -> System:
        """Units that are shown now."""
        return self.state.system

    def still(self) -> Stills:
        """Return what is shown now as still pictures, for paper."""
        from converter_match.present.bench.still import stills

        return stills(self.view, self.system)

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
        if "engine" in changes:
            self._fill()  # what a motor's controls may do is not what an engine's may
        self._draw()

    def undo(self) -> None:
        """Undo the last change."""
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
            self._messages = self._answers = ()
            action()
        except InputError as error:
            self.say(str(error))
        except Exception as error:
            self.last_error = error
            raise

    def _wire(self) -> None:
        c = self.controls
        for name in ("engine", "converter", "use_site", *NAMES):
            self._listen(name)
        c["units"].observe(self._units_changed, names="value")
        c["letters"].observe(self._letters_changed, names="value")
        c["side"].observe(self._side_changed, names="value")
        c["fold"].observe(self._folded, names="value")
        self.picture.observe(lambda _: self._make_room(), names="room")
        for name, action in (
            ("pin", lambda: self.go_to(self.state.pinned())),
            ("drop", lambda: self.go_to(self.state.without_b())),
            ("swap", lambda: self.go_to(self.state.swapped())),
            ("undo", self.undo),
            ("redo", self.redo),
            ("open", self._open),
        ):
            self.buttons[name].on_click(lambda _, action=action: self._guarded(action))
        self.buttons["save"].on_click(lambda _: self._save())

    def _listen(self, name: str) -> None:
        """Let a control change the active setting."""

        def changed(change: dict[str, Any]) -> None:
            control = change["owner"]
            if self._filling or (isinstance(control, LiveSlider) and not control.was_moved()):
                return
            if name in NAMES and name != self._last_moved:
                self._last_moved = name
                mark_last(self.controls, name)
            self._guarded(lambda: self.change(**self._meant(name, change["new"])))

        self.controls[name].observe(changed, names="value")

    def _meant(self, name: str, value: Any) -> dict[str, Any]:
        """Return what a control at a value means for the setting."""
        used = self.controls["use_site"].value
        meanings: dict[str, Callable[[], dict[str, Any]]] = {
            "engine": lambda: {"engine": value},
            "converter": lambda: {"converter": value},
            "voltage": lambda: {"voltage": float(value)},
            "hydraulic": lambda: {"hydraulic_torque": self._torque_in(value)},
            "accessories": lambda: {"accessory_share": value / 100.0},
            "diameter": lambda: {"diameter_share": value / 100.0},
            "use_site": lambda: self._altitude_in(used) | self._temperature_in(used),
            "altitude": lambda: self._altitude_in(used),
            "temperature": lambda: self._temperature_in(used),
        }
        return meanings[name]()

    def _torque_in(self, value: float) -> float:
        return to_si(float(value), "N.m" if self.state.system == "si" else "lbf.ft", "torque")

    def _altitude_in(self, used: bool) -> dict[str, Any]:
        unit, value = "ft" if self.state.system == "us" else "m", self.controls["altitude"].value
        return {"altitude": to_si(float(value), unit, "length") if used else None}

    def _temperature_in(self, used: bool) -> dict[str, Any]:
        unit = "degF" if self.state.system == "us" else "degC"
        value = self.controls["temperature"].value
        return {"air_temperature": to_si(float(value), unit, "temperature") if used else None}

    def _units_changed(self, change: dict[str, Any]) -> None:
        if not self._filling:
            self._guarded(lambda: self.go_to(replace(self.state, system=change["new"])))

    def _letters_changed(self, change: dict[str, Any]) -> None:
        if not self._filling:
            self._guarded(lambda: self.go_to(replace(self.state, font_scale=change["new"])))
            self._make_room()

    def _folded(self, change: dict[str, Any]) -> None:
        """Leave of the controls above the picture the buttons and the slider moved last."""
        (self.add_class if change["new"] else self.remove_class)("cm-folded")

    def _make_room(self) -> None:
        """Fold the controls where large letters would push the curves off a small screen."""
        low = 0 < self.picture.room < _LOW_SCREEN
        self.controls["fold"].value = low and self.state.font_scale > 1.0

    def _side_changed(self, change: dict[str, Any]) -> None:
        if self._filling:
            return
        if change["new"] == "b" and self.state.b is None:
            self._guarded(lambda: self.go_to(self.state.pinned()))
        else:
            self._guarded(lambda: self.go_to(replace(self.state, active=change["new"])))

    def _fill(self) -> None:
        """Set every control to what the state says, without reacting to it."""
        self._filling = True
        try:
            new = fill(self.controls, self.state, self.shelf)
        finally:
            self._filling = False
        for name in new:
            self._listen(name)
        if new:
            mark_last(self.controls, self._last_moved)
        row = tuple(conditions(self.controls))
        if row != tuple(self._sliders.children):
            self._sliders.children = row
        self._set_letters()

    def _set_letters(self) -> None:
        """Give the controls the size of letters that the picture has."""
        for scale, _, name in LETTERS:
            if name:
                (self.add_class if scale == self.state.font_scale else self.remove_class)(name)

    def _save(self) -> None:
        """Write what is shown now, after what waits already."""
        name, content = str(self.controls["file"].value), str(self.controls["content"].value)
        write = partial(self.keeper.save, name, content, self.view, self.state, self.shelf)

        def done(written: Writing) -> str:
            try:
                said = [f"saved: {', '.join(path.name for path in written())}"]
            except InputError as error:
                said = [str(error), *self._offered(name, content)]
            except Exception as error:
                self.last_error = error
                self.say(f"{name}: was not saved; {type(error).__name__}", *self._answers)
                raise
            self.controls["file"].options = self.keeper.names()
            # The answers to quick presses stand together: none takes the place of another.
            self._answers = (*said, *self._answers)[:_ANSWERS]
            self.say(*self._answers)
            return said[0]

        self._exports.put(f"{name or '?'} ({content})", write, done)

    def _show_work(self) -> None:
        """Show beside the button what is being written."""
        busy = ' class="cm-busy"' if self._exports.waiting else ""
        self.controls["work"].value = f"<span{busy}>{escape(self._exports.words())}</span>"

    def _offered(self, name: str, content: str) -> list[str]:
        """Put a free name in the box after a refusal, where that can help."""
        try:
            if not self.keeper.path(name, content).exists():
                return []
            free = self.keeper.free_name(name, content)
        except InputError:
            return []
        if self.controls["file"].value == name:  # and nothing else was typed meanwhile
            self.controls["file"].value = free
        return [f"Press save again to save it as {free!r}."]

    def _open(self) -> None:
        self._exports.finish()
        name = str(self.controls["file"].value)
        opened = self.keeper.open(name, self.shelf)
        self.shelf = opened.shelf
        self._filling = True
        try:
            offer(self.controls, self.shelf)
        finally:
            self._filling = False
        asked = opened.state.font_scale
        scale = min((scale for scale, *_ in LETTERS), key=lambda offered: abs(offered - asked))
        self.go_to(replace(opened.state, font_scale=scale))
        self.say(f"opened: {name}", *opened.left_out)


def bench(
    folder: str | Path | None = None,
    state: BenchState | None = None,
    *,
    save_in: str | Path = ".",
) -> MatchBench:
    """Return the bench with the shipped components and those in a folder of the user's.

    Parameters
    ----------
    folder : path, optional
        Searched for component files, also one level down. What cannot be used is listed with its
        message.
    state : BenchState, optional
        Where to begin.
    save_in : path
        Where studies, figures and data are written and opened; by default beside the notebook.

    Raises
    ------
    InputError
        If the folder does not exist or there is nothing to choose from.
    """
    return MatchBench(load_shelf(folder), state, keeper=Keeper(save_in))
