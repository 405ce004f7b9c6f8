"""A study's draws: 10 000 of the shipped study, with four combinations in four conditions.

The ratios: all draws against working out the same combinations once, as the data say; a draw
against solving one machine at a time, which is what one would write without arrays. One candidate
has several matches at one turbine speed, and its draws are followed up from rest, which takes most
of the time; what the ranking of inputs and the routes of the duty take on top is measured without
it.
"""

from __future__ import annotations

import numpy as np
from measuring import Effort, Row, in_turns, ratio, seconds

from converter_match.judgement.match.solve import solve
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.judgement.verdict.outcome import outcome
from converter_match.library.shipped import find
from converter_match.library.study_file import read_study

_ONE_BY_ONE = 20
_FOLLOWED = "late-boost"


def rows(effort: Effort) -> list[Row]:
    study = read_study(find("studies", "quarry-loader-repower"))
    draws = 200 if effort.quick else 10_000

    def as_data_say():
        return tuple(
            tuple(outcome(item, k, study.duty) for k in study.conditions)
            for item in study.combinations
        )

    known = as_data_say()
    short = study.replace(
        candidates=tuple(item for item in study.candidates if item.id != _FOLLOWED), claims=()
    )
    few = [row for row in known if row[0].combination.id != _FOLLOWED]
    pair = study.combinations[0]
    engines = [pair.engine.replace(torque=pair.engine.torque * factor)
               for factor in np.linspace(0.98, 1.02, _ONE_BY_ONE)]  # fmt: skip
    bare, bare_short = (one.replace(duty=one.duty.replace(routes=())) for one in (study, short))
    actions = {
        "draws": lambda: uncertainty(bare, known, draws=draws, sensitivities=False),
        "short": lambda: uncertainty(bare_short, few, draws=draws, sensitivities=False),
        "routes": lambda: uncertainty(short, few, draws=draws, sensitivities=False),
        "nominal": as_data_say,
        "one by one": lambda: [solve(engine, pair.converter) for engine in engines],
    }
    if not effort.quick:
        actions["ranked"] = lambda: uncertainty(bare_short, few, draws=draws)
    times = in_turns(actions, effort.repeats(3))
    matches = draws * len(study.combinations) * len(study.conditions)
    alone = times["one by one"].per(_ONE_BY_ONE / matches)
    found = [
        seconds(f"{draws} draws", times["draws"], most=3.0),
        ratio("draws / as the data say, once", times["draws"], times["nominal"]),
        ratio("solving one by one / draws", alone, times["draws"]),
        ratio("draws / without those followed", times["draws"], times["short"]),
        ratio("draws and routes / draws", times["routes"], times["short"]),
    ]
    if "ranked" in times:
        found.append(ratio("draws and ranking / draws", times["ranked"], times["short"]))
    return found
