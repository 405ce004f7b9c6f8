"""What an audit of claims found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from converter_match.judgement.verdict.measure import amount
from converter_match.study.study import Claim
from converter_match.units import System, show

_MOST_SHOWN = 4


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """An alternative, or two together, under which our figure is the claim.

    Parameters
    ----------
    alternatives : tuple of str
        Their stable names, one or two.
    words : str
    value : float
        The figure under it, SI.
    chance : float
        Share of arbitrary claims that some alternative as simple would have come as close to.
    convincing : bool
        Whether that share is small enough to tell a story.
    """

    alternatives: tuple[str, ...]
    words: str
    value: float
    chance: float
    convincing: bool


@dataclass(frozen=True, kw_only=True)
class AuditedClaim:
    """A claim against our figure. SI units.

    Parameters
    ----------
    claim : Claim
    verdict : {"agrees", "disagrees", "cannot be checked"}
    tolerance : float
        Share of our figure.
    tolerance_assumed : bool
        Whether the claim gave none.
    ours : float or None
    missing : str
        The datum without which it cannot be checked.
    explanations : tuple of Explanation
        Single alternatives first, then pairs; in each the closest first.
    tried : int
        Alternatives and pairs that change this figure at all.
    """

    claim: Claim
    verdict: str
    tolerance: float
    tolerance_assumed: bool
    ours: float | None = None
    missing: str = ""
    explanations: tuple[Explanation, ...] = ()
    tried: int = 0

    @property
    def story(self) -> Explanation | None:
        """The simplest explanation that is convincing; None where none is."""
        return next((item for item in self.explanations if item.convincing), None)

    @property
    def difference(self) -> float | None:
        """Claim less our figure, over our figure."""
        return None if not self.ours else self.claim.value / self.ours - 1.0

    def to_dict(self) -> dict[str, Any]:
        """Return plain data; the claim's own quantity in trade units, SI as well."""
        dimension = self.claim.dimension
        number, unit = show(self.claim.value, dimension, "si")
        ours = None if self.ours is None else show(self.ours, dimension, "si")[0]
        return {
            "quantity": self.claim.quantity,
            "combination": self.claim.combination,
            "source": self.claim.source,
            "given": self.claim.given,
            "claimed": number,
            "ours": ours,
            "unit": unit or "1",
            "claimed_si": self.claim.value,
            "ours_si": self.ours,
            "difference_percent": None if self.difference is None else 100 * self.difference,
            "tolerance_percent": 100 * self.tolerance,
            "tolerance_assumed": self.tolerance_assumed,
            "verdict": self.verdict,
            "missing": self.missing or None,
            "alternatives_tried": self.tried,
            "explained_by": list(self.story.alternatives) if self.story else None,
            "explanations": [
                {
                    "alternatives": list(item.alternatives),
                    "words": item.words,
                    "value": show(item.value, dimension, "si")[0],
                    "chance": item.chance,
                    "convincing": item.convincing,
                }
                for item in self.explanations
            ],
        }

    def claimed(self, system: System = "si") -> str:
        """Return the claim as it was worded, with the reader's unit beside another one."""
        claim = self.claim
        figure = claimed_amount(claim.value, claim.dimension, system)
        unit = figure.partition(" ")[2]
        return claim.given if unit in claim.given else f"{claim.given} ({figure})"

    def words(self, system: System = "si") -> str:
        """Return the verdict in a few lines."""
        claim = self.claim
        name = claim.quantity.replace("-", " ")
        where = "".join(
            [
                f", gear {claim.gear}" if claim.gear else "",
                f", {100 * claim.grade:g} % grade" if claim.grade is not None else "",
                f", {amount(claim.speed, 'velocity', system)}" if claim.speed else "",
            ]
        )
        said = f" by {claim.source}" if claim.source else ""
        head = f"{name}{where}: claimed {self.claimed(system)}{said}"
        if self.verdict == "cannot be checked":
            return f"{head}; cannot be checked, missing: {self.missing}"
        assert self.ours is not None
        assert self.difference is not None
        assumed = " (assumed)" if self.tolerance_assumed else ""
        text = (
            f"{head}; ours {claimed_amount(self.ours, claim.dimension, system)}: {self.verdict} "
            f"({100 * self.difference:+.1f} %, tolerance {100 * self.tolerance:g} %{assumed})"
        )
        if self.verdict == "agrees":
            return text
        lines = [text]
        for item in self.explanations[:_MOST_SHOWN]:
            mark = "reproduced by" if item.convincing else "inside the tolerance, may be chance:"
            lines.append(
                f"    {mark} {item.words} "
                f"({claimed_amount(item.value, claim.dimension, system)}; so close by chance: "
                f"{100 * item.chance:.0f} % of claims)"
            )
        left = len(self.explanations) - _MOST_SHOWN
        if left > 0:
            lines.append(f"    and {left} more inside the tolerance")
        if self.story is None:
            lines.append(
                f"    none of {self.tried} alternatives tried explains it: ask what it rests on"
            )
        else:
            lines.append(f"    {self.tried} alternatives were tried; ask whether that is so")
        return "\n".join(lines)


def claimed_amount(value: float, dimension: str, system: System) -> str:
    """Return a claimed quantity in trade units; a ratio as a plain number."""
    if dimension in ("k_factor", "ratio"):
        number, unit = show(value, dimension, system)
        return f"{number:.4g} {unit}".rstrip()
    return amount(value, dimension, system)


@dataclass(frozen=True, kw_only=True)
class AuditResult:
    """Every claim with its verdict.

    Parameters
    ----------
    claims : tuple of AuditedClaim
    """

    claims: tuple[AuditedClaim, ...]

    @property
    def fails(self) -> bool:
        """Whether any claim disagrees."""
        return any(item.verdict == "disagrees" for item in self.claims)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry."""
        return {"claims": [item.to_dict() for item in self.claims], "disagrees": self.fails}

    def text(self, system: System = "si") -> str:
        """Return every verdict, readable in a log."""
        counts = {
            word: sum(item.verdict == word for item in self.claims)
            for word in ("agrees", "disagrees", "cannot be checked")
        }
        said = {"agrees": "agree", "disagrees": "disagree"}
        head = ", ".join(
            f"{count} {word if count == 1 else said.get(word, word)}"
            for word, count in counts.items()
            if count
        )
        lines = [f"{len(self.claims)} claim{'s'[: len(self.claims) != 1]}: {head}"]
        lines += [f"- {item.words(system)}" for item in self.claims]
        return "\n".join(lines)

    def __repr__(self) -> str:
        return self.text()
