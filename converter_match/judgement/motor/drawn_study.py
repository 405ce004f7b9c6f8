"""Shares of the draws of a motor study in which its criteria are met."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.answer.block import Block, Heading
from converter_match.judgement.motor import study_words as words


@dataclass(frozen=True, eq=False)
class MotorDraws:
    """Shares of the draws in which criteria are met.

    Parameters
    ----------
    count : int
        Draws that could be worked out.
    left_out : int
        Draws that could not.
    met : dict
        (candidate, criterion) -> share.
    joint : dict
        Candidate -> share of the draws in which all are met together.
    chosen : dict
        Candidate -> share in which it meets all with the least energy.
    """

    count: int
    left_out: int
    met: dict[tuple[str, str], float]
    joint: dict[str, float]
    chosen: dict[str, float]

    def block(self, names: tuple[str, ...]) -> Block:
        """Return a row a criterion, a column a candidate."""
        heads = tuple(Heading(name, name, "share", ".0f") for name in names)
        rows = [
            (key, title, *(self.met[name, key] for name in names))
            for key, title in words.TITLES.items()
        ]
        rows += [
            (key, title, *(values[name] for name in names))
            for key, title, values in (
                ("all", "all together", self.joint),
                ("chosen", "taken, with the least energy", self.chosen),
            )
        ]
        return Block(
            "draws",
            title=f"Met in so many of {self.count} draws within the tolerances",
            columns=(Heading("name", ""), Heading("title", "requirement"), *heads),
            rows=tuple(rows),
            rows_key="",
        )
