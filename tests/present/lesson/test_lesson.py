import pytest

from converter_match import InputError, shipped
from converter_match.judgement.lesson.exercises import TOPICS
from converter_match.present.lesson.demo import lesson
from converter_match.present.lesson.following import PredictionCard
from converter_match.present.lesson.lesson import ExerciseCard, LessonDesk, TextAndTable, folded

WEAK = "four-cylinder-2l5-45kw"


@pytest.fixture(scope="module")
def demo():
    return lesson()


def exercise(lesson_, key):
    return next(item for item in lesson_.exercises if item.key == key)


def test_a_card_hides_its_answer_until_it_is_asked_for(demo):
    item = exercise(demo, "stall-speed")
    card = ExerciseCard(item)
    assert item.answer_text not in card.question.value + card.answer.value
    card.prediction.value = "1700"
    card.button.click()
    assert "You predicted 1700 rpm: too low" in card.answer.value
    assert item.answer_text in card.answer.value
    assert 'role="status"' in card.answer.value


@pytest.mark.parametrize(
    ("typed", "said"), [("1,8", "write 1.5"), ("1800 rpm", "without its unit"), ("", "No predict")]
)
def test_a_prediction_that_is_no_number_gets_words(demo, typed, said):
    card = ExerciseCard(exercise(demo, "stall-speed"))
    card.prediction.value = typed
    card.button.click()
    assert said in card.answer.value
    assert card.revealed == (typed == "")


def test_letters_that_arrive_after_the_click_still_count(demo):
    card = ExerciseCard(exercise(demo, "stall-speed"))
    card.prediction.value = "1"
    card.button.click()
    card.prediction.value = "1806"
    assert "You predicted 1806 rpm: right" in card.answer.value


def test_without_a_kernel_a_card_is_a_question_with_its_answer_folded_away(demo):
    item = exercise(demo, "stator-torque")
    bundle = ExerciseCard(item)._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert bundle["text/plain"] == item.question
    assert "<details><summary>answer</summary>" in bundle["text/html"] == folded(item)
    assert item.answer_text in bundle["text/html"]


@pytest.mark.slow
def test_another_engine_at_the_desk_changes_every_card_and_hides_the_answers():
    desk = LessonDesk()
    cards = [card for key, _ in TOPICS for card in desk.cards(key).children]
    asked = [card for card in cards if isinstance(card, ExerciseCard)]
    stall = next(card for card in asked if card.exercise.key == "stall-speed")
    before = stall.exercise.answer
    stall.button.click()
    desk.engine.value = "six-cylinder-9l-240kw"
    assert stall.exercise.answer != pytest.approx(before, rel=0.01)
    assert stall.answer.value == ""
    assert "figures and tables follow" in desk.message.value
    assert 'role="status"' in desk.message.value
    assert desk.lesson.result.stall.engine_speed == pytest.approx(stall.exercise.answer)
    desk.units.value = "us"
    assert "lbf·ft" in stall.question.value


@pytest.mark.slow
def test_a_pair_that_cannot_carry_the_lesson_gets_a_message_and_changes_nothing():
    desk = LessonDesk(converter="single-stage-420mm", engine="six-cylinder-15l-400kw")
    card = next(
        card for card in desk.cards("coupling-point").children if isinstance(card, ExerciseCard)
    )
    before, slider = desk.lesson, desk.slider()
    desk.engine.value = WEAK
    # Lugged down at stall it still runs further on, and the slider begins there.
    assert slider.pair["nu"][0] > 0.5
    assert "is lugged down" in slider.pair["alerts"][0]
    assert "The slider follows" in desk.message.value
    assert "stays with the pair before" in desk.message.value
    assert desk.lesson is before
    assert card.exercise in before.exercises
    desk.engine.value = "six-cylinder-15l-400kw"
    assert "stays with the pair before" not in desk.message.value


def test_only_converters_that_can_carry_the_lesson_are_offered():
    offered = {id for _, id in LessonDesk().converter.options}
    assert "single-stage-345mm-tight" in offered
    assert not {"fixed-stator-400mm-high-ratio", "fluid-coupling-360mm"} & offered


@pytest.mark.parametrize("id", ["fixed-stator-400mm-high-ratio", "fluid-coupling-360mm"])
@pytest.mark.slow
def test_a_converter_without_a_coupling_point_is_refused_at_the_desk(id):
    with pytest.raises(InputError, match="one-way stator and a coupling point") as caught:
        LessonDesk(converter=id)
    assert str(caught.value).startswith(id)
    for named in caught.value.hint.removeprefix("try one of ").split(", "):
        assert LessonDesk(converter=named).lesson.converter.id == named


@pytest.mark.slow
def test_a_pair_without_a_match_is_refused_at_the_desk_with_one_that_has_one():
    # 45 kW before a 420 mm converter: it holds the engine down at idle.
    with pytest.raises(InputError, match="a match at stall and at the coupling point") as caught:
        LessonDesk(engine=WEAK, converter="single-stage-420mm")
    assert caught.value.source == f"{WEAK} with single-stage-420mm"
    [first, *_] = caught.value.hint.removeprefix("try one of ").split(", ")
    assert LessonDesk(engine=WEAK, converter=first).lesson.exercises


@pytest.mark.slow
def test_the_desk_takes_a_folder_of_own_files_and_lists_those_that_cannot_be_used(tmp_path):
    text = shipped("engines")["six-cylinder-7l-185kw"].read_text(encoding="utf-8")
    mine = text.replace('"six-cylinder-7l-185kw"', '"my-engine"')
    (tmp_path / "mine.toml").write_text(mine, encoding="utf-8")
    (tmp_path / "broken.toml").write_text("speed = 1,5", encoding="utf-8")
    for folder in (tmp_path, str(tmp_path)):
        desk = LessonDesk(folder, engine="my-engine", system="us")
        assert desk.lesson.engine.id == "my-engine"
        assert desk.units.value == desk.lesson.system == "us"
        assert "broken.toml" in desk.message.value
    with pytest.raises(InputError, match="is not a folder"):
        LessonDesk(tmp_path / "no-such-folder")
    with pytest.raises(InputError, match="si or us"):
        LessonDesk(system="metric")


def test_an_unknown_topic_is_refused():
    with pytest.raises(InputError, match="fluid-coupling"):
        LessonDesk().cards("gearbox")


def test_a_misconception_reads_as_a_table_and_as_text(demo):
    shown = TextAndTable.believed(demo.misconceptions[0])
    assert "<th scope=" in shown._repr_html_()
    assert demo.misconceptions[0].truth in repr(shown)


def guesses(desk, topic):
    return [card for card in desk.cards(topic).children if isinstance(card, PredictionCard)]


@pytest.mark.slow
def test_a_prediction_shows_nothing_before_a_choice_is_made():
    desk = LessonDesk()
    [card, *_] = guesses(desk, "fluid-coupling")
    assert card.answer.value == ""
    assert "rpm" not in card.question.value
    card.choice.value = 0
    assert "You said higher: no. Answer: lower." in card.answer.value
    assert 'role="status"' in card.answer.value
    assert "<details><summary>answer</summary>" in card.folded
    desk.engine.value = "six-cylinder-9l-240kw"
    assert (card.answer.value, card.choice.value, card.revealed) == ("", None, False)


@pytest.mark.slow
def test_figures_tables_and_slider_follow_the_pair_without_running_again():
    desk = LessonDesk()
    made = [desk.picture(name) for name in ("oil-at-stall", "match")]
    made += [desk.belief(4), desk.demonstration("oil-clock")]
    slider = desk.slider()
    before = [item.value for item in made]
    first = slider.pair["rows"]["engine_speed"][0]
    desk.engine.value, desk.converter.value = "six-cylinder-9l-240kw", "single-stage-360mm"
    assert all(now.value != was for now, was in zip(made, before, strict=True))
    stall = desk.lesson.result.stall.engine_speed * 30 / 3.141592653589793
    assert slider.pair["rows"]["engine_speed"][0] == pytest.approx(stall, rel=1e-5)
    assert first != pytest.approx(stall, rel=0.01)
    assert f"{stall:.0f}" in made[-2].value
    bundle = made[-1]._repr_mimebundle_()
    assert bundle["text/html"] == made[-1].value
    assert "against a clock" in bundle["text/plain"]


def test_what_is_not_there_is_named():
    desk = LessonDesk()
    for ask in (desk.picture, desk.demonstration):
        with pytest.raises(InputError, match="nonesuch"):
            ask("nonesuch")
