"""What is asked about a number of a file."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue
from converter_match.notes import SECOND_DIFFERS

SPANS = Catalogue(
    {
        "number-unusual": (
            "warning",
            "{field} is {found}; usual is {usual}.{hint} Are unit and digits right?",
        ),
        "row-out-of-line": (
            "warning",
            "{field} is {found}, between {before} and {after}. Is a digit too many or too few?",
        ),
        "sizes-unusual": (
            "warning",
            "{field} does not go with the rest: {sizes} is {value}, usual is {low} to {high}. Are "
            "units and digits right ({others})?",
        ),
        SECOND_DIFFERS: (
            "warning",
            "{field} is {found}, and beside it stands {second}: the one is {found_in_second}, the "
            "other {second_in_found}.{hint}",
        ),
    }
)

RATING = Catalogue(
    {
        "rated-power-and-curve-differ": (
            "warning",
            "{field} is {stated:power .4g}, and the curve comes to {curve:power .4g} at rated "
            "speed ({share:share +.1f}): more than rounding explains. Is a unit, a digit or the "
            "rated speed wrong? The curve was used.",
        ),
        "peak-torque-and-curve-differ": (
            "warning",
            "{field} is {stated:torque .4g}, and the highest of the curve is {curve:torque .4g} "
            "({share:share +.1f}): more than rounding explains. Is a unit or a digit wrong? The "
            "curve was used.",
        ),
        "peak-torque-elsewhere": (
            "warning",
            "{field} is {stated:angular_speed .0f}; the curve has {there:torque .4g} there, and "
            "{curve:torque .4g} at {at:angular_speed .0f}. Is a row or a speed wrong? The curve "
            "was used.",
        ),
    }
)
"""What is asked where a rating line stands beside the curve that it should be of."""

SECOND_HINTS = {
    "interchanged": "Are the units interchanged? {first} and {second} go together.",
    "digits": "Is a digit too many or too few? {meant} would go with it.",
    "unit": "Is {unit} the right unit? {meant} would go with {beside}.",
    "mistyped": "Is a digit wrong? {meant} would go with {beside}.",
    "none": "One of the two is wrong.",
}
"""What may explain that two prints of one figure differ."""
