"""What a study asks for before ordering, and what wrong decisions cost: two tables, one rule."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from converter_match.library.assemble.places import said_in_file_words
from converter_match.study.losses import Losses
from converter_match.study.study import DecisionRule

if TYPE_CHECKING:
    from converter_match.library.schema import study as schema


def rule_and_losses(
    decision: schema.DecisionTable, losses: schema.LossesTable | None
) -> tuple[DecisionRule, Losses | None]:
    """Return the rule of a study and its losses; one gives what the other leaves out.

    Parameters
    ----------
    decision : DecisionTable
    losses : LossesTable or None

    Raises
    ------
    InputError
        If a number is out of range, or the two contradict each other.
    """
    asked = _known("decision", decision, DecisionRule.__dataclass_fields__)
    lost = {} if losses is None else _known("losses", losses, Losses.__dataclass_fields__)
    places: dict[str, Any] = {
        f"{table}.{name}": (f"{table}.{name}", value)
        for table, known in (("decision", asked), ("losses", lost))
        for name, value in known.items()
    }
    with said_in_file_words(places):
        rule = DecisionRule(**{name: value.si for name, value in asked.items()})
        if losses is None:
            return rule, None
        given = Losses.given(rule.order_probability, **{k: v.si for k, v in lost.items()})
        if "order_probability" not in asked:
            reject = min(rule.reject_probability, given.threshold)
            reject = reject if "reject_probability" not in asked else rule.reject_probability
            rule = DecisionRule(order_probability=given.threshold, reject_probability=reject)
        given.check_threshold(rule.order_probability)
        return rule, given


def _known(table: str, given: Any, names: Any) -> dict[str, Any]:
    return {name: value for name in names if (value := getattr(given, name)) is not None}
