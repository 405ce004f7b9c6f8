"""Words read off a picture by a machine, each with its place and how sure the machine is.

The reading is done by the package `rapidocr-onnxruntime`, whose models are part of it: nothing is
fetched. It is an extra of its own, because it is large.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.library.intake.image_file import Image

_STRAIGHT = 0.15  # degrees that a picture may be turned before it is turned back
_WIDE = 2.0  # times its height: a word that tells which way its line runs
_SNIPPET_HEIGHT = 64  # pixels, of a cell read by itself


@dataclass(frozen=True)
class Word:
    """What was read in one place.

    Parameters
    ----------
    text : str
    box : (float, float, float, float)
        Left, top, right, bottom [pixel], in the picture as it was straightened.
    sure : float
        What the machine gives for it, 0 to 1.
    """

    text: str
    box: tuple[float, float, float, float]
    sure: float

    @property
    def middle(self) -> tuple[float, float]:
        """Column and row of the middle of the box."""
        left, top, right, bottom = self.box
        return 0.5 * (left + right), 0.5 * (top + bottom)

    @property
    def height(self) -> float:
        """Of the box [pixel]."""
        return self.box[3] - self.box[1]


class Reader:
    """Reads words off pictures.

    Parameters
    ----------
    source : str
        For messages.

    Raises
    ------
    InputError
        If the package is not installed.
    """

    def __init__(self, source: str) -> None:
        try:
            from rapidocr_onnxruntime import RapidOCR
        except ImportError:
            raise InputError(
                "reading a table off a picture needs the package rapidocr-onnxruntime",
                source=source,
                hint='python -m pip install "converter-match[ocr]" (Python 3.11 or 3.12), or type '
                "the table off",
            ) from None
        self._engine = RapidOCR(intra_op_num_threads=1, inter_op_num_threads=1)

    def words(self, image: Image) -> tuple[Image, tuple[Word, ...]]:
        """Return the picture, turned back where its lines run askew, and the words on it.

        Parameters
        ----------
        image : ndarray of uint8, shape (height, width, 3)
        """
        found = self._boxes(image)
        angle = _angle([corners for corners, _, _ in found])
        if abs(angle) > _STRAIGHT:
            image = _turned(image, angle)
            found = self._boxes(image)
        return image, tuple(
            Word(text, _upright(corners), sure) for corners, text, sure in found if text.strip()
        )

    def cell(self, snippet: Image) -> tuple[str, float]:
        """Return what is read in one cell by itself, and how sure it is.

        Parameters
        ----------
        snippet : ndarray of uint8, shape (height, width, 3)
            Brought to one height first, so that it is another picture than the whole.
        """
        from PIL import Image as Pictures

        height, width = snippet.shape[:2]
        size = (max(round(width * _SNIPPET_HEIGHT / height), 8), _SNIPPET_HEIGHT)
        picture = Pictures.fromarray(snippet).resize(size, Pictures.Resampling.BICUBIC)
        found, _ = self._engine(_bgr(np.asarray(picture)), use_det=False, use_cls=False)
        return (str(found[0][0]).strip(), float(found[0][1])) if found else ("", 0.0)

    def _boxes(self, image: Image) -> list[tuple[Any, str, float]]:
        found, _ = self._engine(_bgr(image), use_cls=False)
        return [(np.asarray(box), str(text), float(sure)) for box, text, sure in found or ()]


def _bgr(image: Image) -> Image:
    return np.ascontiguousarray(image[:, :, ::-1])


def _upright(corners: Any) -> tuple[float, float, float, float]:
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def _angle(boxes: list[Any]) -> float:
    """Return by how much the lines of a picture run askew [degrees], downwards above zero."""
    angles = []
    for corners in boxes:
        along, down = corners[1] - corners[0], corners[3] - corners[0]
        if np.hypot(*along) > _WIDE * np.hypot(*down):
            angles.append(float(np.degrees(np.arctan2(along[1], along[0]))))
    return float(np.median(angles)) if angles else 0.0


def _turned(image: Image, angle: float) -> Image:
    from PIL import Image as Pictures

    picture = Pictures.fromarray(image).rotate(
        angle, Pictures.Resampling.BICUBIC, expand=True, fillcolor=(255, 255, 255)
    )
    return np.asarray(picture, dtype=np.uint8)
