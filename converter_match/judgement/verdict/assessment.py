"""Every criterion applied to every combination, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer
from converter_match.answer.remarks import said_before
from converter_match.judgement.verdict import criteria_match, criteria_wheels
from converter_match.judgement.verdict.estimated import alternative, estimated, over_all, pairs
from converter_match.judgement.verdict.measure import (
    CriterionFinding,
    Measures,
    Verdict,
    judge,
    missing,
)
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.view import Criterion, Nominal, View
from converter_match.judgement.verdict.words import (
    ALL_MET,
    FOUND,
    HEADLINE,
    NOT_APPLIED,
    REQUIREMENTS,
    VERDICTS,
)
from converter_match.notes import Note
from converter_match.study.criteria import Choice
from converter_match.study.study import PRESENT, Study

CRITERIA: Mapping[str, Criterion] = MappingProxyType(
    {**criteria_match.CRITERIA, **criteria_wheels.CRITERIA}
)
"""What measures each criterion of `study.criteria.CATALOGUE`, by its name."""


_CRITERIA = (Heading("", "criterion"), Heading("", "requirement"), Heading("", "verdict"))


@dataclass(frozen=True, kw_only=True, repr=False)
class Assessment(Answer):
    """The criteria of one combination together.

    Parameters
    ----------
    combination : str
        Its id.
    name : str
    findings : tuple of CriterionFinding
        In the order of the catalogue.
    notes : tuple of Note
        None: those of the results belong to the outcomes.
    estimated : tuple of str
        Ids of the converters that are estimates, of this combination or of the one it is compared
        with: the findings hold over everything that they may be.
    """

    combination: str
    name: str
    findings: tuple[CriterionFinding, ...]
    notes: tuple[Note, ...] = ()
    estimated: tuple[str, ...] = ()

    def _named(self, verdict: Verdict, weight: str | None = None) -> tuple[CriterionFinding, ...]:
        return tuple(
            item
            for item in self.findings
            if item.verdict is verdict and weight in (None, item.weight)
        )

    @property
    def failed_musts(self) -> tuple[CriterionFinding, ...]:
        """Required criteria that are not met."""
        return self._named(Verdict.FAIL, "must")

    @property
    def failed_shoulds(self) -> tuple[CriterionFinding, ...]:
        """Preferred criteria that are not met."""
        return self._named(Verdict.FAIL, "should")

    @property
    def marginal(self) -> tuple[CriterionFinding, ...]:
        """Criteria met with little to spare."""
        return self._named(Verdict.MARGINAL)

    @property
    def unknown(self) -> tuple[CriterionFinding, ...]:
        """Criteria that are not known, or not in every condition: there one may fail as well."""
        return tuple(
            item for item in self.findings if item.missing or item.verdict is Verdict.NOT_KNOWN
        )

    @property
    def missing(self) -> tuple[str, ...]:
        """Every missing datum, each once."""
        return tuple(dict.fromkeys(what for item in self.unknown for what in item.missing))

    @property
    def verdict(self) -> Verdict:
        """The verdict over all criteria.

        Fail: a must fails. Not known: no must fails, but one is not known. Marginal: a should
        fails or is not known, or anything is marginal. Pass: everything is met.
        """
        if self.failed_musts:
            return Verdict.FAIL
        if any(item.weight == "must" for item in self.unknown):
            return Verdict.NOT_KNOWN
        if self.failed_shoulds or self.marginal or self.unknown:
            return Verdict.MARGINAL
        return Verdict.PASS

    @property
    def headline(self) -> str:
        """The verdict in one sentence, which never leaves out what is not known."""
        return self._sentence(named=True)

    @property
    def short(self) -> str:
        """The verdict in one sentence without the names of the criteria."""
        return self._sentence(named=False)

    def _sentence(self, *, named: bool) -> str:
        parts = []
        for name, one, several in HEADLINE:
            which: tuple[CriterionFinding, ...] = getattr(self, name)
            if which:
                titles = ", ".join(item.spec.title.lower() for item in which)
                text = f"{len(which)} {one if len(which) == 1 else several}"
                parts.append(f"{text} ({titles})" if named else text)
        if not parts:
            return ALL_MET.format(count=len(self.findings))
        return "; ".join(parts) + "."

    def finding(self, name: str) -> CriterionFinding | None:
        """Return the finding of a criterion; None where it was not applied."""
        return next((item for item in self.findings if item.choice.name == name), None)

    def blocks(self) -> tuple[Block, ...]:
        """Return the headline, every verdict, and what was found."""
        rows = tuple(
            (item.spec.title, REQUIREMENTS[item.weight], VERDICTS[item.verdict])
            for item in self.findings
        )
        return (
            Block(
                "",
                title=self.name,
                above=(FOUND.note("headline", headline=self.headline),),
                columns=_CRITERIA,
                rows=rows,
                below=tuple(said_before(item.note, item.spec.title) for item in self.findings),
            ),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data: a criterion holds its conditions, which no block of rows does."""
        return {
            "id": self.combination,
            "name": self.name,
            "verdict": str(self.verdict),
            "headline": self.headline,
            "missing": list(self.missing),
            "estimated": list(self.estimated),
            "criteria": [item.to_dict() for item in self.findings],
        }


def assess(
    study: Study, own: tuple[Outcome, ...], present: tuple[Outcome, ...] | None
) -> Assessment:
    """Apply every criterion of a study to one combination.

    Parameters
    ----------
    study : Study
    own, present : tuple of Outcome
        One for each condition; None where there is no present machine. The present machine itself
        is not compared with itself.
    """
    combination = own[0].combination
    against = None if combination.id == PRESENT else present
    by_pair = [_findings(study, *pair) for pair in pairs(own, against)]
    others = alternative(own, against)
    findings = [
        over_all(of_one, others) if others else of_one[0] for of_one in zip(*by_pair, strict=True)
    ]
    return Assessment(
        combination=combination.id,
        name=combination.name,
        findings=tuple(findings),
        estimated=estimated(own, against),
    )


def asked_of(study: Study) -> tuple[object, ...]:
    """Return all of a study that `assess` and `measured` look at, beside the combinations.

    What was found of a combination is kept by this and by the combination itself.

    Parameters
    ----------
    study : Study
    """
    return study.criteria, study.limits, study.duty, study.conditions, study.present is None


def _findings(
    study: Study, own: tuple[Outcome, ...], present: tuple[Outcome, ...] | None
) -> list[CriterionFinding]:
    views = [Nominal(item) for item in own]
    against = None if present is None else [Nominal(item) for item in present]
    findings = []
    for choice in study.criteria:
        measures = measured(study, choice, views, against)
        if measures:
            names = [own[row].condition.name for row in study.looked_at(choice)]
            known = zip(names, (item.nominal for item in measures), strict=True)
            findings.append(judge(choice, list(known)))
    return findings


def measured(
    study: Study, choice: Choice, own: Sequence[View], present: Sequence[View] | None
) -> list[Measures]:
    """Measure one criterion for one combination in every condition.

    Parameters
    ----------
    study : Study
    choice : Choice
    own, present : sequence of View
        One for each condition; None where there is no present machine. Draw k of both belongs
        together.

    Returns
    -------
    list of Measures
        One for each condition that it is looked at in (`Study.looked_at`); empty where the
        criterion says nothing of the combination.
    """
    against = None if own[0].outcome.combination.id == PRESENT else present
    if not_applied(study, choice):
        return []
    if choice.spec.compares and against is None and not _limited(study, choice):
        return []
    measures = []
    for row in study.looked_at(choice):
        other = None if against is None else against[row]
        both = (own[row], *(() if other is None or not choice.spec.compares else (other,)))
        lacking = dict.fromkeys(what for view in both for what in view.outcome.missing)
        if lacking and not choice.spec.engine_alone:
            measures.append(missing(*lacking))
        else:
            measures.append(CRITERIA[choice.name](study, choice, own[row], other))
    return measures


def not_applied(study: Study, choice: Choice) -> str:
    """Return why a criterion says nothing in a study; empty where it does."""
    spec = choice.spec
    if choice.weight == "off":
        return NOT_APPLIED["off"]
    if spec.compares and study.present is None and not _limited(study, choice):
        return NOT_APPLIED["no-present"]
    if spec.on_routes and not study.duty.routes:
        return NOT_APPLIED["no-route"]
    return ""


def _limited(study: Study, choice: Choice) -> bool:
    """Return whether a limit of the study stands in for a present machine."""
    return any(getattr(study.limits, name) is not None for name in choice.spec.or_limits)
