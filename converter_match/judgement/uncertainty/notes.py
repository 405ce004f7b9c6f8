"""What was assumed of the inputs: which parts were drawn once, and how tolerances were split."""

from __future__ import annotations

from collections.abc import Sequence

from converter_match.answer.block import Quantity
from converter_match.judgement.uncertainty import words
from converter_match.judgement.uncertainty.inputs import DrawnInput
from converter_match.notes import Note
from converter_match.study.doubts import TOLERANCE_DIMENSIONS
from converter_match.study.parts import PART_OF, SITE
from converter_match.study.study import Study


def input_notes(study: Study, inputs: Sequence[DrawnInput]) -> tuple[Note, ...]:
    """Return what was assumed of the inputs of a study, and the tolerances of single parts.

    Parameters
    ----------
    study : Study
    inputs : sequence of DrawnInput
        As `inputs.drawn_inputs` returns them.
    """
    names = {item.id: item.name for item in study.combinations}
    notes = []
    for item in inputs:
        kind, called = PART_OF[item.quantity], "; ".join(names[k] for k in item.combinations)
        own = item.tolerance
        if kind != SITE and len(item.combinations) > 1 and not own.shared:
            notes.append(words.NOTES.note("parts-in-common", part=kind, names=called))
        if own.of is not None or own.shift:
            amount = "share" if TOLERANCE_DIMENSIONS[own.quantity] == "ratio" else (
                TOLERANCE_DIMENSIONS[own.quantity]
            )  # fmt: skip
            notes.append(
                words.NOTES.note(
                    "tolerance-shifted" if own.shift else "tolerance-of-a-part",
                    quantity=own.quantity.replace("-", " "),
                    names=called,
                    width=Quantity(own.half_width, amount, ".3g"),
                    form=own.distribution,
                    **({"shift": Quantity(own.shift, amount, "+.3g")} if own.shift else {}),
                )
            )
        others = [one for one in inputs if one.quantity == item.quantity and one.type == item.type]
        if len(others) > 1 and item is others[0]:
            of_each = "; ".join(names[one.combinations[0]] for one in others)
            notes.append(
                words.NOTES.note(
                    "units-of-a-type",
                    part=kind,
                    id=item.type,
                    quantity=own.quantity.replace("-", " "),
                    names=of_each,
                    share=own.split,
                    source=words.SPLIT_ASSUMED if own.scatter is None else words.SPLIT_GIVEN,
                )
            )
    return tuple(dict.fromkeys(notes))
