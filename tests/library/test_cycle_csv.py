"""A short cycle's file: what is held, what production is reckoned with, and what is refused."""

import pytest

from converter_match.errors import InputError
from converter_match.library.cycle_csv import read_cycle

HEAD = "# surface: firm smooth earth\n"
ROWS = "phase,kind,gear,start gear,distance [m]\nout,drive,2,1,9\nback,drive,R2,,8\n"


def written(tmp_path, text):
    path = tmp_path / "my-cycle.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_gear_start_gear_and_values_of_production_are_read(tmp_path):
    more = "# job efficiency: 75 %\n# bucket fill: 110 %\n# exchange time: 0.5 min\n# passes: 5\n"
    cycle = read_cycle(written(tmp_path, HEAD + more + ROWS))
    assert [(phase.gear, phase.start_gear) for phase in cycle.phases] == [("2", "1"), ("R2", "")]
    assert cycle.job_efficiency == pytest.approx(0.75)
    assert cycle.bucket_fill == pytest.approx(1.1)
    assert (cycle.exchange_time, cycle.passes) == (pytest.approx(30.0), 5.0)
    bare = read_cycle(written(tmp_path, HEAD + ROWS))
    assert (bare.job_efficiency, bare.passes) == (None, None)


def test_a_cycle_without_a_name_is_called_as_its_file(tmp_path):
    bare = read_cycle(written(tmp_path, HEAD + ROWS))
    assert (bare.id, bare.name, bare.source) == ("my-cycle", "my-cycle", "not stated")
    named = read_cycle(written(tmp_path, "# name: Mine\n# source: watched\n" + HEAD + ROWS))
    assert (named.id, named.name, named.source) == ("my-cycle", "Mine", "watched")


@pytest.mark.parametrize(
    ("remark", "says"),
    [
        ("# job efficiency: 130 %", r"my-cycle\.csv: job_efficiency: out of range"),
        ("# exchange time: soon", r"my-cycle\.csv: # exchange time"),
        ("# passes: 0", r"my-cycle\.csv: passes: out of range"),
    ],
)
def test_values_that_are_none_are_refused_with_their_place(tmp_path, remark, says):
    with pytest.raises(InputError, match=says):
        read_cycle(written(tmp_path, f"{HEAD}{remark}\n{ROWS}"))
