"""Which readings are listed, what they would show, and what a study changes about them."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.evidence.possible import possible_readings
from converter_match.judgement.evidence.prior import prior_of
from converter_match.library.study_file import read_study
from converter_match.units import note_text
from tests.study_examples import study_file

TOLERANCES = """
[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 4 }
distribution = "normal"

[[tolerance]]
quantity = "k-factor"
half_width = { unit = "percent", value = 6 }
distribution = "normal"
"""
DRAWS = 512
pytestmark = pytest.mark.slow


def listed(path, candidate="new-engine", draws=DRAWS):
    study = read_study(path)
    run = run_study(study.replace(measurements=()))
    first = {row[0].combination.id: row[0] for row in run.outcomes}
    scores = prior_of(study, ()).draw(draws, 0)
    found = possible_readings(study, candidate, first, scores)
    return {(one.item.quantity, one.item.combination): one for one in found}


def test_what_depends_on_nothing_in_doubt_is_not_listed(tmp_path):
    found = listed(study_file(tmp_path, more=TOLERANCES))
    assert ("stall-speed", "present") in found
    assert ("engine-torque", "new-engine") in found
    # No tolerance of mass or torque ratio, and the tyre is taken as known.
    assert {"weight", "rolling-radius", "torque-ratio"} & {name for name, _ in found} == set()
    # The candidate does not stand in the yard, and has the present converter.
    assert ("stall-speed", "new-engine") not in found
    assert ("k-factor", "new-engine") not in found


def test_a_test_bed_reads_the_torque_that_the_engine_has_in_each_draw(tmp_path):
    one = listed(study_file(tmp_path, more=TOLERANCES), draws=4096)["engine-torque", "new-engine"]
    nominal = float(np.median(one.predicted.values))
    # Half width 4 % of a normal distribution: 2 % is its deviation.
    assert np.std(one.predicted.values) / nominal == pytest.approx(0.02, rel=0.02)
    # The instrument 1 %, the bench model 0.5 %.
    assert one.predicted.deviation / nominal == pytest.approx(np.hypot(0.01, 0.005), rel=1e-3)


def test_a_study_changes_adds_and_takes_out(tmp_path):
    more = (
        TOLERANCES
        + """
[[possible]]
quantity = "stall-speed"
combination = "present"
deviation = { unit = "rpm", value = 40 }
cost = "hours"

[[possible]]
quantity = "stall-speed"
combination = "new-engine"          # a sister machine at the next quarry

[[possible]]
quantity = "engine-torque"
combination = "new-engine"
cost = "off"
"""
    )
    found = listed(study_file(tmp_path, more=more))
    own, other = found["stall-speed", "present"], found["stall-speed", "new-engine"]
    assert own.cost == "hours"
    # 40 rpm, and the model's 1 %.
    model = 0.01 * own.predicted.middle
    assert own.predicted.deviation == pytest.approx(np.hypot(40 * np.pi / 30, model), rel=1e-6)
    assert other.cost == "minutes"
    assert other.item.deviation == pytest.approx(0.007 * other.predicted.middle, rel=1e-6)
    assert ("engine-torque", "new-engine") not in found


def test_what_was_read_is_not_listed_again(tmp_path):
    more = (
        TOLERANCES
        + """
[[measurement]]
quantity = "stall-speed"
combination = "present"
value = { unit = "rpm", value = 1380 }
deviation = { unit = "rpm", value = 10 }
site = "plateau-quarry-hot-day"
"""
    )
    assert ("stall-speed", "present") not in listed(study_file(tmp_path, more=more))


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ('quantity = "stall-sped"\ncombination = "present"', r"possible[0].quantity"),
        ('quantity = "stall-speed"\ncombination = "old"', r"possible[0].combination"),
        ('quantity = "pull"\ncombination = "present"', r"possible[0].gear"),
        (
            'quantity = "stall-speed"\ncombination = "present"\n'
            'deviation = { unit = "rpm", value = 0 }',
            r"possible[0].deviation",
        ),
        ('quantity = "stall-speed"\ncombination = "present"\nvalue = 3', r"possible[0].value"),
    ],
)
def test_a_reading_that_makes_no_sense_is_refused_by_its_place(tmp_path, row, field):
    path = study_file(tmp_path, more=f"{TOLERANCES}\n[[possible]]\n{row}\n")
    with pytest.raises(InputError) as caught:
        read_study(path)
    assert caught.value.field == field


def test_losses_and_order_threshold_are_one_rule(tmp_path):
    more = TOLERANCES + "\n[losses]\nwrong_order = 57000\nmissed_order = 3000\nhours = 300\n"
    study = read_study(study_file(tmp_path, more=more))
    assert study.rule.order_probability == pytest.approx(0.95)
    assert study.known_losses.hours == 300.0
    assert study.known_losses.dear == pytest.approx(600.0)
    both = more + '\n[decision]\norder_probability = { unit = "percent", value = 80 }\n'
    with pytest.raises(InputError, match="95 %") as caught:
        read_study(study_file(tmp_path, more=both))
    assert caught.value.field == "losses.wrong_order"


def test_a_study_says_what_to_measure_and_nothing_where_nothing_would_change(tmp_path):
    limit = (
        '\n[limits]\nstall_speed_least = {{ unit = "rpm", value = {} }}\n\n'
        '[[criterion]]\nname = "stall-speed-window"\nweight = "must"\n'
    )
    tight = run_study(read_study(study_file(tmp_path, more=TOLERANCES + limit.format(1690))))
    asked = with_extras(tight, draws=1024).measure_next.of("new-engine")
    assert asked.readings[asked.first[0]].item.quantity == "stall-speed"
    assert with_extras(tight, draws=300).measure_next.candidates == ()
    loose = run_study(read_study(study_file(tmp_path, more=TOLERANCES + limit.format(1300))))
    found = with_extras(loose, draws=1024)
    assert found.measure_next.of("new-engine").nil
    assert "no reading can change this" in found.text()
    assert found.to_dict()["measure_next"][0]["no_reading_can_change_it"] is True


def test_titles_name_what_is_read_and_on_what(tmp_path):
    found = listed(study_file(tmp_path, more=TOLERANCES))
    titles = {key: note_text(one.title, "si") for key, one in found.items()}
    assert titles["stall-speed", "present"] == "stall speed of the present machine"
    assert titles["engine-torque", "new-engine"].startswith("torque of the engine to be fitted")
    one = found["stall-speed", "present"]
    assert replace(one.item, pumps="relief").use != one.item.use
