"""A picture becomes an array of colours: PNG, JPEG, or a page of a PDF; bounded."""

from __future__ import annotations

import io
import os
import warnings
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.errors import InputError
from converter_match.library.files import FilePath, read_bytes

SIZE_LIMIT = 30_000_000
MOST_PIXELS = 40_000_000
PDF_SCALE = 200.0 / 72.0
"""Pages are drawn at 200 dots an inch."""

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
            loaded = picture.convert("RGBA")
    except InputError:
        raise
    except Exception as damage:  # Pillow raises many kinds for many kinds of damage
        raise InputError(
            f"is a picture that cannot be read: {str(damage)[:120]}", source=source
        ) from None
    return _on_white(loaded)


def _on_white(picture: Any) -> Image:
    from PIL import Image as Pictures

    # In bytes throughout: as floats a picture of the largest size would take more than a gigabyte.
    white = Pictures.new("RGBA", picture.size, (255, 255, 255, 255))
    white.alpha_composite(picture)
    return np.asarray(white.convert("RGB"), dtype=np.uint8)


def _refuse_large(width: float, height: float, source: str) -> None:
    if width * height > MOST_PIXELS:
        raise InputError(
            "has too many pixels",
            source=source,
            found=f"{width:.0f} x {height:.0f}",
            expected=f"at most {MOST_PIXELS / 1e6:.0f} million",
            hint="cut out the chart",
        )


def _pdf_page(raw: bytes, source: str, page: int) -> Image:
    try:
        import pypdfium2
    except ImportError:
        raise InputError(
            "reading a page of a PDF needs the package pypdfium2",
            source=source,
            hint='python -m pip install "converter-match[intake]", or save the page as PNG',
        ) from None
    try:
        document = pypdfium2.PdfDocument(raw)
    except Exception as damage:
        raise InputError(
            f"is a PDF that cannot be read: {str(damage)[:120]}", source=source
        ) from None
    try:
        count = len(document)
        if not 1 <= page <= count:
            raise InputError(
                "there is no such page", source=source, field="page", found=page,
                expected=f"1 to {count}",
            )  # fmt: skip
        sheet = document[page - 1]
        width, height = sheet.get_size()
        _refuse_large(width * PDF_SCALE, height * PDF_SCALE, source)
        picture = sheet.render(scale=PDF_SCALE, fill_color=(255, 255, 255, 255)).to_pil()
        return np.asarray(picture.convert("RGB"), dtype=np.uint8)
    finally:
        document.close()
