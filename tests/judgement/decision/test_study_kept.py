"""A study keeps what it works out: what has not changed is not worked out again."""

from collections import Counter

import numpy as np
import pytest

from converter_match.judgement.audit import audit
from converter_match.judgement.decision import run as study_run
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.sizing.trials import best_size, try_converters
from converter_match.judgement.uncertainty import judged
from converter_match.judgement.uncertainty.inputs import drawn_inputs
from converter_match.judgement.verdict import ranking
from converter_match.judgement.verdict.assessment import asked_of, assess
from converter_match.judgement.verdict.ranking import rank_library
from converter_match.library.kept import KeptResults
from converter_match.study.criteria import CATALOGUE
from converter_match.study.doubts import Claim, Tolerance
from converter_match.study.study import Study
from converter_match.tasks import piece
from converter_match.tasks.plain import from_bytes, to_bytes
from tests.haul_examples import road
from tests.study_examples import combination, loose, study

CLAIMS = tuple(
    Claim(quantity="stall-speed", value=200.0 + k, given=f"{k} rpm", combination="tight")
    for k in range(2)
)


def asked(**changes):
    """Two candidates beside the present machine, with a tolerance, a route and claims."""
    others = (
        combination("tight", converter=loose(55.0)),
        combination("loose", converter=loose(70.0)),
    )
    tolerance = Tolerance(quantity="engine-torque", half_width=0.05)
    made = study().replace(candidates=others, tolerances=(tolerance,), claims=CLAIMS)
    duty = made.duty.replace(routes=(road([0.0, 0.05, -0.03], 300.0),))
    return made.replace(duty=duty, **changes)


@pytest.fixture
def worked_on(monkeypatch):
    """How often each piece was worked out: conditions, draws and claims, by what they are of."""
    counts = Counter()

    def counted(module, name, key):
        function = getattr(module, name)

        def told(*args, **more):
            counts[key(*args)] += 1
            return function(*args, **more)

        monkeypatch.setattr(module, name, told)

    counted(study_run, "outcome", lambda item, *_: f"outcome of {item.id}")
    counted(judged, "_odds", lambda _, found, *__: f"draws of {found.combination}")
    counted(audit, "_audited", lambda claim, *_: f"claim {claim.given}")
    return counts


def result(store, made=None, draws=16, seed=0):
    made = asked() if made is None else made
    return with_extras(run_study(made, store=store), draws=draws, seed=seed, store=store)


@pytest.fixture
def store(tmp_path):
    return KeptResults(tmp_path / "kept")


NAMES = ("present", "tight", "loose")
EVERYTHING = {
    *(f"{what} of {name}" for what in ("outcome", "draws") for name in NAMES),
    *("claim 0 rpm", "claim 1 rpm"),
}


@pytest.mark.slow
def test_the_second_time_nothing_is_worked_out_and_the_result_is_the_same(store, worked_on):
    alone = result(None).to_dict()
    worked_on.clear()
    assert result(store).to_dict() == alone
    assert set(worked_on) == EVERYTHING
    worked_on.clear()
    assert result(store).to_dict() == alone
    assert not worked_on


@pytest.mark.slow
def test_only_what_a_change_touches_is_worked_out_again(store, worked_on):
    first = asked()
    result(store, first)
    worked_on.clear()
    changed = first.replace(
        candidates=(first.candidates[0], combination("loose", converter=loose(71.0)))
    )
    found = result(store, changed)
    # Another converter of the study may be what a claim was read from, so claims are checked anew.
    claims = {"claim 0 rpm", "claim 1 rpm"}
    assert set(worked_on) == {"outcome of loose", "draws of loose"} | claims
    assert found.to_dict() == result(None, changed).to_dict()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "again"),
    [
        ({"name": "Another name", "question": "Which?", "author": "A. N. Other"}, set()),
        (
            {"claims": (*CLAIMS, Claim(quantity="stall-speed", value=190.0, given="new",
                                       combination="tight"))},
            {"claim new"},
        ),
        ({"criteria": tuple(CATALOGUE[name].choice() for name in ("stall-speed-window",))},
         EVERYTHING - {"outcome of present", "outcome of tight", "outcome of loose"}),
    ],
    ids=["words", "claim", "criteria"],
)  # fmt: skip
def test_a_change_of_the_study_has_only_that_worked_out_which_hangs_on_it(
    store, worked_on, change, again
):
    first = asked()
    result(store, first)
    worked_on.clear()
    changed = first.replace(**change)
    found = result(store, changed)
    assert set(worked_on) == again
    assert found.to_dict() == result(None, changed).to_dict()


@pytest.mark.slow
@pytest.mark.parametrize("option", [{"draws": 32}, {"seed": 1}], ids=["draws", "seed"])
def test_other_draws_are_drawn_and_the_rest_is_taken(store, worked_on, option):
    result(store)
    worked_on.clear()
    result(store, **option)
    assert set(worked_on) == {key for key in EVERYTHING if not key.startswith("outcome")}


@pytest.mark.slow
def test_another_version_works_everything_out_itself(store, worked_on, monkeypatch):
    result(store)
    own = piece.facts()
    for name in ("converter-match", "sources", "numpy"):
        worked_on.clear()
        monkeypatch.setattr("converter_match.tasks.sweep.facts", lambda n=name: own | {n: "other"})
        result(store)
        assert set(worked_on) == EVERYTHING, name


@pytest.mark.slow
def test_a_damaged_entry_is_dropped_and_worked_out_again(store, worked_on):
    whole = result(store).to_dict()
    entries = sorted(path for path in store.folder.glob("??/*") if path.is_file())
    for path in entries:
        raw = bytearray(path.read_bytes())
        raw[len(raw) // 2] ^= 1
        path.write_bytes(raw)
    worked_on.clear()
    assert result(store).to_dict() == whole
    assert set(worked_on) == EVERYTHING
    assert store.spoilt == len(entries)
    worked_on.clear()
    result(store)
    assert not worked_on


@pytest.mark.slow
def test_what_was_done_before_an_interruption_is_not_done_again(store, worked_on, monkeypatch):
    odds = judged._odds

    def interrupted(made, found, *rest):
        if found.combination == "loose":
            raise KeyboardInterrupt
        return odds(made, found, *rest)

    with monkeypatch.context() as patched:
        patched.setattr(judged, "_odds", interrupted)
        with pytest.raises(KeyboardInterrupt):
            result(store)
    worked_on.clear()
    found = result(store).to_dict()
    assert set(worked_on) == {"draws of loose", "claim 0 rpm", "claim 1 rpm"}
    assert found == result(None).to_dict()


@pytest.mark.slow
def test_progress_begins_with_what_was_kept(store):
    result(store)
    told = []
    run_study(asked(), lambda *said: told.append(said), store=store)
    assert told == [(3, 3, "judging")]


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    ["quarry-loader-repower", "hauler-converter", "loader-in-the-yard", "loader-stall-too-low"],
)
def test_whatever_a_shipped_study_comes_to_can_be_kept_to_the_last_bit(name):
    import converter_match as cm

    made = cm.read(name)
    for row in run_study(made).outcomes:
        for item in row:
            raw = to_bytes(item)
            assert to_bytes(from_bytes(raw)) == raw


def test_verdicts_hang_on_nothing_of_a_study_but_what_they_are_kept_by():
    """A study that has nothing else is judged like the whole one."""
    made = asked()
    told = {"criteria", "limits", "duty", "conditions", "present", "looked_at"}

    class Bare:
        def __getattr__(self, name):
            assert name in told, name
            return getattr(made, name)

    found = run_study(made)
    bare = Bare()
    assert asked_of(bare) == asked_of(made)
    for row, item in zip(found.outcomes, found.assessments, strict=True):
        assert assess(bare, row, found.outcomes[0]).to_dict() == item.to_dict()
    rows = [
        tuple(judged.Sampled(one, {"engine-torque": np.linspace(-0.01, 0.01, 4)}, 4) for one in row)
        for row in found.outcomes
    ]
    for k in range(3):
        judged._judged_row((bare, rows, found.outcomes[0], rows[0]), k)
    assert isinstance(made, Study)


def test_the_present_machine_knows_already_what_others_are_compared_with():
    made = asked()
    inputs = drawn_inputs(made, 8, 0)
    found = judged.judged(made, inputs, 8, run_study(made).outcomes)
    known = set(found.sampled[0][0].__dict__)
    assert {"_on_grade_by", "_routes", "steepest_start", "stall_speed"} <= known
    assert not {"on_road", "capacity"} & known  # nor what is asked for no more


@pytest.mark.slow
def test_of_very_many_draws_nothing_is_kept_but_the_rest_is(store, worked_on, monkeypatch):
    monkeypatch.setattr(judged, "_MOST_KEPT", 15)
    first = result(store).to_dict()
    worked_on.clear()
    assert result(store).to_dict() == first
    assert set(worked_on) == {f"draws of {name}" for name in NAMES}


@pytest.mark.slow
def test_a_ranking_and_trials_take_what_was_kept(store, monkeypatch):
    import converter_match as cm

    made, library = asked(), [loose(k, id=f"k-{k:.0f}") for k in (50.0, 60.0)]
    first = rank_library(made, library, store=store).to_dict()
    given = (
        cm.read("six-cylinder-9l-240kw"), cm.read("single-stage-390mm-full-range"),
        cm.read("six-speed-hauler"), cm.read("articulated-hauler-25t"),
        cm.read("quarry-to-crusher"),
    )  # fmt: skip
    engine, converter, *ground = given
    sizes = best_size(*given, steps=3, refinements=1, store=store).to_dict()
    few = [("a", converter)]
    tried = try_converters(engine, few, *ground, store=store).to_dict()
    assert (first, sizes, tried) == (
        rank_library(made, library).to_dict(),
        best_size(*given, steps=3, refinements=1).to_dict(),
        try_converters(engine, few, *ground).to_dict(),
    )
    monkeypatch.setattr(ranking, "assess", None)
    monkeypatch.setattr("converter_match.judgement.sizing.trials.solve", None)
    assert rank_library(made, library, store=store).to_dict() == first
    assert best_size(*given, steps=3, refinements=1, store=store).to_dict() == sizes
    assert try_converters(engine, few, *ground, store=store).to_dict() == tried
