"""What is odd about a study's own numbers: its duty, its limits, its tolerances."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.library.odd.shares import grade_oddities
from converter_match.library.odd.words import SHARES
from converter_match.notes import Note
from converter_match.study.study import TOLERANCE_DIMENSIONS, Study

# Common practice, no source.
HEAT_PER_POWER = (0.02, 1.5)
TORQUE_SHARE = (0.002, 1.0)
TINY_TOLERANCE = 0.001


def oddities(study: Study) -> Iterator[Note]:
    """Yield what is odd about a study, its components left out.

    Parameters
    ----------
    study : Study

    Yields
    ------
    Note
    """
    duty, engines = study.duty, [item.engine for item in study.combinations]
    if duty.continuous_grade is not None:
        yield from grade_oddities("duty.continuous_grade", [duty.continuous_grade])
    yield from grade_oddities("the steepest of duty.grades", duty.grades)
    power = max(engine.rated_power for engine in engines)
    low, high = (share * power for share in HEAT_PER_POWER)
    if study.limits.heat is not None and not low <= study.limits.heat <= high:
        heat = study.limits.heat
        yield SHARES.note("heat-limit-unusual", heat=heat, power=power, low=low, high=high)
    torque, most = duty.hydraulic_torque, min(engine.peak_torque[1] for engine in engines)
    least, largest = TORQUE_SHARE
    if torque and not least * most <= torque <= largest * most:
        yield SHARES.note("hydraulic-torque-unusual", torque=torque, most=most)
    for item in study.tolerances:
        share = TOLERANCE_DIMENSIONS[item.quantity] in ("ratio", "weight_share")
        if share and 0.0 < item.half_width < TINY_TOLERANCE:
            what = f"the tolerance of {item.quantity}"
            yield SHARES.note("tolerance-tiny", what=what, share=item.half_width)
