"""The sentences of a draft: what was read, and the table around them."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

WORDS = Catalogue(
    {
        "read-as": ("assumption", "{source}: read as {article} {kind} sheet"),
        "column-read": ("assumption", "{column}: {role} in {unit}{why}{at}"),
        "more-rows": ("assumption", "... and {count:.0f} more rows"),
        "nothing-open": ("assumption", "nothing is open"),
    }
)
# Where a unit comes from, as a person calls it.
UNIT_FROM = {
    "heading": " (from the heading)",
    "cells": " (from the cells)",
    "you": " (as you said)",
    "inferred": " (PROPOSED)",
}
