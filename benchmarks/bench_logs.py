"""How fast `identify` takes a machine's log from Parquet, and in how much memory, up to 1e8 rows.

An hour of a simulated loader (`tests/simulated_logs.py`), written again and again with a clock that
goes on; read in a process of its own: rows a minute by the clock, and the most memory that the
whole process held (Linux tells).
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from measuring import Effort, Row

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

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


def write(path: Path, size: int) -> int:
    """Write a log of at least so many rows; return how many."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    from tests.simulated_logs import cycle_log

    hour = cycle_log("loader", 1, minutes=20.0 if size > 10**5 else 3.0)
    rpm = np.pi / 30
    columns = {
        "engine speed [rpm]": hour["engine speed"] / rpm,
        "turbine speed [rpm]": hour["turbine speed"] / rpm,
        "engine torque [N.m]": hour["engine torque"],
    }
    schema = pa.schema([("time [s]", pa.float64()), *((name, pa.float64()) for name in columns)])
    count, times = 0, _TIMES if size > 10**5 else 1
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


if __name__ == "__main__":
    print(json.dumps(_measure(sys.argv[1])))
