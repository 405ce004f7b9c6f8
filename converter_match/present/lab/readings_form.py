"""A form for readings in a notebook: each is weighed as it is typed, with what it changes."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from typing import Any

import ipywidgets

from converter_match.answer.block import Heading
from converter_match.answer.html import html
from converter_match.errors import InputError
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import StudyResult, run_study
from converter_match.judgement.evidence.possible import Possible, possible_readings
from converter_match.judgement.evidence.prior import prior_of
from converter_match.judgement.evidence.result import reading_value
from converter_match.present.figures.evidence import evidence_figure
from converter_match.present.notebook.picture import picture
from converter_match.study.measurement import Measurement
from converter_match.study.possible import PossibleReading
from converter_match.study.study import Study
from converter_match.units import System, note_text
from converter_match.units.written import written_to_si

_LOOKED_AT = 256  # draws enough for what a reading would show, to put its size into the form
_WIDE = "26em"


class ReadingsForm(ipywidgets.VBox):  # type: ignore[misc]  # ships no types
    """What could be read before a decision, and what each value makes of it.

    Parameters
    ----------
    study : Study
        With tolerances; its own readings stand in the form to begin with.
    draws : int
        Fewer answer sooner.
    system : {"si", "us"}

    Attributes
    ----------
    result : StudyResult
        By the readings that stand in the form.
    """

    def __init__(self, study: Study, *, draws: int = 2000, system: System = "si") -> None:
        self.study, self.draws, self.system = study, draws, system
        self._run = run_study(study.replace(measurements=()))
        self._possible = self._listed()
        given = {item.use: item for item in study.measurements}
        self.fields: dict[str, ipywidgets.Text] = {}
        self.said = ipywidgets.HTML()
        rows = []
        for one in self._possible:
            taken = given.get(one.item.use)
            name = note_text(one.title, system)
            typed = ipywidgets.Text(
                value="" if taken is None else taken.given,
                placeholder=f"such as {self._middle(one)}",
                description=name[:1].upper() + name[1:],
                continuous_update=False,
                style={"description_width": _WIDE},
                layout=ipywidgets.Layout(width="42em"),
            )
            typed.observe(self._typed, names="value")
            self.fields[name] = typed
            rows.append(typed)
        self.result: StudyResult = self._run
        super().__init__([*rows, self.said])
        self.weigh()

    def _listed(self) -> list[Possible]:
        """Return what could be read, the study's own readings among it."""
        read = self.study.measurements
        own = tuple(
            PossibleReading(item=replace(item, value=None, given=""), cost="minutes")
            for item in read
        )
        others = tuple(
            one for one in self.study.possible if all(one.item.use != item.use for item in read)
        )
        study = self.study.replace(measurements=(), possible=(*own, *others))
        first = {row[0].combination.id: row[0] for row in self._run.outcomes}
        scores = prior_of(study, ()).draw(_LOOKED_AT, 0)
        found = possible_readings(study, self._run.decision.combination, first, scores)
        known = {item.use: item for item in read}
        return [replace(one, item=known.get(one.item.use, one.item)) for one in found]

    def _middle(self, one: Possible) -> str:
        middle = reading_value(one.predicted.middle, one.item.kind.dimension)
        return Heading("", "").text(middle, self.system)

    def _typed(self, change: dict[str, Any]) -> None:
        self.weigh()

    def weigh(self) -> None:
        """Weigh what stands in the form, and show what it makes of the decision."""
        try:
            items = tuple(self._items())
            study = self.study.replace(measurements=items)
            self.result = with_extras(replace(self._run, study=study), draws=self.draws)
        except InputError as error:
            self.said.value = f"<p role='alert'><b>{escape(str(error))}</b></p>"
            return
        self.said.value = result_html(self.result, self.system)

    def _items(self) -> list[Measurement]:
        found = []
        for one, field in zip(self._possible, self.fields.values(), strict=True):
            text = field.value.strip()
            if not text:
                continue
            if text == one.item.given:  # as the study has it
                found.append(one.item)
                continue
            value = written_to_si(text, one.item.kind.dimension, source=field.description)
            found.append(replace(one.item, value=value, given=text))
        return found


def result_html(result: StudyResult, system: System) -> str:
    """Return the decision, what the readings changed, and what to measure next."""
    decision, read = result.decision, result.evidence
    parts = [
        f"<p><b>{escape(decision.word.upper())}</b>: "
        f"{escape(note_text(decision.headline, system))}</p>"
    ]
    if read is not None:
        blocks = [block for block in read.blocks() if block.title]
        parts.append(html(blocks[:1], (), system))
        if read.accepted:
            words = "Bands before and after the readings, each about its middle before."
            drawn = picture(evidence_figure(read, system=system), words)
            parts.append(drawn._repr_html_())
        parts += [f"<p>{escape(note_text(note, system))}</p>" for note in read.contradictions]
    if result.measure_next is not None:
        parts.append(html(result.measure_next.about(decision.ranking), (), system))
    return "".join(parts)
