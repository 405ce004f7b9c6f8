"""A dealer's numbers against ours: which agree, which do not, and what would explain those.

A claim disagrees when it lies outside its tolerance of our figure. Then every named alternative is
tried, alone and in pairs. One that brings the figure inside the tolerance *reproduces* the claim;
whether that says anything depends on how many were tried. ``chance`` is the share of arbitrary
claims (spread evenly in the logarithm from half to twice our figure) to which some alternative as
simple would have come as close. Only where it is small is a story told.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import combinations

from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.judgement.audit import words
from converter_match.judgement.audit.alternatives import Alternative, alternatives
from converter_match.judgement.audit.case import Case, Missing, figure
from converter_match.judgement.audit.result import AuditedClaim, AuditResult, Explanation
from converter_match.notes import Note
from converter_match.study.study import Claim, Study

# Where a claim states no tolerance of its own: common practice, no source.
DEFAULT_TOLERANCE = 0.02
# A reproduction that so many arbitrary claims would have had is no explanation.
CHANCE = 0.10
_HALF_TO_TWICE = math.log(4.0)
# Numbers that are not printed with their digits are taken to be good to this.
_SHARP = 1e-4
_SAME = 1e-9
_NUMBER = re.compile(r"[-+]?(\d+)(?:\.(\d+))?")


def audit(
    claims: Iterable[tuple[Claim, Case]],
    siblings: Sequence[Converter] = (),
    *,
    progress: Callable[[int, int, str], None] | None = None,
) -> AuditResult:
    """Compare claims with our figures, and look for what would explain those that disagree.

    Parameters
    ----------
    claims : iterable of (Claim, Case)
        Each with what it is about.
    siblings : sequence of Converter
        Other converters of the library: a claim may rest on the torque ratio of one of them.
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
        audited.append(_audited(claim, case, siblings))
        if progress:
            progress(done + 1, len(rows), "audit")
    return AuditResult(claims=tuple(audited))


def audit_study(
    study: Study,
    siblings: Sequence[Converter] | None = None,
    *,
    progress: Callable[[int, int, str], None] | None = None,
) -> AuditResult:
    """Audit every claim of a study.

    Parameters
    ----------
    study : Study
        Its own converters are among those that may have been mixed up.
    siblings : sequence of Converter, optional
        Others; those of the study without.
    progress : callable, optional
        As in `audit`.

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
    own = {item.converter.id: item.converter for item in study.combinations}
    given = study.siblings if siblings is None else siblings
    mixed_up = [*own.values(), *(item for item in given if item.id not in own)]
    claims = [(claim, case_of(study, claim)) for claim in study.claims]
    return audit(claims, mixed_up, progress=progress)


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
    )


def _audited(claim: Claim, case: Case, siblings: Sequence[Converter]) -> AuditedClaim:
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
        ours = figure(case, claim)
    except Missing as why:
        return replace(unchecked, missing=why.note)
    if ours <= 0.0:
        return replace(unchecked, ours=ours, missing=words.MISSING.note("not-above-zero"))
    if abs(claim.value / ours - 1.0) <= tolerance + _SAME:
        return replace(unchecked, verdict="agrees", ours=ours)
    explanations, tried = _explained(claim, case, ours, tolerance, siblings)
    return replace(
        unchecked, verdict="disagrees", ours=ours, explanations=explanations, tried=tried
    )


def _explained(
    claim: Claim, case: Case, ours: float, tolerance: float, siblings: Sequence[Converter]
) -> tuple[tuple[Explanation, ...], int]:
    """Return what reproduces a claim, simplest and closest first, and how many were tried."""
    singles: list[tuple[tuple[Alternative, ...], float]] = []
    for item in alternatives(case, siblings):
        value = _value(item.case, claim)
        # One that does not touch this figure cannot explain it, and does not count as a try.
        if value is not None and abs(value / ours - 1.0) > _SAME:
            singles.append(((item,), value))
    alone = _reproducing(claim, singles, [value for _, value in singles], tolerance)
    pairs: list[tuple[tuple[Alternative, ...], float]] = []
    for (first,), (second,) in combinations([items for items, _ in singles], 2):
        both = second.on(first)
        value = None if both is None else _value(both, claim)
        if value is not None:
            pairs.append(((first, second), value))
    values = [value for _, value in (*singles, *pairs)]
    enough = {item.alternatives[0] for item in alone}
    # A pair of which one half does it alone says nothing new.
    new = [row for row in pairs if not any(item.name in enough for item in row[0])]
    together = _reproducing(claim, new, values, tolerance)
    return (*alone, *together), len(singles) + len(pairs)


def _value(case: Case, claim: Claim) -> float | None:
    try:
        value = figure(case, claim)
    except Missing:
        return None
    return value if math.isfinite(value) and value > 0.0 else None


def _reproducing(
    claim: Claim,
    rows: Sequence[tuple[tuple[Alternative, ...], float]],
    tried: Sequence[float],
    tolerance: float,
) -> list[Explanation]:
    explanations = []
    for items, value in rows:
        if abs(claim.value / value - 1.0) > tolerance + _SAME:
            continue
        off = abs(math.log(claim.value / value))
        chance = covered(tried, max(off, sharpness(claim)))
        explanations.append(
            Explanation(
                alternatives=tuple(item.name for item in items),
                words=_together([item.words for item in items]),
                value=value,
                chance=chance,
                convincing=chance <= CHANCE,
            )
        )
    explanations.sort(
        key=lambda item: (not item.convincing, abs(math.log(claim.value / item.value)))
    )
    return explanations


def _together(notes: Sequence[Note]) -> Note:
    if len(notes) == 1:
        return notes[0]
    return words.ALTERNATIVES.note("both", first=notes[0], second=notes[1])


def sharpness(claim: Claim) -> float:
    """Return half the last printed digit of a claim, relative to it.

    Trailing zeros of a whole number are taken as rounding: 2150 is good to 5, 2100 to 50, but no
    coarser than half the claim's tolerance would be.

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
        unit = 10.0 ** -len(decimals)
    else:
        unit = 10.0 ** (len(whole) - len(whole.rstrip("0"))) if whole.rstrip("0") else 1.0
    return max(min(0.5 * unit / number, 0.005), _SHARP * 1e-2)


def covered(values: Sequence[float], off: float) -> float:
    """Return the share of half to twice a figure that lies within `off` of any of some values.

    The bands are laid out in the logarithm, and what they cover together is measured once.
    """
    if not values:
        return 0.0
    ends = sorted((math.log(value) - off, math.log(value) + off) for value in values)
    whole, reach = 0.0, -math.inf
    for low, high in ends:
        whole += max(high - max(low, reach), 0.0)
        reach = max(reach, high)
    return min(whole / _HALF_TO_TWICE, 1.0)
