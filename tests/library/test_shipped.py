from pathlib import Path

import pytest

from converter_match.errors import InputError
from converter_match.library import shipped as room
from converter_match.library.shipped import data_folder, find, shipped


def test_data_folder_has_the_kinds():
    assert {"engines", "converters", "sites"} <= {path.name for path in data_folder().iterdir()}


def test_installed_data_go_before_those_of_a_checkout(tmp_path, monkeypatch):
    for folder in ("package/_data/engines", "data/engines"):
        (tmp_path / folder).mkdir(parents=True)
    monkeypatch.setattr(room.resources, "files", lambda name: tmp_path / "package")
    assert data_folder() == tmp_path / "package" / "_data"
    (tmp_path / "package" / "_data" / "engines").rmdir()
    assert data_folder() == tmp_path / "data"
    (tmp_path / "data" / "engines").rmdir()
    with pytest.raises(InputError, match="installed without its data"):
        data_folder()


def test_unknown_kind_names_the_known():
    with pytest.raises(InputError, match=r"found 'engine'; expected .*did you mean 'engines'"):
        shipped("engine")


def test_id_finds_the_shipped_file():
    path = find("engines", "six-cylinder-7l-185kw")
    assert path == data_folder() / "engines" / "six-cylinder-7l-185kw.toml"


def test_path_that_exists_wins_over_an_id(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("six-cylinder-7l-185kw").write_text("mine")
    assert find("engines", "six-cylinder-7l-185kw") == Path("six-cylinder-7l-185kw")


def test_neither_path_nor_id_names_the_nearest():
    with pytest.raises(InputError) as caught:
        find("engines", "six-cylinder-7l-180kw")
    assert str(caught.value).startswith("six-cylinder-7l-180kw: no such file, and not the id")
    assert "did you mean 'six-cylinder-7l-185kw'" in str(caught.value)


def test_misspelt_path_names_the_nearest_id():
    with pytest.raises(InputError, match="did you mean 'single-stage-310mm'"):
        find("converters", "sheets/single-stage-310.toml")


@pytest.mark.parametrize("kind", ["studies", "engines", "sites"])
def test_a_file_that_lacks_only_its_ending_is_named(kind, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("my-study.toml").write_text("")
    with pytest.raises(InputError, match=r"the file 'my-study\.toml' is there.*with its ending"):
        find(kind, "my-study")


def test_misspelt_path_names_the_nearest_file_beside_it(tmp_path):
    for name in ("my-engine.toml", "my-engine.txt", "harbour.toml"):
        (tmp_path / name).write_text("")
    with pytest.raises(InputError) as caught:
        find("engines", tmp_path / "my-enigne.toml")
    assert caught.value.hint == f"did you mean {str(tmp_path / 'my-engine.toml')!r}?"


def test_a_near_file_and_a_near_id_are_both_named(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("six-cylinder-7l-184kw.toml").write_text("")
    with pytest.raises(InputError) as caught:
        find("engines", "six-cylinder-7l-183kw")
    assert "'six-cylinder-7l-184kw.toml'" in caught.value.hint
    assert "'six-cylinder-7l-185kw'" in caught.value.hint


def test_name_like_no_other_lists_the_ids():
    with pytest.raises(InputError, match="shipped: harbour-cold-morning, "):
        find("sites", "zzzz")


def test_name_that_no_file_can_have():
    with pytest.raises(InputError, match="no such file"):
        find("sites", "a\0b")
