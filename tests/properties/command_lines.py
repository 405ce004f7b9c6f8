"""Command lines that work, one or more a verb; the fuzz spoils them."""

from __future__ import annotations

from pathlib import Path

from converter_match.library.shipped import data_folder

PAIR = ("--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight")
LOADER = (*PAIR, "--driveline", "four-speed-loader", "--machine", "wheel-loader-17t")
HAULER = (
    "--engine", "six-cylinder-9l-240kw", "--converter", "single-stage-390mm-full-range",
    "--driveline", "six-speed-hauler", "--machine", "articulated-hauler-25t",
)  # fmt: skip
TRUCK = (
    "--motor", "lift-truck-80v-30kw", "--driveline", "two-speed-lift-truck", "--machine",
    "lift-truck-5t",
)  # fmt: skip
DATA = data_folder()
SCAN = Path(__file__).resolve().parents[1] / "data" / "scans" / "plain.png"
SHEET = Path(__file__).resolve().parents[1] / "data" / "sheets" / "plain.csv"
LINES: dict[str, tuple[str, ...]] = {
    "solve": ("solve", *PAIR, "--altitude", "2000", "--air-temperature", "30",
              "--hydraulic-torque", "50", "--diameter", "350", "--duty",
              "loader-loading-shift", "--governed", "2200, 1800"),
    "motor": ("solve", "--motor", "lift-truck-80v-30kw", "--converter", "single-stage-260mm",
              "--voltage", "76", "--air-temperature", "45", "--hydraulic-torque", "10"),
    "motor at the wheels": ("tractive", *TRUCK, "--direct", "1.6", "--grades", "0,8",
                            "--voltage", "76"),
    "motor held": ("hold", *TRUCK[:2], "--direct", "1.6", "--machine", "lift-truck-5t"),
    "motor on a route": ("route", *TRUCK, "--direct", "1.6", "--route", "timber-stack-to-kiln"),
    "motor stalls": ("stall", *TRUCK, "--converter", "single-stage-260mm", "--published",
                     "2000..2600", "--maker-hold", "6", "--coverage", "90"),
    "motor from rest": ("accelerate", *TRUCK, "--direct", "1.6", "--to-speed", "8"),
    "motor sized": ("size", *TRUCK[:2], "--converter", "single-stage-260mm", "--stall-speed",
                    "2000"),
    "motor with a load": ("solve", "--motor", "loader-650v-120kw", "--converter",
                          "single-stage-345mm-tight", "--load", "mud-mixer"),
    "setting": ("solve", *PAIR[:2], "--converter", "adjustable-stator-365mm", "--setting", "12"),
    "load": ("solve", *PAIR, "--hydraulic-torque", "40", "--load", "quarry-drain-pump"),
    "arrangement": ("solve", "--engine", "six-cylinder-9l-240kw", "--converter",
                    "single-stage-380mm-tight", "--arrangement", "ore-hauler-lock-up", "--site",
                    "plateau-quarry-hot-day"),
    "tractive": ("tractive", *LOADER, "--surface", "firm smooth earth", "--grades", "0,8,12",
                 "--load", "empty", "--gear-lockup", "2,3", "--traction", "0.5"),
    "accelerate": ("accelerate", *LOADER, "--surface", "firm smooth earth", "--to-speed", "20",
                   "--grade", "2", "--method", "dynamic"),
    "hold": ("hold", *PAIR, "--machine", "wheel-loader-17t", "--oil-start", "60"),
    "route": ("route", *HAULER, "--route", "quarry-to-crusher", "--braking", "0.8",
              "--oil-start", "70"),
    "cycle": ("route", *LOADER, "--cycle", "loader-truck-loading"),
    "size": ("size", *PAIR, "--stall-speed", "1800", "--input-speed-at-80", "2100",
             "--diameter-range", "320,370"),
    "audit": ("audit", *LOADER, "--surface", "firm smooth earth", "--claim",
              "stall speed=1880 rpm; tolerance=1 %", "--claim", "stall torque ratio=2.2"),
    "stall": ("stall", *LOADER, "--expect", "--reading", "gear=3 speed=1600 oil=85degC brakes=held",
              "--reading", "test=both gear=3 speed=1380 oil=88degC brakes=held",
              "--relief-torque", "250", "--published", "1700..1900", "--coverage", "90",
              "--engine-tolerance", "4", "--maker-hold", "8",
              "--date", "2031-05-04T13:30:00+00:00"),
    "intake": ("intake", str(SHEET), "--stator", "one-way", "--profile-diameter", "345 mm"),
    "spec line": ("intake", "--spec-line",
                  "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm"),
    "check": ("check", str(DATA / "engines" / "six-cylinder-7l-185kw.toml"),
              str(DATA / "machines" / "wheel-loader-17t.toml")),
    "identify": ("identify", str(DATA / "logs" / "loader-shift.csv"), *PAIR,
                 "--reference-torque", "1004"),
    "kept": ("kept", "--json"),
    "schema": ("schema", "engine", "--out", "engine-1.schema.json", "--overwrite"),
}  # fmt: skip
SLOW: dict[str, tuple[str, ...]] = {
    "shortlist": ("shortlist", "quarry-loader-parts", "--draws", "0", "--jobs", "1"),
    "study of motors": ("study", "lift-truck-electric", "--draws", "2"),
    "study": ("study", "quarry-loader-repower", "--draws", "8"),
    "readings": ("study", "loader-in-the-yard", "--draws", "1000"),
    "acceptance": ("accept", "loader-nothing-to-measure", "--draws", "1000"),
    "after the swap": (
        "accept", "loader-nothing-to-measure", "--draws", "1000",
        "--reading", "stall speed=1850; gear=4; brakes=held",
    ),
    "ranking": ("size", "--study", "quarry-loader-repower", "--library"),
    "trials": ("size", *HAULER, "--route", "quarry-to-crusher", "--library"),
}  # fmt: skip
# Work where a package is installed that the tests do without; without it they are refused.
NEEDS = {"scan": "rapidocr_onnxruntime"}
WITH_MORE: dict[str, tuple[str, ...]] = {
    "scan": ("intake", str(SCAN), "--ocr", "--page", "1", "--stator", "one-way", "--fresh"),
}
