import re
from io import BytesIO

import pytest
from PIL import Image

from converter_match.errors import InputError
from converter_match.present.drawing import style


def picture():
    figure = style.new_figure(4, 3)
    ax = figure.add_axes((0.15, 0.15, 0.8, 0.7))
    style.dress(ax)
    ax.plot([0, 1], [0, 1], gid="stall-point", **style.STROKES["net"].mark())
    ax.axvspan(0.2, 0.4, hatch="////", facecolor="none")
    style.frame(figure, ["Engine & <converter>"])
    return figure


@pytest.mark.parametrize(
    ("suffix", "begins"), [("svg", b"<?xml"), ("png", b"\x89PNG\r\n\x1a\n"), ("pdf", b"%PDF-")]
)
def test_the_suffix_decides_the_format(tmp_path, suffix, begins):
    path = style.save(picture(), tmp_path / f"overlay.{suffix}")
    assert path.read_bytes().startswith(begins)
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_the_same_figure_gives_the_same_bytes(kind):
    assert style.render(picture(), kind) == style.render(picture(), kind)


def test_svg_tells_no_date_and_names_what_was_drawn():
    text = style.render(picture(), "svg").decode()
    assert not re.search(r"\b20\d\d-\d\d-\d\d", text)
    assert "<dc:date>" not in text
    assert 'id="stall-point"' in text
    assert "<title>Engine &amp; &lt;converter&gt;</title>" in text.replace("dc:title", "title")


def test_an_existing_file_is_not_overwritten_unasked(tmp_path):
    path = tmp_path / "overlay.svg"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"overlay\.svg.*there already"):
        style.save(picture(), path)
    assert path.read_text(encoding="utf-8") == "mine"
    assert [item.name for item in tmp_path.iterdir()] == ["overlay.svg"]
    style.save(picture(), path, overwrite=True)
    assert path.read_bytes().startswith(b"<?xml")


def test_a_file_that_appears_meanwhile_is_not_overwritten_either(tmp_path, monkeypatch):
    from converter_match.present.drawing import saving

    path = tmp_path / "overlay.svg"

    def render(*_arguments, **_options):
        path.write_text("somebody else's", encoding="utf-8")
        return b"new"

    monkeypatch.setattr(saving, "render", render)
    with pytest.raises(InputError, match="there already"):
        style.save(picture(), path)
    assert path.read_text(encoding="utf-8") == "somebody else's"
    assert [item.name for item in tmp_path.iterdir()] == ["overlay.svg"]


def test_a_failed_write_leaves_nothing_behind(tmp_path, monkeypatch):
    from converter_match.present.drawing import saving

    def refuse(*_arguments):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(saving.os, "replace", refuse)
    with pytest.raises(InputError, match=r"cannot be written: permission denied"):
        style.save(picture(), tmp_path / "overlay.png", overwrite=True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["overlay", "overlay.jpeg", "overlay.svg.txt"])
def test_an_unknown_suffix_is_refused(tmp_path, name):
    with pytest.raises(InputError, match=r"\.svg \| \.png \| \.pdf"):
        style.save(picture(), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_refused(tmp_path):
    with pytest.raises(InputError, match="no such folder"):
        style.save(picture(), tmp_path / "nowhere" / "overlay.svg")


def test_an_unknown_format_is_refused():
    with pytest.raises(InputError, match=r"svg \| png \| pdf.*did you mean 'svg'"):
        style.render(picture(), "svgg")


@pytest.mark.parametrize("dpi", [100.0, 150.0])
def test_a_png_has_the_pixels_of_its_size_and_the_ground_of_its_figure(dpi):
    figure = picture()  # 4 by 3 in
    figure.set_facecolor("#ff0000")
    page = style.render(figure, "png", dpi=dpi)
    shown = Image.open(BytesIO(page)).convert("RGB")
    assert shown.size == (4 * dpi, 3 * dpi)
    assert shown.getpixel((0, 0)) == (255, 0, 0)
    assert style.render(picture(), "png") == style.render(picture(), "png", dpi=150.0)


def test_a_file_tells_nothing_of_the_library_that_wrote_it():
    # Names of entries: PNG (ISO/IEC 15948) 11.3.4.2, PDF (ISO 32000-1) 14.3.3, Dublin Core.
    assert b"Software" not in style.render(picture(), "png")
    pdf = style.render(picture(), "pdf")
    for key in (b"/Creator", b"/Producer", b"/CreationDate"):
        assert key not in pdf
    assert b"/Title" in pdf
    svg = style.render(picture(), "svg")
    assert b"<dc:creator>" not in svg
    assert b"<dc:title>" in svg


def test_a_figure_without_a_name_has_no_title():
    figure = style.new_figure(4, 3)
    assert b"/Title" not in style.render(figure, "pdf")
    assert b"<dc:title>" not in style.render(figure, "svg")


def test_letters_of_an_svg_are_shapes_for_a_machine_without_the_typeface():
    text = style.render(picture(), "svg").decode()
    assert "<text" not in text
    assert 'xlink:href="#DejaVuSans' in text
