"""One function reads whatever there is, by path or by id, and one writes."""

import json
from pathlib import Path

import pytest

import converter_match as cm
from converter_match.library.shipped import shipped


@pytest.mark.parametrize("id_", [id for id in shipped() if id != "loader-shift"])
def test_every_shipped_file_is_read_by_its_id_and_by_its_path(id_):
    by_id, by_path = cm.read(id_), cm.read(shipped()[id_])
    assert by_id is not None
    if not isinstance(by_id, tuple):
        assert by_id == by_path
        assert by_id.id == id_


def test_no_two_shipped_files_have_the_same_id():
    kinds = ["adjustable", "arrangements", "blading", "catalogues", "converters", "cycles",
             "drivelines", "duties", "engines", "loads", "logs", "machines", "motor-studies",
             "motors", "routes", "sites", "studies"]  # fmt: skip
    assert sum(len(cm.shipped(kind)) for kind in kinds) == len(cm.shipped())


def test_several_come_in_the_order_of_their_names():
    line, engine = cm.read("six-speed-hauler", "six-cylinder-9l-240kw")
    assert (type(line).__name__, type(engine).__name__) == ("Driveline", "Engine")


def test_a_file_of_ones_own_wins_over_an_id(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    mine = cm.read("six-cylinder-7l-185kw").replace(name="mine")
    cm.write(mine, "six-cylinder-7l-185kw")
    assert cm.read("six-cylinder-7l-185kw").name == "mine"


def test_what_is_not_there_names_the_nearest(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(cm.InputError, match="did you mean 'six-cylinder-7l-185kw'"):
        cm.read("six-cylinder-7l-180kw")
    Path("my-route.csv").write_text("", encoding="utf-8")
    with pytest.raises(cm.InputError, match=r"'my-route\.csv' is there: give the name with its"):
        cm.read("my-route")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ((), "nothing to read"),
        ((["a", "b"],), r"several names are arguments of their own: cm\.read\(\*names\)"),
        ((3,), "not the name of a file; found 'int'"),
        (("loader-shift",), r"cm\.identify"),
    ],
)
def test_what_cannot_be_read_says_where_it_goes(given, says):
    with pytest.raises(cm.InputError, match=says):
        cm.read(*given)


def test_a_sheet_is_sent_to_intake(tmp_path):
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("SR;TR;K\n0;2;60\n0,5;1,5;62\n", encoding="utf-8")
    with pytest.raises(cm.InputError, match=r"cm\.intake"):
        cm.read(sheet)


def test_a_copy_is_ones_own_and_takes_nobodys_place(tmp_path):
    mine = cm.copy("quarry-loader-repower", tmp_path / "my-study.toml")
    assert mine.read_bytes() == shipped("studies")["quarry-loader-repower"].read_bytes()
    with pytest.raises(cm.InputError, match=r"already|exists"):
        cm.copy("quarry-loader-repower", mine)


@pytest.mark.slow
def test_each_thing_becomes_the_file_that_it_is(tmp_path):
    engine, converter, loader = cm.read(
        "six-cylinder-7l-185kw", "single-stage-345mm-tight", "wheel-loader-17t"
    )
    match = cm.solve(engine, converter)
    cm.write(engine, tmp_path / "engine.toml")
    cm.write(cm.figures.characteristic(converter), tmp_path / "converter.svg")
    cm.write(match, tmp_path / "match.json")
    cm.write(cm.stall_test(match, machine=loader), tmp_path / "sheet.html")
    assert cm.read(tmp_path / "engine.toml") == engine
    assert "<svg" in (tmp_path / "converter.svg").read_text(encoding="utf-8")
    assert json.loads((tmp_path / "match.json").read_text())["stall"]["torque_ratio"] == 2.2
    assert "chock" in (tmp_path / "sheet.html").read_text(encoding="utf-8").lower()


@pytest.mark.parametrize(
    ("thing", "name", "says"),
    [
        (lambda m: m, "match.txt", r"found '\.txt'; expected \.json"),
        (lambda m: 3, "three.json", "there is no file for this; found 'int'"),
    ],
)
def test_what_has_no_such_file_is_refused(thing, name, says, tmp_path):
    match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    with pytest.raises(cm.InputError, match=says):
        cm.write(thing(match), tmp_path / name)
    assert not (tmp_path / name).exists()


def test_nothing_is_overwritten_without_being_asked(tmp_path):
    engine = cm.read("six-cylinder-7l-185kw")
    cm.write(engine, tmp_path / "mine.toml")
    with pytest.raises(cm.InputError):
        cm.write(engine.replace(name="other"), tmp_path / "mine.toml")
    assert cm.read(tmp_path / "mine.toml") == engine
    cm.write(engine.replace(name="other"), tmp_path / "mine.toml", overwrite=True)
    assert cm.read(tmp_path / "mine.toml").name == "other"


def test_odd_data_of_a_part_give_a_warning_where_they_are_read(tmp_path):
    text = shipped("engines")["six-cylinder-7l-185kw"].read_text(encoding="utf-8")
    path = tmp_path / "engine.toml"
    path.write_text(text.replace('"kg*m**2", value = 1.45', '"kg*m**2", value = 1450'), "utf-8")
    with pytest.warns(cm.OddData, match=r"engine\.toml: odd about the data: engine .*The inertia"):
        engine = cm.read(path)
    assert engine.id == "six-cylinder-7l-185kw"
    [odd] = [note for note in cm.check(path).to_dict()["odd"] if note["code"] == "inertia-unusual"]
    with pytest.warns(cm.OddData) as warned:
        cm.read("single-stage-345mm-tight", path)
    [one] = warned
    assert odd["message"] in str(one.message)
