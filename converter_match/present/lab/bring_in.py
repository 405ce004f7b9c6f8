"""The upload box of the notebook: a sheet is put into a folder, read, and said back."""

from __future__ import annotations

import os
from html import escape
from typing import Any

import ipywidgets

from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.intake.draft import Draft
from converter_match.library.intake.reading import intake
from converter_match.library.intake.upload import ENDINGS, save_upload
from converter_match.present.figures.intake import draft_figure
from converter_match.present.notebook.picture import picture


class BringIn(ipywidgets.VBox):  # type: ignore[misc]  # ships no types
    """A button to bring in a sheet, and what was understood of it.

    Parameters
    ----------
    folder : str or path-like
        Where uploaded files go, and nowhere else; must be there.
    **answers
        What is known beside the sheet; see `converter_match.library.intake.reading.intake`.

    Attributes
    ----------
    draft : Draft or None
        What was understood of the last sheet; `Draft.answered` and `Draft.accept` go on from there.
    """

    def __init__(self, folder: FilePath = ".", **answers: Any) -> None:
        self.folder = os.fspath(folder)
        self.answers = answers
        self.draft: Draft | None = None
        self.button = ipywidgets.FileUpload(
            accept=",".join(ENDINGS),
            multiple=False,
            description="bring in a sheet",
            layout=ipywidgets.Layout(width="max-content"),
        )
        self.said = ipywidgets.HTML()
        self.button.observe(self._uploaded, names="value")
        super().__init__([self.button, self.said])

    def _uploaded(self, change: dict[str, Any]) -> None:
        for file in change["new"]:
            self.take(str(file["name"]), bytes(file["content"]))

    def take(self, name: str, content: bytes) -> None:
        """Put a file into the folder, read it, and show what was understood or why it was not."""
        try:
            path = save_upload(name, content, self.folder)
            self.draft = intake(path, **self.answers)
        except InputError as error:
            self.said.value = f"<p role='alert'><b>{escape(str(error))}</b></p>"
            return
        self.said.value = draft_html(self.draft)


def draft_html(draft: Draft) -> str:
    """Return a draft as HTML: what is to be said, and the figure where there is one."""
    parts = [draft._repr_html_()]
    try:
        words = f"What was understood of {draft.source}: {len(draft.open)} things open."
        parts.append(picture(draft_figure(draft), words)._repr_html_())
    except InputError as error:
        parts.append(f"<p>{escape(str(error))}</p>")
    return "".join(parts)
