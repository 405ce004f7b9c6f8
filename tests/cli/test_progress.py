"""How far a long calculation has come is shown at a terminal, and nowhere else."""

import sys

import pytest

from converter_match.cli.progress import progress_bar


@pytest.mark.slow
def test_progress_is_shown_on_a_terminal_only(capsys, monkeypatch):
    progress_bar()(1, 2, "half")
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    bar = progress_bar()
    bar(1, 2, "half")
    said = capsys.readouterr().err
    assert "half" in said
    assert "1/2" in said
    bar(2, 2, "done")
    assert capsys.readouterr().err.endswith(" \r")


def test_one_bar_serves_one_job_after_another(capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    bar = progress_bar()
    bar(5, 5, "drawing")
    capsys.readouterr()
    bar(1, 400, "draws")
    said = capsys.readouterr().err
    assert "draws" in said
    assert "1/400" in said
