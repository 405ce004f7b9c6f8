"""Study files: read, refused, run."""

from __future__ import annotations

import hashlib
import json

import pytest

from converter_match.errors import InputError
from converter_match.judgement.decision.bolt_on import bolt_on_sheet
from converter_match.judgement.decision.comparison import ComparedFigure
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.verdict.measure import Verdict
from converter_match.library.shipped import data_folder, find, shipped
from converter_match.library.study_file import read_study
from converter_match.study.study import Limits, Tolerance
from converter_match.units import note_text
from tests.examples import converter
from tests.study_examples import PAIR, combination, flat_engine, study, study_file

TOLERANCE = """
[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 3 }
"""
CLAIM = """
[[claim]]
quantity = "stall-speed"
value = { unit = "rpm", value = 2000 }
combination = "new-engine"
"""


def said(notes, system="si"):
    return [note_text(note, system) for note in notes]


def refused(path):
    with pytest.raises(InputError) as caught:
        read_study(path)
    text = str(caught.value)
    assert "small.toml" in text, text
    return text


def test_study_takes_what_a_candidate_does_not_name_from_the_present_machine(tmp_path):
    found = read_study(study_file(tmp_path))
    new = found.combination("new-engine")
    assert new.engine.id == "six-cylinder-7l-185kw"
    assert new.converter == found.present.converter
    assert new.driveline == found.present.driveline
    assert found.duty.grades == (0.0, 0.08)
    assert [item.name for item in found.conditions] == ["Quarry on the plateau at 2000 m, hot day"]


def test_paths_are_relative_to_the_study_and_win_over_shipped_ids(tmp_path, monkeypatch):
    folder = tmp_path / "parts"
    folder.mkdir()
    text = find("engines", PAIR["engine"]).read_text(encoding="utf-8")
    mine = text.replace('name = "', 'name = "My own: ', 1)
    (folder / "my-engine.toml").write_text(mine, encoding="utf-8")
    (tmp_path / PAIR["engine"]).write_text(mine, encoding="utf-8")
    path = study_file(tmp_path, ('"six-cylinder-7l-185kw"', '"parts/my-engine.toml"'))
    monkeypatch.chdir("/")
    found = read_study(path)
    assert found.candidates[0].engine.name.startswith("My own: ")
    assert found.present.engine.name.startswith("My own: ")


@pytest.mark.slow
def test_checksums_are_those_of_the_files(tmp_path):
    path = study_file(tmp_path)
    by_role = {item.role: item for item in read_study(path).inputs}
    assert set(by_role) == {
        "study", "present.engine", "present.converter", "present.driveline", "present.machine",
        "candidate[0].engine", "sites[0]", "duty.surfaces",
    }  # fmt: skip
    assert by_role["study"].sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    engine = find("engines", PAIR["engine"]).read_bytes()
    assert by_role["present.engine"].sha256 == hashlib.sha256(engine).hexdigest()
    published = (data_folder() / "published" / "surfaces.csv").read_bytes()
    assert by_role["duty.surfaces"].sha256 == hashlib.sha256(published).hexdigest()
    listed = run_study(read_study(path)).to_dict()["inputs"]
    assert [row["role"] for row in listed] == [item.role for item in read_study(path).inputs]
    assert listed[0]["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("name", sorted(shipped("studies")))
def test_shipped_studies_can_be_read_and_say_that_they_are_invented(name):
    found = read_study(name)
    assert found.id == name
    assert "invented" in found.source


# --- bad input -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"six-cylinder-7l-185kw"', '"six-cylinder-7l-180kw"',
         r"candidate \(no\. 1\).engine: no such file .* did you mean 'six-cylinder-7l-185kw'"),
        ('"plateau-quarry-hot-day"', '"no/such/site.toml"', r"sites \(row 1\): no such file"),
        ('machine = "wheel-loader-17t"', 'machine = ""', r"present.machine: is empty"),
        ('"firm smooth earth"', '"firm smoth earth"',
         r"duty.surface: no such surface.*firm smooth earth"),
        ('id = "new-engine"', 'id = "present"', r"candidate \(no\. 1\).id: this id means"),
        ('["plateau-quarry-hot-day"]', '["plateau-quarry-hot-day", "plateau-quarry-hot-day"]',
         "sites: given twice"),
        ("[present]\n", "[presnt]\n", r"unknown key 'presnt'.*did you mean 'present'"),
        ("values = [0, 8]", "values = [0, 180]", r"duty.grades.*out of range.*0 to 100 %"),
        ("converter-match/study/1", "converter-match/engine/1", "not a study file"),
    ],
)  # fmt: skip
def test_bad_study_says_where_and_what(tmp_path, old, new, says):
    import re

    assert re.search(says, refused(study_file(tmp_path, (old, new))))


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ('[[criterion]]\nname = "stal-speed-window"\n',
         ("criterion (no. 1).name: there is no such", "did you mean 'stall-speed-window'")),
        ('[[criterion]]\nname = "fuel-kept"\nleast = 0.9\n',
         ("criterion (no. 1).least", "has no such threshold", "most | margin")),
        ('[[criterion]]\nname = "fuel-kept"\nweight = "maybe"\n', ("must | should | off",)),
        ('[[criterion]]\nname = "fuel-kept"\nmost = -0.9\n',
         ("criterion (no. 1).most", "below zero")),
        ('[[criterion]]\nname = "fuel-kept"\n' * 2, ("criterion.name: given twice",)),
        ("[limits]\nstall_speed_least = { unit = \"rpm\", value = 2000 }\n"
         "stall_speed_most = { unit = \"rpm\", value = 1800 }\n",
         ("limits.stall_speed_least", "contradicts stall_speed_most", "2000 rpm")),
        ("[limits]\ntop_speed_least = { unit = \"km/h\", value = 50 }\n"
         "top_speed_most = { unit = \"km/h\", value = 40 }\n", ("contradicts top_speed_most",)),
        ('[limits]\ninput_torque = { unit = "kW", value = 900 }\n', ("limits.input_torque",)),
        (TOLERANCE.replace("= 3", "= -3"), ("tolerance (no. 1).half_width", "be below zero")),
        (TOLERANCE.replace("percent", "rpm"), ("tolerance (no. 1).half_width",)),
        (TOLERANCE.replace("engine-torque", "engine-torqe"), ("did you mean 'engine-torque'",)),
        (TOLERANCE * 2, ("tolerance (no. 2).quantity: given twice", "the key of")),
        (TOLERANCE + '[[correlation]]\nbetween = ["engine-torque", "mass"]\ncoefficient = 0.5\n',
         ("correlation (no. 1).between", "no such quantity with a tolerance")),
        (CLAIM.replace("rpm", "N*m"), ("claim (no. 1).value.unit",)),
        (CLAIM.replace("new-engine", "new-enigne"),
         ("claim (no. 1).combination", "did you mean 'new-engine'")),
        (CLAIM + 'site = "harbour"\n', ("claim (no. 1).site", "no such site of this study")),
        (CLAIM + "tolerance = -0.02\n", ("claim (no. 1).tolerance", "below zero")),
        (CLAIM.replace("stall-speed", "stall-sped"), ("did you mean 'stall-speed'",)),
    ],
)  # fmt: skip
def test_bad_table_says_where_and_what(tmp_path, more, says):
    text = refused(study_file(tmp_path, more=more))
    for part in says:
        assert part in text, text


def test_file_that_is_wrong_is_named_before_the_study_that_asks_for_it(tmp_path):
    (tmp_path / "bad-engine.toml").write_text('schema = "converter-match/engine/1"\n')
    path = study_file(tmp_path, ('"six-cylinder-7l-185kw"', '"bad-engine.toml"'))
    text = refused(path)
    assert "bad-engine.toml (named by" in text
    assert "candidate (no. 1).engine" in text


def test_study_without_candidates_is_refused():
    with pytest.raises(InputError, match="nothing to decide on"):
        study(candidates=())


@pytest.mark.parametrize("width", [-0.01, float("nan"), 0.9])
def test_tolerance_that_cannot_be_is_refused(width):
    with pytest.raises(InputError, match="half_width"):
        Tolerance(quantity="mass", half_width=width)


def test_limits_built_by_hand_are_looked_at_too():
    with pytest.raises(InputError, match="contradicts engine_speed"):
        Limits(stall_speed_least=250.0, engine_speed=240.0)


# --- running -------------------------------------------------------------------------------------


def test_result_is_plain_data_with_a_decision(tmp_path):
    result = run_study(read_study(study_file(tmp_path)))
    data = json.loads(json.dumps(result.to_dict(), allow_nan=False))
    assert data["schema"] == "converter-match/study-result/1"
    assert data["decision"]["combination"] == "new-engine"
    assert [item["id"] for item in data["combinations"]] == ["present", "new-engine"]
    assert data["combinations"][1]["results"][0]["match"]["stall"]["engine_speed_rpm"] > 1000
    assert {item["name"] for item in data["criteria_not_applied"]} == {
        "oil-temperature", "route-time-kept", "fuel-kept",
    }  # fmt: skip
    assert "Before ordering\n" in result.text("us")


def test_progress_counts_every_combination_in_every_condition(tmp_path):
    seen = []
    run_study(
        read_study(study_file(tmp_path)), lambda done, total, what: seen.append((done, total))
    )
    assert seen == [(0, 2), (1, 2), (2, 2)]


def test_hydraulic_load_doubles_the_conditions_and_lowers_stall(tmp_path):
    path = study_file(tmp_path, more='hydraulic_torque = { unit = "N*m", value = 150 }\n')
    result = run_study(read_study(path))
    free, loaded = (result.outcome("new-engine", i).match.stall.engine_speed for i in (0, 1))
    assert loaded < free
    assert result.study.conditions[1].name.endswith("implement working")


def test_study_without_a_present_machine_compares_nothing_and_says_so():
    result = run_study(study(present=None))
    names = {item.choice.name for item in result.candidates[0].findings}
    assert "tractive-effort-kept" not in names
    reasons = dict(result.not_applied)
    assert reasons["tractive-effort-kept"] == "the study names no present machine to compare with"
    assert result.comparison.changes("new", "better") == ()


def test_criterion_that_is_switched_off_is_told():
    base = study()
    off = tuple(c.spec.choice("off") if c.name == "idle-creep" else c for c in base.criteria)
    result = run_study(base.replace(criteria=off))
    assert result.candidates[0].finding("idle-creep") is None
    assert dict(result.not_applied)["idle-creep"] == "switched off by the study"


def test_pair_that_cannot_be_matched_at_all_names_the_combination():
    # The characteristic begins beyond stall.
    base = converter()
    cut = base.replace(
        speed_ratio=base.speed_ratio[1:], torque_ratio=base.torque_ratio[1:],
        capacity=base.capacity[1:],
    )  # fmt: skip
    with pytest.raises(InputError, match="does not include stall"):
        run_study(study(combination(converter=cut)))


def test_better_candidate_comes_first_whatever_its_place():
    weak = combination("weak", engine=flat_engine(500.0))
    same = combination("same")
    result = run_study(study(candidates=(weak, same)))
    assert result.decision.ranking == ("same", "weak")
    assert result.decision.code == "not-known"  # the limits of the converter are not given
    assert any("input torque limit" in step for step in said(result.decision.before_ordering))


def test_all_candidates_failing_is_said_plainly():
    musts = tuple(
        c.spec.choice("must") if c.name == "tractive-effort-kept" else c for c in study().criteria
    )
    weak = combination("weak", engine=flat_engine(500.0))
    result = run_study(study(weak, criteria=musts))
    assert result.fails
    assert result.decision.code == "no"
    assert "tractive effort retained" in note_text(result.decision.headline, "si")


def test_behind_a_torque_divider_the_impeller_is_held_against_its_own_limit(tmp_path):
    path = study_file(
        tmp_path,
        ('engine = "six-cylinder-10l5-138kw"', 'engine = "six-cylinder-15l-400kw"'),
        ('"single-stage-345mm-tight"', '"single-stage-390mm-full-range"'),
        ('engine = "six-cylinder-7l-185kw"', 'arrangement = "dozer-torque-divider"'),
    )
    result = run_study(read_study(path))
    plain, divided = (row[0] for row in result.outcomes)
    # Classic connection, k = ring / sun = 2.5: T_out = T_t (1 + 1/k), T_engine = T_imp + T_t / k.
    stall = divided.match.stall
    turbine = stall.turbine_torque / (1 + 1 / 2.5)
    at_stall = stall.input_torque - turbine / 2.5
    speed, torque = divided.impeller
    row = abs(speed - stall.engine_speed).argmin()
    assert torque[row] == pytest.approx(at_stall, rel=1e-6)
    found = result.candidates[0].finding("converter-input-torque")
    assert found.worst.measure.value == torque.max()
    assert found.worst.measure.value < plain.impeller[1].max()


@pytest.mark.slow
def test_route_that_today_does_not_get_round_is_not_held_against_a_candidate(tmp_path):
    path = study_file(tmp_path, more='routes = ["too-steep", "quarry-to-crusher"]\n')
    text = path.read_text(encoding="utf-8")
    parts = ("six-cylinder-10l5-138kw", "six-cylinder-15l-400kw"), (
        "single-stage-345mm-tight", "single-stage-420mm"), (
        "four-speed-loader", "three-speed-dozer"), ("wheel-loader-17t", "crawler-dozer-50t"), (
        'engine = "six-cylinder-7l-185kw"', "")  # fmt: skip
    for old, new in parts:
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    result = run_study(read_study(path))
    assert result.outcome("new-engine").routes[0].standstill is not None
    found = result.candidates[0].finding("route-time-kept")
    assert found.verdict is Verdict.PASS
    assert "which the present machine does not complete" in found.words()


# --- comparison ----------------------------------------------------------------------------------


def test_differences_have_sign_and_size():
    # 110 against 100: +10, +10 %; for a figure of which less is better that is worse.
    item = ComparedFigure(
        key="heat", title="heat", dimension="power", better=-1, condition="here",
        values=(("present", 100.0), ("a", 110.0), ("b", 100.5), ("c", None), ("d", 90.0)),
    )  # fmt: skip
    assert item.difference("a") == 10.0
    assert item.share("a") == pytest.approx(0.10)
    assert [item.judged(name) for name in "abcd"] == ["worse", "same", "", "better"]


def test_words_come_from_the_numbers():
    weak = combination("weak", engine=flat_engine(810.0))
    result = run_study(study(weak))
    # 2.2 * 900 = 1980 N.m and 2.2 * 810 = 1782 N.m
    worse = result.comparison.changes("weak", "worse")
    assert "turbine torque at stall: 1980 N·m → 1782 N·m (-10 %)" in said(worse)
    # 1 lbf.ft = 1.3558 N.m (NIST SP 811)
    assert "turbine torque at stall: 1460 lbf·ft → 1314 lbf·ft (-10 %)" in said(worse, "us")
    better = said(result.comparison.changes("weak", "better"))
    assert not any("turbine torque" in text for text in better)


# --- bolt-on sheet -------------------------------------------------------------------------------


def sheet(engine, own):
    found = bolt_on_sheet(
        combination(
            engine=flat_engine(interface=tuple(engine.items())),
            converter=converter(interface=tuple(own.items())),
        )
    )
    return {row.title: row for row in found.rows}


def test_sheet_says_same_differs_or_measure():
    rows = sheet(
        {"housing": "SAE 2", "flywheel": "11.5 in", "pilot_diameter": "50 mm", "shade": "grey"},
        {"housing": "SAE 3", "flywheel": "292.1 mm", "rotation": "clockwise", "dry_mass": "75 kg"},
    )
    assert rows["flywheel housing"].status == "differs"
    assert rows["flywheel or flex plate pattern"].status == "same"  # 11.5 in = 292.1 mm exactly
    assert rows["pilot diameter"].status == "measure before ordering"
    assert rows["rotation"].status == "measure before ordering"
    assert rows["dry mass"].status == "given"
    assert rows["shade"].status == "measure before ordering"
    assert rows["balance"].left == rows["balance"].right == ""


def test_end_play_and_float_are_never_called_the_same():
    rows = sheet({"end_play": "0.3 mm"}, {"end_play": "0.3 mm"})
    assert rows["crank end play against flex-plate float"].status == "measure before ordering"


def test_difference_in_the_interface_keeps_a_candidate_from_a_clear_yes(tmp_path):
    path = study_file(tmp_path, ('name = "New engine"', 'converter = "single-stage-345mm-loose"'))
    result = run_study(read_study(path))
    assert any(
        step.startswith("Settle the flywheel housing: engine 'SAE 2', converter 'SAE 3'")
        for step in said(result.decision.before_ordering)
    )
    assert result.decision.code != "order"


def test_candidate_may_be_the_converter_in_another_size(tmp_path):
    old = 'engine = "six-cylinder-7l-185kw"'
    sized = f'{old}\ndiameter = {{ unit = "mm", value = 362.25 }}'  # 5 % more than 345 mm
    study = read_study(study_file(tmp_path, (old, sized)))
    [candidate] = study.candidates
    present = study.present.converter
    assert candidate.converter.profile_diameter == pytest.approx(0.36225)
    # C goes with D^5 (VDI 2153); limits belong to the size that they were stated for.
    assert candidate.converter.capacity == pytest.approx(1.05**5 * present.capacity)
    codes = {note.code for note in candidate.converter.notes}
    assert {"scaled-by-diameter", "size-limits-dropped"} <= codes
    result = run_study(study)
    assert result.assessment("new-engine").finding("converter-input-torque").verdict == "not known"


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ('{ unit = "mm", value = 5000 }', "(no. 1).diameter.value: diameter outside the"),
        ('{ unit = "mm", value = -1 }', "candidate (no. 1).diameter.value: out of range"),
        ('{ unit = "kg", value = 3 }', "candidate (no. 1).diameter.unit"),
    ],
)  # fmt: skip
def test_size_that_cannot_be_is_refused_at_its_place(tmp_path, value, says):
    old = 'engine = "six-cylinder-7l-185kw"'
    assert says in refused(study_file(tmp_path, (old, f"{old}\ndiameter = {value}")))


def test_file_limits_a_criterion_to_conditions(tmp_path):
    more = '[[criterion]]\nname = "continuous-heat"\nconditions = "plateau-quarry-hot-day"\n'
    made = read_study(study_file(tmp_path, more=more))
    choice = next(item for item in made.criteria if item.name == "continuous-heat")
    assert choice.conditions == ("plateau-quarry-hot-day",)


@pytest.mark.parametrize(
    ("conditions", "says"),
    [
        ('["working"]', "standby | plateau-quarry-hot-day"),
        ('["standby", "standby"]', "given twice"),
        ("[]", "empty list"),
    ],
)
def test_condition_of_a_criterion_that_is_not_there_is_refused(tmp_path, conditions, says):
    more = f'[[criterion]]\nname = "continuous-heat"\nconditions = {conditions}\n'
    with pytest.raises(InputError) as caught:
        read_study(study_file(tmp_path, more=more))
    assert says in str(caught.value)
    assert "conditions" in str(caught.value)
