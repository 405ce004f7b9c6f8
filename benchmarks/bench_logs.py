"""How fast `identify` takes a machine's log from Parquet, and in how much memory, up to 1e8 rows.

An hour of a simulated loader (`tests/simulated_logs.py`), written again and again with a clock that
goes on; read in a process of its own: rows a minute by the clock, and the most memory that the
whole process held (Linux tells).

    python benchmarks/bench_logs.py fleet --machines 2 --rows 10000000

writes a fleet partitioned by machine and day (10 rows a second, a file a day) and reads it as
`identify --machines` does, with one process and with two: cost a row, bytes read and handed back.
"""

from __future__ import annotations

import argparse
import json
import pickle
import subprocess
import sys
import tempfile
import time
from functools import cache
from hashlib import sha256
from pathlib import Path

from measuring import Effort, Row

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

_DAY = 864_000  # rows at 10 Hz
_TIMES = 50  # the hour is written at once
_RATE, _BOUND = 10e6, 1000.0  # rows a minute, MB


def rows(effort: Effort) -> list[Row]:
    try:
        import pyarrow  # noqa: F401
    except ImportError:
        return [Row("identify from Parquet", why_not="pyarrow is not installed")]
    sizes = [10**5] if effort.quick else [10**7, 10**8] if effort.long else [10**6, 10**7]
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            path = Path(folder) / "log.parquet"
            count = write(path, size)
            command = [sys.executable, str(Path(__file__)), str(path)]
            done = subprocess.run(command, check=True, capture_output=True, text=True)
            seconds, whole = json.loads(done.stdout)
            least = _RATE if size >= 10**7 else None
            found.append(Row(f"rows a minute, {size:.0e} rows", "1/min", (60 * count / seconds,),
                             least=least))  # fmt: skip
            found.append(Row(f"whole process, {size:.0e} rows", "MB", (whole,) if whole else (),
                             most=_BOUND, why_not="" if whole else "not told here"))  # fmt: skip
    return found


@cache
def _hour(minutes: float):
    from tests.simulated_logs import cycle_log

    return cycle_log("loader", 1, minutes=minutes)


def write(path: Path, size: int, times: int = _TIMES) -> int:
    """Write a log of at least so many rows; return how many."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    hour = _hour(20.0 if size > 10**5 else 3.0)
    rpm = np.pi / 30
    columns = {
        "engine speed [rpm]": hour["engine speed"] / rpm,
        "turbine speed [rpm]": hour["turbine speed"] / rpm,
        "engine torque [N.m]": hour["engine torque"],
    }
    schema = pa.schema([("time [s]", pa.float64()), *((name, pa.float64()) for name in columns)])
    count, times = 0, times if size > 10**5 else 1
    with pq.ParquetWriter(path, schema, compression="zstd") as file:
        while count < size:
            many = times * hour["time"].size
            clock = (count + np.arange(many)) / 10.0
            arrays = [clock, *(np.tile(values, times) for values in columns.values())]
            file.write_table(pa.Table.from_arrays([pa.array(a) for a in arrays], schema=schema))
            count += many
    return count


def _measure(path: str) -> tuple[float, float | None]:
    from bench_memory import _most_of_the_process

    from converter_match.judgement.identify.identify import LogBasis, identify
    from converter_match.library.machine_log import MachineLog
    from tests.simulated_logs import RIGS, basis

    engine, converter = basis(RIGS[0])
    begun = time.perf_counter()
    log = MachineLog(path)
    identify(
        (piece.columns for piece in log.pieces()), LogBasis(engine=engine, converter=converter)
    )
    return time.perf_counter() - begun, _most_of_the_process()


def write_fleet(root: Path, machines: int, size: int) -> int:
    """Write days of a fleet, at least so many rows a machine; return the rows of all."""
    from datetime import date, timedelta

    count = 0
    for machine in range(machines):
        own, day = 0, 0
        while own < size:
            # Ten days apart, so that few rows make several months.
            named = date(2031, 1, 1) + timedelta(days=10 * day)
            folder = root / f"machine=loader-{machine:02d}" / f"day={named}"
            folder.mkdir(parents=True)
            own += write(folder / "0.parquet", min(_DAY, size - own), times=8)
            day += 1
        count += own
    return count


def read_fleet(root: str, jobs: int) -> dict[str, float]:
    """Return what reading a fleet takes, with so many processes."""
    from bench_memory import _most_of_the_process

    from converter_match.cli.identify import _of_fleet, _Reading
    from converter_match.judgement.identify.fleet import OfMachine, fleet_of
    from converter_match.judgement.identify.identify import LogBasis
    from converter_match.library.log_series import fleet_files
    from converter_match.tasks.sweep import sweep
    from converter_match.tasks.workers import processes
    from tests.simulated_logs import RIGS, basis

    engine, converter = basis(RIGS[0])
    reading = _Reading(LogBasis(engine=engine, converter=converter), None, {}, None)
    begun, cpu = time.perf_counter(), time.process_time()
    files = list(fleet_files(root).items())
    with processes(jobs, patience=0.0) as workers:
        found = sweep(_of_fleet, files, shared=reading, workers=workers).all()
    taken, cpu = time.perf_counter() - begun, time.process_time() - cpu
    answer = json.dumps(fleet_of([OfMachine.from_plain(one) for one in found]).to_dict())
    return {
        "seconds": taken,
        "cpu": cpu,
        "handed_back": max(len(pickle.dumps(machine)) for machine in found),
        "memory": _most_of_the_process() or 0.0,
        "digest": float(int(sha256(answer.encode()).hexdigest()[:12], 16)),
    }


def fleet(machines: int, size: int) -> None:
    """Print what a row of a partitioned fleet costs."""
    with tempfile.TemporaryDirectory() as root:
        count = write_fleet(Path(root), machines, size)
        read = sum(path.stat().st_size for path in Path(root).rglob("*.parquet"))
        print(f"{machines} machines, {count} rows, {read / count:.1f} bytes a row in files")
        for jobs in (1, 2):
            command = [sys.executable, str(Path(__file__)), "read", root, "--jobs", str(jobs)]
            done = subprocess.run(command, check=True, capture_output=True, text=True)
            told = json.loads(done.stdout)
            print(
                f"{jobs} process(es): {1e9 * told['seconds'] / count:.0f} ns a row by the clock, "
                f"{1e9 * told['cpu'] / count:.0f} ns of this process's processor time, "
                f"{told['memory']:.0f} MB, {told['handed_back'] / 1e3:.0f} kB a machine handed "
                f"back, answer {told['digest']:.0f}"
            )


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("what", help="a log, fleet, or read")
    parser.add_argument("folder", nargs="?")
    parser.add_argument("--machines", type=int, default=2)
    parser.add_argument("--rows", type=int, default=10**7, help="a machine")
    parser.add_argument("--jobs", type=int, default=1)
    options = parser.parse_args()
    if options.what == "fleet":
        fleet(options.machines, options.rows)
    elif options.what == "read":
        print(json.dumps(read_fleet(options.folder, options.jobs)))
    else:
        print(json.dumps(_measure(options.what)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
