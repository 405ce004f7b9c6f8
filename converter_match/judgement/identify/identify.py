"""From a machine's log to a characteristic with bands, beside the one on the sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from converter_match.answer.block import Estimate
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.conditions import words as conditions
from converter_match.judgement.identify.basis import LogBasis
from converter_match.judgement.identify.doubts import (
    check_energy,
    check_turbine,
    doubts,
    torque_unit_doubt,
)
from converter_match.judgement.identify.result import Identification, Node
from converter_match.judgement.identify.so_far import COLDEST, LogSoFar
from converter_match.judgement.identify.words import WORDS
from converter_match.judgement.stall.words import STALL_TEST, TOWING
from converter_match.notes import Note
from converter_match.physics.identify.identify import (
    Fitted,
    find_kink,
    fit_curve,
    nodes_for,
)
from converter_match.physics.stall.settling import REFERENCE_OIL

# What is known of a machine is found here as well.
__all__ = ["LogBasis", "identify", "result_of"]

# Capacity / sheet outside which another engine or converter is likelier than a worn one: common
# practice, no source. A torque signal is wrong by several percent, aerated oil takes up to a third.
_LIKE_THE_SHEET = (0.7, 1.4)


def identify(
    pieces: Iterable[Mapping[str, FloatArray]],
    basis: LogBasis | None = None,
    *,
    step: float | None = None,
) -> Identification:
    """Return the characteristic that a log tells of.

    Parameters
    ----------
    pieces : iterable of dict
        Columns of rows that follow one another, name -> ndarray, SI: ``time``, ``engine speed``,
        ``turbine speed``, ``engine torque``, and where known ``turbine torque``, ``grade``,
        ``oil temperature``, ``gear`` (its number, 0 neutral, below zero reverse), ``lock-up``
        (0 open, 1 closed), ``friction torque`` and ``pump torque``, which are taken off the engine
        torque. Read once, one piece in memory at a time.
    basis : LogBasis, optional
    step : float, optional
        Usual step in time [s]; that of the first piece if not given.

    Raises
    ------
    InputError
        If nothing in the log is steady with the converter working, or what it says breaks energy.
    """
    known = LogBasis() if basis is None else basis
    return result_of(LogSoFar().plus(pieces, known, step=step), known)


def result_of(so_far: LogSoFar, known: LogBasis) -> Identification:
    """Return the characteristic that comes of what has been seen so far.

    Parameters
    ----------
    so_far : LogSoFar
    known : LogBasis

    Raises
    ------
    InputError
        As `identify`.
    """
    reservoir, counts, columns = so_far.reservoir, so_far.counts, set(so_far.columns)
    samples = reservoir.samples()
    nu, capacity, episode = samples["nu"], samples["capacity"], samples["episode"]
    if nu.size < 12:
        raise InputError(
            "too few stretches of the log are steady with the converter working",
            field="rows",
            found=f"{counts['steady']} steady stretches of {counts['stretches']}, "
            f"{counts['locked']} locked up, {nu.size} usable",
            expected="at least 12 steady stretches at full or steady throttle",
            hint="log stretches of 5 s and more at a steady load",
        )
    converter = known.converter
    kink = None if converter is None else converter.coupling
    kink_in_log = find_kink(nu, capacity)
    used = kink if kink is not None else kink_in_log
    nodes = nodes_for(used)
    fitted = fit_curve(nu, capacity, episode, nodes, coverage=known.coverage, kink=used)
    ratio = None
    with_ratio = np.isfinite(samples["torque_ratio"])
    if with_ratio.sum() >= 12:
        ratio = fit_curve(
            nu[with_ratio], samples["torque_ratio"][with_ratio], episode[with_ratio], nodes,
            coverage=known.coverage, kink=used,
        )  # fmt: skip
    check_energy(nu, samples["torque_ratio"], columns)
    check_turbine(nu, capacity)
    result = Identification(
        basis_engine=None if known.engine is None else known.engine.id,
        basis_converter=None if converter is None else converter.id,
        coverage=known.coverage,
        nodes=_nodes(fitted, ratio, converter),
        coupling_used=used,
        coupling_found=kink_in_log,
        stretches=counts["stretches"],
        steady=counts["steady"],
        locked=counts["locked"],
        cold=counts["cold"],
        driven=counts["driven"],
        outside=counts["outside"],
        samples=reservoir.seen,
        sample_nu=nu,
        sample_capacity=capacity,
        sample_torque_ratio=samples["torque_ratio"],
        notes=(
            *_notes(known, columns, kink, used),
            *doubts(nu, capacity, samples["torque_ratio"], fitted, columns),
        ),
    )
    top = None if so_far.load is None else so_far.load.top
    doubt = torque_unit_doubt(known.torque_unit, top, result.level)
    low, high = _LIKE_THE_SHEET
    if result.level is not None and not low <= result.level <= high:
        far = WORDS.note("far-from-sheet", level=result.level)
        result = replace(result, notes=(far, *result.notes))
    return result if doubt is None else replace(result, notes=(doubt, *result.notes))


def _nodes(fitted: Fitted, ratio: Fitted | None, converter: Converter | None) -> tuple[Node, ...]:
    nodes = []
    for k, node in enumerate(fitted.node):
        sheet = sheet_ratio = None
        if converter is not None and converter.domain[0] <= node <= converter.domain[1]:
            sheet = float(converter.capacity_at(node))
            sheet_ratio = float(converter.torque_ratio_at(node))

        def band(curve: Fitted | None, k: int = k) -> Estimate | None:
            if curve is None or not curve.covered[k]:
                return None
            return Estimate(float(curve.value[k]), float(curve.low[k]), float(curve.high[k]))

        nodes.append(
            Node(
                speed_ratio=float(node),
                capacity=band(fitted),
                torque_ratio=band(ratio),
                samples=int(fitted.samples[k]),
                episodes=int(fitted.episodes[k]),
                sheet_capacity=sheet,
                sheet_torque_ratio=sheet_ratio,
            )
        )
    return tuple(nodes)


def _notes(
    known: LogBasis, columns: set[str], kink: float | None, used: float | None
) -> tuple[Note, ...]:
    notes = [WORDS.note("torque-signal"), STALL_TEST, TOWING]
    if known.engine is None:
        notes.append(WORDS.note("torque-taken-as-impeller"))
    elif known.hydraulic_torque == 0.0:
        notes.append(WORDS.note("loads-as-listed"))
    if known.torque_in_percent and "friction torque" not in columns:
        notes.append(WORDS.note("friction-in-torque"))
    if known.inertia is None:
        notes.append(WORDS.note("inertia-not-known"))
    if "oil temperature" not in columns:
        notes.append(WORDS.note("oil-not-logged", oil=REFERENCE_OIL))
    else:
        notes.append(WORDS.note("oil-to-90", oil=REFERENCE_OIL, cold=COLDEST))
    weighed = "grade" in columns and known.weighs and ("gear" in columns or known.gear)
    if "turbine torque" not in columns and not weighed:
        notes.append(WORDS.note("no-torque-ratio"))
    elif "turbine torque" not in columns:
        notes.append(WORDS.note("torque-ratio-from-grade", rolling=known.rolling_resistance))
        if known.machine is not None and known.machine.drag_area > 0.0:
            notes.append(conditions.note("air-density-standard"))
    if kink is None and used is not None:
        notes.append(WORDS.note("coupling-found", found=used))
    if used is None:
        notes.append(WORDS.note("coupling-not-found"))
    return tuple(notes)
