"""Letters that the shipped typeface lacks: drawn in another font of the machine, or as a box.

The names in a component file may be written in any script. The typeface that comes with the drawing
library has Latin, Greek, Cyrillic, Arabic and more, but no Chinese, Japanese, Thai or Hindi. So
whatever measures or draws words is told, for each piece of text, which families have its letters;
a letter that no font has becomes a box, and a warning (`LettersNotDrawn`) names it. Without such
letters nothing is looked for, and nothing changes.
"""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from matplotlib import get_data_path
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontEntry, FontProperties, findfont, fontManager, weight_dict
from matplotlib.ft2font import FT2Font, LoadFlags
from matplotlib.textpath import TextToPath

from converter_match.errors import LettersNotDrawn

Style = Literal["normal", "italic", "oblique"]
FAMILY = "DejaVu Sans"  # comes with matplotlib, so it is there on every machine
BOX = "▯"
_EM = 100.0  # size at which letters are measured
# Fonts that claim every letter, to draw a box or nothing for it.
_NO_LETTERS = ("last resort", "lastresort", "blank", "fallback")


def drawable(text: str, *, bold: bool = False, style: Style = "normal") -> str:
    """Return a text with a box for each letter that no font of this machine has.

    Parameters
    ----------
    text : str
    bold : bool
    style : {"normal", "italic", "oblique"}

    Examples
    --------
    >>> drawable("Müller & Søn, Мастерская")
    'Müller & Søn, Мастерская'
    """
    return _boxed(text, _homes(text, "bold" if bold else "normal", style))


def families(text: str, *, bold: bool = False, style: Style = "normal") -> tuple[str, ...]:
    """Return the families that together have the letters of a text, the shipped one first.

    Parameters
    ----------
    text : str
    bold : bool
    style : {"normal", "italic", "oblique"}

    Examples
    --------
    >>> families("Müller")
    ('DejaVu Sans',)
    """
    return _chain(_homes(text, "bold" if bold else "normal", style))


@lru_cache(maxsize=4096)
def advance(sign: str, *, bold: bool = False) -> float:
    """Return the width of a letter as a share of the size of the font, as it will be drawn.

    Parameters
    ----------
    sign : str
        One letter.
    bold : bool
    """
    weight = "bold" if bold else "normal"
    shown = drawable(sign, bold=bold)
    if not shown:
        return 0.0
    font = _face(families(shown, bold=bold)[-1], weight, "normal")
    font.set_size(_EM, 72.0)
    glyph = font.load_char(ord(shown), flags=LoadFlags.NO_HINTING)
    return glyph.linearHoriAdvance / 65536.0 / _EM


def mind_letters(renderer: RendererBase) -> None:
    """Have a renderer measure and draw each text in families that have its letters.

    Parameters
    ----------
    renderer : matplotlib.backend_bases.RendererBase
        Of any format. Doing so twice does no harm.
    """
    if getattr(renderer, "minds_letters", False):
        return
    measure, draw = renderer.get_text_width_height_descent, renderer.draw_text

    def measured(s: str, prop: FontProperties, ismath: Any) -> Any:
        if ismath or _is_plain(s, prop):
            return measure(s, prop, ismath)
        with _quiet():
            return measure(_shown(s, prop), _lettered(s, prop), ismath)

    def drawn(gc: Any, x: float, y: float, s: str, prop: FontProperties, angle: float,
              ismath: Any = False, mtext: Any = None) -> None:  # fmt: skip
        if ismath or _is_plain(s, prop):
            draw(gc, x, y, s, prop, angle, ismath, mtext)
            return
        _told(s, prop)
        with _quiet():
            draw(gc, x, y, _shown(s, prop), _lettered(s, prop), angle, ismath, mtext)

    for name, new in {
        "get_text_width_height_descent": measured,
        "draw_text": drawn,
        "_text2path": _Outlines(),  # of words with a rim, which do not go through draw_text
        "minds_letters": True,
    }.items():
        setattr(renderer, name, new)


class LetteredCanvas(FigureCanvasAgg):
    """A canvas in memory whose words are measured and drawn with all their letters."""

    def get_renderer(self) -> RendererAgg:
        """Return what measures and draws on this canvas."""
        renderer: RendererAgg = super().get_renderer()  # type: ignore[no-untyped-call]
        mind_letters(renderer)
        return renderer


class LetteredFigure(Figure):
    """A figure whose words are drawn with all their letters, whatever the format."""

    def draw(self, renderer: RendererBase) -> None:
        """Draw, as every figure does."""
        mind_letters(renderer)
        super().draw(renderer)


class _Outlines(TextToPath):
    """Outlines of letters, those of other fonts included."""

    def get_text_path(self, prop: Any, s: str, ismath: Any = False, **more: Any) -> Any:
        if ismath or _is_plain(s, prop):
            return super().get_text_path(prop, s, ismath, **more)
        _told(s, prop)
        with _quiet():
            return super().get_text_path(_lettered(s, prop), _shown(s, prop), ismath, **more)


def _is_plain(text: str, prop: FontProperties) -> bool:
    """Whether a text can be left alone: all letters are there, or somebody chose the typeface."""
    chosen = prop.get_family() not in ([FAMILY], ["sans-serif"])
    if (text.isascii() and text.isprintable()) or chosen:
        return True
    return not _homes(text, *_look(prop))


def _look(prop: FontProperties) -> tuple[str, Style]:
    return "bold" if _heaviness(prop.get_weight()) >= 600 else "normal", prop.get_style()


def _heaviness(weight: str | int) -> int:
    return weight_dict.get(weight, 400) if isinstance(weight, str) else weight


def _told(text: str, prop: FontProperties) -> None:
    homes = _homes(text, *_look(prop))
    lost = "".join(s for s, home in homes.items() if home is None and _stand_in(s) == BOX)
    if lost:
        warnings.warn(LettersNotDrawn(lost), stacklevel=3)


def _shown(text: str, prop: FontProperties) -> str:
    return _boxed(text, _homes(text, *_look(prop)))


def _lettered(text: str, prop: FontProperties) -> FontProperties:
    changed = prop.copy()
    changed.set_family(list(_chain(_homes(text, *_look(prop)))))
    return changed


def _boxed(text: str, homes: Mapping[str, str | None]) -> str:
    return "".join(_stand_in(sign) if homes.get(sign, "") is None else sign for sign in text)


def _chain(homes: Mapping[str, str | None]) -> tuple[str, ...]:
    return (FAMILY, *dict.fromkeys(name for name in homes.values() if name is not None))


def _stand_in(sign: str) -> str:
    """Return what is drawn for a letter that no font has."""
    if sign.isspace():
        return " "
    # What only joins letters or turns their direction leaves no mark.
    return "" if 0x200B <= ord(sign) <= 0x200F or 0xFE00 <= ord(sign) <= 0xFE0F else BOX


# --- which font has which letter -----------------------------------------------------------------


def _homes(text: str, weight: str, style: Style) -> dict[str, str | None]:
    """Return the family of each letter that the shipped typeface lacks; None where there is none.

    A line break is no letter.
    """
    own = _face(FAMILY, weight, style)
    lacking = {s for s in text if s != "\n" and not own.get_char_index(ord(s))}
    found = _elsewhere(frozenset(lacking), weight, style) if lacking else {}
    return {sign: found[sign] for sign in dict.fromkeys(text) if sign in lacking}


@lru_cache(maxsize=1024)
def _elsewhere(lacking: frozenset[str], weight: str, style: Style) -> dict[str, str | None]:
    """Return which family of this machine has each of some letters.

    As few families as will do: the first that has a letter is asked for the others as well.
    """
    left = {sign for sign in lacking if not sign.isspace()}
    found: dict[str, str | None] = dict.fromkeys(lacking)
    for entry in _entries():
        if not left:
            break
        if not any(_has(_open(entry), sign) for sign in left):
            continue
        # What the drawing library takes for this family, which need not be this file.
        face = _face(entry.name, weight, style)
        here = {sign for sign in left if _has(face, sign)}
        found |= dict.fromkeys(here, entry.name)
        left -= here
    return found


@lru_cache(maxsize=1)
def _entries() -> tuple[FontEntry, ...]:
    """Return the fonts to look in, upright ones of common weight and without serifs first."""
    shipped = Path(get_data_path()).resolve()

    def order(entry: FontEntry) -> tuple[Any, ...]:
        sans = "sans" in entry.name.casefold() or "gothic" in entry.name.casefold()
        off = abs(_heaviness(entry.weight) - 400)
        return (entry.style != "normal", not sans, off, entry.name, entry.fname)

    fonts = [
        entry
        for entry in fontManager.ttflist
        if not any(word in entry.name.casefold() for word in _NO_LETTERS)
        # Those of formulas have their signs in places of their own.
        and (shipped not in Path(entry.fname).resolve().parents or "DejaVu" in entry.name)
    ]
    return tuple(sorted(fonts, key=order))


@lru_cache(maxsize=64)
def _face(family: str, weight: str, style: Style) -> FT2Font:
    with _quiet():
        path = findfont(FontProperties(family=family, weight=weight, style=style))
    return _at(path, getattr(path, "face_index", 0))


def _open(entry: FontEntry) -> FT2Font | None:
    try:
        return _at(entry.fname, getattr(entry, "index", 0))
    except (OSError, RuntimeError):  # gone since the list was made, or damaged
        return None


def _at(path: str, index: int) -> FT2Font:
    """Open a font of our own: others would set the size of a shared one."""
    which: dict[str, Any] = {"face_index": index} if index else {}
    return FT2Font(path, **which)


def _has(font: FT2Font | None, sign: str) -> bool:
    """Whether a font draws something for a letter; pictures in colour it cannot."""
    if font is None or not font.get_char_index(ord(sign)):
        return False
    try:
        font.set_size(_EM, 72.0)
        font.load_char(ord(sign), flags=LoadFlags.NO_HINTING)
        return len(font.get_path()[0]) > 0
    except RuntimeError:
        return False


@contextmanager
def _quiet() -> Iterator[None]:
    """Leave unsaid that a font of another script has no bold: the next best weight will do."""
    log = logging.getLogger("matplotlib.font_manager")
    log.addFilter(_is_not_of_weight)
    try:
        yield
    finally:
        log.removeFilter(_is_not_of_weight)


def _is_not_of_weight(record: logging.LogRecord) -> bool:
    return "font weight" not in record.msg
