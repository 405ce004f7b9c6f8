import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from converter_match.errors import InputError
from converter_match.library.intake.calibration import calibrate
from converter_match.library.intake.export import export_component
from converter_match.library.intake.image_file import read_image
from converter_match.library.intake.picture import intake_picture
from converter_match.library.intake.reading import intake
from converter_match.library.read import read_converter
from converter_match.library.write import write_component

SPEC = importlib.util.spec_from_file_location("charts", Path(__file__).with_name("charts.py"))
charts = importlib.util.module_from_spec(SPEC)
sys.modules["charts"] = charts
SPEC.loader.exec_module(charts)
FACTS = {"stator": "one-way", "coupling_speed_ratio": "0.86", "profile_diameter": "345 mm"}
SPOILT = {
    "clean": {},
    "grid": {"grid": True},
    "jpeg": {"name": "chart.jpg", "quality": 30, "grid": True},
    "turned": {"name": "chart.jpg", "quality": 60, "turned": 3.0, "grid": True},
    "sheared": {"turned": -4.0, "shear": 0.06},
    "log": {"log": True, "grid": True},
    "dashed": {"dashed": True},
    "third-point": {"turned": 2.0, "three_points": True},
}


def errors(draft):
    """Return the difference from the truth, and the stated error, of both columns."""
    nu, ratio, load = draft.sheet.columns
    off = np.abs(ratio.values - charts.CONVERTER.torque_ratio_at(nu.values))
    load_off = np.abs(load.values - charts.torque(nu.values))
    return (off, ratio.tolerance), (load_off, load.tolerance)


@pytest.mark.slow
@pytest.mark.parametrize("spoilt", SPOILT)
def test_curve_followed_in_a_picture_is_recovered_within_the_error_that_is_stated(tmp_path, spoilt):
    draft = intake_picture(charts.chart(tmp_path, **SPOILT[spoilt]), **FACTS)
    for off, tolerance in errors(draft):
        assert np.all(off <= tolerance)
    assert draft.open == ()
    # The error stated is worth stating: three pixels of five hundred, and what the slope adds.
    (_, ratio), (_, load) = errors(draft)
    assert ratio.max() < 0.03
    assert load.max() < (25 if spoilt == "log" else 13)
    converter = draft.accept()
    assert "reading-error" in {note.code for note in converter.notes}
    assert float(converter.torque_ratio_at(0.0)) == pytest.approx(2.2, abs=0.02)


@pytest.mark.parametrize("spoilt", ["clean", "turned", "log"])
def test_picked_points_are_recovered_within_the_error_that_is_stated(tmp_path, spoilt):
    nu = (0.0, 0.2, 0.4, 0.6, 0.75, 0.86, 0.92, 0.97)
    draft = intake_picture(charts.chart(tmp_path, picked=nu, **SPOILT[spoilt]), **FACTS)
    np.testing.assert_allclose(draft.sheet.columns[0].values, nu, atol=1e-3)
    for off, tolerance in errors(draft):
        assert np.all(off <= tolerance)


@pytest.mark.slow
def test_positions_asked_for_are_used_and_those_beyond_the_curves_are_said(tmp_path):
    path = charts.chart(tmp_path, at=[0.1, 0.3, 0.5, 0.7, 0.86, 0.95, 0.99])
    draft = intake_picture(path, **FACTS)
    assert draft.sheet.columns[0].values.tolist() == [0.1, 0.3, 0.5, 0.7, 0.86, 0.95]
    assert any("0.99" in p.message for p in draft.problems if p.code == "beyond-the-curves")


def test_gap_of_a_dashed_curve_is_crossed_and_a_missing_stretch_is_said(tmp_path):
    path = charts.chart(tmp_path)
    picture = Image.open(tmp_path / "chart.png").convert("RGB")
    picture.paste((255, 255, 255), (400, 0, 470, 700))
    picture.save(tmp_path / "chart.png")
    draft = intake_picture(path, **FACTS)
    codes = {problem.code for problem in draft.problems}
    assert {"trace-ended", "beyond-the-curves"} <= codes


def test_affine_map_from_two_points_an_axis_is_exact():
    """A linear map of the plane is fixed by the images of two directions and one point."""
    angle, centre = np.radians(7), np.array([120.0, 640.0])
    along = np.array([np.cos(angle), np.sin(angle)])
    up = np.array([np.sin(angle + 0.05), -np.cos(angle + 0.05)])
    x_points = np.array([centre, centre + 800 * along])
    y_points = np.array([centre, centre + 500 * up])
    axis = calibrate(x_points, np.array([0.0, 1.0]), y_points, "linear", "x")
    some = np.array([centre + 320 * along + 77 * up, centre + 640 * along - 31 * up])
    np.testing.assert_allclose(axis.value(some), [0.4, 0.8], atol=1e-12)
    assert axis.residual < 1e-9
    decades = calibrate(y_points, np.array([1.0, 100.0]), x_points, "log", "axis")
    np.testing.assert_allclose(decades.value(np.array([centre + 250 * up])), [10.0], rtol=1e-12)


def test_calibration_point_that_is_off_shows_in_the_residual():
    points = np.array([[100.0, 600.0], [500.0, 600.0], [908.0, 600.0]])
    axis = calibrate(points, np.array([0.0, 0.5, 1.0]), np.array([[100.0, 600.0], [100.0, 100.0]]),
                     "linear", "x")  # fmt: skip
    assert 1.0 < axis.residual < 4.0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('image = "chart.png"', 'image = "../chart.png"', "leads out of the folder"),
        ('image = "chart.png"', 'image = "/etc/passwd"', "leads out of the folder"),
        ('image = "chart.png"', 'image = "none.png"', "no such file"),
        ('quantity = "torque ratio"', 'quantity = "turque ratio"', "did you mean 'torque ratio'"),
        ('unit = "N.m"', 'unit = "mN.m"', "milli or as mega"),
        ("value = 2.5", "value = 0", "calibration points with the same number"),
        ("value = 1000", "value = -5", "above zero only"),
        ('colour = "#0c6580"', 'colour = "blue"', "not a colour"),
        ('colour = "#0c6580"', 'colour = "#00ff00"', "nothing of this colour"),
        ("trace =", "follow =", "unknown key"),
        ('kind = "converter"', 'kind = "gearbox"', "not a known choice"),
    ],
)
def test_bad_description_is_refused_at_its_field(tmp_path, old, new, said):
    path = charts.chart(tmp_path, log=True, kind="converter")
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=said) as caught:
        intake_picture(path, **FACTS)
    assert "\n" not in str(caught.value)


def test_damaged_and_enormous_pictures_are_refused(tmp_path):
    path = charts.chart(tmp_path)
    raw = (tmp_path / "chart.png").read_bytes()
    (tmp_path / "chart.png").write_bytes(raw[: len(raw) // 2])
    with pytest.raises(InputError, match="cannot be read"):
        intake_picture(path, **FACTS)
    (tmp_path / "chart.png").write_bytes(b"GIF89a....")
    with pytest.raises(InputError, match="is not a picture"):
        intake_picture(path, **FACTS)
    for kind in ("GIF", "BMP", "TIFF"):  # whole, but of a kind that nobody is promised
        Image.new("1", (70, 70)).save(tmp_path / "chart.png", format=kind)
        with pytest.raises(InputError, match="is not a picture"):
            intake_picture(path, **FACTS)
    Image.new("1", (7_000, 7_000)).save(tmp_path / "chart.png")
    with pytest.raises(InputError, match="has too many pixels"):
        intake_picture(path, **FACTS)


@pytest.mark.slow
def test_page_of_a_pdf_is_read(tmp_path):
    pytest.importorskip("pypdfium2", reason="the extra 'intake' is not installed")
    path = charts.chart(tmp_path)
    # A picture of 1000 px at 100 dots an inch; the page is drawn at 200.
    Image.open(tmp_path / "chart.png").convert("RGB").save(tmp_path / "chart.pdf", resolution=100.0)
    page = read_image(tmp_path / "chart.pdf")
    assert page.shape == (1400, 2000, 3)
    with pytest.raises(InputError, match="there is no such page"):
        read_image(tmp_path / "chart.pdf", page=2)
    text = path.read_text(encoding="utf-8").replace("chart.png", "chart.pdf")
    import re

    def doubled(found):
        return f"[{2 * float(found[1]) + 0.5}, {2 * float(found[2]) + 0.5}]"

    path.write_text(re.sub(r"\[([\d.]+), ([\d.]+)\]", doubled, text), encoding="utf-8")
    for off, tolerance in errors(intake_picture(path, **FACTS)):
        assert np.all(off <= tolerance)


def test_engine_chart_keeps_its_reading_error_as_the_band_of_the_curve(tmp_path):
    path = tmp_path / "engine.toml"
    path.write_text(
        'image = "none.png"\nkind = "engine"\n'
        '[x]\nquantity = "speed"\nunit = "rpm"\n'
        "points = [{ pixel = [100, 600], value = 0 }, { pixel = [900, 600], value = 2400 }]\n"
        '[[curve]]\nquantity = "torque"\nunit = "N.m"\n'
        "points = [{ pixel = [100, 600], value = 0 }, { pixel = [100, 100], value = 1000 }]\n"
        "picked = [[400, 250], [500, 200], [600, 210], [700, 250], [800, 300]]\n",
        encoding="utf-8",
    )
    engine = intake_picture(
        path, rating_basis="net", governing="speed", low_idle="800 rpm", rated_speed="2100 rpm",
        high_idle="2250 rpm",
    ).accept()  # fmt: skip
    np.testing.assert_allclose(engine.torque, [700, 800, 780, 700, 600], rtol=1e-3)
    assert 0.003 < engine.torque_band < 0.02


def test_a_large_picture_takes_little_more_memory_than_its_pixels():
    import io
    import tracemalloc

    from PIL import Image as Pictures

    from converter_match.library.intake.image_file import image_from_bytes

    stream = io.BytesIO()
    Pictures.new("RGBA", (2500, 2000), (10, 20, 30, 128)).save(stream, format="PNG")
    tracemalloc.start()
    picture = image_from_bytes(stream.getvalue(), "large.png")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # Half covered on white: 255 - (255 - c) 128/255, rounded.
    assert picture[0, 0].tolist() == pytest.approx([132, 137, 142], abs=1)
    assert peak < 4 * picture.nbytes


@pytest.mark.slow
def test_the_reading_error_of_a_chart_is_a_band_that_holds_the_true_curve_and_goes_along(tmp_path):
    draft = intake_picture(charts.chart(tmp_path), **FACTS)
    unit = draft.accept()
    assert unit.banded
    nu = unit.speed_ratio
    least, most = unit.band(nu)["torque_ratio"]
    truth = charts.CONVERTER.torque_ratio_at(nu)
    before = nu < 0.85
    assert np.all((least <= truth + 1e-9)[before])
    assert np.all((truth <= most + 1e-9)[before])
    least, most = unit.band(nu)["capacity"]
    truth = charts.CONVERTER.capacity_at(nu)
    assert np.all((least <= truth) & (truth <= most))
    # The share is the error over the value, row by row, whatever the form of the capacity.
    load = draft.sheet.columns[2]
    assert unit.reading_band.capacity == pytest.approx(load.tolerance / load.values, rel=6e-3)
    for ending in ("csv", "xlsx"):
        sheet = tmp_path / f"out.{ending}"
        export_component(unit, sheet)
        again = intake(sheet).accept()
        assert again.reading_band == unit.reading_band
        assert np.array_equal(again.alternatives[0].capacity, unit.alternatives[0].capacity)
    write_component(unit, tmp_path / "unit.toml")
    assert read_converter(tmp_path / "unit.toml") == unit


def test_ranges_in_the_cells_of_a_sheet_become_the_band_when_agreed_to(tmp_path):
    rows = ["0, 2.1 .. 2.3, 60", "0.4, 1.65 .. 1.75, 61", "0.8, 1.1, 66", "0.86, 1.0, 68",
            "0.95, 1.0, 90"]  # fmt: skip
    path = tmp_path / "ranges.csv"
    path.write_text("\n".join(["speed ratio, torque ratio, K [rpm/sqrt(N.m)]", *rows]), "utf-8")
    asked = intake(path, stator="one-way", coupling_speed_ratio="0.86")
    [item] = [each for each in asked.open if each.code == "cells-are-ranges"]
    assert "reading error" in item.message
    unit = intake(path, stator="one-way", coupling_speed_ratio="0.86", confirm=[item.key]).accept()
    shares = unit.reading_band.torque_ratio
    assert shares[:3] == pytest.approx((0.1 / 2.2, 0.05 / 1.7, 0.0), rel=6e-3)
    assert set(unit.reading_band.capacity) == {0.0}
