"""The controls of the bench, without a browser."""

import pytest

from converter_match.errors import InputError
from converter_match.library.shipped import shipped
from converter_match.present.bench import MatchBench, bench
from converter_match.present.bench.shelf import Shelf, load_shelf
from converter_match.present.bench.sliders import NAMES
from converter_match.present.bench.state import BenchState, Setting

PAIR = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def live(clock):
    made = MatchBench(load_shelf(), BenchState(a=PAIR), clock=clock)
    yield made
    assert made.last_error is None
    made.close()


def test_a_moved_slider_changes_state_picture_and_figures(live):
    before = live.picture.frame
    live.controls["hydraulic"].value = 120.0
    assert live.state.a.hydraulic_torque == 120.0
    assert live.picture.frame["count"] == before["count"] + 1
    assert live.picture.frame["figures"] != before["figures"]
    assert live.picture.frame["numbers"] != before["numbers"]


def test_one_travel_of_a_slider_is_one_step_of_undo(live, clock):
    for value in (10.0, 20.0, 30.0):
        clock.now += 0.05
        live.controls["hydraulic"].value = value
    clock.now += 10
    live.controls["hydraulic"].value = 200.0
    live.buttons["undo"].click()
    assert live.state.a.hydraulic_torque == 30.0
    live.buttons["undo"].click()
    assert live.state.a.hydraulic_torque == 0.0
    assert live.controls["hydraulic"].value == 0.0
    live.buttons["redo"].click()
    assert live.state.a.hydraulic_torque == 30.0


def test_a_and_b_side_by_side(live):
    live.buttons["pin"].click()
    live.controls["diameter"].value = 103.0
    results = live.results
    # A larger one takes up more: the engine is held lower.
    assert results["b"].stall.engine_speed < results["a"].stall.engine_speed
    who = live.picture.frame["who"]
    assert [(side, role) for side, role, _ in who] == [("A", "present machine"), ("B", "candidate")]
    assert "diameter 103.0 %" in who[1][2]
    assert "diameter" not in who[0][2]
    stall = live.picture.frame["figures"][0]
    assert int(stall[4]) == int(stall[3]) - int(stall[2]) < 0
    live.controls["side"].value = "a"
    live.controls["diameter"].value = 103.0
    assert live.results["a"].stall == live.results["b"].stall
    live.buttons["drop"].click()
    assert set(live.results) == {"a"}


def test_to_ask_for_b_where_there_is_none_makes_one_and_goes_to_it(live):
    assert live.state.b is None
    live.controls["side"].value = "b"
    assert (live.state.active, live.state.b) == ("b", live.state.a)
    live.controls["diameter"].value = 103.0
    assert live.results["a"].stall != live.results["b"].stall


def test_the_unit_switch_keeps_the_state_and_changes_the_words(live):
    live.controls["hydraulic"].value = 100.0
    live.controls["units"].value = "us"
    assert live.state.a.hydraulic_torque == pytest.approx(100.0)
    assert live.controls["hydraulic"].value == pytest.approx(73.756, abs=1e-3)
    assert any(row[1] == "lbf·ft" for row in live.picture.frame["figures"])


def test_a_site_is_used_only_when_asked_for(live):
    plain = live.results["a"].stall.engine_speed
    live.controls["altitude"].value = 2500.0
    assert live.results["a"].stall.engine_speed == plain
    live.controls["use_site"].value = True
    assert live.results["a"].stall.engine_speed < plain


def test_slider_extremes_are_shown_without_an_error(live):
    for name in ("hydraulic", "accessories", "diameter", "altitude", "temperature"):
        control = live.controls[name]
        for value in (control.max, control.min):
            control.value = value
            assert live.view.results


def test_a_value_beyond_a_slider_widens_it(live):
    live.go_to(live.state.changed(hydraulic_torque=900.0))
    assert live.controls["hydraulic"].value == 900.0
    assert live.state.a.hydraulic_torque == 900.0


def test_an_unusable_setting_is_said_in_words(live):
    live.change(engine="nobody")
    kinds = [note[1] for note in live.picture.frame["notes"]]
    assert kinds[0] == "problem"
    assert live.picture.frame["panels"] == []
    live.say("saved: x.toml")
    assert live.picture.frame["notes"][0] == ("", "message", "saved: x.toml")
    live.change(engine=PAIR.engine)
    assert live.picture.frame["panels"]


def test_own_files_come_first_and_are_marked(tmp_path, clock):
    name = "single-stage-345mm-tight"
    text = shipped("converters")[name].read_text("utf-8")
    # One that takes the place of a shipped one is one's own as well.
    (tmp_path / "mine.toml").write_text(text.replace(f'id = "{name}"', 'id = "mine"'), "utf-8")
    (tmp_path / "changed.toml").write_text(text, "utf-8")
    made = MatchBench(load_shelf(tmp_path), clock=clock)
    options = made.controls["converter"].options
    assert {id for _, id in options[:2]} == {"mine", name}
    marked = [words.startswith("own: ") for words, _ in options]
    assert marked == [True, True] + [False] * (len(options) - 2)
    assert not any(words.startswith("own: ") for words, _ in made.controls["engine"].options)
    made.close()


def test_large_letters_on_a_low_screen_fold_the_controls_and_leave_the_slider_moved_last(live):
    def folded():
        return "cm-folded" in live._dom_classes

    live.picture.room = 1080
    live.controls["letters"].value = 1.3
    assert not folded()
    live.picture.room = 768
    assert folded()
    assert live.controls["fold"].value
    live.controls["diameter"].value = 104.0
    stays = [name for name in NAMES if "cm-last" in live.controls[name]._dom_classes]
    assert stays == ["diameter"]
    live.controls["fold"].value = False  # a person may want them all the same
    assert not folded()
    live.controls["units"].value = "us"
    live.go_to(live.state.changed(diameter_share=1.3))
    stays = [name for name in NAMES if "cm-last" in live.controls[name]._dom_classes]
    assert stays == ["diameter"]
    live.controls["letters"].value = 1.0
    assert not folded()


def test_an_empty_shelf_is_refused():
    with pytest.raises(InputError, match="at least one engine"):
        MatchBench(Shelf())


def test_a_folder_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(InputError, match="not a folder"):
        bench(tmp_path / "nowhere")


def test_the_nearest_step_that_a_page_reports_is_no_move(live):
    live.go_to(live.state.changed(hydraulic_torque=88.507))
    before = live.state
    live.controls["hydraulic"].value = 89.0
    assert live.state == before
    live.controls["hydraulic"].value = 90.0
    assert live.state.a.hydraulic_torque == 90.0
    live.controls["hydraulic"].value = 89.0
    assert live.state.a.hydraulic_torque == 89.0


def test_other_units_bring_new_sliders_since_a_page_reports_old_values_for_new_ends(live):
    old = live.controls["altitude"]
    live.controls["units"].value = "us"
    assert live.controls["altitude"] is not old
    before = live.state
    old.value = 1800.0
    assert live.state == before
    live.controls["use_site"].value = True
    live.controls["altitude"].value = 5000.0
    assert live.state.a.altitude == pytest.approx(1524.0)


@pytest.mark.slow
def test_an_unknown_component_in_the_first_state_is_said(clock):
    made = MatchBench(load_shelf(), BenchState(a=Setting(engine="x", converter=PAIR.converter)))
    assert made.controls["engine"].value is None
    assert made.picture.frame["notes"][0][1] == "problem"
    made.controls["engine"].value = PAIR.engine
    assert made.picture.frame["panels"]
    made.close()
