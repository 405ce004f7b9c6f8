"""Figures and probabilities before and after the readings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from converter_match.curves import FloatArray
from converter_match.judgement.evidence import words
from converter_match.judgement.evidence.result import BeforeAfter, OddsMoved
from converter_match.judgement.uncertainty.judged import Judged
from converter_match.judgement.uncertainty.result import FIGURES, DrawnFigure, interval
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.study.study import PRESENT, Duty

_KEPT = ("stall-speed", "stall-turbine-torque", "stall-heat", "steepest-grade", "top-speed")
_Key = tuple[str, str, str]


def figures_of(found: Judged) -> Mapping[_Key, tuple[str, DrawnFigure]]:
    """Return the figures that readings are to sharpen.

    Parameters
    ----------
    found : Judged

    Returns
    -------
    mapping of (combination, condition, figure) to (name of the combination, figure)
    """
    study = found.study
    present = found.sampled[0] if study.present is not None else None
    table = {}
    for combination, row in zip(study.combinations, found.sampled, strict=True):
        other = None if combination.id == PRESENT else present
        for place, item in enumerate(row):
            condition = item.outcome.condition.name
            beside = None if other is None else other[place]
            for name, title, dimension, values in _drawn(item, beside, study.duty):
                figure = interval(name, title, dimension, condition, values)
                table[combination.id, condition, name] = combination.name, figure
    return table


def _drawn(
    item: Sampled, present: Sampled | None, duty: Duty
) -> Iterator[tuple[str, str, str, FloatArray]]:
    """Yield name, title, dimension and draws of each figure that there is."""
    if item.outcome.missing:
        return
    for name in _KEPT:
        title, dimension, read = FIGURES[name]
        values = read(item)
        if values is not None:
            yield name, title, dimension, values
    beside = present is not None and not present.outcome.missing
    if beside and present is not None:
        ratio = item.stall_turbine_torque / present.stall_turbine_torque
        yield "stall-turbine-torque-over-present", words.OVER_PRESENT["torque"], "ratio", ratio
    if item.outcome.tractive is None:
        return
    for grade in duty.grades:
        if grade == 0.0:
            continue
        said = f"{100 * grade:g}"
        yield (
            f"speed-on-{said}",
            words.ON_GRADE["speed"].format(grade=said),
            "velocity",
            (item.speed_on(grade)),
        )
        if beside and present is not None and present.outcome.tractive is not None:
            title = words.OVER_PRESENT["speed"].format(grade=said)
            ratio = item.speed_on(grade) / present.speed_on(grade)
            yield f"speed-on-{said}-over-present", title, "ratio", ratio
    steady = duty.continuous_grade
    if steady is not None:
        said = f"{100 * steady:g}"
        title = words.ON_GRADE["heat"].format(grade=said)
        yield f"heat-on-{said}", title, "power", item.heat_on(steady)


def moved_figures(
    before: Mapping[_Key, tuple[str, DrawnFigure]], after: Mapping[_Key, tuple[str, DrawnFigure]]
) -> tuple[BeforeAfter, ...]:
    """Return the figures of both, side by side.

    Parameters
    ----------
    before, after : mapping
        From `figures_of`.
    """
    return tuple(
        BeforeAfter(combination=key[0], name=name, before=figure, after=after[key][1])
        for key, (name, figure) in before.items()
    )


def moved_odds(before: Judged, after: Judged | None) -> tuple[OddsMoved, ...]:
    """Return the probability of every criterion, and of all that are required.

    Parameters
    ----------
    before : Judged
    after : Judged or None
        None where nothing is made of the readings.
    """
    study, rows = before.study, []
    for k, combination in enumerate(study.combinations):
        later = None if after is None else {item.name: item for item in after.odds[k]}
        for item in before.odds[k]:
            rows.append(
                OddsMoved(
                    combination=combination.id,
                    name=combination.name,
                    criterion=item.name,
                    title=item.title,
                    weight=item.weight,
                    before=item.probability,
                    after=None if later is None else later[item.name].probability,
                )
            )
        if combination.id != PRESENT:
            rows.append(
                OddsMoved(
                    combination=combination.id,
                    name=combination.name,
                    criterion="",
                    title=words.ALL_REQUIRED,
                    weight="must",
                    before=before.all_musts(k),
                    after=None if after is None else after.all_musts(k),
                    asked=study.rule.order_probability,
                )
            )
    return tuple(rows)
