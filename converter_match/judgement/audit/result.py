"""What an audit of claims comes to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.answer.noted import Answer
from converter_match.judgement.audit import words
from converter_match.notes import Note
from converter_match.study.study import Claim
from converter_match.units import amount, label

ClaimVerdict = Literal["agrees", "not distinguishable", "disagrees", "cannot be checked"]

_MOST_SHOWN = 4
# What is at least as likely chance as not is counted, not listed.
_AS_LIKELY_AS_NOT = 0.5
# How finely a claimed quantity is said, by its dimension; other amounts have their own digits.
_FORMS = {"ratio": ".4g", "k_factor": ".4g", "power": ".0f"}


def claimed_value(value: float, dimension: str) -> Quantity:
    """Return a value of a claim's dimension [SI] as it is shown."""
    kind = None if dimension == "ratio" else dimension
    return Quantity(value, kind, _FORMS.get(dimension, ""))


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """An alternative, or two together, under which our figure is the claim.

    Parameters
    ----------
    alternatives : tuple of str
        Their stable names, one or two.
    words : Note
        What was assumed otherwise.
    value : float
        The figure under it, SI.
    chance : float
        Share of arbitrary claims as far from our figure for which anything at all, single or pair,
        would have been as good a story.
    convincing : bool
        Whether that share is small enough to name it as the reason.
    """

    alternatives: tuple[str, ...]
    words: Note
    value: float
    chance: float
    convincing: bool


@dataclass(frozen=True, kw_only=True)
class AuditedClaim:
    """A claim against our figure. SI units.

    Parameters
    ----------
    claim : Claim
    verdict : {"agrees", "not distinguishable", "disagrees", "cannot be checked"}
    tolerance : float
        Share of our figure.
    tolerance_assumed : bool
        Whether the claim gave none.
    ours : float or None
    missing : Note or None
        The datum without which it cannot be checked.
    explanations : tuple of Explanation
        Single alternatives first, then pairs; in each the closest first.
    tried : int
        Alternatives and pairs that change this figure at all.
    band : tuple of two float or None
        Between which 95 % of the draws of our figure lie, SI; None where nothing was drawn.
    reading : str
        How the quantity was meant, where it can be meant in several ways.
    meant : tuple of (str, float)
        Our figure in each of these ways, SI.
    without_ground : bool
        Whether no surface was given, so that the ground takes any effort.
    """

    claim: Claim
    verdict: ClaimVerdict
    tolerance: float
    tolerance_assumed: bool
    ours: float | None = None
    missing: Note | None = None
    explanations: tuple[Explanation, ...] = ()
    tried: int = 0
    band: tuple[float, float] | None = None
    reading: str = ""
    meant: tuple[tuple[str, float], ...] = ()
    without_ground: bool = False

    @property
    def story(self) -> Explanation | None:
        """The simplest explanation that is convincing; None where none is."""
        return next((item for item in self.explanations if item.convincing), None)

    @property
    def difference(self) -> float | None:
        """Claim less our figure, over our figure."""
        return None if not self.ours else self.claim.value / self.ours - 1.0

    @property
    def about(self) -> Note:
        """What the claim is about: quantity, gear, grade and speed."""
        claim = self.claim
        places = ["{quantity}"]
        values: dict[str, float | str] = {"quantity": claim.quantity.replace("-", " ")}
        if claim.gear:
            places.append("gear {gear}")
            values["gear"] = claim.gear
        if claim.grade is not None:
            places.append("{grade:grade g} grade")
            values["grade"] = claim.grade
        if claim.speed:
            places.append("{speed:velocity}")
            values["speed"] = claim.speed
        return Note(claim.quantity, ", ".join(places), values=tuple(values.items()))

    @property
    def remarks(self) -> tuple[Note, ...]:
        """What to say of it where it does not agree: explanations, and what to ask."""
        say = words.SENTENCES.note
        if self.verdict == "cannot be checked":
            return () if self.missing is None else (say("missing", what=self.missing),)
        dimension = self.claim.dimension
        notes = [
            say(
                f"meant-{'so' if name == self.reading else 'otherwise'}",
                what=words.READINGS[name],
                value=claimed_value(value, dimension),
            )
            for name, value in self.meant
        ]
        if self.band is not None and self.verdict != "agrees":
            low, high = (claimed_value(value, dimension) for value in self.band)
            notes.append(say(f"band-{self.verdict.replace(' ', '-')}", low=low, high=high))
        if self.verdict != "disagrees":
            return tuple(notes)
        shown = [item for item in self.explanations if item.chance < _AS_LIKELY_AS_NOT]
        shown = shown[:_MOST_SHOWN]
        notes += [
            say(
                "reproduced" if item.convincing else "not-significant",
                what=item.words,
                value=claimed_value(item.value, dimension),
                chance=item.chance,
            )
            for item in shown
        ]
        left = len(self.explanations) - len(shown)
        if left > 0:
            notes.append(say("more", count=left))
        notes.append(say("explained" if self.story else "not-explained", tried=self.tried))
        return tuple(notes)

    def sentence(self, whom: str) -> Note | None:
        """Return what a report says of it in one sentence; None where it agrees.

        Parameters
        ----------
        whom : str
            What the combination is called there.
        """
        if self.verdict == "agrees":
            return None
        claim, say = self.claim, words.CLAIMED.note
        head = say(
            "head",
            claim=self.about,
            claimed=claimed_value(claim.value, claim.dimension),
            source=f" (by {claim.source})" if claim.source else "",
        )
        if self.ours is None or self.difference is None or self.missing is not None:
            return say(self.verdict, whom=whom, head=head, what=self.missing or "")
        if self.band is not None and self.verdict == "not distinguishable":
            low, high = (claimed_value(value, claim.dimension) for value in self.band)
            return say(
                self.verdict,
                whom=whom,
                head=head,
                ours=claimed_value(self.ours, claim.dimension),
                low=low,
                high=high,
            )
        return say(
            "explained" if self.story else "not-explained",
            whom=whom,
            head=head,
            ours=claimed_value(self.ours, claim.dimension),
            difference=self.difference,
            tried=self.tried,
            what=self.story.words if self.story else "",
            chance=self.story.chance if self.story else 1.0,
        )


_EXPLANATION = (
    Heading("alternatives", ""),
    Heading("words", ""),
    Heading("value", ""),
    Heading("chance", ""),
    Heading("convincing", ""),
)
_CLAIM = (
    Heading("quantity", ""),
    Heading("combination", ""),
    Heading("source", ""),
    Heading("given", ""),
    Heading("claimed", ""),
    Heading("ours", ""),
    Heading("unit", ""),
    Heading("claimed_si", ""),
    Heading("ours_si", ""),
    Heading("difference", "", "share"),
    Heading("tolerance", "", "share"),
    Heading("tolerance_assumed", ""),
    Heading("verdict", ""),
    Heading("missing", ""),
    Heading("ours_low", ""),
    Heading("ours_high", ""),
    Heading("reading", ""),
    Heading("alternatives_tried", ""),
    Heading("explained_by", ""),
    Heading("explanations", ""),
)
_READ = (
    Heading("claim", "claim"),
    Heading("source", "by"),
    Heading("given", "as stated"),
    Heading("claimed", "claimed"),
    Heading("ours", "calculated"),
    Heading("difference", "difference", "share", "+.1f"),
    Heading("tolerance", "tolerance", "share", "g"),
    Heading("verdict", "verdict", choices=words.VERDICTS),
)


@dataclass(frozen=True, kw_only=True, repr=False)
class AuditResult(Answer):
    """Every claim with its verdict.

    Parameters
    ----------
    claims : tuple of AuditedClaim
    doubt_given : bool
        Whether there are tolerances from which our own doubt follows.
    """

    claims: tuple[AuditedClaim, ...]
    doubt_given: bool = False

    @property
    def notes(self) -> tuple[Note, ...]:  # type: ignore[override]
        """What was assumed."""
        say = words.SENTENCES.note
        assumed = [item.tolerance for item in self.claims if item.tolerance_assumed]
        notes = [
            say("claim-tolerance-assumed", tolerance=tolerance)
            for tolerance in dict.fromkeys(assumed)
        ]
        checked = [item for item in self.claims if item.verdict != "cannot be checked"]
        if checked and not self.doubt_given:
            notes.append(say("own-doubt-not-given"))
        drawn = [item for item in checked if self.doubt_given and item.band is None]
        for name in dict.fromkeys(item.claim.quantity.replace("-", " ") for item in drawn):
            notes.append(say("own-doubt-not-drawn", quantity=name))
        if any(item.without_ground for item in checked):
            notes.append(say("no-ground"))
        return tuple(notes)

    @property
    def fails(self) -> bool:
        """Whether any claim disagrees."""
        return any(item.verdict == "disagrees" for item in self.claims)

    def blocks(self) -> Sequence[Block]:
        """Return the claims, and what may explain those that disagree."""
        whole = Block(
            "claims",
            columns=_CLAIM,
            rows=tuple(_plain_row(item) for item in self.claims),
            rows_key="",
            in_text=False,
        )
        disagrees = Block("", facts=((Heading("disagrees", ""), self.fails),), in_text=False)
        return (whole, disagrees, *self.read())

    def read(self, names: Mapping[str, str] | None = None) -> Sequence[Block]:
        """Return the claims as a person reads them.

        Parameters
        ----------
        names : mapping of str to str, optional
            Combination id -> what stands before its claims.
        """
        table = Block(
            "",
            title=self._title(),
            columns=_READ,
            rows=tuple(_read_row(item, names or {}) for item in self.claims),
            in_plain=False,
        )
        remarks = (
            Block(
                "",
                title=f"Claim {number}: {item.claim.quantity.replace('-', ' ')}",
                items=item.remarks,
                in_plain=False,
            )
            for number, item in enumerate(self.claims, 1)
            if item.remarks
        )
        return (table, *remarks)

    def _title(self) -> str:
        counts = {one: sum(item.verdict == one for item in self.claims) for one in words.VERDICTS}
        many = words.VERDICTS_OF_MANY
        said = (
            f"{count} {words.VERDICTS[one] if count == 1 else many[one]}"
            for one, count in counts.items()
            if count
        )
        count = len(self.claims)
        return f"{count} {'claim' if count == 1 else 'claims'}: {', '.join(said)}"


def _plain_row(item: AuditedClaim) -> tuple[Any, ...]:
    claim = item.claim

    def trade(value: float | None) -> Quantity | None:
        return None if value is None else claimed_value(value, claim.dimension)

    explanations = Block(
        "",
        columns=_EXPLANATION,
        rows=tuple(
            (one.alternatives, one.words, trade(one.value), one.chance, one.convincing)
            for one in item.explanations
        ),
    )
    kind = claimed_value(claim.value, claim.dimension).amount
    return (
        claim.quantity,
        claim.combination,
        claim.source,
        claim.given,
        trade(claim.value),
        trade(item.ours),
        label(amount(kind).plain) if kind else "1",
        claim.value,
        item.ours,
        item.difference,
        item.tolerance,
        item.tolerance_assumed,
        item.verdict,
        item.missing,
        trade(None if item.band is None else item.band[0]),
        trade(None if item.band is None else item.band[1]),
        item.reading or None,
        item.tried,
        item.story.alternatives if item.story else None,
        list(explanations.records()),
    )


def _read_row(item: AuditedClaim, names: Mapping[str, str]) -> tuple[Any, ...]:
    claim = item.claim
    whom = names.get(claim.combination)
    about = item.about
    if whom is not None:
        about = Note(about.code, "{whom}: " + about.message, values=(("whom", whom), *about.values))
    return (
        about,
        claim.source,
        claim.given,
        claimed_value(claim.value, claim.dimension),
        None if item.ours is None else claimed_value(item.ours, claim.dimension),
        item.difference,
        item.tolerance,
        item.verdict,
    )
