"""The folder that a study leaves holds what it held when somebody last looked at it.

Its files by name, and what stands in its tables, numbers and pages; pictures and PDF are left out
(figures and printed pages are held by themselves). Held as the answers are (see there).
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from converter_match.errors import InputError
from converter_match.present.report import study_folder
from tests.answers.holding import compare, kept_names, lines_of
from tests.answers.page_words import words_of
from tests.present.documents import subject_of
from tests.present.gallery import result_of

pytestmark = pytest.mark.usefixtures("without_pictures")


def folder_lines(folder: Path) -> Iterator[str]:
    """Yield the names of the files, each with what stands in it."""
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        yield f"# {path.relative_to(folder).as_posix()}"
        if path.suffix == ".csv" and path.parent.name == study_folder.TABLES:
            for row in csv.reader(path.read_text(encoding="utf-8-sig").splitlines()):
                yield " | ".join(row)
        elif path.suffix == ".json":
            yield from lines_of(json.loads(path.read_text(encoding="utf-8")))
        elif path.suffix == ".html":
            yield from words_of(path.read_text(encoding="utf-8"))


def test_folder_of_a_study_holds_what_it_held(request, tmp_path):
    result, told = result_of("efforts of a study"), []
    made = study_folder.write_study(
        result, tmp_path / "report", progress=lambda *said: told.append(said)
    )
    assert made == tmp_path / "report"
    assert list(tmp_path.iterdir()) == [made]
    assert [done for done, of_all, _ in told] == [0, 1, 2, 3, 4, 5]
    lines = [what for _, _, what in told] + list(folder_lines(made))
    compare("folder-study", lines, request)


def test_folder_of_a_motor_study_holds_what_it_held(request, tmp_path):
    made = study_folder.write_motor_study(
        subject_of("report on motors"), tmp_path / "report", system="us"
    )
    compare("folder-motor-study", list(folder_lines(made)), request)


def test_a_report_gives_way_to_a_report_and_to_nothing_else(tmp_path):
    result, target = subject_of("report on motors"), tmp_path / "report"
    first = study_folder.write_motor_study(result, target)
    with pytest.raises(InputError, match="nothing is overwritten without being asked"):
        study_folder.write_motor_study(result, target)
    before = {path.name: path.read_bytes() for path in first.rglob("*") if path.is_file()}
    study_folder.write_motor_study(result, target, overwrite=True)
    assert before == {path.name: path.read_bytes() for path in first.rglob("*") if path.is_file()}
    (target / "figures" / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match=r"what no report put there.*mine\.txt"):
        study_folder.write_motor_study(result, target, overwrite=True)
    assert list(tmp_path.iterdir()) == [target]


def test_every_kept_folder_is_written():
    assert kept_names("folder-") == {"study", "motor-study"}
