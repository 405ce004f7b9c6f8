"""Still pictures of what the bench shows: every setting, in its units, with its own words."""

import re

import pytest

from converter_match.errors import InputError
from converter_match.present.bench.shelf import load_shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.still import stills
from converter_match.present.bench.view import view

PAIR = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")
OTHER = Setting(engine="six-cylinder-15l-400kw", converter="single-stage-260mm")


@pytest.fixture(scope="module")
def shelf():
    return load_shelf()


@pytest.mark.slow
def test_each_setting_has_its_picture_and_its_words_are_of_it_alone(shelf):
    page = stills(view(BenchState(a=PAIR, b=OTHER), shelf))._repr_html_()
    alts = re.findall(r'<img alt="([^"]*)"', page)
    assert [alt[:2] for alt in alts] == ["A:", "B:"]
    for setting, alt in zip((PAIR, OTHER), alts, strict=True):
        assert shelf.converter(setting.converter).name in alt
    assert shelf.converter(OTHER.converter).name not in alts[0]
    assert re.findall(r"<h4>(.*?)</h4>", page) == ["A, present machine", "B, candidate"]
    alone = stills(view(BenchState(a=PAIR), shelf))
    assert alone._repr_html_().count("<img") == 1
    assert "<h4>" not in alone._repr_html_()


@pytest.mark.slow
def test_picture_and_words_are_in_the_units_asked_for(shelf, monkeypatch):
    drawn = []
    from converter_match.present.bench import still

    whole = still.overlay
    monkeypatch.setattr(still, "overlay", lambda *a, **k: drawn.append(whole(*a, **k)) or drawn[-1])
    shown = stills(view(BenchState(a=PAIR, system="us"), shelf), "us")
    stall = view(BenchState(a=PAIR), shelf).results["a"].stall.input_torque
    # 1 lbf.ft is 1.3558179 N.m: 0.3048 m x 4.4482216 N.
    assert f"{stall / 1.3558179:.0f} lbf·ft" in repr(shown)
    assert drawn[0].axes[0].get_ylabel() == "torque (lbf·ft)"


def test_a_setting_that_cannot_be_solved_is_said(shelf):
    broken = Setting(engine="nobody", converter=PAIR.converter)
    with pytest.raises(InputError, match="nobody"):
        stills(view(BenchState(a=broken), shelf))
