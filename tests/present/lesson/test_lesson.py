import pytest

from converter_match import InputError, shipped
from converter_match.judgement.lesson.exercises import TOPICS
from converter_match.present.lesson.demo import lesson
from converter_match.present.lesson.lesson import Believed, ExerciseCard, LessonDesk, folded

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
    stall = next(card for card in cards if card.exercise.key == "stall-speed")
    before = stall.exercise.answer
    stall.button.click()
    desk.engine.value = "six-cylinder-9l-240kw"
    assert stall.exercise.answer != pytest.approx(before, rel=0.01)
    assert stall.answer.value == ""
    # Pictures stand still: a person is told how to make them follow.
    assert "All Below" in desk.message.value
    assert 'role="status"' in desk.message.value
    assert desk.lesson.result.stall.engine_speed == pytest.approx(stall.exercise.answer)
    desk.units.value = "us"
    assert "lbf·ft" in stall.question.value


@pytest.mark.slow
def test_a_pair_that_cannot_carry_the_lesson_gets_a_message_and_changes_nothing():
    desk = LessonDesk(converter="single-stage-420mm", engine="six-cylinder-15l-400kw")
    [card, *_] = desk.cards("coupling-point").children
    before = desk.lesson
    desk.engine.value = WEAK
    assert "stay with the pair before" in desk.message.value
    assert desk.lesson is before
    assert card.exercise in before.exercises
    desk.engine.value = "six-cylinder-15l-400kw"
    assert "stay with the pair before" not in desk.message.value


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
    shown = Believed(demo.misconceptions[0])
    assert "<th scope=" in shown._repr_html_()
    assert demo.misconceptions[0].truth in repr(shown)
