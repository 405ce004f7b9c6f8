"""A machine's log, read in pieces and not believed blindly."""

import os
import tracemalloc

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.machine_log import MachineLog
from tests.examples import RPM

HEAD = "time [s],engine speed [rpm],turbine speed [rpm],engine torque [N.m],oil temperature [degC]"


def written(tmp_path, rows, head=HEAD):
    path = tmp_path / "log.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return path


def rows(count=400, step=0.1, engine=1800.0, turbine=900.0, torque=800.0, oil=85.0, start=0.0):
    return [f"{start + k * step:.3f},{engine},{turbine},{torque},{oil}" for k in range(count)]


def read(path, **options):
    log = MachineLog(path, **options)
    return log, list(log.pieces())


@pytest.mark.slow
def test_columns_come_in_si_and_in_pieces(tmp_path):
    path = written(tmp_path, rows(1000))
    log = MachineLog(path)
    pieces = list(log.pieces(rows=300))
    assert [piece.columns["time"].size for piece in pieces] == [300, 300, 300, 100]
    assert pieces[0].columns["engine speed"][0] == pytest.approx(1800 * RPM)
    assert pieces[0].columns["oil temperature"][0] == pytest.approx(358.15)
    assert log.tally.rows == 1000
    assert log.tally.step == pytest.approx(0.1)


def test_percent_torque_needs_its_reference(tmp_path):
    head = HEAD.replace("N.m", "percent")
    path = written(tmp_path, rows(torque=80.0), head)
    with pytest.raises(InputError, match="needs the torque that is 100 percent"):
        read(path)
    _, [piece] = read(path, reference_torque=1000.0)
    assert piece.columns["engine torque"][0] == pytest.approx(800.0)


def test_gaps_are_counted_and_rows_with_holes_left_out(tmp_path):
    lines = [*rows(100), *rows(100, start=100.0)]
    lines[5] = "0.500,1800,,800,85"
    log, _ = read(written(tmp_path, lines))
    assert (log.tally.gaps, log.tally.dropped) == (1, 1)
    assert log.tally.longest_gap == pytest.approx(90.1, abs=0.01)


@pytest.mark.parametrize("at", [50, 350])  # within a piece, and from one to the next
def test_clock_that_goes_back_is_named_by_its_line(tmp_path, at):
    lines = rows(400)
    lines[at] = lines[at].replace(lines[at].split(",")[0], "0.001", 1)
    log = MachineLog(written(tmp_path, lines))
    with pytest.raises(InputError, match=rf"line {at + 2}, time: the clock goes back"):
        list(log.pieces(rows=350))


@pytest.mark.parametrize(
    ("head", "changes", "message"),
    [
        (HEAD, {"engine": 188.5, "turbine": 94.0}, "read as rad/s it would fit"),
        (HEAD.replace("[rpm],t", "[rad/s],t"), {}, "read as rpm it would fit"),
        (HEAD, {"engine": 900.0, "turbine": 1800.0}, "have changed places"),
        (HEAD, {"oil": 190.0}, "Celsius and Fahrenheit"),
        (HEAD, {"torque": 80.0}, "percent and N.m mixed up"),
        (HEAD, {"step": 100.0}, "milliseconds"),
        (HEAD.replace("time [s]", "time [ms]"), {"step": 0.02}, "is the unit right"),
    ],
    ids=["rad/s", "rpm", "swapped", "degF", "percent", "ms-as-s", "s-as-ms"],
)
def test_swapped_units_and_columns_are_named(tmp_path, head, changes, message):
    path = written(tmp_path, rows(**changes), head)
    with pytest.raises(InputError, match=message):
        read(path, peak_torque=1000.0)


def varied(count=400, **columns):
    """Rows of an engine that does not stand still; columns by a function of the row."""
    made = {
        "engine": lambda k: 1500 + 300 * np.sin(k / 40), "turbine": lambda k: 700 + k,
        "torque": lambda k: 800.0 + 100 * np.sin(k / 9), "oil": lambda k: 85.0,
    } | columns  # fmt: skip
    return [
        ",".join(f"{v:.4f}" for v in (0.1 * k, *(made[name](k) for name in made)))
        for k in range(count)
    ]


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"turbine": lambda k: 8191.875 / 10, "engine": lambda k: 1500 + 120 * np.sin(k / 40)},
         "turbine speed: the signal is dead"),
        ({"turbine": lambda k: min(700.0 + k, 850.0)}, "stands still.*850 rpm from 15.0 s"),
        ({"turbine": lambda k: 1200 * np.pi / 30 * (0.5 + 0.5 * np.sin(k / 30))},
         r"turbine speed \[rpm\].*read as rad/s it would fit"),
        ({"oil": lambda k: 70 + 30 * np.sin(k / 4)}, "changed places with the engine torque"),
        ({"oil": lambda k: 800.0, "torque": lambda k: 85.0}, "changed places with a torque"),
        ({"engine": lambda k: 700 + k, "turbine": lambda k: 1500 + 300 * np.sin(k / 40)},
         "changed places"),
    ],
    ids=["dead", "dead later", "rad/s", "oil in percent", "oil and torque", "speeds"],
)  # fmt: skip
def test_columns_that_cannot_be_what_the_head_says_are_named(tmp_path, changes, message):
    with pytest.raises(InputError, match=message):
        read(written(tmp_path, varied(**changes)))
    read(written(tmp_path, varied()))


def test_gear_and_lock_up_need_no_unit(tmp_path):
    lines = [f"{line},{2},{0}" for line in rows(200)]
    _, [piece] = read(written(tmp_path, lines, HEAD + ",gear,lock-up"))
    assert set(piece.columns["gear"]) == {2.0}
    assert set(piece.columns["lock-up"]) == {0.0}


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "is empty"),
        ("# only a remark\n", "is empty"),
        (HEAD + "\n", "no usable rows"),
        ("time [s],engine speed [rpm]\n1,2\n", "missing columns: turbine speed, engine torque"),
        (HEAD.replace("turbine speed", "turbin speed") + "\n", "did you mean 'turbine speed'"),
        (HEAD.replace(" [rpm]", "") + "\n", "names no unit"),
        (HEAD.replace("degC", "bananas") + "\n", "bananas"),
        (HEAD + "\n0,1800,900,800,85\n0.1,18oo,900,800,85\n",
         "line 3, engine speed: not a number; found '18oo'"),
        (HEAD + "\n0,1800,900,800,85,7\n", "cells"),
        ("\0\0\0\0", "not a text table"),
    ],
)  # fmt: skip
def test_bad_files_are_named(tmp_path, content, message):
    path = tmp_path / "log.csv"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(InputError, match=message):
        read(path)


def test_missing_file_is_named(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read(tmp_path / "nothing.csv")


def test_remarks_before_the_head_are_passed_over(tmp_path):
    path = written(tmp_path, rows(), "# invented\n" + HEAD)
    _, [piece] = read(path)
    assert np.all(np.diff(piece.columns["time"]) > 0)


def test_log_of_gigabytes_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        file.truncate(3 * 10**9)  # sparse: takes no room
    with pytest.raises(InputError, match=r"is too large; found '3000\.0 MB'"):
        read(path)


def test_device_is_refused():
    with pytest.raises(InputError, match="is a device or a pipe"):
        read(os.devnull)


def test_log_of_one_endless_line_is_read_no_further_than_a_head(tmp_path):
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        file.write(HEAD.encode())
        file.seek(60_000_000)
        file.write(b"0\n")
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="is not a text table"):
            read(path)
        assert tracemalloc.get_traced_memory()[1] < 5_000_000
    finally:
        tracemalloc.stop()


# --- gears as words -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "number"),
    [("N", 0), ("neutral", 0), ("P", 0), ("R", -1), ("rev", -1), ("R2", -2), ("2R", -2), ("1F", 1),
     ("F2", 2), ("2nd", 2), ("3rd", 3), ("D4", 4), ("gear 2", 2), ("-1", -1), (" 3 ", 3)],
)  # fmt: skip
def test_gears_as_words_are_their_numbers(tmp_path, word, number):
    head = "time [s],engine speed [rpm],turbine speed [rpm],engine torque [N.m],gear,lock-up"
    body = [
        f"{k / 10},{1500 + k},{800 + k},{700 + k},{word},{'open' if k % 2 else 0}"
        for k in range(200)
    ]
    [piece] = read(written(tmp_path, body, head))[1]
    assert set(piece.columns["gear"]) == {float(number)}
    assert set(piece.columns["lock-up"]) == {0.0}


@pytest.mark.parametrize(
    ("cell", "message"),
    [("D", "line 7, gear: not a gear; found 'D'; expected a number, N, R, or such as 1F"),
     ("first", "line 7, gear: not a gear; found 'first'")],
)  # fmt: skip
def test_word_that_is_no_gear_is_named_by_its_row(tmp_path, cell, message):
    head = "time [s],engine speed [rpm],turbine speed [rpm],engine torque [N.m],gear"
    body = [
        f"{k / 10},{1500 + k},{800 + k},{700 + k},{cell if k == 5 else '2nd'}" for k in range(200)
    ]
    with pytest.raises(InputError, match=message):
        read(written(tmp_path, body, head))


# --- numbers that no machine has, and letters of two bytes ----------------------------------------


@pytest.mark.parametrize("number", ["1e308", "-1e200", "3.4e38"])
@pytest.mark.parametrize("column", [0, 1, 2, 3, 4])
def test_number_beyond_any_machine_is_named_by_its_row(tmp_path, number, column):
    lines = rows()
    cells = lines[20].split(",")
    cells[column] = number
    lines[20] = ",".join(cells)
    with pytest.raises(InputError, match=r"line 22, .*: no machine has such a value"):
        read(written(tmp_path, lines))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "utf-8"])
def test_letters_of_two_bytes_are_told_by_their_mark(tmp_path, encoding):
    path = tmp_path / "log.csv"
    path.write_text("\n".join([HEAD, *rows()]), encoding=encoding)
    assert sum(p.columns["time"].size for p in read(path)[1]) == 400


def test_letters_of_two_bytes_without_a_mark_are_refused(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(("\n".join([HEAD, *rows()])).encode("utf-16-le"))
    with pytest.raises(InputError, match=r"not a text table.*UTF-8"):
        read(path)
