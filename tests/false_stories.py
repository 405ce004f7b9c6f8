"""Arbitrary claims about the shipped machines: how many of them the audit tells a story about.

A claim that was drawn at random rests on nothing, so every story about one is false. `machines`
and `asked` say about what; `rates` draws claims at a distance from our figure.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from converter_match.judgement.audit.alternatives import Others
from converter_match.judgement.audit.audit import Try, agrees, explained, tries
from converter_match.judgement.audit.case import Case, Missing
from converter_match.judgement.audit.figures import figure, readings
from converter_match.judgement.audit.result import claimed_value
from converter_match.library.misread import misreadings
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
    read_site,
)
from converter_match.library.shipped import find
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.study.study import CLAIM_DIMENSIONS, Claim
from converter_match.units import amount, display_unit, from_si

DISTANCES = (0.01, 0.02, 0.05, 0.10, 0.20, 0.40)
# Claims lie about a distance, not on it: within this factor, evenly in the logarithm.
_ABOUT = 1.25
# Engine, converter, driveline, machine, site, torque of the implement [N.m], a sibling: what a
# person would put together of the shipped files, and sheets of every form.
_MACHINES = (
    ("six-cylinder-10l5-138kw", "single-stage-345mm-tight", "four-speed-loader",
     "wheel-loader-17t", "plateau-quarry-hot-day", 160.0, "single-stage-345mm-loose"),
    ("six-cylinder-7l-185kw", "single-stage-345mm-tight", "four-speed-loader",
     "wheel-loader-17t", "plateau-quarry-hot-day", 0.0, "single-stage-345mm-loose"),
    ("six-cylinder-8l-205kw-late-boost", "single-stage-360mm", "four-speed-loader",
     "wheel-loader-17t", "timber-valley-hot-humid", 180.0, None),
    ("six-cylinder-15l-400kw", "single-stage-420mm", "three-speed-dozer",
     "crawler-dozer-50t", "plateau-quarry-hot-day", 0.0, None),
    ("six-cylinder-9l-240kw", "single-stage-380mm-tight", "six-speed-hauler",
     "articulated-hauler-25t", "plateau-quarry-hot-day", 0.0, "single-stage-390mm-full-range"),
    ("four-cylinder-2l5-45kw", "single-stage-260mm", "two-speed-lift-truck",
     "lift-truck-5t", "harbour-cold-morning", 40.0, None),
    ("four-cylinder-4l5-125hp", "single-stage-310mm", "two-speed-lift-truck",
     "lift-truck-5t", "harbour-cold-morning", 0.0, "single-stage-325mm"),
)  # fmt: skip
_ON_THE_ROAD = {
    "tractive-effort": {"gear": "1", "speed": 1.5},
    "speed-on-grade": {"grade": 0.06},
}


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One question to the audit: what a claim is about, our figure, and everything tried.

    Parameters
    ----------
    machine : str
    claim : Claim
        With a value that does not matter.
    ours : float
        SI.
    tried : tuple of Try
    """

    machine: str
    claim: Claim
    ours: float
    tried: tuple[Try, ...]


def machines() -> Iterator[tuple[str, Case, Others]]:
    """Yield each machine with its circumstances and what else may have been read."""
    for engine, converter, driveline, machine, site, pumps, sibling in _MACHINES:
        paths = {
            kind: find(f"{kind}s", name)
            for kind, name in (("engine", engine), ("converter", converter), ("machine", machine))
        }
        case = Case(
            engine=read_engine(paths["engine"]),
            converter=read_converter(paths["converter"]),
            driveline=read_driveline(find("drivelines", driveline)),
            machine=read_machine(paths["machine"]),
            surface=find_surface("firm smooth earth", read_surfaces()),
            site=read_site(find("sites", site)),
            working_torque=pumps,
            misreadings=tuple(one for kind, p in paths.items() for one in misreadings(kind, p)),
        )
        others = () if sibling is None else (read_converter(find("converters", sibling)),)
        yield f"{machine}, {engine}", case, Others(siblings=others)


def asked(
    quantities: tuple[str, ...] = tuple(CLAIM_DIMENSIONS), of: tuple[str, ...] = ()
) -> tuple[Asked, ...]:
    """Return every question that has an answer, for every machine or for some of them."""
    questions = []
    for name, case, others in machines():
        if of and name not in of:
            continue
        for quantity in quantities:
            claim = Claim(quantity=quantity, value=1.0, given="", combination="new",
                          **_ON_THE_ROAD.get(quantity, {}))  # fmt: skip
            try:
                reading = readings(case, claim)[0]
                ours = figure(case, claim, reading)
            except Missing:
                continue
            # The unit in which it is printed decides what can have been mixed up.
            claim = printed(claim, ours, 4)
            found = tries(claim, case, others, reading)
            questions.append(Asked(machine=name, claim=claim, ours=ours, tried=found))
    return tuple(questions)


def printed(claim: Claim, value: float, digits: int) -> Claim:
    """Return a claim of a value as a letter has it: rounded, in the unit of the trade."""
    kind = claimed_value(value, claim.dimension).amount
    unit = "" if kind is None else display_unit(amount(kind).dimension, "si")
    number = value if kind is None else float(from_si(value, unit, amount(kind).dimension))
    places = digits - 1 - math.floor(math.log10(abs(number)))
    rounded = round(number, places)
    text = f"{rounded:.{max(places, 0)}f} {unit}".rstrip()
    return replace(claim, value=value * rounded / number, given=text)


def rates(
    questions: tuple[Asked, ...],
    distance: float,
    *,
    tolerance: float,
    digits: int,
    draws: int,
    rng: np.random.Generator,
) -> tuple[int, int]:
    """Return how many arbitrary claims about a distance disagree, and how many have a story.

    Parameters
    ----------
    questions : tuple of Asked
    distance : float
        Share of our figure, about which the claims lie on either side.
    tolerance : float
        Of every claim.
    digits : int
        Printed.
    draws : int
        Claims for each question.
    rng : Generator
    """
    disagree = told = 0
    for question in questions:
        spread = rng.uniform(-math.log(_ABOUT), math.log(_ABOUT), draws)
        sides = np.where(np.arange(draws) % 2, 1.0, -1.0)
        for off in (sides * distance * np.exp(spread)).tolist():
            claim = printed(question.claim, question.ours * math.exp(off), digits)
            if agrees(claim, question.ours, tolerance):
                continue
            disagree += 1
            found = explained(claim, question.ours, tolerance, question.tried)
            told += any(item.convincing for item in found)
    return disagree, told
