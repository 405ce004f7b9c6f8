"""Every criterion applied to every combination, and what follows from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from converter_match.judgement.verdict import criteria_match, criteria_wheels
from converter_match.judgement.verdict.measure import Finding, Measure, Verdict, judge
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.study.criteria import Choice
from converter_match.study.study import PRESENT, Study

_ALONE: Mapping[str, Callable[[Study, Choice, Outcome], Measure]] = MappingProxyType(
    {
        "single-stable-match": criteria_match.single_stable_match,
        "stall-speed-window": criteria_match.stall_speed_window,
        "rated-power-usable": criteria_match.rated_power_usable,
        "converter-input-torque": criteria_match.converter_input_torque,
        "converter-input-power": criteria_match.converter_input_power,
        "converter-input-speed": criteria_match.converter_input_speed,
        "turbine-stall-torque": criteria_match.turbine_stall_torque,
        "governed-overspeed": criteria_match.governed_overspeed,
        "continuous-heat": criteria_wheels.continuous_heat,
        "oil-temperature": criteria_wheels.oil_temperature,
    }
)
_AGAINST_PRESENT: Mapping[str, Callable[[Study, Choice, Outcome, Outcome], Measure]] = (
    MappingProxyType(
        {
            "tractive-effort-kept": criteria_wheels.tractive_effort_kept,
            "grade-start-kept": criteria_wheels.grade_start_kept,
            "speed-on-grades-kept": criteria_wheels.speed_on_grades_kept,
            "route-time-kept": criteria_wheels.route_time_kept,
            "fuel-kept": criteria_wheels.fuel_kept,
            "idle-creep": criteria_wheels.idle_creep,
            "engine-braking-kept": criteria_match.engine_braking_kept,
        }
    )
)
_ON_ROUTES = ("oil-temperature", "route-time-kept", "fuel-kept")


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """The criteria of one combination together.

    Parameters
    ----------
    combination : str
        Its id.
    name : str
    findings : tuple of Finding
        In the order of the catalogue.
    """

    combination: str
    name: str
    findings: tuple[Finding, ...]

    def _named(self, verdict: Verdict, weight: str | None = None) -> tuple[Finding, ...]:
        return tuple(
            item
            for item in self.findings
            if item.verdict is verdict and weight in (None, item.weight)
        )

    @property
    def failed_musts(self) -> tuple[Finding, ...]:
        """Must-criteria that fail."""
        return self._named(Verdict.FAIL, "must")

    @property
    def failed_shoulds(self) -> tuple[Finding, ...]:
        """Should-criteria that fail."""
        return self._named(Verdict.FAIL, "should")

    @property
    def marginal(self) -> tuple[Finding, ...]:
        """Criteria met with little to spare."""
        return self._named(Verdict.MARGINAL)

    @property
    def unknown(self) -> tuple[Finding, ...]:
        """Criteria with a datum missing, those that fail in another condition included."""
        return tuple(item for item in self.findings if item.missing)

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
        for found, what in (
            (self.failed_musts, "must-criterion fails"),
            (self.failed_shoulds, "should-criterion fails"),
            (self.marginal, "criterion is marginal"),
            (self.unknown, "criterion is not known"),
        ):
            if found:
                many = what.replace("criterion", "criteria").replace(" is ", " are ")
                many = many.replace(" fails", " fail")
                titles = ", ".join(item.spec.title.lower() for item in found)
                text = f"{len(found)} {what if len(found) == 1 else many}"
                parts.append(f"{text} ({titles})" if named else text)
        if not parts:
            return f"All {len(self.findings)} criteria are met."
        return "; ".join(parts)[0].upper() + "; ".join(parts)[1:] + "."

    def finding(self, name: str) -> Finding | None:
        """Return the finding of a criterion; None where it was not applied."""
        return next((item for item in self.findings if item.choice.name == name), None)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "id": self.combination,
            "name": self.name,
            "verdict": str(self.verdict),
            "headline": self.headline,
            "missing": list(self.missing),
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
    findings = []
    for choice in study.criteria:
        if not_applied(study, choice) or choice.weight == "off":
            continue
        measures = []
        for row, item in enumerate(own):
            other = None if against is None else against[row]
            measure = _measure(study, choice, item, other)
            if measure is not None:
                measures.append((item.condition.name, measure))
        if measures:
            findings.append(judge(choice, measures))
    return Assessment(combination=combination.id, name=combination.name, findings=tuple(findings))


def _measure(study: Study, choice: Choice, own: Outcome, present: Outcome | None) -> Measure | None:
    if choice.name in _ALONE:
        return _ALONE[choice.name](study, choice, own)
    limits = study.limits
    if choice.name == "top-speed-kept":
        if present is None and limits.top_speed_least is None and limits.top_speed_most is None:
            return None
        return criteria_wheels.top_speed_kept(study, choice, own, present)
    if present is None:
        return None
    return _AGAINST_PRESENT[choice.name](study, choice, own, present)


def not_applied(study: Study, choice: Choice) -> str:
    """Return why a criterion says nothing in a study; empty where it does."""
    if choice.weight == "off":
        return "switched off by the study"
    limits = study.limits
    if choice.spec.compares and study.present is None:
        kept = choice.name == "top-speed-kept" and (
            limits.top_speed_least is not None or limits.top_speed_most is not None
        )
        if not kept:
            return "the study names no present machine to compare with"
    if choice.name in _ON_ROUTES and not study.duty.routes:
        return "the duty names no route"
    return ""
