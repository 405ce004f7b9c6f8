"""With ``--units us`` nothing that a verb says is left in metric units, notes included."""

import html
import re
import tomllib

import pytest

from converter_match.cli import main
from converter_match.library.shipped import data_folder, shipped

LOADER = (
    *("--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight"),
    *("--machine", "wheel-loader-17t"),
)
HAULER = (
    *("--engine", "six-cylinder-9l-240kw", "--converter", "single-stage-390mm-full-range"),
    *("--driveline", "six-speed-hauler", "--machine", "articulated-hauler-25t"),
)
SITE = ("--altitude", "8200 ft", "--air-temperature", "95 degF")
RUNS = {
    "solve": ("solve", *LOADER[:4], *SITE),
    "solve-pumps": ("solve", *LOADER[:4], "--hydraulic-torque", "130 lbf.ft"),
    "tractive": ("tractive", *HAULER, *SITE),
    "hold": ("hold", *LOADER),
    "accelerate": ("accelerate", *HAULER, "--surface", "firm smooth earth", "--to-speed", "18 mph"),
    "route": ("route", *HAULER, "--route", "quarry-to-crusher"),
    "cycle": (
        *("route", *LOADER, "--driveline", "four-speed-loader"),
        *("--cycle", "loader-truck-loading"),
    ),
    "stall": ("stall", *LOADER, *SITE),
    "reading": (
        *("stall", *LOADER, "--reading", "speed=1700 oil=185degF brakes=held"),
        *(
            "--reading",
            "test=both speed=1480 oil=190degF brakes=held",
            "--relief-torque",
            "185 lbf.ft",
        ),
    ),
    "size": ("size", *LOADER[:4], "--stall-speed", "1800"),
    "trials": ("size", *HAULER, "--library", "--route", "quarry-to-crusher"),
    "audit": (
        *("audit", *HAULER, "--surface", "firm smooth earth"),
        *("--claim", "stall speed=1880 rpm; tolerance=1 %", "--claim", "stall torque ratio=2.2"),
        *("--claim", "speed on grade=12 km/h; grade=8 %; tolerance=3 %"),
    ),
    "identify": (
        *("identify", str(data_folder() / "logs" / "loader-shift.csv"), *LOADER),
        *("--driveline", "four-speed-loader", "--reference-torque", "740 lbf.ft"),
    ),
    **{
        name: ("solve", *HAULER[:4], "--arrangement", name)
        for name in ("ore-hauler-lock-up", "log-loader-hydraulics", "stator-taken-out")
    },
}
# A number and a unit that the trade in the US does not use. A claim is quoted as it was put, with
# the reader's unit beside it.
METRIC = re.compile(
    r"\d (?:mm|cm|m|km|km/h|kPa|bar|kN|N|N·m|kW|kg|t|°C|K|L|L/h|L/t|t/h|kJ|MJ|m/s2?|m/s²|kg/m³|m²"
    r"|J/\S+|kJ/\S+|kg/\S+)(?![\w/·²³]| +[\d.]+ mph)"
)


def strings(value):
    if isinstance(value, str):
        yield re.sub(r"\s+", " ", value.strip())
    elif isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from strings(inner)


def own_words_taken_out(text):
    """Return a text without what stands in the shipped files in words, as in "345 mm, tight"."""
    found = {"50 mm"}  # the pilot: what is bolted together is shown as given, to be measured so
    for room in ("engines", "converters", "machines", "drivelines", "sites", "studies"):
        for path in shipped(room).values():
            found |= {*strings(tomllib.loads(path.read_text("utf-8")))}
    for words in sorted(found, key=len, reverse=True):
        text = text.replace(words, "") if len(words) > 3 else text  # not gear "4"
    return text


def nothing_metric_is_printed(run, capsys):
    assert main([*run, "--units", "us"]) in (0, 3)
    said = capsys.readouterr().out
    assert re.search(r"\d", said)
    left = [line for line in own_words_taken_out(said).splitlines() if METRIC.search(line)]
    assert left == []


@pytest.mark.parametrize("run", RUNS.values(), ids=RUNS)
def test_nothing_metric_is_left(run, capsys):
    nothing_metric_is_printed(run, capsys)


def test_a_study_and_its_report_leave_nothing_metric_either(capsys, tmp_path, without_pdf):
    page = tmp_path / "report"
    line = ("study", "quarry-loader-repower", "--draws", "8", "--out", str(page))
    nothing_metric_is_printed(line, capsys)
    text = (page / "report.html").read_text("utf-8")
    text = re.sub(r"<(style|metadata).*?</\1>", " ", text, flags=re.S)
    words = html.unescape(re.sub(r"<[^>]*>", " ", text)).replace("\xa0", " ")
    words = own_words_taken_out(re.sub(r"\s+", " ", words))
    # The last section shows every number as it was typed, in the units in which it was typed.
    ours, sheet, _ = words.rpartition("Sources and inputs")
    assert sheet
    left = [found.group() for found in METRIC.finditer(ours)]
    assert left == []
