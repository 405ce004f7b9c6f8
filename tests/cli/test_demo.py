"""The verb ``demo``: what a person types first."""

from __future__ import annotations

import inspect
import json
from functools import partial

import pytest

import converter_match.judgement.decision.extras as extras
from converter_match.cli import main
from converter_match.study.study import Condition, Study


@pytest.mark.slow
def test_demo_runs_the_shipped_study_from_end_to_end(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    # As many draws as a study has where nothing is said, and a fiftieth of them here.
    assert inspect.signature(extras.with_extras).parameters["draws"].default == 10_000
    monkeypatch.setattr(extras, "with_extras", partial(extras.with_extras, draws=200))
    assert main(["demo"]) == 0
    said = capsys.readouterr().out
    assert "stall" in said
    assert "\nDecision: conditional\n" in said
    assert "Invented demo data." in said
    out = tmp_path / "converter-match-demo"
    assert (out / "overlay.png").stat().st_size > 10_000
    assert json.loads((out / "match.json").read_text(encoding="utf-8"))["stall"]
    data = json.loads((out / "report" / "result.json").read_text(encoding="utf-8"))
    assert data["decision"]["combination"] == "new-engine"
    assert data["uncertainty"]["draws"] == 200
    assert (out / "report" / "report.html").stat().st_size > 100_000
    assert (out / "report" / "report.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.slow
def test_demo_takes_a_new_folder_each_time(capsys, tmp_path, monkeypatch, without_pictures):
    monkeypatch.chdir(tmp_path)
    # The study itself is run by the test above.
    monkeypatch.setattr(Study, "conditions", property(lambda study: _first(study)))
    monkeypatch.setattr(extras, "with_extras", lambda result, progress: result)
    for options in ((), ("--units", "us")):
        assert main(["demo", *options]) == 0
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["converter-match-demo", "converter-match-demo-2"]
    capsys.readouterr()
    assert main(["demo", "--out", names[0]]) == 2
    assert names[0] in capsys.readouterr().err


def test_demo_calls_a_file_a_file(capsys, tmp_path):
    place = tmp_path / "notes.txt"
    place.write_text("mine", encoding="utf-8")
    assert main(["demo", "--out", str(place)]) == 2
    said = capsys.readouterr().err
    assert "a file of this name exists already" in said
    assert place.read_text(encoding="utf-8") == "mine"


def _first(study):
    return (Condition(site=study.sites[0], hydraulic_torque=0.0),)
