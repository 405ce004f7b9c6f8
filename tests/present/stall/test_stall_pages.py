"""The sheet and the figures of stall tests: what they hold, and that the sheet is one page."""

import re
import shutil
import subprocess
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from matplotlib.text import Text

from converter_match.cli.tests_kept import drift_in
from converter_match.components.reading import StallReading
from converter_match.errors import InputError
from converter_match.judgement.identify.identify import LogBasis, identify
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.setup import StallSetup
from converter_match.library.read import read_converter, read_engine, read_site
from converter_match.library.shipped import shipped
from converter_match.library.stall_log_table import LogRow
from converter_match.present.figures.identify import identify_figure
from converter_match.present.stall.content import SheetRow
from converter_match.present.stall.figures import explanations_figure, fleet_figure, trend_figure
from converter_match.present.stall.sheet import save_sheet, sheet_html, sheet_of
from converter_match.present.stall.sheet_pdf import sheet_figure
from converter_match.present.stall.words import cautions as cautions_of
from tests.examples import RPM, converter, engine
from tests.judgement.identify.test_identify import steady
from tests.judgement.stall.test_gears_and_parts import edge
from tests.machines import driveline, gear, machine, surface

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
# As crowded as a sheet can be: long names, many gears, combined tests, a published span.
CROWDED = {
    "engine": engine(name="An engine with a name " * 8),
    "converter": converter(name="A converter with a name " * 8),
    "driveline": driveline(
        gears=(
            *(gear(str(k), 5.0 / k) for k in range(1, 9)),
            gear("R", 3.8, direction="reverse"),
        )
    ),
    "machine": machine(name="A machine with a name " * 8),
    "relief_torque": 280.0,
    "published": (1700 * RPM, 2000 * RPM),
}


@pytest.fixture(scope="module")
def found():
    return expect(StallSetup(**CROWDED))


def by_gid(figure):
    return {artist.get_gid(): artist for artist in figure.findobj() if artist.get_gid()}


# --- the sheet ------------------------------------------------------------------------------------


def test_cautions_come_before_anything_else(found):
    page = sheet_html(sheet_of(found))
    body = page[page.index("<body>") :]
    cautions = [note.message for note in cautions_of(on_tracks=False)]
    last_caution = max(body.index(words[:40].replace("'", "&#39;")) for words in cautions)
    for later in ("Prepare", "Hold", "Expect", "Record", "machine"):
        assert last_caution < body.index(f">{later}<")
    for words in ("level", "behind", "under", "Chock", "brakes", "hot", "maker", "site"):
        assert words in " ".join(cautions)


def test_sheet_says_what_was_calculated(found):
    page = sheet_html(sheet_of(found))
    for number in (found.band.low, found.band.high, *found.setup.published):
        assert f"{number / RPM:.0f}" in page
    assert f"hold {found.hold.seconds:.0f} s at most" in page
    assert "driven wheels or tracks on the ground" in page
    us = sheet_html(sheet_of(found, system="us"))
    assert "°F" in us
    assert "°C" not in us


def test_sheet_begins_with_the_highest_gear_and_strikes_out_what_breaks_loose():
    pulls = sorted(test.pull for test in expect(StallSetup(**CROWDED)).gears)
    weight = 15_000.0 * 9.80665
    traction = 0.5 * (pulls[-2] + pulls[-3]) / weight
    ground = surface(name="wet <clay>", traction=traction)
    sheet = sheet_of(expect(StallSetup(**CROWDED, surface=ground)))
    done = [row for row in sheet.rows if not row.struck]
    assert done[0].cells[:2] == ("stall", "8")
    gears = [row.cells[1] for row in done if row.cells[0] == "stall"]
    assert gears == ["8", "7", "6", "5", "4"]  # reverse pulls with 3.8, more than gear 2
    struck = [row for row in sheet.rows if row.struck]
    assert len(struck) == 2
    assert {row.cells[1] for row in struck} == {"1", "R"}
    # Pull and grip in kN beside each other: gear 8 by hand, a fifth of the ratio of 25.
    pull, grip = done[0].cells[2].split(" / ")
    assert float(grip) == pytest.approx(traction * weight / 1e3, abs=0.51)
    assert float(pull) == pytest.approx(pulls[0] / 1e3, abs=0.51)
    page = sheet_html(sheet)
    assert page.count('<tr class="struck">') == 2
    assert "wet &lt;clay&gt;" in page
    figure = sheet_figure(sheet)
    assert sum("do not stall in this gear" in text.get_text() for text in figure.texts) == 2


def test_where_every_gear_breaks_loose_no_stall_is_offered():
    ground = surface(traction=0.01)
    sheet = sheet_of(expect(StallSetup(**CROWDED, surface=ground)))
    assert [row.cells[0] for row in sheet.rows if not row.struck] == ["neutral, pumps at relief"]
    assert "No stall in gear" in sheet.items(sheet.steps)[0]
    assert not any("In gear, the highest" in line for line in sheet.items(sheet.relief))


def test_tests_at_relief_are_steps_with_the_speed_first_and_the_load_after(found):
    neutral, in_gear, time = sheet_of(found).items(sheet_of(found).relief)
    assert neutral.index("top governed speed") < neutral.index("against relief")
    assert in_gear.index("up to stall") < in_gear.index("against relief")
    assert "No longer than the maker says" in time
    without = sheet_of(expect(StallSetup(**CROWDED | {"relief_torque": None})))
    assert without.items(without.relief) == ()
    assert "With the pumps at relief" not in sheet_html(without)


def test_spans_that_do_not_meet_and_a_band_in_two_parts_are_said_on_the_sheet(found):
    said = dict(sheet_of(found).pairs(sheet_of(found).expected))
    assert "they do not meet" not in said
    apart = sheet_of(expect(StallSetup(**CROWDED | {"published": (1000 * RPM, 1100 * RPM)})))
    assert "no speed in common" in dict(apart.pairs(apart.expected))["they do not meet"]
    split = expect(edge())
    two = sheet_of(split)
    text = dict(two.pairs(two.expected))["expected stall speed today"]
    ends = [low for part in split.band.parts for low in part]
    spoken = [float(number) for number in re.findall(r"(\d+) rpm", text)]
    assert spoken == pytest.approx([end / RPM for end in ends], abs=0.51)


def test_a_crawler_is_not_told_to_chock_its_wheels():
    said = " ".join(note.message for note in cautions_of(on_tracks=True))
    assert "wheels" not in said
    assert "tracks blocked only as the maker says" in said
    assert len(cautions_of(on_tracks=True)) == len(cautions_of(on_tracks=False))


def test_order_of_cautions_is_that_of_a_workshop_manual():
    # Usual order, common practice, no source: whose rules, people, brakes, machine, oil and time,
    # when to stop.
    order = [note.message for note in cautions_of(on_tracks=False)]
    for words, line in zip(
        (("maker", "local codes", "site rules"), ("clear", "nobody"), ("Chock", "parking brake"),
         ("articulation lock",), ("level", "temperature", "hold longer", "cool down"),
         ("Stop at once", "moves", "smoke")),
        order, strict=True,
    ):  # fmt: skip
        assert all(word in line for word in words), line


def test_names_cannot_bring_markup(found):
    page = sheet_html(sheet_of(found, machine_name="<script>alert(1)</script>"))
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


@pytest.mark.slow
def test_pdf_is_one_page_with_nothing_beyond_its_edges(found, tmp_path):
    figure = sheet_figure(sheet_of(found))
    figure.canvas.draw()
    for text in figure.texts:
        box = text.get_window_extent().transformed(figure.transFigure.inverted())
        assert 0.03 < box.x0 < box.x1 < 0.98, text.get_text()
        assert 0.02 < box.y0 < box.y1 < 0.98, text.get_text()
    # A4 is 8.27 in wide, Letter 11 in high: whole on either.
    assert tuple(figure.get_size_inches()) == (8.27, 11.0)
    path = save_sheet(found, tmp_path / "sheet.pdf")
    assert len(re.findall(rb"/Type /Page\b", path.read_bytes())) == 1


@pytest.mark.slow
def test_full_page_is_set_smaller_and_loses_no_line(found):
    # Eight more gears that would break loose: as they stand, the last caution runs off the page.
    sheet = sheet_of(found)
    struck = SheetRow(("stall", "1", "175 / 150"), struck="do not stall in this gear")
    figure = sheet_figure(replace(sheet, rows=(*sheet.rows, *8 * (struck,))))
    figure.set_dpi(600)  # as in the PDF, where letters are not fitted to the dots of a screen
    figure.canvas.draw()
    boxes = {
        text.get_text(): text.get_window_extent().transformed(figure.transFigure.inverted())
        for text in figure.texts
    }
    assert any("driven wheels or tracks on the ground" in text for text in boxes)
    for text, box in boxes.items():
        assert 0.03 < box.x0 < box.x1 < 0.98, text
        assert 0.02 < box.y0 < box.y1 < 0.98, text


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this system")
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_html_prints_on_one_page(found, tmp_path, paper):
    page = sheet_html(sheet_of(found)).replace("@page {", f"@page {{ size: {paper};", 1)
    source, target = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    source.write_text(page, encoding="utf-8")
    subprocess.run(
        [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={target}", source.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    assert len(re.findall(rb"/Type\s*/Page\b", target.read_bytes())) == 1


def test_other_suffixes_are_refused(found, tmp_path):
    with pytest.raises(InputError, match="suffix"):
        save_sheet(found, tmp_path / "sheet.docx")
    assert list(tmp_path.iterdir()) == []


# --- the figures ----------------------------------------------------------------------------------


@pytest.mark.slow
def test_lines_of_explanations_are_those_of_the_diagnosis(found):
    setup = found.setup
    readings = [
        StallReading(engine_speed=1600 * RPM, gear="1", brakes="held"),
        StallReading(engine_speed=1380 * RPM, gear="1", test="both", brakes="held"),
    ]
    told = diagnose(setup, readings)
    artists = by_gid(explanations_figure(told))
    for number, item in enumerate(told.judged):
        line = artists[f"explains-{number}"]
        assert np.array_equal(line.get_xdata(), item.inversion.curve_capacity)
        assert np.array_equal(line.get_ydata(), item.inversion.curve_torque)
    assert artists["separated"].center == pytest.approx(
        (told.separated.capacity_factor, told.separated.torque_factor)
    )
    # The word beside the healthy spot leaves the spot whole.
    spot = artists["healthy"].get_window_extent()
    assert not spot.overlaps(Text.get_window_extent(artists["healthy-label"]))


def test_void_readings_cannot_be_drawn(found):
    void = StallReading(engine_speed=1500 * RPM, brakes="let-go")
    with pytest.raises(InputError, match="no usable reading"):
        explanations_figure(diagnose(found.setup, [void]))


THREE = (
    StallReading(engine_speed=1600 * RPM, gear="1", brakes="held"),
    StallReading(engine_speed=2262 * RPM, test="hydraulic"),
    StallReading(engine_speed=1335 * RPM, gear="1", test="both", brakes="held"),
)


def library_pair(name, fitted, **changes):
    fields = {
        "engine": read_engine(shipped("engines")[name]),
        "converter": read_converter(shipped("converters")[fitted]),
        "site": read_site(shipped("sites")["plateau-quarry-hot-day"]),
        "oil_temperature": 358.15,
        "relief_torque": 250.0,
    }
    return StallSetup(**(fields | changes))


def words_of(figure):
    return " ".join(text.get_text() for text in figure.findobj(Text)).replace("\n", " ")


@pytest.mark.slow
def test_every_line_has_its_band_and_the_band_is_the_interval_of_the_reading():
    told = diagnose(library_pair("six-cylinder-7l-185kw", "single-stage-345mm-tight"), THREE)
    figure = explanations_figure(told)
    artists = by_gid(figure)
    # In neutral the capacity plays no part: the band is level, and as wide as the printed interval.
    low, high = told.judged[1].inversion.torque_factor[1:]
    points = artists["band-1"].get_paths()[0].vertices
    assert (points[:, 1].min(), points[:, 1].max()) == pytest.approx((low, high))
    assert {"band-0", "band-1", "band-2", "edge-0", "separated"} <= artists.keys()
    assert "bands of different tests overlap, one pair explains all" in words_of(figure)
    one = words_of(explanations_figure(diagnose(told.setup, THREE[:1])))
    assert "one pair" not in one


@pytest.mark.slow
def test_line_off_the_picture_is_named_and_contradiction_said():
    pair = library_pair("six-cylinder-9l-240kw", "single-stage-390mm-full-range")
    figure = explanations_figure(diagnose(pair, THREE))
    artists = by_gid(figure)
    assert artists["off-the-picture"].get_text() == "hydraulic: 2262 rpm lies above the picture"
    assert "separated" not in artists
    words = words_of(figure)
    assert "do not fit one pair" in words
    assert "explains all" not in words


def test_empty_picture_is_refused():
    pair = library_pair("four-cylinder-2l5-45kw", "single-stage-420mm")
    with pytest.raises(
        InputError, match=r"nothing to draw.*of this engine and converter"
    ) as caught:
        explanations_figure(diagnose(pair, THREE))
    assert str(caught.value).count("\n") == 0


def test_reading_without_a_band_is_drawn_and_named():
    alone = replace(row(0, 1600.0, "no-band"), expected_low_rpm=None, expected_high_rpm=None)
    trend = by_gid(trend_figure([row(0, 1750.0, "inside"), replace(alone, time=LATER)]))
    assert trend["readings-no-band"].get_ydata() == pytest.approx([1600.0])
    fleet = fleet_figure([row(0, 1755.0, "inside", name="loader 2"), alone])
    assert "no band: a healthy one cannot accelerate from idle" in words_of(fleet)
    assert fleet.axes[0].get_yticklabels()[-1].get_text() == "loader 1"


LATER = datetime(2031, 6, 1, tzinfo=UTC)


def row(day, speed, place, name="loader 1", finding="engine-down"):
    return LogRow(
        time=datetime(2031, 3, 1, tzinfo=UTC) + timedelta(days=day), machine=name, engine="e",
        converter="c", test="converter", gear="3", brakes="held", engine_speed_rpm=speed,
        oil_temperature_degc=None, expected_low_rpm=1700.0, expected_high_rpm=1800.0, coverage=0.95,
        place=place, finding=finding, share=0.9,
    )  # fmt: skip


def test_trend_shows_every_reading_before_its_band():
    rows = [row(0, 1750.0, "inside"), row(30, 1740.0, "inside"), row(60, 1650.0, "below")]
    figure = trend_figure(rows)
    artists = by_gid(figure)
    assert artists["readings-inside"].get_ydata() == pytest.approx([1750.0, 1740.0])
    assert artists["readings-below"].get_ydata() == pytest.approx([1650.0])
    assert len(artists["bands"].get_segments()) == 3
    assert "rpm" in figure.axes[0].get_ylabel()
    with pytest.raises(InputError, match="one machine"):
        trend_figure([*rows, row(61, 1700.0, "inside", name="other")])


def test_trend_draws_a_drift_and_its_words_keep_off_the_bars():
    rows = [row(200 * k, 1790.0 - 25 * k, "inside" if k < 4 else "below") for k in range(7)]
    told = drift_in(rows)
    assert told.drifts
    figure = trend_figure(rows, drift=told)
    artists = by_gid(figure)
    # 25 rpm in 200 days; the bands stand still.
    x, y = artists["drift"].get_data()
    assert np.diff(y) / np.diff(x) == pytest.approx(np.full(6, -25 / 200))
    figure.canvas.draw()
    bars = artists["bands"]
    half = 0.5 * bars.get_linewidth()[0] * figure.dpi / 72.0
    for text in (artist for gid, artist in artists.items() if gid.startswith("reading-")):
        box = Text.get_window_extent(text)
        for segment in bars.get_segments():
            (left, low), (right, high) = bars.get_transform().transform(segment)
            apart = box.x1 < left - half or box.x0 > right + half
            assert apart or box.y1 < low or box.y0 > high, text.get_text()


def test_fleet_shows_the_last_test_of_each_and_the_worst_on_top():
    rows = [
        row(0, 1600.0, "below"), row(9, 1755.0, "inside"),
        row(3, 1650.0, "below", name="loader 2"),
        row(5, 1790.0, "inside", name="loader 3"),
    ]  # fmt: skip
    figure = fleet_figure(rows)
    artists = by_gid(figure)
    names = [text.get_text() for text in figure.axes[0].get_yticklabels()]
    assert names == ["loader 1", "loader 3", "loader 2"]
    assert artists["reading-loader 1"].get_xdata() == pytest.approx([1755.0])
    assert artists["earlier-loader 1"].get_xdata() == pytest.approx([1600.0])
    with pytest.raises(InputError, match="no test"):
        fleet_figure([])


def test_identified_curve_and_gaps_are_drawn():
    log = [steady(nu=0.5, blocks=60)]
    told = identify(log, LogBasis(converter=converter()))
    figure = identify_figure(told)
    artists = by_gid(figure)
    drawn = np.asarray(artists["curve"].get_ydata())
    assert np.isfinite(drawn).sum() == len(told.covered)
    assert "gap-0" in artists
    assert "sheet" in artists
    # A node without neighbours has no area beside it: its band is a line.
    bands = [(row.speed_ratio, 1e3 * row.capacity.low, 1e3 * row.capacity.high)
             for row in told.covered]  # fmt: skip
    lines = artists["band-alone"].get_segments()
    for segment in lines:
        (nu, low), (_, high) = segment
        assert any(np.allclose((nu, low, high), band) for band in bands)
    assert len(lines) == (1 if len(bands) == 1 else 0)
