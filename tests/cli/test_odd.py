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


def spoilt_table(tmp_path, kind, name, old, new):
    text = shipped(kind)[name].read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / f"{name}.csv"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


TABLES = {
    "route": ("routes", "quarry-to-crusher", ",25,", ",250,", "speed limit (row"),
    "cycle": ("cycles", "loader-truck-loading", ",9,,10,", ",9,,100,", "speed limit (row 1)"),
    "duty": ("duties", "loader-loading-shift", ",120,17", ",12000,17", "pump torque (row 2)"),
}
VERBS = {
    "route": ("route", *HAULER, "--route"),
    "cycle": ("route", *LOADER, "--cycle"),
    "duty": ("solve", *PAIR, "--duty"),
}


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.slow
def test_tables_are_asked_about_by_check_and_by_the_verb_that_reads_them(table, tmp_path, capsys):
    kind, name, old, new, said = TABLES[table]
    path = spoilt_table(tmp_path, kind, name, old, new)
    assert main(["check", str(path)]) == 0
    out = capsys.readouterr().out
    assert f"[number-unusual] {said}" in out
    assert main(["check", str(shipped(kind)[name])]) == 0
    assert "nothing odd found" in capsys.readouterr().out
    assert main([*VERBS[table], str(path)]) in (0, 3)
    assert f"{path}: {said}" in capsys.readouterr().out
    assert main([*VERBS[table], name]) in (0, 3)
    assert "Odd about the data" not in capsys.readouterr().out


@pytest.mark.slow
def test_second_engine_of_an_arrangement_is_asked_about(tmp_path, engine, capsys):
    path = tmp_path / "two.toml"
    path.write_text(
        'schema = "converter-match/arrangement/1"\nid = "two"\nname = "Two engines"\n'
        f'source = "tests"\n[parallel]\ncouples = "engines"\nengine = "{engine.name}"\n',
        encoding="utf-8",
    )
    assert main(["check", str(path)]) == 0
    assert "engine 'six-cylinder-7l-185kw': The inertia is" in capsys.readouterr().out
    assert main(["solve", *PAIR, "--arrangement", str(path)]) in (0, 3)
    assert f"{path}: engine 'six-cylinder-7l-185kw': The inertia is" in capsys.readouterr().out


@pytest.mark.slow
def test_question_about_a_site_is_not_lost_beside_one_about_the_engine(tmp_path, capsys):
    text = shipped("engines")["six-cylinder-7l-185kw"].read_text(encoding="utf-8")
    path = tmp_path / "engine.toml"
    assert '"kg/h", value = 1.16' in text
    path.write_text(text.replace('"kg/h", value = 1.16', '"kg/h", value = 116'), encoding="utf-8")
    text = shipped("sites")["plateau-quarry-hot-day"].read_text(encoding="utf-8")
    site = tmp_path / "site.toml"
    assert 'unit = "m", value = 2000' in text
    site.write_text(text.replace('unit = "m", value = 2000', 'unit = "m", value = 5900'), "utf-8")
    assert main([*swapped(RUNS["solve"], path), "--site", str(site)]) in (0, 3)
    said = capsys.readouterr().out
    assert "fuel.idle_rate is 116 kg/h" in said
    assert "altitude is 5900 m" in said
