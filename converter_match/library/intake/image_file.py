"""A picture becomes an array of colours: PNG, JPEG, or a page of a PDF; bounded."""

from __future__ import annotations

import importlib.util
import io
import json
import os
import subprocess
import sys
import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.errors import InputError
from converter_match.library.files import FilePath, read_bytes

SIZE_LIMIT = 30_000_000
MOST_PIXELS = 40_000_000
PDF_SCALE = 200.0 / 72.0
"""Pages are drawn at 200 dots an inch."""

_MEMORY = 500_000_000
_SECONDS = 60  # of the processor
_WAIT = 5  # times as long by the clock, on a busy machine
_CHILD = Path(__file__).with_name("pdf_child.py")
_STRIP = 512  # rows that are put on white at a time

Image = NDArray[np.uint8]


def read_image(path: FilePath, page: int = 1) -> Image:
    """Return a picture as an array.

    Parameters
    ----------
    path : str or path-like
        PNG, JPEG or PDF.
    page : int
        Of a PDF, from 1.

    Returns
    -------
    ndarray of uint8, shape (height, width, 3)
        Red, green, blue; what is transparent stands on white.

    Raises
    ------
    InputError
        If the file is none of these, is damaged or too large, has no such page, or the package that
        reads it is not installed.
    """
    source = os.fspath(path)
    return image_from_bytes(read_bytes(path, SIZE_LIMIT, "a picture"), source, page)


def image_from_bytes(raw: bytes, source: str, page: int = 1) -> Image:
    """Return a picture as an array; see `read_image`."""
    if raw.startswith(b"%PDF"):
        return _pdf_page(raw, source, page)
    if not raw.startswith((b"\x89PNG", b"\xff\xd8\xff")):
        raise InputError("is not a picture", source=source, expected="PNG, JPEG or PDF")
    from PIL import Image as Pictures

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            picture = Pictures.open(io.BytesIO(raw), formats=("PNG", "JPEG"))
            width, height = picture.size
            _refuse_large(width, height, source)
            picture.load()
            return _on_white(picture)
    except InputError:
        raise
    except (Pictures.DecompressionBombError, Pictures.DecompressionBombWarning):
        raise _too_large("far more", source) from None
    except Exception as damage:  # Pillow raises many kinds for many kinds of damage
        raise InputError(
            f"is a picture that cannot be read: {str(damage)[:120]}", source=source
        ) from None


def _on_white(picture: Any) -> Image:
    from PIL import Image as Pictures

    # In strips and in bytes: whole, and as floats, a picture of the largest size would take more
    # than a gigabyte on the way.
    width, height = picture.size
    done = np.empty((height, width, 3), dtype=np.uint8)
    for top in range(0, height, _STRIP):
        bottom = min(top + _STRIP, height)
        strip = picture.crop((0, top, width, bottom)).convert("RGBA")
        white = Pictures.new("RGBA", strip.size, (255, 255, 255, 255))
        white.alpha_composite(strip)
        done[top:bottom] = np.asarray(white.convert("RGB"), dtype=np.uint8)
    return done


def _refuse_large(width: float, height: float, source: str) -> None:
    if width * height > MOST_PIXELS:
        raise _too_large(f"{width:.0f} x {height:.0f}", source)


def _too_large(found: str, source: str) -> InputError:
    return InputError(
        "has too many pixels",
        source=source,
        found=found,
        expected=f"at most {MOST_PIXELS / 1e6:.0f} million",
        hint="cut out the chart",
    )


def _pdf_page(raw: bytes, source: str, page: int) -> Image:
    """Draw a page in a process of its own: what a PDF asks for shows only while it is drawn."""
    if importlib.util.find_spec("pypdfium2") is None:
        raise InputError(
            "reading a page of a PDF needs the package pypdfium2",
            source=source,
            hint='python -m pip install "converter-match[intake]", or save the page as PNG',
        )
    numbers = [str(each) for each in (page, PDF_SCALE, MOST_PIXELS, _MEMORY, _SECONDS)]
    try:
        done = subprocess.run(
            [sys.executable, "-I", os.fspath(_CHILD), *numbers],
            input=raw, capture_output=True, timeout=_WAIT * _SECONDS, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise _too_much(source, f"not drawn in {_WAIT * _SECONDS} s") from None
    line, _, pixels = done.stdout.partition(b"\n")
    try:
        told = json.loads(line)
    except ValueError:  # it was ended before it could say anything
        raise _too_much(source, "more memory than a picture of a page takes") from None
    if told.get("refused") == "damaged":
        raise InputError(f"is a PDF that cannot be read: {told['what']}", source=source)
    if told.get("refused") == "page":
        raise InputError(
            "there is no such page", source=source, field="page", found=page,
            expected=f"1 to {told['count']}",
        )  # fmt: skip
    if told.get("refused") == "size":
        _refuse_large(told["width"], told["height"], source)
    if "refused" in told or len(pixels) != told["stride"] * told["height"]:
        raise _too_much(source, "more memory than a picture of a page takes")
    rows = np.frombuffer(pixels, dtype=np.uint8).reshape(told["height"], told["stride"])
    return rows[:, : 3 * told["width"]].reshape(told["height"], told["width"], 3)


def _too_much(source: str, found: str) -> InputError:
    return InputError(
        "is a PDF that asks for too much",
        source=source,
        found=found,
        expected=f"at most {_MEMORY / 1e6:.0f} MB and {_SECONDS} s to draw the page",
        hint="save the page as PNG",
    )
