"""Drafts drawn, charts picked and sheets uploaded: the Python side, without a browser."""

import io
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from converter_match.errors import InputError
from converter_match.library.intake.picture import intake_picture
from converter_match.library.intake.rating_line import intake_rating
from converter_match.library.intake.reading import intake
from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.present.figures.intake import draft_figure
from converter_match.present.figures.practice_chart import REFERENCE_RPM, practice_chart
from converter_match.present.lab.bring_in import BringIn
from converter_match.present.lab.picking import ChartPicker

SHEETS = Path(__file__).resolve().parents[2] / "data" / "sheets"
CONVERTER = read_converter(shipped("converters")["single-stage-345mm-tight"])
CURVES = (
    {"quantity": "torque ratio"},
    {"quantity": "input torque", "unit": "N.m",
     "at_speed": {"unit": "rpm", "value": REFERENCE_RPM}},
)  # fmt: skip


def artists(figure, gid):
    return [artist for artist in figure.findobj() if artist.get_gid() == gid]


def words(figure):
    return " ".join(text.get_text() for text in figure.findobj() if hasattr(text, "get_text"))


def test_figure_of_a_converter_draft_shows_its_rows_and_what_is_open():
    draft = intake(SHEETS / "plain.csv")
    figure = draft_figure(draft)
    [rows] = artists(figure, "torque-ratio-0-given")
    np.testing.assert_array_equal(rows.get_ydata(), draft.sheet.one("torque_ratio").values)
    assert "1 question open" in words(figure)
    assert "no question is open" in words(draft_figure(draft.answered(stator="one-way")))


def test_the_button_shows_all_of_its_words():
    assert BringIn().button.layout.width == "max-content"


def test_figure_of_a_smoothed_draft_shows_the_points_as_they_came():
    draft = intake(SHEETS / "plain.csv", stator="one-way", smooth=True)
    [crosses] = artists(draft_figure(draft), "as-given-torque-ratio")
    np.testing.assert_array_equal(crosses.get_ydata(), draft.sheet.one("torque_ratio").values)


def test_figure_of_an_engine_draft_shows_the_band_and_its_units():
    line = "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; net; all speed; idle 800 rpm; "
    line += "high idle 2380 rpm"
    figure = draft_figure(intake_rating(line), system="us")
    assert len(artists(figure, "band")) == 1
    assert "torque (lbf·ft)" in words(figure)
    with pytest.raises(InputError, match="nothing that could be drawn"):
        draft_figure(intake_rating("185 kW @ 2200 rpm"))


def picker(tmp_path):
    marks = practice_chart(CONVERTER, tmp_path / "chart.png")
    return ChartPicker(tmp_path / "chart.png", CURVES, marks=marks)


@pytest.mark.slow
def test_marks_become_a_draft_that_recovers_the_curve_within_its_error(tmp_path):
    draft = picker(tmp_path).draft(stator="one-way", coupling_speed_ratio="0.86")
    nu, ratio, torque = draft.sheet.columns
    off = np.abs(ratio.values - CONVERTER.torque_ratio_at(nu.values))
    assert np.all(off <= ratio.tolerance)
    true = CONVERTER.capacity_at(nu.values) * (REFERENCE_RPM * np.pi / 30) ** 2
    assert np.all(np.abs(torque.values - true) <= torque.tolerance)
    assert draft.accept().coupling == 0.86


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_clicks_a_pixel_off_keep_the_stall_point_and_the_stated_error(tmp_path, seed):
    # Clicks fall on whole pixels of a screen that shows the picture smaller: 1.5 px is stated.
    chosen = picker(tmp_path)
    shaken = np.random.default_rng(seed).uniform(-1.2, 1.2, (len(chosen.marks), 2))
    chosen.marks = [
        {**mark, "pixel": [mark["pixel"][0] + dx, mark["pixel"][1] + dy]}
        for mark, (dx, dy) in zip(chosen.marks, shaken.tolist(), strict=True)
    ]
    draft = chosen.draft(stator="one-way", coupling_speed_ratio="0.86")
    nu, ratio, torque = draft.sheet.columns
    assert nu.values[0] == 0.0
    true = CONVERTER.capacity_at(nu.values) * (REFERENCE_RPM * np.pi / 30) ** 2
    assert np.all(np.abs(ratio.values - CONVERTER.torque_ratio_at(nu.values)) <= ratio.tolerance)
    assert np.all(np.abs(torque.values - true) <= torque.tolerance)


@pytest.mark.slow
def test_marks_can_be_kept_as_a_file_beside_the_picture(tmp_path):
    chosen = picker(tmp_path)
    (tmp_path / "chart.toml").write_text(chosen.toml(), encoding="utf-8")
    again = intake_picture(tmp_path / "chart.toml", stator="one-way")
    same = chosen.draft(stator="one-way")
    for one, other in zip(again.sheet.columns, same.sheet.columns, strict=True):
        np.testing.assert_array_equal(one.values, other.values)


@pytest.mark.slow
def test_what_is_still_to_be_clicked_is_said(tmp_path):
    chosen = picker(tmp_path)
    chosen.marks = chosen.marks[2:]
    with pytest.raises(InputError, match="needs two calibration points"):
        chosen.draft()
    chosen.marks = [{"what": "point:9", "pixel": [1, 2]}]
    with pytest.raises(InputError, match="not a mark of this picture"):
        chosen.draft()
    chosen.marks = [{"what": "x", "pixel": [1e9, 2], "value": 0}]
    with pytest.raises(InputError, match="not a mark of this picture"):
        chosen.draft()


@pytest.mark.slow
def test_choices_name_every_curve(tmp_path):
    keys = [key for key, _ in picker(tmp_path).choices]
    assert keys == ["x", "axis:0", "point:0", "trace:0", "axis:1", "point:1", "trace:1"]


@pytest.mark.slow
def test_uploaded_sheet_is_read_and_said_back(tmp_path):
    box = BringIn(tmp_path)
    content = (SHEETS / "plain.csv").read_bytes()
    file = {"name": "plain.csv", "type": "text/csv", "size": len(content)}
    file |= {"content": memoryview(content), "last_modified": datetime.now(UTC)}
    box.button.value = (file,)
    assert box.draft is not None
    assert (tmp_path / "plain.csv").read_bytes() == content
    assert "stator-inferred" in box.said.value
    assert 'alt="' in box.said.value


def test_upload_that_is_refused_is_said_and_leaves_nothing(tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    box = BringIn(home)
    box.take("../<b>evil</b>.csv", b"1;2")
    assert "a name that is not taken" in box.said.value
    assert "<b>evil" not in box.said.value
    assert list(tmp_path.rglob("*.csv")) == []
    box.take("junk.csv", bytes(500))
    assert "junk.csv" in box.said.value
    assert box.draft is None


def plain():
    return (SHEETS / "plain.csv").read_bytes()


@pytest.mark.slow
def test_a_corrected_file_of_the_same_name_replaces_the_draft(tmp_path):
    box = BringIn(tmp_path)
    box.take("sheet.csv", plain().replace(b"0.86", b"0.87"))
    first = box.draft
    box.take("sheet.csv", plain())
    assert box.draft is not first
    assert (tmp_path / "sheet.csv").read_bytes() == plain()
    # A file that was there before is not this box's to replace.
    other = BringIn(tmp_path)
    other.take("sheet.csv", b"SR;TR\n0;2\n")
    assert "is there already" in other.said.value
    assert (tmp_path / "sheet.csv").read_bytes() == plain()


@pytest.mark.slow
def test_what_was_brought_in_last_can_be_undone(tmp_path):
    box = BringIn(tmp_path)
    box.take("one.csv", plain())
    first = box.draft
    box.paste(plain().decode())
    assert box.draft.source == "pasted sheet"
    box.take_back()
    assert box.draft is first
    box.take_back()
    assert box.draft is None
    assert box.undo.disabled


@pytest.mark.slow
def test_several_dropped_files_are_read_and_kept_by_name(tmp_path):
    import base64

    box = BringIn(tmp_path)
    content = base64.b64encode(plain()).decode()
    box.zone.files = [{"name": "a.csv", "content": content}, {"name": "b.csv", "content": content}]
    assert set(box.drafts) == {"a.csv", "b.csv"}
    box.zone.files = [{"name": "c.csv", "content": "", "size": 99_000_000}]
    assert "too large" in box.said.value
    box.zone.files = [{"name": "../d.csv", "content": content}]
    assert "role='alert'" in box.said.value
    assert not (tmp_path.parent / "d.csv").exists()


@pytest.mark.slow
def test_a_picture_leads_to_the_picker(tmp_path):
    practice_chart(CONVERTER, tmp_path / "made.png")
    box = BringIn(tmp_path)
    box.take("chart.png", (tmp_path / "made.png").read_bytes())
    assert box.picker is not None
    assert box.below.children[-1] is box.picker
    box.take("sheet.csv", plain())
    assert box.below.children == ()


@pytest.mark.slow
def test_the_sheet_stands_beside_what_was_understood_and_its_words_do_nothing(tmp_path):
    box = BringIn(tmp_path)
    text = plain().decode().replace("\n", "\n<script>alert(1)</script>,,\n", 1)
    box.take("sheet.csv", text.encode())
    assert "<h4>The sheet</h4>" in box.said.value
    assert "<script>alert" not in box.said.value


@pytest.mark.slow
def test_the_followed_path_is_handed_to_the_page(tmp_path):
    chosen = picker(tmp_path)
    assert len(chosen.paths) == 2
    followed = np.array(chosen.paths[0])
    assert followed.shape[1] == 2
    chosen.marks = [mark for mark in chosen.marks if not mark["what"].startswith("trace")]
    assert chosen.paths == []


def test_a_picture_of_a_table_is_read_off_where_the_package_is_there(tmp_path, monkeypatch):
    import sys

    from tests.library.intake import test_scan as scans

    box = BringIn(tmp_path, stator="one-way", coupling_speed_ratio="0.86")
    stream = io.BytesIO()
    Image.fromarray(scans.picture()).save(stream, "PNG")
    box.take("scan.png", stream.getvalue())
    [button, _] = box.below.children
    with monkeypatch.context() as without:
        without.setitem(sys.modules, "rapidocr_onnxruntime", None)
        button.click()
    assert "converter-match[ocr]" in box.said.value
    monkeypatch.setattr(scans.reading, "Reader", lambda source: scans.StandIn(scans.TABLE))
    button.click()
    assert box.draft.scan is not None
    assert box.said.value.count("the picture of this cell") == 24
