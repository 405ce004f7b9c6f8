"""What the bench shows as still pictures: one a setting, each with its own words."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.figure import Figure

from converter_match.judgement.motor.result import MotorMatch
from converter_match.present.bench.scene import alternative
from converter_match.present.bench.shown import BenchMatch
from converter_match.present.bench.state import ROLES
from converter_match.present.bench.view import BenchView
from converter_match.present.figures.motor import motor_figure
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


def still(result: BenchMatch, system: System = "si", side: str = "") -> Picture:
    """Return the overlay of a match with its words.

    Parameters
    ----------
    result : MatchResult or MotorMatch
    system : {"si", "us"}
    side : {"a", "b", ""}
        What the words call it, if anything.
    """
    return picture(figure_of(result, system=system), alternative({side: result}, system))


def figure_of(result: BenchMatch, *, system: System = "si", font_scale: float = 1.0) -> Figure:
    """Return the overlay of a match, whatever drives it.

    Parameters
    ----------
    result : MatchResult or MotorMatch
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.
    """
    if isinstance(result, MotorMatch):
        return motor_figure(result, system=system, font_scale=font_scale)
    return overlay(result, system=system, font_scale=font_scale)
