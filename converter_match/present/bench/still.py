"""What the bench shows as still pictures: one a setting, each with its own words."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.judgement.match.result import MatchResult
from converter_match.present.bench.scene import alternative
from converter_match.present.bench.state import ROLES
from converter_match.present.bench.view import BenchView
from converter_match.present.figures.overlay import overlay
from converter_match.present.notebook.picture import Picture, picture
from converter_match.units import System


@dataclass(frozen=True)
class Stills:
    """Still pictures one below the other, each named by its setting.

    Parameters
    ----------
    pictures : tuple of (str, Picture)
        Side and picture.
    """

    pictures: tuple[tuple[str, Picture], ...]

    def _repr_html_(self) -> str:
        if len(self.pictures) == 1:
            return self.pictures[0][1]._repr_html_()
        return "".join(
            f"<h4>{side.upper()}, {ROLES[side]}</h4>{shown._repr_html_()}"
            for side, shown in self.pictures
        )

    def __repr__(self) -> str:
        return "\n".join(repr(shown) for _, shown in self.pictures)


def stills(view: BenchView, system: System = "si") -> Stills:
    """Return the overlay of each setting of a view.

    Parameters
    ----------
    view : BenchView
        Of one combination or two.
    system : {"si", "us"}
        Units of pictures and words.

    Raises
    ------
    InputError
        If A cannot be solved; says what is wrong with its setting.
    """
    view.result("a")
    return Stills(
        tuple((side, still(result, system, side)) for side, result in view.results.items())
    )


def still(result: MatchResult, system: System = "si", side: str = "") -> Picture:
    """Return the overlay of a match with its words.

    Parameters
    ----------
    result : MatchResult
    system : {"si", "us"}
    side : {"a", "b", ""}
        What the words call it, if anything.
    """
    return picture(overlay(result, system=system), alternative({side: result}, system))
