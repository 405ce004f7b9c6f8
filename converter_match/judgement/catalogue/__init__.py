"""A catalogue of parts against a study: which combinations do, and which of them nothing beats."""

DRAWS = 1000
"""Draws of each combination that is kept, where no other number is asked for."""
