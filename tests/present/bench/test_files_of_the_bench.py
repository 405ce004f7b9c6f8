"""Who saves, under which name and what: the files of the bench, one by one."""

import csv
import os
import time
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.shipped import shipped
from converter_match.present.bench import keeping
from converter_match.present.bench.keeping import Keeper
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


@pytest.mark.parametrize(
    ("user", "notebook", "who"),
    [
        ("anna", "/work of anna/pairs.ipynb", "anna in pairs.ipynb"),
        ("anna", "", "anna"),
        (None, "", "somebody"),
        (None, "pairs.ipynb", "somebody in pairs.ipynb"),
    ],
)
def test_who_saves_is_the_user_and_the_notebook_as_far_as_they_are_known(
    tmp_path, monkeypatch, shelf, state, user, notebook, who
):
    def name():
        if user is None:
            raise OSError("no such user")
        return user

    monkeypatch.setattr(keeping.getpass, "getuser", name)
    monkeypatch.setenv("JPY_SESSION_NAME", notebook)
    assert Keeper(tmp_path).who == who
    assert Keeper(tmp_path, who="ben").who == "ben"
    moment = datetime(2031, 5, 4, 3, 2, 1, tzinfo=UTC)
    Keeper(tmp_path, now=lambda: moment).save_study("s", state, shelf)
    with pytest.raises(InputError) as error:
        Keeper(tmp_path).save_study("s", state, shelf)
    assert f"(last saved by {who}, 2031-05-04 03:02:01 UTC)" in str(error.value)


def test_a_lock_is_old_after_twenty_seconds_and_where_the_clock_was_set_back(
    shelf, state, tmp_path, monkeypatch
):
    monkeypatch.setattr(keeping, "_LOCK_WAIT", 0.1)
    lock = tmp_path / ".s.toml.lock"
    for age in (15.0, -15.0):
        lock.touch()
        os.utime(lock, (time.time() - age, time.time() - age))
        with pytest.raises(InputError, match="being saved by another notebook"):
            Keeper(tmp_path).save_study("s", state, shelf)
        assert lock.exists()
    for age, name in ((25.0, "s"), (-25.0, "t")):
        lock = tmp_path / f".{name}.toml.lock"
        lock.touch()
        os.utime(lock, (time.time() - age, time.time() - age))
        assert Keeper(tmp_path).save_study(name, state, shelf).exists()
        assert not lock.exists()


def test_a_free_name_counts_on_from_the_last_and_each_kind_for_itself(tmp_path):
    keeper = Keeper(tmp_path)
    for name in ("h.csv", "h-2.csv", "h-4.csv", "h-2.json"):
        (tmp_path / name).touch()
    assert keeper.free_name("h", "csv") == "h-3"
    assert keeper.free_name("h-2", "csv") == "h-3"
    assert keeper.free_name("h.csv", "csv") == "h-3"
    assert keeper.free_name("h", "json") == "h-3"
    assert keeper.free_name("h", "svg") == "h-2"


def test_studies_to_open_are_own_ones_by_name_and_shipped_ones_that_no_own_one_hides(
    shelf, state, tmp_path
):
    keeper = Keeper(tmp_path)
    for name in ("zebra", "ant", "quarry-loader-repower"):
        keeper.save_study(name, state, shelf)
    (tmp_path / "other.toml").write_text('schema = "converter-match/engine/1"\n', encoding="utf-8")
    (tmp_path / "folder.toml").mkdir()
    names = keeper.names()
    assert names[:3] == ("ant", "quarry-loader-repower", "zebra")
    assert set(names[3:]) == {
        f"{name} (shipped)" for name in shipped("studies") if name != "quarry-loader-repower"
    }
    # By its mark or without it; what is in the folder comes first.
    assert keeper.open("loader-in-the-yard (shipped)", shelf).state.b is not None
    assert keeper.open("quarry-loader-repower", shelf).state == state
    with pytest.raises(InputError) as error:
        keeper.open("none", shelf)
    assert "none.toml" in str(error.value)
    assert "there are: ant, quarry-loader-repower, zebra, " in str(error.value)


def test_a_study_that_changes_while_it_is_read_is_refused(shelf, state, tmp_path, monkeypatch):
    keeper = Keeper(tmp_path)
    path = keeper.save_study("s", state, shelf)
    opened = keeping.open_study

    def slow(file, *more):
        found = opened(file, *more)
        path.write_bytes(path.read_bytes() + b"\n")
        return found

    monkeypatch.setattr(keeping, "open_study", slow)
    with pytest.raises(InputError, match=r"s\.toml.*while it was read"):
        keeper.open("s", shelf)
    # It counts as not opened.
    monkeypatch.undo()
    with pytest.raises(InputError, match="has not opened it"):
        Keeper(tmp_path).save_study("s", state, shelf)


def figures_saved(monkeypatch, keeper, view_of, state, name="f"):
    """The figures that would be written, by the name of their file."""
    from converter_match.present.drawing import saving

    drawn = {}

    def save(figure, path):
        drawn[path.name] = figure
        return path

    monkeypatch.setattr(saving, "save", save)
    written = keeper.save_figure(name, "svg", view_of, state)
    assert [path.name for path in written] == list(drawn)
    return drawn


@pytest.mark.slow
def test_a_figure_is_of_what_is_shown_in_its_units_and_letters(shelf, state, tmp_path, monkeypatch):
    keeper = Keeper(tmp_path)
    two = replace(state.pinned().changed(diameter_share=1.05), system="us", font_scale=1.3)
    [(name, both)] = figures_saved(monkeypatch, keeper, view(two, shelf), two).items()
    assert name == "f.svg"
    assert "torque (lbf·ft)" in {ax.get_ylabel() for ax in both.axes}
    assert both.axes[0].yaxis.label.get_fontsize() == pytest.approx(1.3 * 9.5)
    said = " ".join(text.get_text() for text in both.texts)
    # B is the candidate: its converter is 5 % larger.
    assert said.count("diameter 105.0 %") == 1
    assert said.index("345 mm") < said.index("diameter 105.0 %")
    one = replace(state, font_scale=0.8)
    [(name, alone)] = figures_saved(monkeypatch, keeper, view(one, shelf), one).items()
    assert name == "f.svg"
    assert "torque (N·m)" in {ax.get_ylabel() for ax in alone.axes}
    assert alone.axes[0].yaxis.label.get_fontsize() == pytest.approx(0.8 * 9.5)


@pytest.mark.slow
def test_a_motor_beside_an_engine_is_a_figure_for_each_and_none_is_written_over(
    shelf, state, tmp_path, monkeypatch
):
    keeper = Keeper(tmp_path)
    motor = Setting(engine="lift-truck-80v-30kw", converter="single-stage-260mm")
    two = replace(state, b=motor)
    shown = view(two, shelf)
    (tmp_path / "f-B.svg").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"f-B\.svg.*there already"):
        keeper.save_figure("f", "svg", shown, two)
    assert [path.read_bytes() for path in tmp_path.iterdir()] == [b"mine"]
    drawn = figures_saved(monkeypatch, keeper, shown, two, name="g")
    assert list(drawn) == ["g-A.svg", "g-B.svg"]
    assert [figure.get_label() for figure in drawn.values()] == [
        "Six-cylinder loader engine, 7 L, turbocharged and aftercooled, 185 kW + "
        "Single-stage converter, 345 mm, tight",
        f"{shown.results['b'].setup.motor.name} + {shown.results['b'].converter.title}",
    ]


def test_a_table_of_one_has_its_value_and_of_none_says_what_is_wrong(shelf, state, tmp_path):
    keeper = Keeper(tmp_path)
    (written,) = keeper.save_table("t", view(state, shelf))
    with written.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    assert head == ["key figure", "unit", "value"]
    stall = view(state, shelf).results["a"].stall
    # 1 rpm is pi / 30 rad/s.
    found = {row[0]: row[1:] for row in rows}
    unit, value = found["stall speed"]
    assert (unit, float(value)) == ("rpm", pytest.approx(stall.engine_speed * 30 / np.pi, abs=0.51))
    broken = BenchState(a=replace(A, engine="no-such-engine"))
    for content in ("table", "csv", "json", "svg"):
        with pytest.raises(InputError, match="no result to write") as error:
            keeper.save("u", content, view(broken, shelf), broken, shelf)
        assert "no-such-engine" in str(error.value)
    assert [path.name for path in tmp_path.iterdir()] == ["t.key-figures.csv"]


def test_points_in_us_units_are_named_and_counted_as_such(shelf, state, tmp_path):
    us = replace(state, system="us")
    shown = view(us, shelf)
    (written,) = Keeper(tmp_path).save("d", "csv", shown, us, shelf)
    with written.open(encoding="utf-8", newline="") as file:
        units, first, *_ = csv.DictReader(file)
    torque = next(key for key, unit in units.items() if unit == "lbf·ft" and "input" in key)
    points = shown.results["a"].table("points").records()
    given = next(
        value for key, value in next(iter(points)).items() if key.startswith("input_torque")
    )
    # 1 lbf.ft is 1.3558179 N.m.
    assert float(first[torque]) == pytest.approx(given / 1.3558179, rel=1e-4)
    assert first["combination"] == "A"
