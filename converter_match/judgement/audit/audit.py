"""A dealer's numbers against ours: which agree, which do not, and what would explain those.

A claim agrees within its tolerance of our figure. Beyond that, one inside our own 95 % band cannot
be told from ours; the others disagree. Then every named alternative is tried, alone and in pairs.
One that brings the figure inside the tolerance *reproduces* the claim; whether that says anything
depends on how many were tried, and on how many arbitrary claims as far off would have been
reproduced as closely: `chance` has the rate. Only where it is small is a story told.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from itertools import combinations

from converter_match.errors import InputError
from converter_match.judgement.audit import words
from converter_match.judgement.audit.alternatives import (
    Alternative,
    Others,
    alternatives,
    same_displacement,
)
from converter_match.judgement.audit.band import band
from converter_match.judgement.audit.case import Case, Missing
from converter_match.judgement.audit.chance import CHANCE, family_chance
from converter_match.judgement.audit.figures import figure, readings
from converter_match.judgement.audit.result import AuditedClaim, AuditResult, Explanation
from converter_match.judgement.uncertainty import DRAWS
from converter_match.notes import Note
from converter_match.study.study import Claim, Study
from converter_match.tasks.plain import digest
from converter_match.tasks.sweep import Store, sweep
from converter_match.tasks.workers import HERE, Workers

# Where a claim states no tolerance of its own: common practice, no source.
DEFAULT_TOLERANCE = 0.02
# Numbers that are not printed with their digits are taken to be good to this.
_SHARP = 1e-4
_ROUNDED = 0.005
_SAME = 1e-9
# Of a study: what no claim depends on, nor on the other claims.
_ASIDE = (
    "claims", "inputs", "name", "question", "source",
    "customer", "machine_serial_number", "date", "author",
)  # fmt: skip
_NUMBER = re.compile(r"[-+]?(\d+)(?:\.(\d+))?")
# Our own 95 % band of a claim's figure, SI, as it is read; None where it is not known.
Doubt = Callable[[Claim, str], tuple[float, float] | None]


def audit(
    claims: Iterable[tuple[Claim, Case]],
    others: Others | None = None,
    *,
    doubt: Doubt | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> AuditResult:
    """Compare claims with our figures, and look for what would explain those that disagree.

    Parameters
    ----------
    claims : iterable of (Claim, Case)
        Each with what it is about.
    others : Others, optional
        What else may have been read: other converters of the family, other power settings.
    doubt : callable, optional
        Called with (claim, reading): our own 95 % band of its figure. Without, our own doubt
        counts for nothing, and the result says so.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    AuditResult

    Raises
    ------
    InputError
        If a claim is not above zero.
    """
    rows = list(claims)
    audited = []
    for done, (claim, case) in enumerate(rows):
        audited.append(_audited(claim, case, others or Others(), doubt))
        if progress:
            progress(done + 1, len(rows), "audit")
    return AuditResult(claims=tuple(audited), doubt_given=doubt is not None)


def audit_study(
    study: Study,
    others: Others | None = None,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    progress: Callable[[int, int, str], None] | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> AuditResult:
    """Audit every claim of a study.

    Parameters
    ----------
    study : Study
        Its own converters are among those that may have been mixed up, and its other engines of
        the same displacement among the power settings; so are those that it names.
    others : Others, optional
        Further ones.
    draws, seed : int
        For our own doubt, as in `uncertainty`.
    progress : callable, optional
        As in `audit`.
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what is found of a claim is kept, and taken from the next time.

    Raises
    ------
    InputError
        If the study has no claims, or as `audit`.
    """
    if not study.claims:
        raise InputError(
            "the study gives no claims", source=study.id, field="claim",
            expected="at least one [[claim]]",
        )  # fmt: skip
    others, keys = others or Others(), None
    if store is not None:
        # Other parts of the study may have been mixed up with those of the claim: all count.
        about = {item.name: getattr(study, item.name) for item in fields(study)
                 if item.name not in _ASIDE}  # fmt: skip
        whole = digest(about, others, draws, seed)
        keys = [digest(whole, claim) for claim in study.claims]
    audited = sweep(
        _of_study, study.claims, shared=(study, others, draws, seed), workers=workers,
        progress=progress, what="audit", store=store, keys=keys,
        names=[f"claim {claim.given!r}" for claim in study.claims],
    ).all()  # fmt: skip
    return AuditResult(claims=audited, doubt_given=bool(study.tolerances))


def _of_study(shared: tuple[Study, Others, int, int], claim: Claim) -> AuditedClaim:
    """Audit one claim of a study."""
    study, others, draws, seed = shared
    case = case_of(study, claim)

    def doubt(claim: Claim, reading: str) -> tuple[float, float] | None:
        return band(study, claim, reading, draws=draws, seed=seed)

    known = doubt if study.tolerances else None
    return _audited(claim, case, _others(study, case, others), known)


def _others(study: Study, case: Case, given: Others) -> Others:
    converters = [*(item.converter for item in study.combinations), *study.siblings]
    converters += given.siblings
    engines = [item.engine for item in study.combinations]
    engines = [*same_displacement(case.engine, engines), *study.ratings, *given.ratings]
    return Others(
        siblings=tuple({item.id: item for item in converters}.values()),
        ratings=tuple({item.id: item for item in engines}.values()),
    )


def case_of(study: Study, claim: Claim) -> Case:
    """Return what a claim of a study is about."""
    item = study.combination(claim.combination)
    sites = {site.id: site for site in study.sites}
    return Case(
        engine=item.engine,
        converter=item.converter,
        arrangement=item.arrangement,
        driveline=item.driveline,
        machine=item.machine,
        surface=study.duty.surface,
        site=None if claim.site is None else sites[claim.site],
        load=claim.load or study.duty.load,
        hydraulic_torque=claim.hydraulic_torque,
        working_torque=study.duty.hydraulic_torque,
        misreadings=study.misreadings,
    )


def _audited(claim: Claim, case: Case, others: Others, doubt: Doubt | None) -> AuditedClaim:
    if not (math.isfinite(claim.value) and claim.value > 0.0):
        raise InputError(
            "a claim has to be a number above zero", field=claim.quantity, found=claim.given
        )
    assumed = claim.tolerance is None
    tolerance = DEFAULT_TOLERANCE if claim.tolerance is None else claim.tolerance
    unchecked = AuditedClaim(
        claim=claim, verdict="cannot be checked", tolerance=tolerance, tolerance_assumed=assumed
    )
    try:
        meant = {name: figure(case, claim, name) for name in readings(case, claim)}
    except Missing as why:
        return replace(unchecked, missing=why.note)
    except InputError as error:
        return replace(unchecked, missing=words.MISSING.note("refused", problem=str(error)))
    # What can be meant in two ways is held against the nearer one.
    reading = min(meant, key=lambda name: abs(claim.value - meant[name]))
    ours = meant[reading]
    if ours <= 0.0:
        return replace(unchecked, ours=ours, missing=words.MISSING.note("not-above-zero"))
    known = replace(
        unchecked,
        ours=ours,
        reading=reading,
        meant=tuple(meant.items()) if len(meant) > 1 else (),
        band=None if doubt is None else doubt(claim, reading),
        without_ground=claim.quantity == "tractive-effort" and case.surface is None,
    )
    if agrees(claim, ours, tolerance):
        return replace(known, verdict="agrees")
    if _in_band(claim, known.band):
        return replace(known, verdict="not distinguishable")
    found = tries(claim, case, others, reading)
    explanations = explained(claim, ours, tolerance, found)
    return replace(known, verdict="disagrees", explanations=explanations, tried=len(found))


def agrees(claim: Claim, value: float, tolerance: float) -> bool:
    """Return whether a claim is a figure within its tolerance, or to the digits it is printed."""
    off = abs(claim.value - value)
    return off <= (tolerance + _SAME) * value or off <= (sharpness(claim) + _SAME) * claim.value


def _in_band(claim: Claim, inside: tuple[float, float] | None) -> bool:
    if inside is None:
        return False
    printed = sharpness(claim)
    return inside[0] * (1.0 - printed) <= claim.value <= inside[1] * (1.0 + printed)


@dataclass(frozen=True, kw_only=True)
class Try:
    """Our figure under one alternative, or under two together.

    Parameters
    ----------
    alternatives : tuple of Alternative
    value : float
        SI.
    """

    alternatives: tuple[Alternative, ...]
    value: float


def tries(claim: Claim, case: Case, others: Others, reading: str = "") -> tuple[Try, ...]:
    """Return our figure under every alternative that changes it, and under every pair of those.

    Parameters
    ----------
    claim : Claim
        Its value does not matter.
    case : Case
    others : Others
    reading : str
        As in `figures.figure`.
    """
    ours = figure(case, claim, reading)
    singles = []
    for item in alternatives(case, claim, others):
        value = _value(item.case, claim, reading)
        # One that does not touch this figure cannot explain it, and does not count as a try.
        if value is not None and abs(value / ours - 1.0) > _SAME:
            singles.append(Try(alternatives=(item,), value=value))
    pairs = []
    for first, second in combinations([one.alternatives[0] for one in singles], 2):
        both = second.on(first, claim, others)
        value = None if both is None else _value(both, claim, reading)
        if value is not None:
            pairs.append(Try(alternatives=(first, second), value=value))
    return (*singles, *pairs)


def explained(
    claim: Claim, ours: float, tolerance: float, found: Sequence[Try]
) -> tuple[Explanation, ...]:
    """Return what reproduces a claim within its tolerance: what is convincing and simple first.

    Parameters
    ----------
    claim : Claim
    ours : float
        Our figure, SI.
    tolerance : float
        Share of a figure.
    found : sequence of Try
        Everything that was tried.
    """
    families = (
        [math.log(one.value / ours) for one in found if len(one.alternatives) == 1],
        [math.log(one.value / ours) for one in found if len(one.alternatives) == 2],
    )
    distance, printed = math.log(claim.value / ours), sharpness(claim)
    least = math.log1p(max(tolerance, printed))
    explanations: list[Explanation] = []
    enough: set[str] = set()
    for one in found:
        names = tuple(item.name for item in one.alternatives)
        if not agrees(claim, one.value, tolerance):
            continue
        # A pair of which one half does it alone says nothing new.
        if len(names) > 1 and enough.intersection(names):
            continue
        enough.update(names if len(names) == 1 else ())
        near = max(abs(math.log(claim.value / one.value)), printed)
        chance = family_chance(distance, near, families, len(names) - 1, least)
        explanations.append(
            Explanation(
                alternatives=names,
                words=_together([item.words for item in one.alternatives]),
                value=one.value,
                chance=chance,
                convincing=chance <= CHANCE,
            )
        )
    explanations.sort(key=lambda item: (not item.convincing, len(item.alternatives), item.chance))
    return tuple(explanations)


def _value(case: Case, claim: Claim, reading: str) -> float | None:
    try:
        value = figure(case, claim, reading)
    except Missing:
        return None
    return value if math.isfinite(value) and value > 0.0 else None


def _together(notes: Sequence[Note]) -> Note:
    if len(notes) == 1:
        return notes[0]
    return words.ALTERNATIVES.note("both", first=notes[0], second=notes[1])


def sharpness(claim: Claim) -> float:
    """Return half the last printed digit of a claim, relative to it.

    Trailing zeros of a whole number may be rounding or may not: 2150 is good to 5, but 2000 is
    taken as good to 10 at the worst, not to 500.

    Examples
    --------
    >>> claim = Claim(quantity="stall-speed", value=225.1, given="2150 rpm", combination="a")
    >>> round(sharpness(claim), 5)
    0.00233
    """
    printed = _NUMBER.search(claim.given)
    if printed is None:
        return _SHARP
    whole, decimals = printed[1], printed[2]
    number = abs(float(printed[0]))
    if number == 0.0:
        return _SHARP
    if decimals:
        half = 0.5 * 10.0 ** -len(decimals) / number
    else:
        digits = whole.rstrip("0")
        half = 0.5 / number
        if digits != whole:
            rounded = 0.5 * 10.0 ** (len(whole) - len(digits)) / number
            half = max(half, min(rounded, _ROUNDED))
    return max(half, _SHARP * 1e-2)
