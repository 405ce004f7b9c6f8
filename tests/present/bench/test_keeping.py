"""What the bench writes, and what it refuses to write over."""

import asyncio
import csv
import json
import threading
from dataclasses import replace

import pytest

from converter_match.errors import InputError
from converter_match.present.bench import MatchBench, keeping
from converter_match.present.bench.keeping import SUFFIXES, Keeper
from converter_match.present.bench.shelf import load_shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.view import view

A = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")


@pytest.fixture(scope="module")
def shelf():
    return load_shelf()


@pytest.fixture
def state():
    return BenchState(a=A)


def folder_content(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_two_notebooks_lose_no_update(shelf, state, tmp_path):
    anna, ben = Keeper(tmp_path, who="anna in a.ipynb"), Keeper(tmp_path, who="ben in b.ipynb")
    anna.save_study("shared", state, shelf)
    ben.open("shared", shelf)
    ben.save_study("shared", state.changed(hydraulic_torque=50.0), shelf)
    before = folder_content(tmp_path)
    with pytest.raises(
        InputError, match=r"shared\.toml: was changed.*ben in b\.ipynb, 20"
    ) as error:
        anna.save_study("shared", state.changed(hydraulic_torque=90.0), shelf)
    assert "another name" in str(error.value)
    assert folder_content(tmp_path) == before
    # Who opens it sees the change and may then go on.
    assert anna.open("shared", shelf).state.a.hydraulic_torque == 50.0
    anna.save_study("shared", state.changed(hydraulic_torque=90.0), shelf)
    with pytest.raises(InputError, match="anna"):
        ben.save_study("shared", state, shelf)


def test_a_change_by_an_editor_is_seen_as_well(shelf, state, tmp_path):
    keeper = Keeper(tmp_path, who="anna")
    path = keeper.save_study("s", state, shelf)
    path.write_text('schema = "converter-match/study/1"\n', encoding="utf-8")
    with pytest.raises(InputError, match="not saved by a bench; file time"):
        keeper.save_study("s", state, shelf)


def test_two_that_save_at_the_same_moment_do_not_both_succeed(shelf, state, tmp_path):
    Keeper(tmp_path).save_study("s", state, shelf)
    keepers = [Keeper(tmp_path, who=f"person {n}") for n in range(4)]
    for keeper in keepers:
        keeper.open("s", shelf)
    said = []
    start = threading.Barrier(len(keepers))

    def save(keeper, torque):
        start.wait()
        try:
            keeper.save_study("s", state.changed(hydraulic_torque=torque), shelf)
            said.append("saved")
        except InputError as error:
            said.append(error.problem)

    threads = [
        threading.Thread(target=save, args=(keeper, 10.0 * n)) for n, keeper in enumerate(keepers)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert said.count("saved") == 1
    assert not list(tmp_path.glob(".*"))


def test_a_lock_left_behind_does_not_block_for_ever(shelf, state, tmp_path, monkeypatch):
    lock = tmp_path / ".s.toml.lock"
    lock.touch()
    monkeypatch.setattr(keeping, "_LOCK_WAIT", 0.1)
    with pytest.raises(InputError, match="being saved by another notebook"):
        Keeper(tmp_path).save_study("s", state, shelf)
    monkeypatch.setattr(keeping, "_LOCK_LASTS", -1.0)
    Keeper(tmp_path).save_study("s", state, shelf)


def test_a_study_that_was_not_opened_is_not_replaced(shelf, state, tmp_path):
    Keeper(tmp_path, who="anna").save_study("s", state, shelf)
    with pytest.raises(InputError, match=r"is there already.*anna"):
        Keeper(tmp_path).save_study("s", state, shelf)


@pytest.mark.parametrize(
    ("addition", "named"),
    [
        ("# measured on Tuesday\n", "comments"),
        ('[limits]\nengine_speed = { unit = "rpm", value = 2500 }\n', "limits"),
    ],
)
def test_a_study_that_holds_more_is_not_replaced(shelf, state, tmp_path, addition, named):
    path = Keeper(tmp_path).save_study("s", state, shelf)
    with path.open("a", encoding="utf-8") as file:
        file.write(addition)
    keeper = Keeper(tmp_path)
    keeper.open("s", shelf)
    with pytest.raises(InputError, match=f"more than the bench.*{named}"):
        keeper.save_study("s", state, shelf)


@pytest.mark.parametrize(
    "name", ",  ,../up,a/b,a\\b,/x,C:x,..,.hidden,con,LPT1,a\0b,a\nb,ends.,what?,a*".split(",")
)
@pytest.mark.parametrize("content", ["study", "csv", "svg"])
def test_a_name_cannot_lead_out_of_the_folder(tmp_path, name, content):
    with pytest.raises(InputError, match="file name"):
        Keeper(tmp_path).path(name, content)


def test_names_of_any_language_are_fine(shelf, state, tmp_path):
    keeper = Keeper(tmp_path)
    path = keeper.save_study("погрузчик 7 Å", state, shelf)
    assert path.name == "погрузчик 7 Å.toml"
    assert keeper.open("погрузчик 7 Å.toml", shelf).state == state
    assert keeper.names()[0] == "погрузчик 7 Å"


def test_data_are_those_of_the_result_and_overwrite_nothing(shelf, state, tmp_path):
    state = replace(state, b=replace(A, diameter_share=1.05))
    shown = view(state, shelf)
    keeper = Keeper(tmp_path)
    (written,) = keeper.save_data("d", "json", shown)
    data = json.loads(written.read_text(encoding="utf-8"))
    assert data["b"]["stall"] == shown.results["b"].to_dict()["stall"]
    (table,) = keeper.save_data("d", "csv", shown)
    with table.open(encoding="utf-8", newline="") as file:
        units, *rows = csv.DictReader(file)
    assert units["engine_speed_rpm"] == "rpm"
    tables = [result.table("points") for result in shown.results.values()]
    expected = [row for table in tables for row in table.records()]
    assert len(rows) == len(expected)
    assert {row["combination"] for row in rows} == {"A", "B"}
    assert float(rows[0]["engine_speed_rpm"]) == expected[0]["engine_speed_rpm"]
    for content in ("json", "csv"):
        with pytest.raises(InputError, match="is there already"):
            keeper.save_data("d", content, shown)


@pytest.mark.slow
def test_both_are_one_figure_and_one_table_and_nothing_is_overwritten(shelf, state, tmp_path):
    keeper = Keeper(tmp_path)
    (single,) = keeper.save_figure("f", "svg", view(state, shelf), state)
    assert single.name == "f.svg"
    two = replace(state.pinned().changed(diameter_share=1.05), system="us")
    (tmp_path / "g.svg").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"g\.svg.*there already"):
        keeper.save_figure("g", "svg", view(two, shelf), two)
    for kind, magic in (("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")):
        (written,) = keeper.save("h", kind, view(two, shelf), two, shelf)
        assert (written.name, written.read_bytes()[: len(magic)]) == (f"h.{kind}", magic)
    shown = view(two, shelf)
    (written,) = keeper.save("h", "table", shown, two, shelf)
    assert written.name == "h.key-figures.csv"
    with written.open(encoding="utf-8", newline="") as file:
        rows = {row["key figure"]: row for row in csv.DictReader(file)}
    stall = rows["input torque at stall"]
    # 1 lbf.ft is 1.3558179 N.m: 0.3048 m x 4.4482216 N.
    present, candidate = (
        round(shown.results[side].stall.input_torque / 1.3558179) for side in ("a", "b")
    )
    assert stall["unit"] == "lbf·ft"
    assert (int(stall["present machine"]), int(stall["candidate"])) == (present, candidate)
    assert int(stall["candidate - present"]) == candidate - present
    with pytest.raises(InputError, match="is there already"):
        keeper.save("h", "table", shown, two, shelf)
    assert keeper.free_name("h", "table") == "h-2"


def test_a_quick_second_save_is_done_in_its_turn_while_the_bench_answers(shelf, state, tmp_path):
    slow = threading.Event()

    class Slow(Keeper):
        def save(self, *asked):
            assert slow.wait(10)
            return super().save(*asked)

    async def pressed():
        live = MatchBench(shelf, state, keeper=Slow(tmp_path))
        live.controls["content"].value = "json"
        for name, torque in (("first", 10.0), ("second", 60.0), ("first", 90.0)):
            live.controls["hydraulic"].value = torque
            live.controls["file"].value = name
            live.buttons["save"].click()
        # Nothing is written yet; the bench says what waits, and goes on answering.
        assert "writing first (json)" in live.controls["work"].value
        assert "second (json)" in live.controls["work"].value
        assert list(tmp_path.iterdir()) == []
        live.controls["hydraulic"].value = 200.0
        assert live.state.a.hydraulic_torque == 200.0
        slow.set()
        for _ in range(500):
            await asyncio.sleep(0.01)
            if "writing" not in live.controls["work"].value:
                break
        words = [note[2] for note in live.picture.frame["notes"]]
        assert "is there already" in words[0]
        assert "first-2" in words[1]
        assert words[2:4] == ["saved: second.json", "saved: first.json"]
        live.close()

    asyncio.run(pressed())
    # Each file holds what was shown at its press.
    for name, torque in (("first", 10.0), ("second", 60.0)):
        data = json.loads((tmp_path / f"{name}.json").read_text(encoding="utf-8"))
        alone = view(state.changed(hydraulic_torque=torque), shelf).results["a"]
        assert data["a"]["stall"] == alone.to_dict()["stall"]


def test_the_bench_offers_another_name_after_a_refusal(shelf, state, tmp_path):
    live = MatchBench(shelf, state, keeper=Keeper(tmp_path))
    (tmp_path / "mine.toml").write_text("a file of mine", encoding="utf-8")
    live.controls["file"].value = "mine"
    live.buttons["save"].click()
    words = [note[2] for note in live.picture.frame["notes"]]
    assert "is there already" in words[0]
    assert "mine-2" in words[1]
    live.buttons["save"].click()
    assert "saved: mine-2.toml" in live.picture.frame["notes"][0][2]
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == "a file of mine"
    assert "mine-2" in live.controls["file"].options
    live.controls["hydraulic"].value = 77.0
    live.controls["file"].value = "mine-2"
    live.buttons["open"].click()
    assert live.state == state
    live.buttons["undo"].click()
    assert live.state.a.hydraulic_torque == 77.0
    assert live.last_error is None
    live.close()


@pytest.mark.slow
@pytest.mark.parametrize("content", sorted(SUFFIXES))
def test_every_content_is_written_by_the_save_button(shelf, state, tmp_path, content):
    live = MatchBench(shelf, state, keeper=Keeper(tmp_path))
    live.controls["file"].value = "out"
    live.controls["content"].value = content
    live.buttons["save"].click()
    assert (tmp_path / f"out{SUFFIXES[content]}").stat().st_size > 200
    assert live.last_error is None
    live.close()


def test_a_folder_that_cannot_be_written_is_a_message(shelf, state, tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        Keeper(tmp_path / "gone").save_study("s", state, shelf)
