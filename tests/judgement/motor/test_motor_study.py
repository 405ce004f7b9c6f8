"""Keep the converter, or couple directly: what decides, and what is not asked of a motor."""

import json
from dataclasses import replace

import pytest

from converter_match.errors import InputError
from converter_match.judgement.motor.study import run_motor_study
from converter_match.judgement.motor.study_draws import draw_motor_study
from converter_match.library.motor_study_file import is_motor_study, read_motor_study
from converter_match.library.shipped import shipped
from converter_match.library.study_file import read_study
from converter_match.study.motor_study import MotorRequirements

STUDY = read_motor_study("lift-truck-electric")
FILE = shipped("motor-studies")["lift-truck-electric"].read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def result():
    return run_motor_study(STUDY)


def case(result, name):
    return next(item for item in result.candidates if item.candidate.id == name)


def asking(**requirements):
    """Return the study of two candidates with other requirements, without its routes."""
    kept = tuple(item for item in STUDY.candidates if item.id in ("converter-kept", "direct-1.4"))
    return STUDY.replace(candidates=kept, routes=(), requirements=MotorRequirements(**requirements))


@pytest.mark.slow
def test_the_least_energy_of_those_that_meet_everything_is_taken(result):
    good = [item for item in result.candidates if not item.failed]
    assert [item.candidate.id for item in good] == ["direct-1.4", "direct-1.8"]
    assert result.chosen.energy == min(item.energy for item in good)
    assert result.word == "COUPLE DIRECTLY"
    assert not result.fails


@pytest.mark.slow
def test_a_limit_of_the_gearbox_rules_a_candidate_out(result):
    kept = case(result, "converter-kept")
    assert kept.failed == ("part-limits",)  # 548 N.m into a gearbox rated for 520 N.m
    assert case(result, "direct-1").failed == ("startability",)


@pytest.mark.slow
def test_what_does_not_apply_to_a_motor_is_said_with_its_reason(result):
    data = result.to_dict()
    json.dumps(data, allow_nan=False)
    said = {row["name"]: row["why"] for row in data["criteria_not_applied"]}
    assert {"idle-in-gear", "creep", "governed speed and droop"} <= said.keys()
    assert "no idle" in said["idle-in-gear"]
    assert "Not applied" in result.text()


@pytest.mark.slow
def test_figures_stand_side_by_side_with_the_present_machine(result):
    rows = {row["name"]: row for row in result.to_dict()["figures"]}
    assert rows["start_peak"]["present"] == pytest.approx(31, abs=1)
    assert rows["converter_heat"]["direct-1.4"] == 0.0
    assert rows["converter_heat"]["converter-kept"] > 0.0
    assert rows["energy"]["present"] is None


@pytest.mark.slow
@pytest.mark.parametrize(("asked", "chosen"), [(0.22, "direct-1.4"), (0.26, None)])
def test_startability_is_judged_on_both_sides_of_its_bound(asked, chosen):
    found = run_motor_study(asking(startability=asked))
    assert (found.chosen.candidate.id if found.chosen else None) == chosen
    assert found.fails is (chosen is None)


@pytest.mark.slow
def test_what_is_met_by_a_hair_makes_the_answer_conditional():
    start = run_motor_study(asking(startability=0.05)).chosen.wheels.startability["peak"]
    found = run_motor_study(asking(startability=0.99 * start))
    assert found.word == "COUPLE DIRECTLY, CONDITIONAL"
    assert "startability" in found.chosen.open


@pytest.mark.slow
def test_at_its_own_value_a_requirement_is_met_in_half_of_the_draws():
    # The torque is drawn evenly about its value, and startability goes with it.
    study = asking(startability=0.05).replace(present=None)
    study = study.replace(candidates=study.candidates[1:])
    start = run_motor_study(study).chosen.wheels.startability["peak"]
    edge = study.replace(requirements=MotorRequirements(startability=start))
    drawn = draw_motor_study(edge, 16)
    assert drawn.count == 16
    assert drawn.met["direct-1.4", "startability"] == pytest.approx(0.5, abs=0.13)
    assert drawn.met["direct-1.4", "top-speed"] == 1.0  # not asked for
    unsure = replace(run_motor_study(edge), draws=drawn)
    assert unsure.word == "COUPLE DIRECTLY, CONDITIONAL"
    assert [note.code for note in unsure.reasons][-1] == "not-sure"


@pytest.mark.slow
def test_far_from_its_bound_all_draws_agree_and_a_wrong_number_is_refused():
    study = asking(startability=0.10).replace(present=None)
    found = draw_motor_study(study, 4)
    assert found.joint == {"converter-kept": 0.0, "direct-1.4": 1.0}  # of limits of the gearbox
    assert draw_motor_study(study, 0) is None
    for wrong in (-1, 100_000):
        with pytest.raises(InputError, match="draws"):
            draw_motor_study(study, wrong)


def test_a_motor_in_a_study_of_engines_is_sent_to_the_other_kind(tmp_path):
    text = shipped("studies")["hauler-converter"].read_text(encoding="utf-8")
    path = tmp_path / "study.toml"
    path.write_text(text.replace("[[candidate]]", '[[candidate]]\nmotor = "m.toml"', 1), "utf-8")
    with pytest.raises(InputError, match=r"candidate.*motor.*motor-study/1"):
        read_study(path)


@pytest.mark.slow
def test_oil_without_data_is_not_taken_for_cool():
    machine = STUDY.candidates[0].machine
    bare = machine.replace(oil=type(machine.oil)(), cooler=None)
    kept = tuple(item.replace(machine=bare) for item in STUDY.candidates[:1])
    found = run_motor_study(STUDY.replace(candidates=kept, present=None))
    assert found.candidates[0].finding("oil").status == "unknown"


@pytest.mark.slow
def test_no_requirement_met_names_the_nearest():
    found = run_motor_study(asking(startability=0.9, top_speed=90.0))
    assert found.word == "NONE OF THEM"
    assert [note.code for note in found.reasons] == ["none"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('direct = 1.4', 'direct = 1.4\nconverter = "single-stage-260mm"',
         r"candidate \(no. 3\).*give converter or direct, not both"),
        ('motor = "lift-truck-80v-30kw"\ndirect = 1.4', 'direct = 1.4',
         r"candidate \(no. 3\).*motor"),
        ('routes = ["timber-stack-to-kiln"]', 'routes = ["timber-stack-to-kil"]',
         "duty.routes.*timber-stack-to-kiln"),
        ("value = 18 }\ncontinuous", "value = 180 }\ncontinuous",
         r"requirements\.startability\.value: out of range"),
        ('id = "direct-1.4"', 'id = "direct-1"', "direct-1"),
        ('surface = "concrete or asphalt"', 'surface = "concrete"', "surface"),
    ],
)  # fmt: skip
def test_bad_study_gets_one_clear_line(tmp_path, old, new, said):
    assert old in FILE
    path = tmp_path / "study.toml"
    path.write_text(FILE.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=said) as refused:
        read_motor_study(path)
    assert "\n" not in str(refused.value)


def test_a_study_of_engines_is_none_of_motors():
    assert is_motor_study("lift-truck-electric")
    assert not is_motor_study(shipped("studies")["quarry-loader-repower"])
    assert not is_motor_study("no-such-file")


def with_odd_motor(tmp_path):
    """Return the study of two candidates, one motor with ten times its inertia; no routes."""
    text = shipped("motors")["lift-truck-80v-30kw"].read_text(encoding="utf-8")
    assert "value = 0.12 }" in text
    odd = text.replace("value = 0.12 }", "value = 1.2 }").replace(
        'id = "lift-truck-80v-30kw"', 'id = "heavy"'
    )
    (tmp_path / "heavy.toml").write_text(odd, encoding="utf-8")
    path = tmp_path / "study.toml"
    changed = FILE.replace(
        'motor = "lift-truck-80v-30kw"\ndirect = 1.4', 'motor = "heavy.toml"\ndirect = 1.4'
    )
    path.write_text(changed, encoding="utf-8")
    return read_motor_study(path)


@pytest.mark.slow
def test_no_clean_yes_rests_on_doubtful_data(tmp_path):
    study = with_odd_motor(tmp_path)
    assert [whose for whose, _ in study.odd] == ["motor 'heavy'"]
    assert [(item, whose) for item, whose, _ in study.doubts] == [("direct-1.4", "motor 'heavy'")]
    of = {item.id: item for item in study.candidates}
    asked = study.replace(routes=(), requirements=MotorRequirements(startability=0.15))
    doubtful = run_motor_study(asked.replace(candidates=(of["direct-1.4"],)))
    assert doubtful.word == "COUPLE DIRECTLY, CONDITIONAL"
    assert "data-in-doubt" in {note.code for note in doubtful.reasons}
    assert [row["part"] for row in doubtful.to_dict()["odd"]] == ["motor 'heavy'"]
    clean = STUDY.replace(
        routes=(),
        requirements=asked.requirements,
        candidates=tuple(item for item in STUDY.candidates if item.id == "direct-1.4"),
    )
    assert run_motor_study(clean).word == "COUPLE DIRECTLY"


@pytest.mark.slow
def test_a_no_that_rests_on_doubtful_data_says_so(tmp_path):
    study = with_odd_motor(tmp_path)
    asked = study.replace(routes=(), requirements=MotorRequirements(startability=0.9))
    found = run_motor_study(asked)
    assert found.word == "NONE OF THEM"
    assert [note.code for note in found.reasons] == ["none", "none-in-doubt"]


def test_numbers_of_the_study_are_held_against_what_is_usual(tmp_path):
    path = tmp_path / "study.toml"
    old = 'top_speed = { unit = "km/h", value = 18 }'
    assert old in FILE
    path.write_text(FILE.replace(old, old.replace("18", "180")), encoding="utf-8")
    assert [note.code for _, note in read_motor_study(path).odd] == ["number-unusual"]
    path.write_text(FILE.replace(old, old.replace("18", "340")), encoding="utf-8")
    with pytest.raises(InputError, match=r"top_speed.*no such value.*0 to 250"):
        read_motor_study(path)
