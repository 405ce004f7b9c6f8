"""The frame of a page that a reader moves: one file with its style, its script and its numbers."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from converter_match.present.pages.page_template import template
from converter_match.present.pages.words import FRAME

_HERE = Path(__file__).parent
# Seven digits lie far below what the pages are off by, and above what processors differ in.
_DIGITS = 7
_FIRST = {"limit": 0, "warning": 1}
_NO_TABLE: dict[str, Any] = {"title": "", "head": [], "rows": []}


def framed(
    heading: str,
    pair: str,
    drawing: tuple[str, str],
    data: dict[str, Any],
    *,
    notes: Sequence[tuple[str, str]],
    footer: Sequence[str],
    table: dict[str, Any] = _NO_TABLE,
) -> str:
    """Return a page: HTML that needs no network and no Python where it is read.

    Parameters
    ----------
    heading, pair : str
    drawing : tuple of str
        Name of the function that draws, and the script that holds it.
    data : dict
        Plain data for that function.
    notes : sequence of (kind, text)
        What limits and warns comes first.
    footer : sequence of str
    table : dict
        ``title``, ``head`` and ``rows`` of a table that stands without a script as well.
    """
    return template("page.html.j2", "pages").render(
        title=f"{heading}: {pair}",
        heading=heading,
        pair=pair,
        noscript=FRAME["noscript"],
        css=_safe(style()),
        function=drawing[0],
        script=_safe(drawing[1]),
        numbers=_safe(as_json(data)),
        table=table,
        notes=sorted(dict.fromkeys(notes), key=lambda item: _FIRST.get(item[0], 2)),
        footer=footer,
    )


def short(value: float) -> float | None:
    """Return a number as a page holds it: None where there is none.

    Examples
    --------
    >>> short(1.23456789), short(float("nan"))
    (1.234568, None)
    """
    return float(f"{value:.{_DIGITS}g}") + 0.0 if math.isfinite(value) else None


def off_text(share: float) -> str:
    """Return an error as a share, rounded up, in words.

    Examples
    --------
    >>> off_text(0.00041), off_text(0.0)
    ('0.05 %', '0.01 %')
    """
    return f"{max(math.ceil(share * 1e4 - 1e-9), 1) / 100:.2f} %"


def as_json(data: Any) -> str:
    """Return plain data as JSON that may stand inside a page: no character ends the script."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _safe(text: str) -> Any:
    """Return text that a template takes as it is: our own script, style, and JSON."""
    from markupsafe import Markup

    return Markup(text)


@cache
def script(name: str = "slider") -> str:
    """Return a script of this room, which draws."""
    return (_HERE / f"{name}.js").read_text(encoding="utf-8")


@cache
def style(name: str = "slider") -> str:
    """Return the style of this room."""
    return (_HERE / f"{name}.css").read_text(encoding="utf-8")
