"""What a notebook shows: a still picture with its text alternative, a list of notes.

The alternative is also the plain-text form of the output, so that a terminal, a screen reader and a
page exported without pictures all say something.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from html import escape
from io import BytesIO

from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.present.drawing.saving import render
from converter_match.units import System, note_text

_DPI = 88.0
_COLOURS = 128


@dataclass(frozen=True)
class Picture:
    """A still picture.

    Parameters
    ----------
    png : bytes
    alternative : str
        What the picture shows, for those who do not see it.
    """

    png: bytes
    alternative: str

    def _repr_html_(self) -> str:
        code = base64.b64encode(self.png).decode("ascii")
        return (
            f'<img alt="{escape(self.alternative)}" style="max-width:100%" '
            f'src="data:image/png;base64,{code}">'
        )

    def __repr__(self) -> str:
        return f"[picture: {self.alternative}]"


class Notes:
    """Assumptions, warnings and cautions as a list that wraps between words.

    Parameters
    ----------
    notes : iterable of Note
    system : {"si", "us"}
    """

    def __init__(self, notes: Iterable[Note], system: System = "si") -> None:
        self.lines = [(note.kind, note_text(note, system)) for note in dict.fromkeys(notes)]

    def _repr_html_(self) -> str:
        items = (f"<li><b>{kind}:</b> {escape(words)}</li>" for kind, words in self.lines)
        return f"<ul>{''.join(items)}</ul>" if self.lines else "<p>none</p>"

    def __repr__(self) -> str:
        return "\n".join(f"{kind}: {words}" for kind, words in self.lines) or "none"


def picture(figure: Figure, alternative: str, *, dpi: float = _DPI) -> Picture:
    """Show a figure as a still picture, with words for those who do not see it.

    Parameters
    ----------
    figure : Figure
    alternative : str
        What it shows, in one or two sentences.
    dpi : float
        Pixels an inch.

    Returns
    -------
    Picture

    Raises
    ------
    InputError
        If the alternative is empty.

    Examples
    --------
    >>> import converter_match as cm
    >>> drawn = cm.figures.characteristic(cm.read("single-stage-345mm-tight"))
    >>> cm.picture(drawn, "Torque ratio, efficiency and capacity over speed ratio.")
    [picture: Torque ratio, efficiency and capacity over speed ratio.]
    """
    words = " ".join(alternative.split())
    if not words:
        raise InputError("a picture needs its text alternative", field="alternative")
    return Picture(_in_few_colours(render(figure, "png", dpi=dpi)), words)


def refusal(attempt: Callable[[], object]) -> str:
    """Try something, and say in words why it is refused, or that it is not.

    Parameters
    ----------
    attempt : callable
        Without arguments; whatever it returns is dropped.

    Returns
    -------
    str

    Examples
    --------
    >>> import converter_match as cm
    >>> cm.refusal(lambda: cm.Site.at("twice as high"))[:38]
    'altitude: not a number with its unit; '
    """
    try:
        attempt()
    except InputError as error:
        return str(error)
    return "not refused"


def _in_few_colours(png: bytes) -> bytes:
    """Return a picture in few colours: lines and letters need no more, files a quarter."""
    from PIL import Image  # comes with matplotlib

    page = BytesIO()
    with Image.open(BytesIO(png)) as image:
        flat = image.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
    flat.save(page, format="PNG", optimize=True)
    return page.getvalue()
