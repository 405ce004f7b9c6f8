"""A site that was given is named, also where the engine's torque does not follow its air."""

import json

import pytest

from converter_match.cli import main
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.tractive import tractive
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
    read_site,
)  # fmt: skip
from converter_match.library.shipped import find
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.tractive import tractive_figure

REST = ("--converter", "single-stage-345mm-tight")
WHEELS = ("--driveline", "four-speed-loader", "--machine", "wheel-loader-17t")
IGNORED = "this engine's torque does not follow the air (its data)"


@pytest.fixture
def steady(tmp_path):
    """Return the file of an engine whose torque does not follow the air."""
    text = find("engines", "six-cylinder-7l-185kw").read_text(encoding="utf-8")
    before, _, after = text.partition("[site_correction]\n")
    rest = after.partition("\n[")[2]
    path = tmp_path / "steady.toml"
    path.write_text(f'{before}[site_correction]\nmethod = "none"\n\n[{rest}', encoding="utf-8")
    return path


@pytest.mark.parametrize(("verb", "more"), [("solve", ()), ("tractive", WHEELS), ("stall", WHEELS)])
@pytest.mark.parametrize(
    ("where", "units", "words"),
    [
        (
            ("--site", "plateau-quarry-hot-day"),
            "si",
            "Quarry on the plateau at 2000 m",
        ),
        (("--altitude", "1500", "--air-temperature", "30"), "si", "1500 m, 30 °C"),
        # 1500 m / 0.3048 = 4921 ft; 30 degC = 86 degF
        (("--altitude", "1500 m", "--air-temperature", "30 degC"), "us", "4921 ft, 86 °F"),
        # 15 - 6.5 K/km (ISO 2533) at 1500 m: 5 degC
        (("--altitude", "1500"), "si", "1500 m, 5 °C"),
        (("--air-temperature", "30"), "si", "99 kPa, 30 °C"),
    ],
)
@pytest.mark.slow
def test_a_site_whose_air_changes_nothing_is_named(capsys, steady, verb, more, where, units, words):
    assert main([verb, "--engine", str(steady), *REST, *more, *where, "--units", units]) == 0
    [line] = [row for row in capsys.readouterr().out.splitlines() if "site: " in row]
    said = line.partition("site: ")[2]
    assert said.startswith(words)
    assert f"; {IGNORED}" in said
    assert "none" not in said


def test_without_a_site_none_is_named_and_data_keep_their_word(capsys, steady):
    words = ["solve", "--engine", str(steady), *REST]
    assert main(words) == 0
    assert "site: none: the engine's own reference air" in capsys.readouterr().out
    assert main([*words, "--altitude", "1500", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["site"]["method"] == "none, by the engine's data"


@pytest.mark.slow
def test_figures_and_tables_name_it_too(steady):
    site = read_site(find("sites", "plateau-quarry-hot-day"))
    match = solve(read_engine(steady), read_converter(find("converters", REST[1])), site=site)
    wheels = tractive(
        match,
        read_driveline(find("drivelines", WHEELS[1])),
        read_machine(find("machines", WHEELS[3])),
        find_surface("firm smooth earth", read_surfaces()),
    )
    for figure in (overlay(match), tractive_figure(wheels)):
        texts = " ".join(
            text.get_text().replace("\n", " ") for text in figure.findobj(match=_is_text)
        )
        said = " ".join(texts.split())
        assert f"Site: {site.name}; {IGNORED}" in said
    assert IGNORED.replace("'", "&#x27;") in match._repr_html_()


def _is_text(artist):
    return hasattr(artist, "get_text")
