"""Data brought in: a dealer's sheet, a spec line, a machine's own log."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from converter_match.api.door import Quantity, in_si, optional, part, quantity
from converter_match.errors import InputError
from converter_match.library.files import FilePath

if TYPE_CHECKING:
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.engine import Engine
    from converter_match.components.full_throttle import FullThrottleRun
    from converter_match.components.machine import Load, Machine
    from converter_match.judgement.identify.full_throttle import FirstGear
    from converter_match.judgement.identify.result import Identification
    from converter_match.library.checked import CheckedFile
    from converter_match.library.intake.draft import Draft


def intake(
    sheet: FilePath | None = None,
    *,
    text: str | None = None,
    spec_line: str | None = None,
    ocr: bool = False,
    **answers: Any,
) -> Draft:
    r"""Read a dealer's sheet, pasted text, or a spec line, and question it.

    Parameters
    ----------
    sheet : str or path-like, optional
        CSV, text or XLSX; or the small TOML file that describes the picture of a chart.
    text : str, optional
        In place of a file: a table as it was pasted.
    spec_line : str, optional
        In place of a file: of an engine, such as ``"185 kW @ 2200 rpm, 1010 N.m @ 1400 rpm,
        gross"``, or how a converter stalls, such as ``"stalls at 2400 rpm behind 300 lbf.ft,
        torque ratio 2.2"``.
    ocr : bool
        Whether `sheet` is a picture of a table (PNG, JPEG, PDF with ``page=1``) to be read off.
        Every cell has to be agreed to; needs the extra ``ocr``.
    **answers
        What is known beside it: ``stator="one-way"``, ``profile_diameter="345 mm"``,
        ``confirm=["row:13"]``, ``units={"K": "rpm/sqrt(lbf.ft)"}``, ...; ``name`` and ``source`` of
        the component to be.

    Returns
    -------
    Draft
        `print` says what was understood and what is open, `Draft.answered` answers,
        `Draft.accept` makes the component when nothing is open; `write` its file.

    Raises
    ------
    InputError
        If it cannot be read at all, an answer belongs to no question, or not exactly one of the
        three is given.

    Examples
    --------
    >>> import converter_match as cm
    >>> sheet = "SR;TR;K [rpm/sqrt(Nm)]\n0;2,20;62,0\n0,5;1,52;63,0\n0,86;1;68,0\n0,95;1;110\n"
    >>> draft = cm.intake(text=sheet)
    >>> [problem.code for problem in draft.open]
    ['stator-inferred']
    >>> draft.accept(confirm="stator").coupling
    0.86
    """
    if sum(each is not None for each in (sheet, text, spec_line)) != 1:
        raise InputError("what is to be read?", expected="one of: a file, text=, spec_line=")
    if ocr and sheet is None:
        raise InputError("needs a picture", field="ocr", expected="the file of one as sheet")
    if spec_line is not None:
        from converter_match.library.intake.reading import intake_line

        return intake_line(spec_line, **answers)
    from converter_match.library.intake.reading import intake, intake_text

    if text is not None:
        return intake_text(text, "pasted sheet", **answers)
    assert sheet is not None  # one of the three is given
    if ocr:
        from converter_match.library.intake.reading import intake_scan

        return intake_scan(sheet, **answers)
    if str(sheet).casefold().endswith(".toml"):
        from converter_match.library.intake.picture import intake_picture

        return intake_picture(sheet, **answers)
    return intake(sheet, **answers)


def check(file: FilePath) -> CheckedFile:
    """Say what a file is, and what is odd about it though it can be read.

    Parameters
    ----------
    file : str or path-like
        Of a part, a site, a study, a route, a log, ...; or the id of a shipped one.

    Returns
    -------
    CheckedFile
        Its kind and id; what is odd, each with a stable code.

    Raises
    ------
    InputError
        If it cannot be read: file, field, what was found and what was expected.

    Examples
    --------
    >>> import converter_match as cm
    >>> cm.check("too-steep").size
    '4 segments'
    """
    from converter_match.library.checked import check_file
    from converter_match.library.shipped import find

    return check_file(str(find(None, file)))


def full_throttle(
    run: FullThrottleRun,
    converter: Converter,
    *,
    mass: Quantity,
    first_gear: tuple[Quantity, Quantity],
    turning: Quantity = 0.03,
    rolling_resistance: Quantity = 0.012,
    drag_area: Quantity = 1.3,
) -> FirstGear:
    """Hold a measured full-throttle run against the bench curve of its converter.

    Parameters
    ----------
    run : FullThrottleRun
        From `published`.
    converter : Converter
        As on the bench.
    mass : float or str
        Of the vehicle: [kg], or a text with its unit.
    first_gear : (float or str, float or str)
        Times between which it runs in first gear [s].
    turning, rolling_resistance : float or str
        Turning parts as a share of the mass, rolling resistance as one of the weight; or texts in
        percent. Common practice, no source.
    drag_area : float or str
        Drag coefficient times frontal area [m^2]. Common practice, no source.

    Returns
    -------
    FirstGear
        Driveline efficiency and engine torque; its `next_gear` predicts another gear, `identified`
        takes the run for a log. Drawn by `figures.measured_run`.

    Raises
    ------
    InputError
        If one of them is no such part, or too few rows lie in first gear.

    Examples
    --------
    >>> import converter_match as cm
    >>> run, bench = cm.published("full_throttle_run"), cm.published("converter_273mm")
    >>> first = cm.full_throttle(run, bench, mass="5900 lb", first_gear=(0.75, 7.0))
    >>> 0.9 < first.efficiency < 1.0
    True
    """
    from converter_match.components.converter import Converter
    from converter_match.components.full_throttle import FullThrottleRun
    from converter_match.judgement.identify.full_throttle import FirstGear, RoadAssumed

    low, high = (in_si(time, "time", "first_gear") for time in first_gear)
    road = RoadAssumed(
        mass=in_si(mass, "mass", "mass"),
        turning=in_si(turning, "weight_share", "turning"),
        rolling=in_si(rolling_resistance, "weight_share", "rolling_resistance"),
        drag_area=in_si(drag_area, "area", "drag_area"),
    )
    bench = part(converter, Converter, "converter")
    return FirstGear(part(run, FullThrottleRun, "run"), bench, road, (low, high))


def identify(
    log: FilePath,
    engine: Engine | None = None,
    converter: Converter | None = None,
    *,
    reference_torque: Quantity | None = None,
    hydraulic_torque: Quantity = 0.0,
    driveline: Driveline | None = None,
    machine: Machine | None = None,
    gear: str | None = None,
    load: Load = "laden",
    rolling_resistance: Quantity = 0.02,
    coverage: Quantity = 0.95,
) -> Identification:
    """Find a converter's characteristic in a machine's own log.

    Parameters
    ----------
    log : str or path-like
        Its file, or the id of a shipped one; read piece by piece, whatever its length.
    engine : Engine, optional
        Its accessories are taken off the torque, its inertia off the rest.
    converter : Converter, optional
        As its sheet has it, to compare with.
    reference_torque : float or str, optional
        What 100 % is, where the log has its torque in percent: [N.m], or a text with its unit.
    hydraulic_torque : float or str
        Taken at the flywheel beside the accessories: [N.m], or a text with its unit.
    driveline, machine, gear, load : optional
        Where the log has grades: from grade and mass to the turbine's torque.
    rolling_resistance : float or str
        Share of the weight, or a text in percent.
    coverage : float or str
        Of the bands.

    Returns
    -------
    Identification
        The characteristic with its bands, and the driving that would fill its gaps.

    Raises
    ------
    InputError
        If the log cannot be read, nothing in it is steady with the converter working, or a number
        is out of range.

    Examples
    --------
    >>> import converter_match as cm
    >>> parts = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    >>> told = cm.identify("loader-shift", *parts, reference_torque="1004 N.m")
    >>> round(told.level, 2)
    1.0
    """
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.engine import Engine
    from converter_match.components.machine import Machine
    from converter_match.judgement.identify.identify import LogBasis, identify
    from converter_match.library.machine_log import MachineLog
    from converter_match.library.shipped import find

    drives = optional(engine, Engine, "engine")
    basis = LogBasis(
        engine=drives,
        converter=optional(converter, Converter, "converter"),
        hydraulic_torque=in_si(hydraulic_torque, "torque", "hydraulic_torque"),
        driveline=optional(driveline, Driveline, "driveline"),
        machine=optional(machine, Machine, "machine"),
        gear=gear,
        laden=load == "laden",
        rolling_resistance=in_si(rolling_resistance, "weight_share", "rolling_resistance"),
        coverage=in_si(coverage, "ratio", "coverage"),
    )
    file = find("logs", log)
    pieces = MachineLog(
        file,
        reference_torque=quantity(reference_torque, "torque", "reference_torque"),
        peak_torque=None if drives is None else drives.peak_torque[1],
    ).pieces()
    try:
        return identify((piece.columns for piece in pieces), basis)
    except InputError as error:
        raise error.located(source=str(file)) from None
