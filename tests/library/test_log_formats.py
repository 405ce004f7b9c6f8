"""Logs as recorders write them: each file is written here by the library of its own format."""

import gzip
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from converter_match.errors import InputError
from converter_match.library.log_aligned import aligned, aligned_as_they_come
from converter_match.library.log_columns import (
    Taken,
    column_map_text,
    parse_column,
    read_column_map,
)
from converter_match.library.machine_log import MachineLog

COUNT = 600
TIME = np.arange(COUNT) / 10.0
# rpm, rpm, N.m, degC: what every file below holds.
TRUE = {
    "engine speed": 1500.0 + 300.0 * np.sin(TIME / 4),
    "turbine speed": 700.0 + 5 * TIME,
    "engine torque": 800.0 + 100.0 * np.cos(TIME / 3),
    "oil temperature": np.full(COUNT, 85.0),
}
UNITS = {"engine speed": "rpm", "turbine speed": "rpm", "engine torque": "N.m",
         "oil temperature": "degC"}  # fmt: skip
RPM = np.pi / 30


def read(path, **options):
    log = MachineLog(path, **options)
    pieces = [piece.columns for piece in log.pieces(rows=250)]
    return log, {name: np.concatenate([p[name] for p in pieces]) for name in pieces[0]}


def check(columns, count=COUNT, tolerance=1e-6):
    assert columns["time"].size == count
    assert np.diff(columns["time"]) == pytest.approx(np.full(count - 1, 0.1), abs=2e-6)
    first = COUNT - count
    si = {"rpm": (RPM, 0.0), "N.m": (1.0, 0.0), "degC": (1.0, 273.15)}
    for name, unit in UNITS.items():
        factor, offset = si[unit]
        expected = TRUE[name][first:] * factor + offset
        np.testing.assert_allclose(columns[name], expected, rtol=tolerance, atol=tolerance)


# --- text -----------------------------------------------------------------------------------------


def text(stamp, head="time [s]", delimiter=",", decimal="."):
    names = [head, *(f"{name} [{unit}]" for name, unit in UNITS.items())]
    lines = [delimiter.join(names)]
    for k in range(COUNT):
        numbers = [f"{TRUE[name][k]:.9f}".replace(".", decimal) for name in UNITS]
        lines.append(delimiter.join([stamp(k), *numbers]))
    return "\n".join(lines) + "\n"


def iso(k):
    return str(np.datetime64("2031-05-04T13:30:00") + np.timedelta64(100 * k, "ms"))


@pytest.mark.parametrize(
    ("head", "stamp"),
    [
        ("time", iso),
        ("time [iso]", lambda k: iso(k) + "Z"),
        ("time [iso]", lambda k: iso(k).replace("T", " ") + "+02:00"),
        ("time [epoch s]", lambda k: f"{1935927000 + k / 10:.1f}"),
        ("time [epoch ms]", lambda k: str(1935927000000 + 100 * k)),
    ],
)
def test_stamps_of_iso_8601_and_times_since_1970_are_read(tmp_path, head, stamp):
    path = tmp_path / "log.csv"
    path.write_text(text(stamp, head), encoding="utf-8")
    check(read(path)[1])


def test_stamp_that_is_none_is_named(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(text(iso, "time").replace("2031-05-04T13:30:05.000", "yesterday"), "utf-8")
    with pytest.raises(InputError, match=r"line 52, time: not a time; found 'yesterday'"):
        read(path)


def test_packed_log_with_semicolons_and_decimal_commas_is_read(tmp_path):
    path = tmp_path / "log.csv.gz"
    content = text(lambda k: f"{k / 10:.1f}".replace(".", ","), "time [s]", ";", ",")
    path.write_bytes(gzip.compress(("\ufeff" + content).encode()))
    check(read(path)[1])


def long_text(head="signal,time,value", shuffle=True):
    rows = [
        (k / 10.0, f"{name} [{unit}],{k / 10:.1f},{TRUE[name][k]:.9f}")
        for name, unit in UNITS.items()
        for k in range(0, COUNT, 10 if name == "oil temperature" else 1)
    ]
    rows = [rows[k] for k in np.random.default_rng(1).permutation(len(rows))] if shuffle else rows
    return "\n".join([head, *(line for _, line in rows)]) + "\n"


def test_long_form_with_signals_of_different_rates_is_put_side_by_side(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(long_text(), encoding="utf-8")
    check(read(path)[1])


def test_long_form_names_the_cell_that_is_no_number(tmp_path):
    path = tmp_path / "log.csv"
    lines = long_text(shuffle=False).splitlines()
    for cell in ("12e", "1F"):
        lines[7] = lines[7].rpartition(",")[0] + "," + cell
        path.write_text("\n".join(lines), encoding="utf-8")
        said = f"line 8, value: not a number; found '{cell}'.*in the long form gears"
        with pytest.raises(InputError, match=said):
            read(path)


def test_signal_has_its_last_value_and_none_when_that_is_old():
    engine = np.arange(0.0, 30.0, 0.5)
    oil = np.array([1.2, 2.2, 3.2, 20.0])
    parts = {"engine speed": iter([(engine, engine)]), "oil temperature": iter([(oil, 10 * oil)])}
    [piece] = aligned(parts)
    # By hand: the last one at or before; usual step 1 s, so none after ten of them.
    for moment, value in zip(piece["time"], piece["oil temperature"], strict=True):
        before = oil[oil <= moment]
        fresh = before.size and moment - before[-1] <= 10.0
        assert value == 10 * before[-1] if fresh else np.isnan(value)


@pytest.mark.parametrize("size", [1, 7, 50, 1000])
def test_signal_that_comes_in_pieces_has_the_values_that_the_whole_of_it_has(size):
    rng = np.random.default_rng(4)
    times = {"engine speed": np.arange(0.0, 200.0, 0.1), "turbine speed": np.arange(0.0, 200, 0.03),
             "oil temperature": np.arange(5.0, 120.0, 1.0)}  # fmt: skip
    values = {name: rng.random(time.size) for name, time in times.items()}
    cut = {
        name: iter([(time[k : k + size], values[name][k : k + size])
                    for k in range(0, time.size, size)])
        for name, time in times.items()
    }  # fmt: skip
    ends = np.arange(0.0, 200.0 + size / 10, size / 10)
    mixed = (
        {name: (time[(time >= a) & (time < b)], values[name][(time >= a) & (time < b)])
         for name, time in times.items()}
        for a, b in pairwise(ends)
    )  # fmt: skip
    for pieces in (aligned(cut, 64), aligned_as_they_come(mixed, times)):
        rows = list(pieces)
        got = {name: np.concatenate([row[name] for row in rows]) for name in rows[0]}
        # pandas, as of the moment, backwards.
        frame = pd.DataFrame({"time": times["engine speed"]})
        for name in ("turbine speed", "oil temperature"):
            other = pd.DataFrame({"time": times[name], name: values[name]})
            frame = pd.merge_asof(frame, other, on="time")
        late = frame["time"] - 119.0 > 10.0
        frame.loc[late, "oil temperature"] = np.nan
        for name in ("turbine speed", "oil temperature"):
            np.testing.assert_array_equal(got[name], frame[name].to_numpy())


# --- a map of columns -----------------------------------------------------------------------------


def test_map_of_columns_comes_back_from_its_file(tmp_path):
    said = ["engine speed=n Mot [rpm]", "turbine_speed=n T [rpm]", "Engine torque=M",
            "time=t [epoch ms]"]  # fmt: skip
    taken = dict(parse_column(text, source="--column") for text in said)
    path = tmp_path / "map.toml"
    path.write_text(column_map_text(taken), encoding="utf-8")
    assert read_column_map(path) == taken
    assert taken["engine torque"] == Taken("M", "")


@pytest.mark.parametrize("wrong", ["engine sped=x [rpm]", "engine speed", "=x", "engine speed="])
def test_words_that_say_no_column_are_named(wrong):
    with pytest.raises(InputError, match="--column"):
        parse_column(wrong, source="--column")


def test_headings_of_another_recorder_are_read_by_a_map_and_the_rest_left_alone(tmp_path):
    content = text(lambda k: f"{k / 10:.1f}")
    head, _, rest = content.partition("\n")
    other = "t;n_Mot;nT [rpm];M;oil;remark".replace(";", ",")
    path = tmp_path / "log.csv"
    rows = "\n".join(line + ",x" for line in rest.splitlines())
    path.write_text(f"{other}\n{rows}\n", encoding="utf-8")
    columns = {
        "time": Taken("t", "s"), "engine speed": Taken("n_Mot", "rpm"),
        "turbine speed": Taken("nT", ""), "engine torque": Taken("M", "N.m"),
        "oil temperature": Taken("oil", "degC"),
    }  # fmt: skip
    check(read(path, columns=columns)[1])
    assert head


# --- Parquet --------------------------------------------------------------------------------------


def parquet(path, names, units=None, time=TIME):
    import pyarrow as pa
    import pyarrow.parquet as pq

    arrays = {"time [s]": time} | {names[name]: values for name, values in TRUE.items()}
    fields = [
        pa.field(name, pa.array(values).type, metadata={"unit": (units or {}).get(name, "")})
        for name, values in arrays.items()
    ]
    table = pa.table([pa.array(values) for values in arrays.values()], schema=pa.schema(fields))
    pq.write_table(table, path)


@pytest.mark.slow
def test_parquet_is_read_by_its_headings_or_the_units_of_its_fields(tmp_path):
    path = tmp_path / "log.parquet"
    parquet(path, {name: f"{name} [{unit}]" for name, unit in UNITS.items()})
    check(read(path)[1])
    camel = {name: name.title().replace(" ", "") for name in UNITS}
    parquet(path, camel, {camel[name]: unit for name, unit in UNITS.items()})
    log, columns = read(path)
    check(columns)
    assert log.taken["engine speed"] == Taken("EngineSpeed", "rpm")


def test_parquet_with_instants_and_a_map(tmp_path):
    path = tmp_path / "log.parquet"
    steps = (1e5 * np.arange(COUNT)).astype("m8[us]")
    stamps = np.datetime64("2031-05-04T13:30:00", "us") + steps
    parquet(path, {name: name[:6] + name[-3:] for name in UNITS}, time=stamps)
    columns = {name: Taken(name[:6] + name[-3:], unit) for name, unit in UNITS.items()}
    check(read(path, columns=columns | {"time": Taken("time [s]", "s")})[1])
    with pytest.raises(InputError, match=r"engine speed: the log has no such column; found 'rpm'"):
        read(path, columns={"engine speed": Taken("rpm", "rpm")})


def test_file_that_is_no_parquet_is_named(tmp_path):
    path = tmp_path / "log.parquet"
    path.write_text("time\n1\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"cannot be read.*a Parquet file"):
        read(path)


# --- MDF 4 ----------------------------------------------------------------------------------------


@pytest.mark.slow
def test_measurement_file_with_channels_of_different_rates_is_read(tmp_path):
    from asammdf import MDF, Signal

    path = tmp_path / "log.mf4"
    with MDF(version="4.10") as file:
        for name, unit in UNITS.items():
            every = 10 if name == "oil temperature" else 1
            file.append([Signal(TRUE[name][::every], TIME[::every], unit=unit, name=name)])
        file.save(path)
    check(read(path)[1])
    (tmp_path / "none.mf4").write_bytes(b"not one of them" * 100)
    with pytest.raises(InputError, match=r"none.mf4: cannot be read.*an MDF 4 file"):
        read(tmp_path / "none.mf4")


# --- CAN ------------------------------------------------------------------------------------------

# Engine speed in steps of 0.125 rpm, torque in percent from -125: SAE J1939, from memory. The other
# signals are invented.
DATABASE = """VERSION ""
BS_:
BU_: ECU
BO_ 2364540158 EEC1: 8 ECU
 SG_ ActualEngPercentTorque : 16|8@1+ (1,-125) [-125|125] "%" ECU
 SG_ EngSpeed : 24|16@1+ (0.125,0) [0|8031.875] "rpm" ECU
BO_ 2566844926 ETC1: 8 ECU
 SG_ TurbineSpeed : 8|16@1+ (0.125,0) [0|8031.875] "rpm" ECU
BO_ 2566843646 TF1: 8 ECU
 SG_ OilTemperature : 32|16@1+ (0.03125,-273) [-273|1735] "degC" ECU
"""


@pytest.mark.parametrize("suffix", ["asc", "log", "trc"])
@pytest.mark.slow
def test_can_trace_is_read_by_its_signal_database(tmp_path, suffix):
    import can
    import cantools

    path, dbc = tmp_path / f"trace.{suffix}", tmp_path / "signals.dbc"
    dbc.write_text(DATABASE, encoding="utf-8")
    base = cantools.database.load_file(dbc)
    percent = np.round(TRUE["engine torque"] / 10)
    with can.Logger(path) as log:
        for k in range(COUNT):
            values = {
                "EEC1": {"ActualEngPercentTorque": percent[k], "EngSpeed": TRUE["engine speed"][k]},
                "ETC1": {"TurbineSpeed": TRUE["turbine speed"][k]},
            } | ({"TF1": {"OilTemperature": 85.0}} if k % 10 == 0 else {})  # fmt: skip
            for late, (name, signals) in enumerate(reversed(values.items())):
                message = base.get_message_by_name(name)
                log(can.Message(
                    timestamp=1000.0 + k / 10 + 1e-3 * late, arbitration_id=message.frame_id,
                    is_extended_id=True, data=message.encode(signals, strict=False),
                ))  # fmt: skip
    columns = {
        "engine speed": Taken("EngSpeed", ""), "turbine speed": Taken("TurbineSpeed", ""),
        "engine torque": Taken("ActualEngPercentTorque", ""),
        "oil temperature": Taken("OilTemperature", ""),
    }  # fmt: skip
    log, found = read(path, columns=columns, database=dbc, reference_torque=1000.0)
    assert log.in_shares
    assert found["time"].size == COUNT
    assert found["engine speed"] == pytest.approx(TRUE["engine speed"] * RPM, abs=0.07 * RPM)
    assert found["turbine speed"] == pytest.approx(TRUE["turbine speed"] * RPM, abs=0.07 * RPM)
    assert found["engine torque"] == pytest.approx(10 * percent)
    assert found["oil temperature"] == pytest.approx(np.full(COUNT, 358.15), abs=0.02)
    with pytest.raises(InputError, match=r"needs the database of its signals; expected --database"):
        read(path, columns=columns)
