"""The box of the notebook that takes sheets: chosen, dropped or pasted, read, and said back."""

from __future__ import annotations

import base64
import binascii
import os
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets
import traitlets

from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.intake.draft import Draft
from converter_match.library.intake.grid import Grid, cell_text
from converter_match.library.intake.picture import intake_picture
from converter_match.library.intake.reading import intake, intake_scan, intake_text
from converter_match.library.intake.upload import ENDINGS, save_upload
from converter_match.present.figures.intake import draft_figure
from converter_match.present.lab.picking import ChartPicker
from converter_match.present.notebook.picture import picture
from converter_match.present.notebook.scan import scan_table

_PICTURES = (".png", ".jpg", ".jpeg", ".pdf")
_MOST_KEPT = 20
_MOST_ROWS = 60
_CURVES = (
    {"quantity": "torque ratio"},
    {"quantity": "input torque", "unit": "N.m", "at_speed": {"unit": "rpm", "value": 1500}},
)


class DropZone(anywidget.AnyWidget):
    """A place on the page to drop files on; `files` holds name and content of the last ones."""

    _esm = Path(__file__).parent / "dropping.js"
    words = traitlets.Unicode("or drop sheets here").tag(sync=True)
    files: Any = traitlets.List().tag(sync=True)


class BringIn(ipywidgets.VBox):  # type: ignore[misc]  # ships no types
    """A box to bring in sheets, and what was understood of the last one.

    Files are chosen by the button or dropped, several at once; a table can be pasted. A file of the
    same name as one brought in before replaces it, so that a corrected sheet can be brought in
    again. A picture leads to the chart picker.

    Parameters
    ----------
    folder : str or path-like
        Where files go, and nowhere else; must be there.
    **answers
        What is known beside the sheet; see `converter_match.library.intake.reading.intake`.

    Attributes
    ----------
    draft : Draft or None
        What was understood of the last sheet; `Draft.answered` and `Draft.accept` go on from there.
    drafts : dict
        File -> draft, of every sheet brought in.
    picker : ChartPicker or None
        Of the last picture.
    """

    def __init__(self, folder: FilePath = ".", **answers: Any) -> None:
        self.folder = os.fspath(folder)
        self.answers = answers
        self.drafts: dict[str, Draft] = {}
        self.picker: ChartPicker | None = None
        self._mine: set[str] = set()
        self._before: list[tuple[str, dict[str, Draft]]] = []
        self._last = ""
        self.button = ipywidgets.FileUpload(
            accept=",".join(ENDINGS),
            multiple=True,
            description="bring in a sheet",
            layout=ipywidgets.Layout(width="max-content"),
        )
        self.zone = DropZone()
        wide = ipywidgets.Layout(width="100%", height="6em")
        self.pasted = ipywidgets.Textarea(
            placeholder="or paste a table here, from a mail or a spreadsheet", layout=wide
        )
        self.read = ipywidgets.Button(description="read what is pasted")
        self.undo = ipywidgets.Button(description="undo", disabled=True)
        self.said = ipywidgets.HTML()
        self.below = ipywidgets.VBox([])
        self.button.observe(self._uploaded, names="value")
        self.zone.observe(self._dropped, names="files")
        self.read.on_click(lambda _: self.paste(self.pasted.value))
        self.undo.on_click(lambda _: self.take_back())
        row = ipywidgets.HBox([self.button, self.read, self.undo])
        super().__init__([row, self.zone, self.pasted, self.said, self.below])

    @property
    def draft(self) -> Draft | None:
        """What was understood of the last sheet; None before one was."""
        return self.drafts.get(self._last)

    def _uploaded(self, change: dict[str, Any]) -> None:
        for file in change["new"]:
            self.take(str(file["name"]), bytes(file["content"]))

    def _dropped(self, change: dict[str, Any]) -> None:
        for file in change["new"]:
            name, content = str(file.get("name", "")), str(file.get("content", ""))
            try:
                raw = base64.b64decode(content, validate=True)
            except (binascii.Error, ValueError):
                raw = b""
            if raw:
                self.take(name, raw)
            else:
                self._alert(InputError("is empty, or too large to be dropped", source=name))

    def take(self, name: str, content: bytes) -> None:
        """Put a file into the folder, read it, and show what was understood or why it was not."""
        try:
            path = save_upload(name, content, self.folder, overwrite=name in self._mine)
            self._mine.add(name)
            if name.casefold().endswith(_PICTURES):
                self._show_picker(path)
                return
            described = name.casefold().endswith(".toml")
            read = intake_picture if described else intake
            self._keep(name, read(path, **self.answers))
        except InputError as error:
            self._alert(error)

    def paste(self, text: str) -> None:
        """Read a pasted table, and show what was understood or why it was not."""
        try:
            self._keep("pasted", intake_text(text, "pasted sheet", **self.answers))
        except InputError as error:
            self._alert(error)

    def take_back(self) -> None:
        """Undo the last thing that was brought in: the draft before it is shown again."""
        if not self._before:
            return
        self._last, self.drafts = self._before.pop()
        self.undo.disabled = not self._before
        self._show()

    def _keep(self, name: str, draft: Draft) -> None:
        self._before = [*self._before[1 - _MOST_KEPT :], (self._last, dict(self.drafts))]
        self.undo.disabled = False
        self.drafts[name] = draft
        self._last = name
        self._show()

    def _show(self) -> None:
        self.below.children = ()
        self.said.value = "" if self.draft is None else draft_html(self.draft)

    def _read_off(self, path: Path) -> None:
        """Read a table off the picture instead of picking curves in it."""
        try:
            self._keep(path.name, intake_scan(path, **self.answers))
        except InputError as error:
            self._alert(error)

    def _show_picker(self, path: Path) -> None:
        self.picker = ChartPicker(path, _CURVES)
        table = ipywidgets.Button(
            description="it is a table: read it off", layout=ipywidgets.Layout(width="max-content")
        )
        table.on_click(lambda _: self._read_off(path))
        self.said.value = (
            f"<p><b>{escape(path.name)}</b> is a picture. Click two points on each axis with the "
            "numbers that stand there, then both ends of each curve; <code>box.picker.draft()"
            "</code> reads it. Other curves: <code>cm.pick_chart</code>.</p>"
        )
        self.below.children = (table, self.picker)

    def _alert(self, error: InputError) -> None:
        self.said.value = f"<p role='alert'><b>{escape(str(error))}</b></p>"


def draft_html(draft: Draft) -> str:
    """Return a draft as HTML: the sheet beside what was understood of it, and the figure."""
    understood = draft._repr_html_()
    if draft.scan is not None:
        given = scan_table(draft.scan, draft.answers)
    else:
        given = "" if draft.grid is None else _as_given(draft.grid)
    parts = [_beside(given, understood) if given else understood]
    try:
        words = f"What was understood of {draft.source}: {len(draft.open)} things open."
        parts.append(picture(draft_figure(draft), words)._repr_html_())
    except InputError as error:
        parts.append(f"<p>{escape(str(error))}</p>")
    return "".join(parts)


def _beside(one: str, other: str) -> str:
    column = "flex:1 1 24em;min-width:0;overflow-x:auto"
    return (
        "<div style='display:flex;flex-wrap:wrap;gap:1.5em'>"
        f"<div style='{column}'><h4>The sheet</h4>{one}</div>"
        f"<div style='{column}'><h4>What was understood</h4>{other}</div></div>"
    )


def _as_given(grid: Grid) -> str:
    """Return a sheet as it came, with the numbers of its rows."""
    rows = []
    for number, row in enumerate(grid.rows[:_MOST_ROWS], start=1):
        cells = "".join(f"<td>{escape(cell_text(cell))}</td>" for cell in row)
        rows.append(f"<tr><th scope='row'>{number}</th>{cells}</tr>")
    more = len(grid.rows) - _MOST_ROWS
    after = f"<p>... and {more} more rows</p>" if more > 0 else ""
    return f"<table>{''.join(rows)}</table>{after}"
