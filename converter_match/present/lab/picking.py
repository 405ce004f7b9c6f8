"""Picking points of a chart by mouse or keys, in a notebook.

The widget shows the picture and keeps a list of marks; everything that is worked out of them is
done here, by the same description that a TOML file gives (`library.intake.picture_file`).
"""

from __future__ import annotations

import base64
import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.draft import Draft
from converter_match.library.intake.image_file import Image, read_image
from converter_match.library.intake.picture import draft_from_picture
from converter_match.library.intake.picture_file import picture_spec
from converter_match.library.intake.trace import trace
from converter_match.library.toml_text import Inline, toml_text

_HERE = Path(__file__).parent
_MOST_MARKS = 4000
_MOST_SHOWN = 400
# A browser counts whole pixels of the screen, on which a wide picture is shown smaller.
_PICK_ERROR = 1.5


class ChartPicker(anywidget.AnyWidget):
    """A chart to click on.

    Parameters
    ----------
    path : str or path-like
        PNG, JPEG, or PDF.
    curves : sequence of dict
        One a curve: ``quantity``, and where it has them ``unit``, ``scale``, ``at_speed``.
    x : dict
        ``quantity``, ``unit``, ``scale`` of the horizontal axis.
    kind : {"converter", "engine"}
    page : int
        Of a PDF.

    Attributes
    ----------
    marks : list of dict
        What was clicked: ``what`` (``x``, ``axis:N``, ``point:N``, ``trace:N``), ``pixel`` and, for
        an axis, ``value``.

    Raises
    ------
    InputError
        If the picture cannot be read.
    """

    _esm = _HERE / "picking.js"
    picture = traitlets.Unicode().tag(sync=True)
    size = traitlets.List(trait=traitlets.Int()).tag(sync=True)
    choices: Any = traitlets.List().tag(sync=True)
    marks: Any = traitlets.List().tag(sync=True)
    paths: Any = traitlets.List().tag(sync=True)

    def __init__(
        self,
        path: FilePath,
        curves: Sequence[dict[str, Any]],
        *,
        x: dict[str, Any] | None = None,
        kind: str = "converter",
        page: int = 1,
        **kwargs: Any,
    ) -> None:
        usual = {"quantity": "speed ratio"} if kind == "converter" else None
        self.x = dict(x or usual or {"quantity": "speed", "unit": "rpm"})
        self.curves = [dict(curve) for curve in curves]
        self.kind = kind
        self.page = page
        self.source = os.fspath(path)
        self.pixels: Image = read_image(path, page)
        height, width = self.pixels.shape[:2]
        self.observe(self._followed, names="marks")
        super().__init__(
            picture=_data_url(self.pixels), size=[width, height], choices=self._choices(), **kwargs
        )

    def _choices(self) -> list[list[str]]:
        found = [["x", f"{self.x['quantity']}: a point on its axis"]]
        for number, curve in enumerate(self.curves):
            name = curve.get("quantity", f"curve {number + 1}")
            found += [
                [f"axis:{number}", f"{name}: a point on its axis"],
                [f"point:{number}", f"{name}: a point of the curve"],
                [f"trace:{number}", f"{name}: follow from here, to here"],
            ]
        return found

    def _followed(self, _: Any = None) -> None:
        """Follow every curve that has two ends, for the page to draw over the picture."""
        found = []
        for number in range(len(self.curves)):
            what = f"trace:{number}"
            ends = [m["pixel"] for m in self.marks if isinstance(m, dict) and m.get("what") == what]
            try:
                if len(ends) >= 2:
                    path = trace(self.pixels, tuple(ends[0]), tuple(ends[-1])).pixels
                    found.append(path[:: max(len(path) // _MOST_SHOWN, 1)].round(1).tolist())
            except (InputError, TypeError, ValueError, KeyError):
                continue  # said when the marks are read
        self.paths = found

    def description(self) -> dict[str, Any]:
        """Return what was clicked as the description of a picture.

        Raises
        ------
        InputError
            If a mark is none that the widget makes.
        """
        marks = [self._checked(mark, number) for number, mark in enumerate(self.marks)]
        if len(marks) > _MOST_MARKS:
            raise InputError("too many marks", source=self.source, found=len(marks))
        curves = []
        for number, curve in enumerate(self.curves):
            table: dict[str, Any] = {**curve, "points": _points(marks, f"axis:{number}")}
            follow = [mark["pixel"] for mark in marks if mark["what"] == f"trace:{number}"]
            picked = [mark["pixel"] for mark in marks if mark["what"] == f"point:{number}"]
            if picked:
                table["picked"] = picked
            elif len(follow) >= 2:
                table["trace"] = Inline({"from": follow[0], "to": follow[-1]})
            curves.append(table)
        return {
            "image": os.path.basename(self.source),
            "page": self.page,
            "kind": self.kind,
            "pick_error": _PICK_ERROR,
            "x": {**self.x, "points": _points(marks, "x")},
            "curve": curves,
        }

    def toml(self) -> str:
        """Return the description as the text of a TOML file, to lie beside the picture."""
        return toml_text(self.description())

    def draft(self, **answers: Any) -> Draft:
        """Return what the marks say, as a draft.

        Parameters
        ----------
        **answers
            As in `converter_match.library.intake.reading.intake`.

        Raises
        ------
        InputError
            Naming what is still to be clicked.
        """
        spec = picture_spec(self.description(), self.source)
        known = Answers().plus(**answers)
        return draft_from_picture(spec, self.pixels, known).with_known_keys()

    def _checked(self, mark: Any, number: int) -> dict[str, Any]:
        known = {key for key, _ in self.choices}
        pixel = mark.get("pixel") if isinstance(mark, dict) else None
        width, height = self.size
        inside = (
            isinstance(pixel, list)
            and len(pixel) == 2
            and all(isinstance(each, int | float) for each in pixel)
            and -1 <= pixel[0] <= width
            and -1 <= pixel[1] <= height
        )
        if not inside or mark.get("what") not in known:
            raise InputError(
                "not a mark of this picture",
                source=self.source,
                field=f"marks[{number}]",
                found=mark,
            )
        checked: dict[str, Any] = mark
        return checked


def _points(marks: Sequence[dict[str, Any]], what: str) -> list[Inline]:
    return [
        Inline(pixel=mark["pixel"], value=mark.get("value"))
        for mark in marks
        if mark["what"] == what
    ]


def _data_url(pixels: Image) -> str:
    from PIL import Image as Pictures

    stream = io.BytesIO()
    Pictures.fromarray(pixels).save(stream, format="PNG")
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")
