"""A tolerance of the rolling radius does what another radius does, drags included."""

import numpy as np
import pytest

from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.verdict.outcome import outcome
from converter_match.judgement.verdict.view import Nominal
from converter_match.study.study import Condition, Duty
from tests.machines import driveline, machine, surface
from tests.study_examples import combination

GRADES = (0.0, 0.05, 0.1)
DUTY = Duty(surface=surface(), grades=GRADES, continuous_grade=0.05)
HERE = Condition(site=None)
# Drag that counts: the machine's frontal area ten times over.
DRAGGED = machine(frontal_area=70.0, running_drag=1500.0)


@pytest.mark.parametrize("share", [-0.06, 0.04])
@pytest.mark.parametrize("limit", [None, 8.0])
def test_draws_of_the_radius_are_machines_built_with_it(share, limit):
    line = driveline(speed_limit=limit) if limit else driveline()
    made = combination("new", machine=DRAGGED, driveline=line)
    drawn = Sampled(outcome(made, HERE, DUTY), {"rolling-radius": np.full(3, share)}, 3)
    other = made.replace(machine=DRAGGED.with_radius(1.0 + share))
    built = Nominal(outcome(other, HERE, DUTY))
    for grade in GRADES:
        np.testing.assert_allclose(drawn.speed_on(grade), built.speed_on(grade)[0], rtol=1e-7)
        np.testing.assert_allclose(drawn.heat_on(grade), built.heat_on(grade)[0], rtol=1e-6)
    np.testing.assert_allclose(drawn.steepest_start, built.steepest_start[0], rtol=1e-7)
    speed = np.array([0.0, 5.0])
    # Read off a curve through few draws, away from where the gear changes or the grip ends.
    np.testing.assert_allclose(drawn.effort(speed)[:, 0], built.effort(speed)[:, 0], rtol=1e-2)
