"""What is asked about a number of a file."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

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
    }
)
