"""A stall expectation and a diagnosis as lines for a console."""

from __future__ import annotations

from typing import TYPE_CHECKING

from converter_match.answer.noted import note_lines
from converter_match.judgement.conditions.air import site_line
from converter_match.units import System, show

if TYPE_CHECKING:
    from converter_match.judgement.stall.band import Band
    from converter_match.judgement.stall.expectation import StallExpectation
    from converter_match.judgement.stall.result import StallDiagnosis
    from converter_match.notes import Note

NO_STALL = "none: the engine does not come up from idle in gear; do not test"
NO_STALL_AT_RELIEF = (
    "none: the engine does not come up from idle with the pumps at relief; do not test"
)
NO_HOLD = "none: there is no stall to hold"
# Findings with a smaller share are named without their numbers.
_WORST_FIRST = ("limit", "warning", "caution", "assumption")
_SHOWN = 0.002


_SET_BY = {
    "oil-limit": "set by the oil's limit",
    "common-practice": "set by common practice",
    "maker": "set by the machine maker",
    "no-oil-data": "the shortest usual one, for want of oil data",
}


def expectation_text(found: StallExpectation, system: System) -> str:
    """Return band, what widens it, hold and notes."""
    setup = found.setup
    oil, degree = show(setup.oil, "temperature", system)
    lines = ["CAUTION: " + next(n.message for n in found.notes if n.code == "stall-test-hazard")]
    lines += [
        "",
        f"{setup.engine.name}  +  {setup.converter.name}",
        f"site: {site_line(found.match.site, system)}; oil at {oil:.0f} {degree}",
        "",
        f"expected stall speed   {band_words(found.band, system)}",
    ]
    for name, band in found.combined.items():
        words = band_words(band, system, at_relief=True)
        lines.append(f"expected, {name:<12} {words}")
    if setup.published is not None:
        low, unit = show(setup.published[0], "angular_speed", system)
        high, _ = show(setup.published[1], "angular_speed", system)
        lines.append(f"maker's published      {low:.0f} .. {high:.0f} {unit}: comes first")
    if found.stalls:
        unit = show(0.0, "angular_speed", system)[1]
        parts = [_share_words(share.name, share.half_width, system) for share in found.shares]
        lines.append(f"widened by (95 %):     {', '.join(parts)} {unit}")
        for name, change in (("air", found.site_effect), ("oil density", found.oil_effect)):
            if change is not None:
                number, unit = show(change, "angular_speed", system)
                lines.append(f"of it by {name}".ljust(23) + f"{number:+.0f} {unit}")
    lines += _hold_lines(found, system)
    return "\n".join([*lines, *_note_lines(found.notes, system)])


def _share_words(name: str, half_width: float | None, system: System) -> str:
    if half_width is None:
        return f"{name} down to idle"
    return f"{name} ±{show(half_width, 'angular_speed', system)[0]:.0f}"


def _hold_lines(found: StallExpectation, system: System) -> list[str]:
    setup, hold = found.setup, found.hold
    if hold.seconds is None or hold.heat is None:
        return [f"longest hold           {NO_HOLD}"]
    degree = show(0.0, "temperature", system)[1]
    heat, watt = show(hold.heat, "power", system)
    begin, limit = (show(value, "temperature", system)[0] for value in (hold.start, hold.limit))
    words = f"longest hold           {hold.seconds:.0f} s ({_SET_BY[hold.set_by]})"
    words += f", heat {heat:.0f} {watt}"
    if hold.rate is not None:
        rate, kelvin = show(hold.rate, "temperature_difference", system)
        words += f", the oil alone rises {rate:.1f} {kelvin}/s"
    if hold.to_limit is not None:
        words += f", from {begin:.0f} to {limit:.0f} {degree} in {hold.to_limit:.0f} s (calculated)"
    lines = [words]
    if hold.to_limit is not None and setup.machine and setup.machine.cooler is not None:
        cooled = hold.to_limit_cooled
        lines.append(
            "for information        with the cooler at work "
            + ("the limit is not reached" if cooled is None else f"after {cooled:.0f} s")
            + "; do not count on it"
        )
    if hold.cool_down is not None:
        lines.append(
            f"then in neutral        {hold.cool_down:.0f} s or more, until the gauge is back"
        )
    return lines


def band_words(band: Band, system: System, *, at_relief: bool = False) -> str:
    """Return a band in words."""
    if band.middle is None:
        sheets = "as on the sheets it does not come up"
    else:
        sheets = f"as on the sheets {show(band.middle, 'angular_speed', system)[0]:.0f}"
    return span_words(band, system, "..", sheets, at_relief=at_relief)


def span_words(
    band: Band, system: System, to: str, sheets: str = "", *, at_relief: bool = False
) -> str:
    """Return the ends of a band and whose they are, or that there is nothing to test."""
    if band.ends is None:
        return NO_STALL_AT_RELIEF if at_relief else NO_STALL
    (low, unit), (high, _) = (show(end, "angular_speed", system) for end in band.ends)
    whose = f"{100 * band.coverage:.0f} % of healthy machines"
    if band.stuck_share > 0.0:
        whose += f" that come up; {band.stuck_words} of 100 do not come up from idle"
    if sheets:
        whose += f"; {sheets}"
    return f"{low:.0f} {to} {high:.0f} {unit} ({whose})"


def diagnosis_text(found: StallDiagnosis, system: System) -> str:
    """Return readings, findings with their numbers, the next check and notes."""
    lines = ["CAUTION: " + next(n.message for n in found.notes if n.code == "stall-test-hazard")]
    lines += ["", "Readings:"]
    wide = max(len(item.label) for item in found.judged)
    for item in found.judged:
        speed, unit = show(item.reading.engine_speed, "angular_speed", system)
        words = band_words(item.band, system, at_relief=item.reading.pump == "relief")
        words = words.removeprefix("none: ")
        words = f"no band: {words}" if item.band.ends is None else f"{item.place:<7} band {words}"
        lines.append(f"  {item.label:<{wide}} {speed:6.0f} {unit}  {words}")
        if item.published is not None:
            low, high = (show(v, "angular_speed", system)[0] for v in found.setup.published or ())
            lines.append(
                f"  {'':<{wide}} {'':6} {'':4} {item.published:<7} maker's published {low:.0f} .. "
                f"{high:.0f} {unit}: comes first"
            )
    if found.inversion_words(system):
        lines += ["", "What explains them:"]
        lines += [f"  {line}" for line in found.inversion_words(system)]
    lines += ["", "Findings, the likeliest first (share of likelihood x weight):"]
    for row, finding in enumerate(found.findings):
        if row == 0 or finding.share >= _SHOWN:
            # Nothing that rests on assumed errors and weights is surer than this.
            share = " > 99" if finding.share > 0.99 else f"{100 * finding.share:5.1f}"
            lines.append(f"  {share:>5} %  [{finding.code}] {finding.words(system)}")
    rest = [finding.code for finding in found.findings[1:] if finding.share < _SHOWN]
    if rest:
        lines.append(f"  below {100 * _SHOWN:.1f} %: {', '.join(rest)}")
    lines += ["", f"Next cheapest check: {found.next_check.words}"]
    lines.append(f"  why: {found.next_check.why}")
    return "\n".join([*lines, *_note_lines(found.notes, system)])


def _note_lines(notes: tuple[Note, ...], system: System) -> list[str]:
    # The hazard stands at the top, where it is read first; once is enough.
    notes = tuple(note for note in notes if note.code != "stall-test-hazard")
    return note_lines(sorted(notes, key=lambda note: _WORST_FIRST.index(note.kind)), system)
