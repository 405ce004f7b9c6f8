"""The demo log: the quarry loader against one steady load after another."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from converter_match.judgement.identify.synthetic_log import log_text, synthetic_log
from converter_match.library.read import read_converter, read_engine

HEAD = (
    "# invented demo data, simulated: six-cylinder-7l-185kw with single-stage-345mm-tight, with "
    "noise, delay and steps of resolution; 100 percent is 1004 N.m\n"
)
_RATIOS = (0.0, 0.0, 0.04, 0.08, 0.14, 0.22, 0.3, 0.37, 0.52, 0.6, 0.67, 0.74, 0.8, 0.83,
           0.855, 0.875, 0.89, 0.905, 0.92, 0.935, 0.95, 0.965)  # fmt: skip


def write_logs(data: Path) -> None:
    """Write ``logs/loader-shift.csv`` from the shipped engine and converter."""
    rng = np.random.default_rng(20)
    order = np.concatenate([rng.permutation(np.array(_RATIOS)) for _ in range(4)])
    engine = read_engine(data / "engines" / "six-cylinder-7l-185kw.toml")
    converter = read_converter(data / "converters" / "single-stage-345mm-tight.toml")
    columns = synthetic_log(
        engine, converter, speed_ratios=[float(nu) for nu in order], dwell=9.0, seed=5
    )
    text = HEAD + log_text(columns, reference_torque=1004.0)
    (data / "logs").mkdir(exist_ok=True)
    (data / "logs" / "loader-shift.csv").write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write_logs(Path(__file__).resolve().parents[1])
