"""What a verb says of work that a cluster of two has done: letter by letter what one process says.

A number that differed in its last bit would be another text in JSON.
"""

import pytest

from converter_match.cli import main
from converter_match.library.write import write_component
from tests.cli.test_identify_partitions import written
from tests.clusters import two_workers
from tests.judgement.identify.test_doubts import UNIT
from tests.study_examples import study_file

CLAIMS = """
[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 3 }

[[claim]]
combination = "new-engine"
quantity = "stall-speed"
value = { unit = "rpm", value = 1880 }

[[claim]]
combination = "present"
quantity = "stall-speed"
value = { unit = "rpm", value = 1880 }
"""
PARTS = """
schema = "converter-match/catalogue/1"
id = "parts"
name = "Four pairs"
source = "invented"
study = "loader-stall-too-low"
engines = ["six-cylinder-7l-185kw", "six-cylinder-9l-240kw"]
converters = ["single-stage-345mm-*"]
"""
ROUTE = (
    "size --engine six-cylinder-9l-240kw --converter single-stage-390mm-full-range "
    "--route quarry-to-crusher --driveline six-speed-hauler --machine articulated-hauler-25t"
).split()


@pytest.fixture(scope="module")
def address():
    with two_workers() as scheduler:
        yield scheduler


@pytest.fixture(scope="module")
def ground(tmp_path_factory):
    """A study with claims, two converters, and the logs of three machines."""
    folder = tmp_path_factory.mktemp("ground")
    study_file(folder, more=CLAIMS)
    (folder / "parts.toml").write_text(PARTS, encoding="utf-8")
    (folder / "converters").mkdir()
    for k in range(2):
        unit = UNIT.replace(id=f"unit-{k}", capacity=UNIT.capacity * (1.0 + 0.1 * k))
        write_component(unit, folder / "converters" / f"{k}.toml")
    for k, name in enumerate(("a", "b", "c")):
        written(folder / "logs", name, "2031-01-10", 1.0 + 0.01 * k, k)
    return folder


@pytest.mark.parametrize(
    "asked",
    [
        "study small.toml --draws 64",
        "audit small.toml",
        "size --study small.toml --converters converters",
        [*ROUTE, "--diameter-range", "380,400"],
        [*ROUTE, "--converters", "converters"],
        "identify --machines logs --converter converters/0.toml",
        "shortlist parts.toml --draws 64",
        "study lift-truck-electric --draws 2",
    ],
    ids=["study", "audit", "ranking", "sizes", "trials", "fleet", "shortlist", "motors"],
)
def test_a_cluster_says_what_one_process_says(capsys, monkeypatch, address, ground, asked):
    monkeypatch.chdir(ground)
    asked = asked.split() if isinstance(asked, str) else asked
    said = []
    for who in (("--jobs", "1"), ("--cluster", address)):
        status = main([*asked, "--json", *who])
        captured = capsys.readouterr()
        assert captured.err == ""
        said.append((status, captured.out))
    assert said[0] == said[1]
    assert said[0][0] in (0, 3)


def test_a_broken_day_of_a_fleet_is_left_out_on_a_cluster_too(capsys, address, ground, tmp_path):
    for k, day in enumerate(("2031-01-10", "2031-01-11")):
        written(tmp_path / "logs", "a", day, 1.0, k)
    (broken,) = (tmp_path / "logs").glob("*/day=2031-01-11/*.parquet")
    broken.write_bytes(broken.read_bytes()[:-400])
    asked = ["identify", "--machines", str(tmp_path / "logs"), "--json"]
    asked += ["--converter", str(ground / "converters" / "0.toml")]
    alone = main([*asked, "--jobs", "1"]), capsys.readouterr().out
    assert (main([*asked, "--cluster", address]), capsys.readouterr().out) == alone
    assert alone[0] == 4
    assert str(broken) in alone[1]


def test_a_study_on_a_cluster_is_kept_for_one_process(
    capsys, monkeypatch, address, ground, tmp_path
):
    from converter_match.judgement.uncertainty import judged

    monkeypatch.chdir(ground)
    asked = ["study", "small.toml", "--draws", "64", "--json", "--kept", str(tmp_path / "kept")]
    first = main([*asked, "--cluster", address]), capsys.readouterr().out
    monkeypatch.setattr(judged, "_odds", None)
    assert (main([*asked, "--jobs", "1"]), capsys.readouterr().out) == first
