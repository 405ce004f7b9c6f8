"""Every figure and document shows what it showed when somebody last looked at it.

What is drawn, axis by axis: names and ends of the axes, and of each line, mark and area its name,
its look, how many points it has, where some of them lie, and their mean; what is written, but not
where on the paper. Held as the answers are (see there).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from converter_match.judgement.identify.identify import LogBasis, identify
from converter_match.judgement.load.load import over_load
from converter_match.judgement.match.solve import solve
from converter_match.judgement.motor.load import motor_over_load
from converter_match.judgement.motor.solve import solve_motor
from converter_match.library.intake.rating_line import intake_rating
from converter_match.library.intake.reading import intake, intake_text
from converter_match.library.read import read_converter, read_load, read_motor
from converter_match.library.shipped import find
from converter_match.present.figures.identify import identify_figure
from converter_match.present.figures.intake import draft_figure
from converter_match.present.figures.motor import motor_figure
from converter_match.present.figures.overlay import overlay
from tests.answers.drawn import document_lines, figure_lines
from tests.answers.holding import compare, kept_names
from tests.examples import converter, engine, full_range
from tests.judgement.identify.test_identify import steady
from tests.load_examples import load, winch
from tests.machines import driveline, machine
from tests.present.documents import DOCUMENTS, document
from tests.present.gallery import GALLERY, result_of


def _motor_and_mixer():
    motor = read_motor(find("motors", "loader-650v-120kw"))
    match = solve_motor(motor, read_converter(find("converters", "single-stage-345mm-tight")))
    mixer = read_load(find("loads", "mud-mixer"))
    return motor_figure(match.with_beside(motor_over_load(match, mixer)))


def _winch():
    match = solve(engine(), full_range())
    hoist = load(winch(), ratio=25.0, efficiency=0.9)
    return overlay(match.with_beside(over_load(match, hoist)), font_scale=1.4)


SHEETS = Path(__file__).parents[1] / "data" / "sheets"
RATING = "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; net; all speed; idle 800 rpm; high idle 2380 rpm"


def _identified():
    """A log on a grade: the torque ratio is known too."""
    basis = LogBasis(
        converter=converter(), machine=machine(), driveline=driveline(), gear="2",
        rolling_resistance=0.03,
    )  # fmt: skip
    return identify_figure(identify([steady(nu=0.5, blocks=60, grade=0.08)], basis), system="us")


# What is drawn of other results, in other letters, or on axes of its own.
OTHERS = {
    "draft-smoothed": lambda: draft_figure(
        intake(SHEETS / "plain.csv", stator="one-way", smooth=True)
    ),
    "draft-engine-smoothed": lambda: draft_figure(
        intake_text(
            "rpm;N.m;kW\n800;602;50.4\n1000;740;77.5\n1200;905;113.7\n1400;1010;148.1\n"
            "1600;985;165\n1800;945;178.1\n2000;880;184.3\n2200;803;185\n",
            smooth=True,
            rating_basis="net",
        ),
        system="us",
    ),
    "draft-rating": lambda: draft_figure(intake_rating(RATING)),
    "motor-and-load": _motor_and_mixer,
    "winch": _winch,
    "identified-on-a-grade": _identified,
    "larger-letters": lambda: overlay(
        solve(engine(), converter(oil_density=None)), system="us", font_scale=1.6
    ),
}
FIGURES = {f"figure-{name.replace(' ', '-')}": name for name in GALLERY}
WHOLES = {f"document-{name.replace(' ', '-')}": name for name in DOCUMENTS}


@pytest.mark.parametrize("kept", FIGURES)
def test_figure_shows_what_it_showed(kept, request):
    # In the units and the letters that it has unasked.
    name = FIGURES[kept]
    compare(kept, list(figure_lines(GALLERY[name][1](result_of(name)))), request)


@pytest.mark.parametrize("name", OTHERS)
def test_other_figure_shows_what_it_showed(name, request):
    compare(f"figure-{name}", list(figure_lines(OTHERS[name]())), request)


@pytest.mark.parametrize("kept", WHOLES)
def test_document_holds_what_it_held(kept, request):
    compare(kept, list(document_lines(document(WHOLES[kept]), "si")), request)


def test_every_kept_figure_and_document_is_drawn():
    kept = {f"{kind}{name}" for kind in ("figure-", "document-") for name in kept_names(kind)}
    assert kept == {*FIGURES, *WHOLES, *(f"figure-{name}" for name in OTHERS)}
