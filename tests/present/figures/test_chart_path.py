"""The path drawn over the picture lies where it was followed, and the command writes it."""

import numpy as np
import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library.intake.picture import intake_picture
from converter_match.library.intake.reading import intake_text
from converter_match.present.figures.chart_path import chart_path
from tests.hard_charts import FACTS, black_chart


@pytest.mark.slow
def test_paths_are_drawn_over_the_picture_and_named(tmp_path, capsys):
    path = black_chart(tmp_path, wrong_end=True)
    draft = intake_picture(path, **FACTS)
    [ax] = chart_path(draft).axes
    drawn = {line.get_gid(): line for line in ax.get_lines()}
    followed, picked = draft.chart.paths
    np.testing.assert_array_equal(drawn["path-torque ratio"].get_xydata(), followed.pixels)
    np.testing.assert_array_equal(drawn["picked-input torque"].get_xydata(), picked.pixels)
    assert {text.get_text() for text in ax.texts} == {
        "torque ratio (followed)", "input torque (picked)",
    }  # fmt: skip
    assert ax.images[0].get_array().shape == draft.chart.image.shape
    main(["intake", str(path), "--stator", "one-way", "--figure", str(tmp_path / "read.png")])
    assert (tmp_path / "read-path.png").read_bytes().startswith(b"\x89PNG")
    assert "read-path.png" in capsys.readouterr().err


def test_a_sheet_has_no_path():
    draft = intake_text("SR;TR;K [rpm/sqrt(N.m)]\n0;2.2;62\n0.5;1.5;63\n0.9;1;80\n")
    with pytest.raises(InputError, match="not read from a picture"):
        chart_path(draft)
