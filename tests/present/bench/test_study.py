"""A bench state saved as a study opens as the same state, and the study says the same."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.decision.run import run_study
from converter_match.library.schema.bench import SettingTable
from converter_match.library.shipped import shipped
from converter_match.library.study_file import read_study
from converter_match.library.write import write_component
from converter_match.present.bench.keeping import Keeper
from converter_match.present.bench.shelf import load_shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.study import _as_kept, open_study
from converter_match.present.bench.view import solve_setting

A = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")
B = replace(
    A,
    altitude=1234.5,
    air_temperature=303.15,
    hydraulic_torque=82.25,
    accessory_share=1.37,
    diameter_share=1.033,
)


@pytest.fixture(scope="module")
def shelf():
    return load_shelf()


def test_a_saved_state_opens_as_it_was(shelf, tmp_path):
    state = BenchState(a=A, b=B, active="b", system="us", font_scale=1.3)
    keeper = Keeper(tmp_path, who="one")
    keeper.save_study("pair", state, shelf)
    opened = keeper.open("pair", shelf)
    assert opened.state == state
    assert opened.left_out == ()
    assert opened.shelf == shelf


@pytest.mark.parametrize("seed", range(6))
def test_any_setting_opens_to_the_last_bit(shelf, tmp_path, seed):
    draw = np.random.default_rng(seed).uniform
    setting = replace(
        A,
        altitude=None if seed == 1 else float(draw(0, 4200)),
        air_temperature=None if seed == 2 else float(draw(243, 323)),
        hydraulic_torque=float(draw(0, 600)),
        accessory_share=float(draw(0, 2)),
        diameter_share=float(draw(0.85, 1.15)),
    )
    keeper = Keeper(tmp_path)
    keeper.save_study("any", BenchState(a=setting), shelf)
    opened = keeper.open("any", shelf)
    assert opened.state.a == setting
    assert opened.left_out == ()


def test_the_study_judges_what_the_bench_shows(shelf, tmp_path):
    setting = replace(B, hydraulic_torque=0.0)
    state = BenchState(a=replace(setting, diameter_share=1.0), b=setting)
    path = Keeper(tmp_path).save_study("pair", state, shelf)
    study = read_study(path)
    result = run_study(study)
    for side, combination in (("a", "present"), ("b", "b")):
        shown = solve_setting(getattr(state, side), shelf)
        judged = result.outcome(combination).match
        assert judged.stall == shown.stall
        assert judged.coupling == shown.coupling


def test_a_component_of_the_user_is_named_by_its_file(shelf, tmp_path):
    own = shelf.converters[A.converter].replace(id="own", name="Own converter")
    (tmp_path / "parts").mkdir()
    write_component(own, tmp_path / "parts" / "own.toml")
    mine = load_shelf(tmp_path / "parts")
    keeper = Keeper(tmp_path)
    path = keeper.save_study("s", BenchState(a=replace(A, converter="own")), mine)
    assert 'converter = "parts/own.toml"' in path.read_text(encoding="utf-8")
    assert read_study(path).candidates[0].converter == own
    # A bench that does not know the folder finds the component through the study.
    opened = Keeper(tmp_path).open("s", shelf)
    assert opened.shelf.converter(opened.state.a.converter) == own


def test_the_shipped_study_opens_and_says_what_is_not_shown(shelf):
    path = shipped("studies")["quarry-loader-repower"]
    study = read_study(path)
    opened = open_study(path, shelf)
    assert opened.state.a.engine == study.present.engine.id
    assert opened.state.b.engine == study.candidates[0].engine.id
    assert opened.state.a.hydraulic_torque == study.duty.hydraulic_torque
    assert opened.state.a.altitude == study.sites[0].altitude
    words = " ".join(opened.left_out)
    assert study.candidates[1].name in words
    assert study.sites[1].name in words


def test_a_study_without_a_present_machine_says_who_stands_in_its_place(shelf, tmp_path):
    path = Keeper(tmp_path).save_study("s", BenchState(a=A, b=B), shelf)
    assert not [words for words in open_study(path, shelf).left_out if "no present" in words]
    alone = path.read_text("utf-8").replace("[present]", '[[candidate]]\nid = "first"', 1)
    path.write_text(alone, "utf-8")
    (said,) = [words for words in open_study(path, shelf).left_out if "no present" in words]
    assert "stands as A" in said


def test_a_component_changed_after_saving_is_shown_as_the_study_names_it(shelf, tmp_path):
    keeper = Keeper(tmp_path)
    path = keeper.save_study("s", BenchState(a=A), shelf)
    text = path.read_text(encoding="utf-8")
    changed = text.replace(
        'converter = "single-stage-345mm-tight"', 'converter = "single-stage-345mm-loose"', 1
    )
    path.write_text(changed, encoding="utf-8")
    opened = keeper.open("s", shelf)
    assert opened.state.a.converter == "single-stage-345mm-loose"
    assert "not what was set" in opened.left_out[0]


def test_what_a_study_has_only_once_is_said(shelf, tmp_path):
    path = Keeper(tmp_path).save_study("s", BenchState(a=A, b=B), shelf)
    study = read_study(path)
    assert study.duty.hydraulic_torque == B.hydraulic_torque
    assert "hydraulic torque" in study.question
    assert "other air" in study.question


def test_a_broken_study_names_file_and_field(shelf, tmp_path):
    keeper = Keeper(tmp_path)
    path = keeper.save_study("s", BenchState(a=A), shelf)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("font_scale", "font_scaling"), encoding="utf-8")
    with pytest.raises(InputError, match=r"s\.toml.*font_scal"):
        keeper.open("s", shelf)


def test_setting_of_a_file_without_its_shares_is_the_pair_as_it_stands():
    # No pumps, the accessories of the sheet, the diameter of the sheet.
    kept = _as_kept(SettingTable(engine=A.engine, converter=A.converter))
    assert kept == A
    assert (kept.hydraulic_torque, kept.accessory_share, kept.diameter_share) == (0.0, 1.0, 1.0)
