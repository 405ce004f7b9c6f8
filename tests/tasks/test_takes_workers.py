"""What takes workers gives with two processes what it gives with one, to the last bit."""

import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.judgement.audit.audit import audit_study
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.sizing.trials import best_size, try_converters
from converter_match.judgement.verdict.ranking import rank_library
from converter_match.study.doubts import Tolerance
from converter_match.tasks.workers import processes
from tests.study_examples import combination, flat_engine, loose, study


@pytest.fixture(scope="module")
def two():
    with processes(2, patience=0.0) as workers:
        yield workers


@pytest.fixture(scope="module")
def drawn():
    """Two candidates beside the present machine, with a tolerance."""
    others = (
        combination("tight", converter=loose(55.0)),
        combination("loose", converter=loose(70.0)),
    )
    tolerance = Tolerance(quantity="engine-torque", half_width=0.05)
    return study().replace(candidates=tuple(others), tolerances=(tolerance,))


@pytest.mark.slow
def test_a_study_with_its_draws(drawn, two):
    alone = with_extras(run_study(drawn), draws=64)
    both = with_extras(run_study(drawn, None, two), draws=64, workers=two)
    assert both.to_dict() == alone.to_dict()


@pytest.mark.slow
def test_a_library_ranked_by_a_study(drawn, two):
    library = [loose(k, id=f"k-{k:.0f}") for k in (50.0, 60.0, 80.0)]
    alone = rank_library(drawn, library)
    assert rank_library(drawn, library, workers=two).to_dict() == alone.to_dict()


@pytest.mark.slow
def test_sizes_and_converters_tried_on_a_route(two):
    import converter_match as cm

    asked = (
        cm.read("six-cylinder-9l-240kw"), cm.read("single-stage-390mm-full-range"),
        cm.read("six-speed-hauler"), cm.read("articulated-hauler-25t"),
        cm.read("quarry-to-crusher"),
    )  # fmt: skip
    sizes = {"steps": 3, "refinements": 2}
    alone = best_size(*asked, **sizes)
    assert len(alone.trials) == 5
    assert best_size(*asked, **sizes, workers=two).to_dict() == alone.to_dict()
    engine, converter, *ground = asked
    few = [("a", converter), ("b", cm.read("single-stage-345mm-tight"))]
    alone = try_converters(engine, few, *ground)
    assert try_converters(engine, few, *ground, workers=two).to_dict() == alone.to_dict()


@pytest.mark.slow
def test_claims_of_a_study(two):
    import converter_match as cm

    asked = cm.read("quarry-loader-repower")
    alone = audit_study(asked, draws=64)
    assert audit_study(asked, draws=64, workers=two).to_dict() == alone.to_dict()


@pytest.mark.slow
def test_what_cannot_be_matched_is_said_of_its_combination(drawn, two):
    late = loose(60.0)
    no_stall = late.replace(
        speed_ratio=late.speed_ratio[2:],
        torque_ratio=late.torque_ratio[2:],
        capacity=late.capacity[2:],
    )
    bad = drawn.replace(candidates=(*drawn.candidates, combination("odd", converter=no_stall)))
    with pytest.raises(InputError) as one:
        run_study(bad)
    with pytest.raises(InputError) as other:
        run_study(bad, None, two)
    assert str(one.value) == str(other.value)
    assert "does not include stall" in str(one.value)


@pytest.mark.parametrize("named", ["many", "0", "-1", "2.5"])
def test_a_number_of_processes_in_the_environment_is_checked_too(monkeypatch, capsys, named):
    monkeypatch.setenv("CONVERTER_MATCH_JOBS", named)
    assert main(["shortlist", "quarry-loader-parts", "--draws", "0"]) == 2
    assert "CONVERTER_MATCH_JOBS" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--jobs", "0"), "--jobs: out of range"),
        (("--jobs", "2", "--cluster", "tcp://127.0.0.1:1"), "a cluster has its own workers"),
        (("--draws", "1"), "--draws: out of range"),
        (("--draws", "many"), "--draws"),
        (("--kept", "nowhere/there\0"), "an argument that no text can hold"),
        (("--table", "kept.png"), "the suffix does not name a page"),
    ],
)
def test_options_that_cannot_be_are_said(capsys, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    try:
        status = main(["shortlist", "quarry-loader-parts", *words])
    except SystemExit as stop:
        status = stop.code
    assert status == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_shortlist_with_a_hole_is_answered_in_part_and_names_it(monkeypatch, capsys):
    from converter_match.judgement.catalogue import stages
    from converter_match.library import catalogue_file
    from converter_match.study.catalogue import PartsCatalogue

    ground = PartsCatalogue(
        id="made",
        name="Made for a test",
        source="tests",
        study=study(),
        engines=(flat_engine(),),
        converters=(loose(60.0, id="sound"), loose(65.0, id="odd")),
    )
    by_study = stages.by_study

    def breaks(field, member):
        if member.size == 1:
            raise MemoryError
        return by_study(field, member)

    monkeypatch.setattr(catalogue_file, "read_catalogue", lambda path: ground)
    monkeypatch.setattr(stages, "by_study", breaks)
    assert main(["shortlist", "made", "--draws", "0"]) == 4
    said = capsys.readouterr().out
    assert "/odd" in said
    assert "out of memory" in said
    assert "kept: 1" in said
    assert "not calculated: 1" in said
