"""What is odd about the data is said by every verb that reads them, not by ``check`` alone."""

import json

import pytest

from converter_match.cli import main
from converter_match.library.shipped import shipped
from tests.cli.test_messages import HAULER, LOADER
from tests.cli.test_parser import PAIR
from tests.study_examples import study_file


@pytest.fixture
def engine(tmp_path):
    """An engine whose idle is in no usual unit."""
    text = shipped("engines")["six-cylinder-7l-185kw"].read_text(encoding="utf-8")
    path = tmp_path / "odd-engine.toml"
    path.write_text(text.replace("1.45", "1450"), encoding="utf-8")
    assert "1450" in path.read_text(encoding="utf-8")
    return path


def swapped(words, engine):
    words = list(words)
    words[words.index("--engine") + 1] = str(engine)
    return words


RUNS = {
    "tractive": ("tractive", *LOADER),
    "hold": ("hold", *PAIR, "--machine", "wheel-loader-17t"),
    "stall": ("stall", *PAIR),
    "size": ("size", *PAIR, "--stall-speed", "1800"),
    "audit": ("audit", *PAIR, "--claim", "stall speed=1806 rpm"),
    "solve": ("solve", *PAIR),
}


@pytest.mark.parametrize("run", RUNS.values(), ids=RUNS)
@pytest.mark.slow
def test_every_verb_says_it(run, engine, capsys):
    assert main(list(run)) in (0, 3)
    said = capsys.readouterr()
    assert "The inertia is" not in said.out + said.err
    assert main(swapped(run, engine)) in (0, 3)
    said = capsys.readouterr()
    assert said.out.count("The inertia is") == 1
    assert said.err == ""


def test_json_stays_json_and_it_is_said_all_the_same(engine, capsys):
    assert main([*swapped(RUNS["stall"], engine), "--json"]) in (0, 3)
    said = capsys.readouterr()
    assert json.loads(said.out)
    assert said.err.startswith(f"converter-match: odd: {engine}: The inertia is")
    assert said.err.count("\n") == 1


@pytest.mark.parametrize(
    "words",
    [
        ("tractive", *LOADER, "--grades", "0,0.05,0.08"),
        (
            *("accelerate", *HAULER, "--surface", "firm smooth earth", "--to-speed", "9"),
            *("--grade", "0.08"),
        ),
    ],
)
@pytest.mark.slow
def test_share_given_as_percent_is_asked_about(words, capsys):
    assert main(list(words)) in (0, 3)
    assert "Was a share (0.0" in capsys.readouterr().out


@pytest.mark.slow
def test_study_says_it_in_words_and_in_json_and_in_the_notes_of_its_candidate(
    tmp_path, engine, capsys
):
    change = ('engine = "six-cylinder-7l-185kw"', f'engine = "{engine.name}"')
    path = study_file(tmp_path, change, ("value = 4 }", "value = 0.08 }"))
    assert main(["study", str(path)]) in (0, 3)
    said = capsys.readouterr().out
    assert said.count("The inertia is") == 1
    assert "duty.continuous_grade is 0.08 %: hardly a grade" in said
    assert main(["study", str(path), "--json"]) in (0, 3)
    data = json.loads(capsys.readouterr().out)
    assert [row["part"] for row in data["odd"]] == [
        "study 'small'",
        "engine 'six-cylinder-7l-185kw'",  # too great in itself
        "engine 'six-cylinder-7l-185kw'",  # and for its displacement
    ]
