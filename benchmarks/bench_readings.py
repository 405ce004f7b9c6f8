"""What to measure next: all pairs of twelve possible readings against the plain draws of a study.

The study is a shipped one without its readings; the draws are those of its combinations, judged.
Twelve readings are predicted on the same draws, and every pair of them is ranked.
"""

from __future__ import annotations

from dataclasses import replace

from measuring import Effort, Row, in_turns, ratio, seconds

from converter_match.judgement.evidence.possible import possible_readings
from converter_match.judgement.evidence.prior import prior_of
from converter_match.judgement.evidence.value import worth
from converter_match.judgement.uncertainty.judged import judged
from converter_match.judgement.verdict.outcome import outcome
from converter_match.library.shipped import find
from converter_match.library.study_file import read_study
from converter_match.study.measurement import Measurement
from converter_match.study.possible import PossibleReading

_READINGS = 12


def rows(effort: Effort) -> list[Row]:
    study = read_study(find("studies", "loader-in-the-yard"))
    study = study.replace(measurements=(), possible=tuple(_more(study)))
    draws = 200 if effort.quick else 10_000
    known = tuple(
        tuple(outcome(item, k, study.duty) for k in study.conditions) for item in study.combinations
    )
    first = {row[0].combination.id: row[0] for row in known}
    candidate = study.candidates[0].id
    scores = prior_of(study, ()).draw(draws, 0)
    inputs = prior_of(study, ()).inputs(scores)
    found = judged(study, inputs, draws, known)
    holds = found.musts_hold(1)
    assert holds is not None
    gain = study.known_losses.gain(holds)

    def listed():
        return possible_readings(study, candidate, first, scores)[:_READINGS]

    predicted = [item.predicted for item in listed()]
    assert len(predicted) == _READINGS
    actions = {
        "draws": lambda: judged(study, inputs, draws, known),
        "predicted": listed,
        "pairs": lambda: worth(gain, predicted),
    }
    times = in_turns(actions, effort.repeats(3))
    both = replace(
        times["pairs"],
        processor=tuple(map(sum, zip(times["pairs"].processor, times["predicted"].processor,
                                     strict=True))),
        wall=tuple(map(sum, zip(times["pairs"].wall, times["predicted"].wall, strict=True))),
    )  # fmt: skip
    return [
        seconds(f"{draws} draws of a small study", times["draws"]),
        ratio("predicting 12 readings / draws", times["predicted"], times["draws"]),
        ratio("ranking all pairs of 12 readings / draws", times["pairs"], times["draws"]),
        ratio("both / draws", both, times["draws"], most=5.0),
    ]


def _more(study):
    """Yield readings beside the usual ones, until there are twelve."""
    wanted = (("pull", {"gear": "2"}), ("speed-on-grade", {"gear": "2", "grade": 0.08}),
              ("stall-speed", {"combination": "new-engine"}))  # fmt: skip
    for quantity, settings in wanted:
        given = {"combination": "present", "deviation": 1.0} | settings
        item = Measurement(quantity=quantity, site=study.sites[0], air_known=(True, True), **given)
        yield PossibleReading(item=item, cost="hours", share=0.02)
