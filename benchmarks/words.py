"""What each figure means, a line each: for the page, which has no heads of files beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

# Bench -> (pattern of the figure's name, what it is). Sizes in a name are numbers of any size.
WORDS: Mapping[str, Mapping[str, str]] = {
    "matching": {
        "matches a second, one pair": "speed ratios a second for which engine speed, torque and "
        "torque ratio are found, one engine and one converter",
        "match / evaluating both curves": "a match over reading the engine's and the converter's "
        "curve at as many points, with the curves of this project",
        "match / evaluating both in scipy": "the same, the curves read by scipy's interpolants",
        "with a new engine each time / both curves": "as the first ratio, with what the engine's "
        "torque needs calculated anew before every match",
        "brentq loop / match, a point": "the loop that one writes without this project: scipy's "
        "curves, its root finder for one speed ratio after the other, then torque and torque ratio",
        "leanest loop": "the shortest such loop over a match: the converter's curve read once a "
        "point, and nothing found but the engine speed",
        "loop over our own curves": "such a loop over a match, on the curves of this project, "
        "which check what they are asked; nothing found but the engine speed",
        "match in blocks / all at once": "the same points in blocks that fit into a fixed memory",
        "a torque factor a point / one for all": "every point with a factor of its own on the "
        "engine's torque, as draws have it, over one for all points",
        "largest difference from the loop": "of engine speed, torque or torque ratio, between "
        "match and loop",
    },
    "readings": {
        r"\S+ draws of a small study": "all combinations of a study with two of them, judged",
        "predicting 12 readings / draws": "what twelve readings would show in each of these draws",
        "ranking all pairs of 12 readings / draws": "the worth of each and of every pair to the "
        "decision",
        "both / draws": "all of it that comes on top of the draws",
    },
    "memory": {
        r"peak, \S+ points in blocks": "the most that arrays and objects take beyond what was "
        "there before, each block reduced and let go",
        r"whole process, \S+ points": "the most that the process held, Python and libraries too",
        r"peak, \S+ points all at once": "the same without blocks: it grows with the points",
    },
    "start": {
        "import converter_match / import numpy": "a process that imports the package and ends, "
        "over one that imports numpy",
        "and the names to read and solve / import numpy": "the same with the functions that read "
        "files and match them",
        "solve, cold / import numpy, scipy.interpolate": "`converter-match solve` from nothing to "
        "its answer, over a process that imports no more than a script of one's own would",
        "with --json": "the same, with every point printed as JSON",
        "solve, cold": "`converter-match solve` from nothing to its answer",
        "--help, cold": "`converter-match --help` from nothing to its answer",
    },
    "study": {
        r"\d+ draws": "the shipped study drawn that often within its tolerances: four combinations "
        "in four conditions, matched anew in every draw",
        "draws / as the data say, once": "all draws over the same study calculated once",
        "solving one by one / draws": "solving as many matches one after the other, over the draws",
        "draws / without those followed": "over the same without the candidate whose engine has "
        "several matches at one turbine speed: its draws are followed up from rest",
        "draws and routes / draws": "with the routes of the duty on top, without that candidate",
        "draws and ranking / draws": "with the ranking of what the uncertainty comes from on top, "
        "without that candidate",
    },
    "scale": {
        r".* combinations against bounds, 2 processes": "a catalogue of so many held against what "
        "can be said without a drive, by the clock, starting the processes included",
        "the shipped study again / first time": "its verdicts and draws from what was kept, over "
        "working them out, by the clock",
        "answers from what was kept that are the same": "1 where they are, to the last bit",
        r"one process / two, \d+ combinations": "a shortlist without draws by one process over the "
        "same by two, by the clock, starting them included",
        "answers of one and two processes that are the same": "1 where they are, to the last bit",
        r"handing out, share of pieces of .* s": "the time that two processes take longer than "
        "half of the pieces' own time, as a share of it",
    },
    "route": {
        r"one run, \d+ segments, 20 km": "speeds, times, fuel, heat and oil temperature along the "
        "route, once",
        r"\d+ draws": "the same route as often, each time with a mass, torque and rolling "
        "resistance of its own",
        "time-step loop / one run": "a plain loop of a tenth of a second a step, which keeps speed "
        "and distance only, over a full run",
        "time-step loop / draws, a draw": "that loop over a draw of many, asked for together",
        "speed profile only": "that loop over a draw of which, as of the loop, only the speeds are "
        "kept: no energies, fuel and oil",
        "cycle time / that of the loop": "whether both come to the same time of the cycle",
        "the whole command": "`converter-match route` on that route, from nothing to its answer",
        "for the first time on a computer": "the same where the march has to be compiled first",
    },
    "logs": {
        r"rows a minute, .* rows": "rows of a log in Parquet that `identify` takes in a minute by "
        "the clock, from the start of the reading to the curve",
        r"whole process, .* rows": "the most memory that the whole process held, with libraries",
    },
    "latency": {
        "p95 of the bench / median of a bare slider": "the time from a key to the changed picture "
        "that 19 of 20 pictures keep, over the usual time of a slider that changes one word",
        "/ p95 of a bare slider": "the same over what 19 of 20 of that slider keep",
        "pictures a second, key held": "changed pictures while an arrow key repeats",
        "bench, key to picture": "from a key on a slider to the changed picture of the whole bench",
        "bare slider, key to picture": "the same for a slider that changes one word: the shortest "
        "way from the browser to Python and back",
        "still painting after release": "how long pictures still come after the held key is let go",
    },
}  # fmt: skip


def words_of(bench: str, figure: str) -> str:
    """Return what a figure is, or nothing where nobody has said it."""
    for pattern, said in WORDS.get(bench, {}).items():
        if re.fullmatch(pattern, figure.strip()):
            return said
    return ""


def explained(bench: str, figures: Iterable[str]) -> list[str]:
    """Return a line of the page for each figure; those of one kind share theirs."""
    lines: dict[str, str] = {}
    for figure in figures:
        if said := words_of(bench, figure):
            lines.setdefault(said, f"- **{figure.strip()}**: {said}.")
    return list(lines.values())
