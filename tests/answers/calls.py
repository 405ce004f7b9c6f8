"""Command lines whose answers are kept: every verb, on shipped files, at rest and at its edges."""

from __future__ import annotations

from converter_match.library.shipped import data_folder

ENGINE = ("--engine", "six-cylinder-7l-185kw")
PAIR = (*ENGINE, "--converter", "single-stage-345mm-tight")
BIG = ("--engine", "six-cylinder-15l-400kw", "--converter", "single-stage-420mm")
SMALL = ("--engine", "four-cylinder-2l5-45kw", "--converter", "single-stage-260mm")
FULL_RANGE = ("--engine", "six-cylinder-9l-240kw", "--converter", "single-stage-390mm-full-range")
LOADER = ("--driveline", "four-speed-loader", "--machine", "wheel-loader-17t")
HAULER = ("--driveline", "six-speed-hauler", "--machine", "articulated-hauler-25t")
DOZER = ("--driveline", "three-speed-dozer", "--machine", "crawler-dozer-50t")
TRUCK = ("--driveline", "two-speed-lift-truck", "--machine", "lift-truck-5t")
MOTOR = ("--motor", "lift-truck-80v-30kw")
EARTH = ("--surface", "firm smooth earth")
HIGH = ("--altitude", "2500 m", "--air-temperature", "35 degC", "--hydraulic-torque", "90 N.m")
LOGS = data_folder() / "logs"
US = ("--units", "us")


def reading(*words: str) -> tuple[str, ...]:
    """Return the options of stall readings."""
    return tuple(part for one in words for part in ("--reading", one))


def claims(*words: str) -> tuple[str, ...]:
    """Return the options of claims."""
    return tuple(part for one in words for part in ("--claim", one))


# Name of the kept file -> words. Their JSON is kept too.
BOTH = {
    "solve": ("solve", *PAIR),
    "solve-high-us": ("solve", *PAIR, *HIGH, *US),
    "solve-governed": ("solve", *PAIR, "--governed", "1500 rpm"),
    "solve-another-size": ("solve", *PAIR, "--diameter", "330 mm"),
    "solve-late-boost": ("solve", "--engine", "six-cylinder-8l-205kw-late-boost", *PAIR[2:]),
    "solve-coupling": ("solve", *ENGINE, "--converter", "fluid-coupling-360mm"),
    "solve-fixed-stator": ("solve", *ENGINE, "--converter", "fixed-stator-400mm-high-ratio"),
    "solve-adjustable": ("solve", *ENGINE, "--converter", "adjustable-stator-365mm"),
    "solve-rating-line": (
        *("solve", "--engine", "four-cylinder-3l6-74kw-rating-line"),
        *("--converter", "single-stage-310mm"),
    ),
    "solve-motor": ("solve", *MOTOR, "--converter", "single-stage-260mm"),
    "solve-pump": ("solve", *ENGINE, "--converter", "single-stage-325mm",
                   "--load", "quarry-drain-pump"),
    "solve-winch-us": ("solve", *PAIR, "--load", "yarder-winch", *US),
    "tractive": ("tractive", *PAIR, *LOADER, *EARTH),
    "tractive-high-us": ("tractive", *FULL_RANGE, *HAULER, *EARTH, *HIGH, *US),
    "tractive-locked": ("tractive", *FULL_RANGE, *HAULER, "--gear-lockup", "all"),
    "tractive-tracks": ("tractive", *BIG, *DOZER, *EARTH),
    "tractive-motor": ("tractive", *MOTOR, "--direct", "1.6", *TRUCK),
    "hold": ("hold", *PAIR, *LOADER[2:]),
    "hold-motor": ("hold", *MOTOR, "--converter", "single-stage-260mm", *TRUCK[2:]),
    "stall-expect": ("stall", *PAIR, *LOADER, "--expect"),
    "stall-low": (
        *("stall", *PAIR, *LOADER, "--relief-torque", "250 N.m", *US),
        *reading(
            "gear=2 speed=1500 oil=185degF brakes=held",
            "test=both gear=2 speed=1290 oil=190degF brakes=held",
        ),
    ),
    "stall-high-speed": (
        *("stall", *PAIR, *LOADER),
        *reading("gear=2 speed=2150 oil=85degC brakes=held",
                 "gear=3 speed=2140 oil=88degC brakes=let-go"),
    ),
    "audit": (
        *("audit", *PAIR, *LOADER, *EARTH),
        *claims("stall speed=1880 rpm; tolerance=1 %", "stall torque ratio=2.2",
                "speed on grade=12 km/h; grade=8 %; tolerance=3 %"),
    ),
    "accelerate": ("accelerate", *FULL_RANGE, *HAULER, *EARTH, "--to-speed", "15 km/h"),
    "size": ("size", *PAIR, "--stall-speed", "1900 rpm"),
    "size-both": ("size", *PAIR, "--stall-speed", "1900 rpm", "--input-speed-at-80", "2000 rpm"),
}  # fmt: skip
TEXT = {
    **{
        f"solve-{name}": ("solve", *PAIR, "--arrangement", name)
        for name in ("log-loader-hydraulics", "stator-set-free", "winch-output-split",
                     "two-engines-one-converter", "two-converters-one-engine")
    },
    "solve-big": ("solve", *BIG, "--arrangement", "dozer-torque-divider"),
    "solve-loose": ("solve", *ENGINE, "--converter", "single-stage-345mm-loose"),
    "solve-too-small": ("solve", *BIG[:2], "--converter", "single-stage-260mm"),
    "stall-motor": ("stall", *MOTOR, "--converter", "single-stage-260mm", *TRUCK),
    "stall-small": (
        *("stall", *SMALL, *TRUCK), *reading("gear=1 speed=1900 oil=80degC brakes=held")
    ),
    "stall-fleet": ("stall", "--log", str(LOGS / "stall-tests.csv")),
    "route": ("route", *FULL_RANGE, *HAULER, "--route", "quarry-to-crusher"),
    "route-too-steep-us": ("route", *FULL_RANGE, *HAULER, "--route", "too-steep", *US),
    "route-motor": ("route", *MOTOR, "--direct", "1.6", *TRUCK, "--route", "timber-stack-to-kiln"),
    "cycle": ("route", *PAIR, *LOADER, "--cycle", "loader-truck-loading"),
    "size-on-a-route": ("size", *FULL_RANGE, *HAULER, "--route", "quarry-to-crusher", "--library"),
    "size-of-a-study": ("size", "--study", "hauler-converter"),
    "study-loader": ("study", "quarry-loader-repower", "--draws", "0"),
    "study-hauler": ("study", "hauler-converter", "--draws", "0", *US),
    "study-yard": ("study", "loader-in-the-yard", "--draws", "200"),
    "study-lift-truck": ("study", "lift-truck-electric"),
    "audit-study": ("audit", "quarry-loader-repower"),
    "accept": (
        *("accept", "loader-nothing-to-measure", "--draws", "200"),
        *reading("stall speed=1500 rpm; oil=85 degC; brakes=held"),
    ),
    "shortlist": ("shortlist", "quarry-loader-parts", "--draws", "0"),
    "identify": (
        *("identify", str(LOGS / "loader-shift.csv"), *PAIR, *LOADER),
        *("--reference-torque", "1004 N.m"),
    ),
    "intake-spec-line": (
        *("intake", "--spec-line"),
        "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; low idle 800 rpm; high idle 2380 rpm; gross",
    ),
    "check": (
        "check", "six-cylinder-7l-185kw", "single-stage-345mm-tight", "wheel-loader-17t",
        "four-speed-loader", "quarry-loader-repower", "quarry-to-crusher",
    ),
}  # fmt: skip
LONG = frozenset(
    """audit shortlist size-of-a-study size-on-a-route stall-low study-hauler study-lift-truck
    study-loader study-yard tractive tractive-high-us tractive-locked tractive-tracks cycle solve
    hold identify stall-high-speed accept solve-winch-us""".split()
)
"""Those that take a good part of a second, or more."""
DATA_TOO = frozenset(
    """accept cycle route route-motor identify size-on-a-route audit-study study-yard stall-motor
    stall-small solve-big solve-two-engines-one-converter solve-two-converters-one-engine
    solve-winch-output-split solve-log-loader-hydraulics check""".split()
)
"""Of the texts, those whose JSON is kept as well."""
