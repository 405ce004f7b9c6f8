"""Verb ``accept``: bands, the sheet, and readings of the commissioning day."""

import json

import pytest

from converter_match.cli import main

pytestmark = pytest.mark.slow
STUDY = ("accept", "loader-nothing-to-measure")
FEW = (*STUDY, "--draws", "512")


def test_bands_and_the_sheet_in_both_formats(tmp_path, capsys):
    for suffix in ("html", "pdf"):
        path = tmp_path / f"sheet.{suffix}"
        assert main([*FEW, "--sheet", str(path), "--name", "HS-0417"]) == 0
        assert path.stat().st_size > 3000
    said = capsys.readouterr().out
    assert "should lie within" in said
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    for words in ("CAUTION", "roll back on a grade", "HS-0417", "grade run", "stall speed"):
        assert words in page


def test_a_reading_outside_is_exit_status_3_with_reasons(capsys):
    assert main([*FEW, "--json", "--reading", "stall speed=1500 rpm; brakes=held"]) == 3
    data = json.loads(capsys.readouterr().out)
    assert data["verdict"] == "investigate"
    assert data["diagnosis"]["findings"][0]["code"] == "engine-down"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--reading", "stall=1500 rpm"), "--reading 1"),
        (("--candidate", "present"), "no such candidate"),
        (("--draws", "1"), "--draws"),
    ],
)
def test_bad_input_is_one_line_and_exit_status_2(more, said, capsys):
    assert main([*STUDY, *more]) == 2
    assert said in capsys.readouterr().err
