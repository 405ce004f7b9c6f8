"""The sheet for a stall test: one page with cautions first, and blanks to fill by hand."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from pathlib import Path

from converter_match.errors import InputError
from converter_match.judgement.stall.cautions import SHEET_CAUTIONS
from converter_match.judgement.stall.expectation import StallExpectation
from converter_match.judgement.stall.text import NO_HOLD, span_words
from converter_match.present.report.page_template import template
from converter_match.units import System, show

_FORMATS = (".html", ".pdf")
# Of names that somebody typed: more would push the sheet to a second page.
_LONGEST = 90
_MOST_GEARS = 8
_AT_RELIEF = {"hydraulic": "neutral, pumps at relief", "both": "stall, pumps at relief"}


@dataclass(frozen=True)
class Sheet:
    """What stands on the page, in words; nothing of it needs calculating any more.

    Parameters
    ----------
    title : str
    subject : tuple of (str, str)
        Machine, engine, converter, conditions.
    cautions : tuple of str
    prepare, steps, stop, after : tuple of str
    expected : tuple of (str, str)
        Bands, the maker's span, the hold.
    columns : tuple of str
        Heads of the table to fill.
    rows : tuple of str
        First cells of its rows.
    blanks : tuple of str
        Names of further fields to fill.
    footer : str
    """

    title: str
    subject: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    prepare: tuple[str, ...]
    steps: tuple[str, ...]
    stop: tuple[str, ...]
    expected: tuple[tuple[str, str], ...]
    columns: tuple[str, ...]
    rows: tuple[str, ...]
    blanks: tuple[str, ...]
    footer: str


def sheet_of(found: StallExpectation, *, machine_name: str = "", system: System = "si") -> Sheet:
    """Return the sheet of an expectation.

    Parameters
    ----------
    found : StallExpectation
    machine_name : str
        As on the machine; a blank to fill where empty.
    system : {"si", "us"}
    """
    setup, hold = found.setup, found.hold
    _, rpm = show(0.0, "angular_speed", system)
    oil, degree = show(setup.oil, "temperature", system)
    limit, _ = show(hold.limit, "temperature", system)
    warm = [show(t, "temperature", system)[0] for t in (355.15, 366.15)]
    air = found.match.site.air
    day = "engine's reference air (no site given)"
    if air is not None:
        number, unit = show(air.temperature, "temperature", system)
        pressure, pascal = show(air.pressure, "pressure", system)
        day = f"{pressure:.1f} {pascal}, {number:.0f} {unit}"
    highest = found.band.high if setup.published is None else setup.published[1]
    over = "the machine moves"
    if highest is not None:
        over = f"in gear above {show(highest, 'angular_speed', system)[0]:.0f} {rpm}, or {over}"
    name = machine_name or (setup.machine.name if setup.machine else "")
    return Sheet(
        title="Stall test",
        subject=(
            ("machine", _short(name)),
            ("engine", _short(setup.engine.name)),
            ("converter", _short(setup.converter.name)),
            ("calculated for", f"air {day}; oil {oil:.0f} {degree}"),
        ),
        cautions=SHEET_CAUTIONS,
        prepare=(
            "Maker's manual at hand: stall procedure, limits, hold time. They replace this sheet.",
            f"Coolant and engine warm; transmission oil at {warm[0]:.0f} to {warm[1]:.0f} {degree} "
            "(US Army TM 10-3930-671-24), level right, no foam.",
            "Brakes proven; chocks; people clear; fire extinguisher; second person watches oil "
            "temperature and wheels.",
            "Tachometer checked; top governed speed in neutral checked and noted; lights, air "
            "conditioning off; implements lowered and not moving.",
        ),
        steps=_steps(found, rpm),
        stop=(
            f"{over}: throttle off at once",
            f"oil at {limit:.0f} {degree}, or a warning: neutral, cool down; shut down if it does "
            "not fall within 3 minutes (US Army TM 9-2320-283-10)",
        ),
        expected=_expected(found, system),
        columns=("test", "gear", f"engine {rpm}", f"oil before {degree}", f"oil after {degree}",
                 "brakes held?", "seconds", "remarks"),
        rows=_rows(found),
        blanks=("date, place", f"air {degree}", "machine hours", f"top governed {rpm}",
                "tested by", "checked by"),
        footer="Usual cautions and common practice; the machine maker's procedure and local rules "
        "come first. After the test: with the engine off the transmission gets no oil, so do not "
        "tow with the driven wheels on the ground unless the maker says how.",
    )  # fmt: skip


@dataclass(frozen=True)
class SheetPage:
    """The sheet as a notebook shows it: in a frame of its own, so that styles stay inside.

    Parameters
    ----------
    sheet : Sheet
    """

    sheet: Sheet

    def _repr_html_(self) -> str:
        title, page = escape(self.sheet.title), escape(sheet_html(self.sheet))
        style = "width:100%;max-width:860px;height:1120px;border:1px solid #8a939d"
        return f'<iframe title="{title}" style="{style}" srcdoc="{page}"></iframe>'

    def __repr__(self) -> str:
        parts = [self.sheet.title, "CAUTION", *(f"- {line}" for line in self.sheet.cautions)]
        parts += [f"{name}: {text}" for name, text in (*self.sheet.subject, *self.sheet.expected)]
        return "\n".join(parts)


def _steps(found: StallExpectation, rpm: str) -> tuple[str, ...]:
    hold = found.hold
    if hold.seconds is None:
        steps = [
            "No stall test: the engine does not come up from idle in gear, and would stall out or "
            "overheat the oil. Engine, converter or their data do not go together.",
        ]
        if any(band.ends is not None for band in found.combined.values()):
            steps.append(
                "In neutral with the pumps at relief only, as long as the machine maker's "
                "procedure says: no time is calculated for it."
            )
        return tuple(steps)
    cool = 60.0 if hold.cool_down is None else max(hold.cool_down, 60.0)
    return (
        "Brakes hard on, engine at low idle, select the gear; the machine must not move. In "
        "gear it pulls at idle already.",
        f"Full throttle. As soon as the speed stands still, read it; hold {hold.seconds:.0f} s at "
        "most.",
        "Throttle off, neutral.",
        f"Neutral at 1000 to 1500 {rpm} for {cool:.0f} s or more, until the oil is back where "
        "it began, before the next hold.",
        "Write down every reading with gear, oil temperature, and whether the brakes held.",
    )


def _rows(found: StallExpectation) -> tuple[str, ...]:
    """Return a line to fill for every test that can be done."""
    rows = []
    if found.stalls:
        driveline = found.setup.driveline
        gears = [g.name for g in driveline.gears] if driveline else []
        rows += [f"stall, gear {name}" for name in gears[:_MOST_GEARS]] or ["stall"] * 4
        rows += ["stall again"]
    rows += [_AT_RELIEF[name] for name, band in found.combined.items() if band.ends is not None]
    return tuple(rows) or ("none: do not test",)


def _expected(found: StallExpectation, system: System) -> tuple[tuple[str, str], ...]:
    setup, hold = found.setup, found.hold
    rows = []
    if setup.published is not None:
        low, high = (show(v, "angular_speed", system)[0] for v in setup.published)
        unit = show(0.0, "angular_speed", system)[1]
        rows.append(("maker's published span (comes first)", f"{low:.0f} to {high:.0f} {unit}"))
    rows.append(("expected stall speed today", span_words(found.band, system, "to")))
    rows += [
        (_AT_RELIEF[name], span_words(band, system, "to", at_relief=True))
        for name, band in found.combined.items()
    ]
    if hold.seconds is None or hold.heat is None:
        return (*rows, ("longest hold", NO_HOLD))
    if hold.rate is None:
        why = "shortest of common practice; oil data not given, not calculated"
    else:
        rate, kelvin = show(hold.rate or 0.0, "temperature_difference", system)
        heat, watt = show(hold.heat, "power", system)
        why = f"calculated: {heat:.0f} {watt} into the oil alone, {rate:.1f} {kelvin}/s"
        if hold.to_limit is not None:
            begin, degree = show(hold.start, "temperature", system)
            limit, _ = show(hold.limit, "temperature", system)
            why += f", from {begin:.0f} to {limit:.0f} {degree} in {hold.to_limit:.0f} s"
        if hold.set_by == "common-practice":
            why += "; capped by common practice, no source"
    if hold.set_by == "maker":
        why = f"the machine maker's figure; {why}"
    rows.append(("longest hold", f"{hold.seconds:.0f} s ({why})"))
    return tuple(rows)


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def sheet_html(sheet: Sheet) -> str:
    """Return the sheet as one HTML page that prints on one side of A4 or Letter."""
    return template("stall_sheet.html.j2").render(sheet=sheet)


def save_sheet(
    found: StallExpectation,
    path: str | Path,
    *,
    machine_name: str = "",
    system: System = "si",
    overwrite: bool = False,
) -> Path:
    """Write the sheet; the suffix decides the format, .html or .pdf.

    Raises
    ------
    InputError
        If the suffix is neither, the file is there already, or cannot be written.
    """
    target = Path(path)
    if target.suffix.lower() not in _FORMATS:
        raise InputError(
            "the suffix does not name a format of the sheet",
            source=str(target),
            found=target.suffix,
            expected=" | ".join(_FORMATS),
        )
    sheet = sheet_of(found, machine_name=machine_name, system=system)
    if target.suffix.lower() == ".html":
        from converter_match.library.atomic import write_text

        write_text(sheet_html(sheet), target, overwrite=overwrite)
        return target
    from converter_match.present.drawing.saving import save
    from converter_match.present.stall.sheet_pdf import sheet_figure

    return save(sheet_figure(sheet), target, overwrite)
