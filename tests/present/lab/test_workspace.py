"""The working copy of the notebooks never costs a person their changes."""

import json
from pathlib import Path

import pytest

from converter_match.cli import main
from converter_match.cli.lab import lab_command
from converter_match.errors import InputError
from converter_match.present.lab.workspace import MANIFEST, copy_notebooks


@pytest.fixture
def shipped(tmp_path):
    folder = tmp_path / "shipped"
    folder.mkdir()
    (folder / "start.ipynb").write_text('{"cells": "start 1"}', encoding="utf-8")
    (folder / "match.ipynb").write_text('{"cells": "match 1"}', encoding="utf-8")
    return folder


def test_the_first_copy_brings_everything(shipped, tmp_path):
    copied = copy_notebooks(tmp_path / "work", shipped)
    assert copied.new == ("match.ipynb", "start.ipynb")
    assert (tmp_path / "work" / "match.ipynb").read_text(encoding="utf-8") == '{"cells": "match 1"}'


def test_a_second_copy_changes_nothing(shipped, tmp_path):
    copy_notebooks(tmp_path / "work", shipped)
    again = copy_notebooks(tmp_path / "work", shipped)
    assert (again.new, again.renewed, again.kept, again.beside) == ((), (), (), ())


def test_a_changed_notebook_is_kept(shipped, tmp_path):
    work = tmp_path / "work"
    copy_notebooks(work, shipped)
    (work / "match.ipynb").write_text("mine", encoding="utf-8")
    again = copy_notebooks(work, shipped)
    assert again.kept == ("match.ipynb",)
    assert again.beside == ()
    assert (work / "match.ipynb").read_text(encoding="utf-8") == "mine"


def test_a_newer_version_renews_what_is_unchanged_and_stands_beside_what_is_not(shipped, tmp_path):
    work = tmp_path / "work"
    copy_notebooks(work, shipped)
    (work / "match.ipynb").write_text("mine", encoding="utf-8")
    for name in ("start", "match"):
        (shipped / f"{name}.ipynb").write_text(f"{name} 2", encoding="utf-8")
    again = copy_notebooks(work, shipped)
    assert again.renewed == ("start.ipynb",)
    assert again.kept == ("match.ipynb",)
    assert (work / "start.ipynb").read_text(encoding="utf-8") == "start 2"
    assert (work / "match.ipynb").read_text(encoding="utf-8") == "mine"
    assert (work / again.beside[0]).read_text(encoding="utf-8") == "match 2"
    assert copy_notebooks(work, shipped).beside == ()


@pytest.mark.parametrize("lost", ["", "not json", "[1, 2]", '{"match.ipynb": 3}'])
def test_a_lost_list_of_shipped_versions_costs_no_changes(shipped, tmp_path, lost):
    work = tmp_path / "work"
    copy_notebooks(work, shipped)
    (work / MANIFEST).write_text(lost, encoding="utf-8")
    (work / "match.ipynb").write_text("mine", encoding="utf-8")
    copy_notebooks(work, shipped)
    assert (work / "match.ipynb").read_text(encoding="utf-8") == "mine"
    assert json.loads((work / MANIFEST).read_text(encoding="utf-8"))["match.ipynb"]


def test_a_working_folder_that_is_a_file_is_named(shipped, tmp_path):
    (tmp_path / "work").write_text("a file", encoding="utf-8")
    with pytest.raises(InputError, match="working folder"):
        copy_notebooks(tmp_path / "work", shipped)


def test_jupyterlab_listens_on_this_machine_only_and_keeps_its_token():
    command = lab_command(Path("notebooks"), 8899, no_browser=True)
    assert "--ServerApp.ip=127.0.0.1" in command
    assert "--ServerApp.port=8899" in command
    assert not any("token" in part.lower() or "password" in part.lower() for part in command)


def test_lab_refuses_an_impossible_port(capsys):
    assert main(["lab", "--port", "99999", "--copy-only"]) == 2
    assert "--port" in capsys.readouterr().err
