"""Small sheets, each with one thing that is odd, are read and written as they were.

Beside the sheets as dealers send them: what is asked, answered and written of each, the component
file included. Held as the answers are (see there).
"""

from __future__ import annotations

import pytest

from converter_match.cli import main
from tests.answers.holding import compare, kept_names

NU = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95)
MU = (2.2, 1.88, 1.56, 1.24, 1.0, 1.0, 1.0)
K = (62.0, 62.3, 63.1, 64.6, 67.0, 80.0, 104.0)
ENGINE = "rpm;N.m;kW\n800;602;50.4\n1000;740;77.5\n1400;1010;148.1\n1800;945;178.1\n2200;803;185\n"
WRITE = ("--accept", "--out", "made.toml", "--overwrite")
ONE_WAY = ("--stator", "one-way")


def converter(head: str, *columns: tuple[float, ...], below: str = "") -> str:
    """Return a converter's sheet: its heading, then a row for each speed ratio."""
    rows = [";".join(f"{value:g}" for value in row) for row in zip(*columns, strict=True)]
    return "\n".join([head, *rows]) + "\n" + below


def power(scale: float) -> tuple[float, ...]:
    """Return torque absorbed at 1700 rpm, times a factor."""
    return tuple(round(scale * (1700.0 / k) ** 2, 1) for k in K)


# Name -> text of the sheet, and command lines over it, one after the other.
PLAIN = converter("SR;TR;K [rpm/sqrt(N.m)]", NU, MU, K)
TORQUE_AND_K = "SR;TR;K [rpm/sqrt(N.m)];input torque at 1700 rpm [N.m]"
SHEETS: dict[str, tuple[str, tuple[tuple[str, ...], ...]]] = {
    "plain": (PLAIN, ((*ONE_WAY, *WRITE), ("--confirm", "stator", *WRITE), ("--json",))),
    "no-speed-ratio": (converter("TR;K [rpm/sqrt(N.m)]", MU, K), ((),)),
    "no-capacity": (converter("SR;TR;efficiency", NU, MU, MU), ((),)),
    "no-unit-of-k": (
        converter("SR;TR;K", NU, MU, K), ((), ("--unit", "3=rpm/sqrt(lbf.ft)", *ONE_WAY, *WRITE))
    ),
    "capacity-of-no-form": (
        converter("SR;TR;capacity", NU, MU, K),
        ((), ("--unit", "3=rpm/sqrt(N.m)", *ONE_WAY, *WRITE), ("--column", "3=k_factor")),
    ),
    "unit-that-is-none": (converter("SR;TR;K [kg/h]", NU, MU, K), ((), ("--unit", "3=lb"))),
    "units-mixed": (
        "SR;TR;input torque at 1700 rpm\n0;2.2;752 N.m\n0.4;1.56;726 N.m\n0.8;1;475 lbf.ft\n", ((),)
    ),
    "unit-in-cells-and-heading": (
        "SR;TR;input torque at 1700 rpm [lbf.ft]\n0;2.2;752 N.m\n0.4;1.56;726 N.m\n0.8;1;644 N.m\n",
        ((), ("--unit", "3=N.m")),
    ),
    "decimal-mixed": ("SR;TR;K [rpm/sqrt(N.m)]\n0;2,2;62\n0.4;1.56;63,1\n0.8;1,000;67\n", ((),)),
    "empty-cell": ("SR;TR;K [rpm/sqrt(N.m)]\n0;2.2;62\n;1.56;63.1\n0.8;1;67\n0.9;;80\n", ((),)),
    "one-row": ("SR;TR;K [rpm/sqrt(N.m)]\n0;2.2;62\n", ((),)),
    "no-stator": (
        converter("SR;TR;K [rpm/sqrt(N.m)]", NU, (1.0,) * 7, K), ((), ("--confirm", "stator"))
    ),
    "fixed-stator": (
        converter("SR;TR;K [rpm/sqrt(N.m)]", NU, (2.2, 1.9, 1.6, 1.3, 0.9, 0.7, 0.6), K),
        ((), ("--stator", "fixed", *WRITE)),
    ),
    "stator-not-told": (
        converter("SR;TR;K [rpm/sqrt(N.m)]", NU[:4], MU[:4], K[:4]), ((), ("--stator", "one way"))
    ),
    "lambda": (
        converter("SR;TR;lambda", NU, MU, tuple(round(1e-3 * (60 / k) ** 2 * 2.6, 6) for k in K)),
        ((), ("--profile-diameter", "345", "--oil-density", "850", *ONE_WAY, *WRITE)),
    ),
    "lambda-per-mille": (
        converter("SR;TR;lambda", NU, MU, tuple(round((60 / k) ** 2 * 2.6, 3) for k in K)),
        ((), ("--profile-diameter", "345", "--oil-density", "850", *ONE_WAY)),
    ),
    "efficiency-in-place-of-ratio": (
        converter("SR;efficiency (%);K [rpm/sqrt(N.m)]", NU, (0, 37.6, 62.4, 74.4, 80, 90, 95), K),
        ((), ("--stall-torque-ratio", "2.2", *ONE_WAY, *WRITE)),
    ),
    "turbine-torque-in-place-of-ratio": (
        converter(
            "SR;turbine torque at 1700 rpm [N.m];torque at 1700 rpm [N.m]",
            NU, tuple(round(t * m) for t, m in zip(power(1.0), MU, strict=True)), power(1.0),
        ),
        ((), ("--column", "3=torque_at_speed", *ONE_WAY, *WRITE)),
    ),
    "torque-of-whom": (
        converter("SR;TR;torque at 1700 rpm [N.m]", NU, MU, power(1.0)),
        ((), ("--column", "3=torque_at_speed", *ONE_WAY, *WRITE)),
    ),
    "speed-of-whom": (
        converter("speed [rpm];TR;pump torque at 1700 rpm", tuple(1700 * n for n in NU), MU,
                  power(1.0)),
        ((), ("--column", "1=turbine_speed", "--unit", "3=N.m", *ONE_WAY, *WRITE)),
    ),
    "misspelt": (
        converter("Speed raito;Torqe ratio;Input torqe at 1700 rpm [N.m]", NU, MU, power(1.0)),
        ((), ("--confirm", "column:1", "--confirm", "column:2", "--confirm", "column:3", *ONE_WAY)),
    ),
    "two-capacities": (converter(TORQUE_AND_K, NU, MU, K, power(1.0)), ((), (*ONE_WAY, *WRITE))),
    "two-capacities-apart": (
        converter(TORQUE_AND_K, NU, MU, K, power(1.02)), ((), ("--confirm", "capacity:4", *ONE_WAY))
    ),
    "two-capacities-by-a-unit": (
        converter(TORQUE_AND_K, NU, MU, K, power(0.7376)), ((), ("--unit", "4=lbf.ft", *ONE_WAY))
    ),
    "torque-at-no-speed": (
        converter("SR;TR;input torque [N.m]", NU, MU, power(1.0)),
        ((), ("--reference-speed", "1700", *ONE_WAY, *WRITE)),
    ),
    "past-coupling": (
        converter(
            "SR;TR;K [rpm/sqrt(N.m)]", (-0.2, *NU, 1.0), (2.5, *MU, 1.0), (61.0, *K, 400.0)
        ),
        ((), (*ONE_WAY, "--smooth", *WRITE)),
    ),
    "leave-out-and-ignore": (
        converter("SR;TR;K [rpm/sqrt(N.m)];remark", NU, MU, K, K, below="1.1;0.2;70;5\n"),
        ((), ("--leave-out", "9", "--ignore", "4", *ONE_WAY), ("--cell", "C9=120", *ONE_WAY)),
    ),
    "facts-in-the-text": (
        "345 mm converter, made by nobody\nprofile diameter: 345 mm; oil density 850 kg/m3\n"
        "one-way stator; coupling at 0.80\n" + PLAIN,
        ((), ("--profile-diameter", "354 mm")),
    ),
    "engine": (
        ENGINE, ((), ("--rating-basis", "net", "--high-idle", "2380", "--low-idle", "700", *WRITE))
    ),
    "engine-power-off": (ENGINE.replace("148.1", "158.1"), ((), ("--confirm", "power"))),
    "engine-power-alone": (
        "speed [rpm];power [hp]\n800;68\n1400;199\n2200;248\n", (("--rating-basis", "gross"),)
    ),
    "engine-power-with-gaps": (ENGINE.replace(";178.1", ";").replace(";803;", ";;"), ((),)),
    "engine-no-units": (
        "speed;torque\n800;602\n1400;1010\n2200;803\n",
        ((), ("--unit", "1=rpm", "--unit", "2=N.m", "--rating-basis", "net")),
    ),
    "engine-to-no-load": (
        "speed [rpm];torque [N.m]\n800;602\n1400;1010\n2200;803\n2380;0\n",
        ((), ("--confirm", "high-idle", "--confirm", "rated-speed", "--rating-basis", "net")),
    ),
    "engine-with-fuel": (
        "speed [rpm];torque [N.m];bsfc [g/kWh]\n800;602;230\n1400;1010;\n2200;803;225\n", ((),)
    ),
    "engine-off-the-grid": (
        "speed [rpm];torque [N.m]\n800;602\n1000;740\n1200;900\n1041;1010\n1600;990\n1800;945\n",
        ((),),
    ),
    "engine-twice": (ENGINE + "2200;810;186\n", ((), ("--leave-out", "7"))),
    "motor": (
        "speed [rpm];peak torque [N.m];continuous torque [N.m]\n0;200;120\n1500;200;120\n"
        "3000;100;90\n",
        ((), ("--peak-time", "60", "--nominal-voltage", "80", "--thermal-class", "F", *WRITE)),
    ),
    "motor-backwards": (
        "speed [rpm];peak torque [N.m];continuous torque [N.m]\n-10;200;120\n1500;200;120\n", ((),)
    ),
    "motor-one-row": (
        "speed [rpm];peak torque [N.m];continuous torque [N.m]\n1500;200;120\n", ((),)
    ),
}  # fmt: skip
LINES = {
    "engine-line": "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm",
    "engine-line-us": "248 hp at 2200 rpm, peak torque 745 lb-ft at 1400 rpm",
    "engine-line-torque-rise": "185 kW / 2200 rpm, torque rise 25 % at 1400 rpm, 6 cyl, 7.0 L",
    "engine-line-lacks-speed": "185 kW; 1010 N.m",
    "engine-line-contradicts": "185 kW @ 2200 rpm; 600 N.m @ 1400 rpm",
    "stall-line": "stalls at 2400 rpm behind 300 lbf.ft, torque ratio 2.2",
    "stall-line-span": "stall speed 1750 to 1850 rpm with 900 N.m; stall torque ratio 2.1 - 2.3",
    "stall-line-lacks-torque": "stalls at 2400 rpm, torque ratio 2.2",
    "nothing": "a good engine",
}


def intake(capsys, monkeypatch, folder, *words: str) -> list[str]:
    """Return what a command line says, and the file that it wrote, if any."""
    monkeypatch.chdir(folder)
    status = main(["intake", *words])
    said = capsys.readouterr()
    lines = [f"# {' '.join(words)}", f"exit status {status}", *(said.out + said.err).splitlines()]
    made = folder / "made.toml"
    if made.exists():
        lines += ["# made.toml", *made.read_text(encoding="utf-8").splitlines()]
        made.unlink()
    return lines


@pytest.mark.parametrize("name", SHEETS)
def test_sheet_is_read_and_written_as_it_was(name, request, capsys, monkeypatch, tmp_path):
    text, runs = SHEETS[name]
    (tmp_path / "sheet.csv").write_text(text, encoding="utf-8")
    lines = []
    for words in runs:
        lines += intake(capsys, monkeypatch, tmp_path, "sheet.csv", "--fresh", *words)
    compare(f"small-{name}", lines, request)


@pytest.mark.parametrize("name", LINES)
def test_line_is_read_and_written_as_it_was(name, request, capsys, monkeypatch, tmp_path):
    more = () if name.startswith("stall") else ("--rating-basis", "net", "--high-idle", "2380 rpm")
    lines = intake(capsys, monkeypatch, tmp_path, "--spec-line", LINES[name])
    lines += intake(capsys, monkeypatch, tmp_path, "--spec-line", LINES[name], *more, *WRITE)
    compare(f"small-{name}", lines, request)


def test_every_kept_sheet_is_read():
    assert kept_names("small-") == {*SHEETS, *LINES}
