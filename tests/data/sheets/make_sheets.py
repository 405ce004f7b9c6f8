"""Make the messy sheets in this folder, and what is expected of each.

    python tests/data/sheets/make_sheets.py [FOLDER]

The data are invented (equations below) and the layouts imitate kinds of mess, no maker's sheet.
Nothing of the package is used here: units are converted with the constants below, so that what is
expected of a sheet does not come from what is tested.
"""

from __future__ import annotations

import datetime
import json
import math
import sys
from pathlib import Path

# Defined exactly: pound and foot of 1959, standard gravity of 1901; horsepower 550 ft.lbf/s.
LBF_FT = 0.3048 * 0.45359237 * 9.80665
HP = 550 * LBF_FT
RPM = 2 * math.pi / 60

NU = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.86, 0.9, 0.94, 0.97)
COUPLING = 0.86
DIAMETER_MM, DENSITY = 350, 850
N = len(NU)


def torque_ratio(nu: float) -> float:
    return round(1 + 1.18 * (1 - (nu / COUPLING) ** 1.02), 3) if nu < COUPLING else 1.0


def torque_at_1000(nu: float) -> float:
    """Impeller torque at 1000 rpm [N.m], to a tenth."""
    if nu <= COUPLING:
        return round(262 + 14 * nu - 60 * nu**2, 1)
    return round((262 + 14 * COUPLING - 60 * COUPLING**2) * ((1 - nu) / (1 - COUPLING)) ** 0.9, 1)


MU = [torque_ratio(nu) for nu in NU]
TORQUE = [torque_at_1000(nu) for nu in NU]
K_SI = [round(1000 / math.sqrt(t), 2) for t in TORQUE]
K_US = [round(1000 / math.sqrt(t / LBF_FT), 2) for t in TORQUE]
ETA = [round(100 * nu * mu, 1) for nu, mu in zip(NU, MU, strict=True)]
CAPACITY = [t / (1000 * RPM) ** 2 for t in TORQUE]
LAMBDA = [c / (DENSITY * (DIAMETER_MM / 1000) ** 5) for c in CAPACITY]

SPEED = (800, 1000, 1200, 1400, 1600, 1800, 2000, 2200)
ENGINE_TORQUE = (560, 660, 740, 780, 770, 745, 705, 655)  # N.m
ENGINE_FACTS = {"rating_basis": "gross", "governing": "speed", "low_idle": "750 rpm",
                "high_idle": "2380 rpm", "rated_speed": "2200 rpm"}  # fmt: skip


def kw(torque: float, rpm: float) -> float:
    return round(torque * rpm * RPM / 1000, 1)


def comma(value: float, digits: int) -> str:
    return f"{value:.{digits}f}".replace(".", ",")


def text(rows: list[list[object]], divider: str) -> str:
    return "".join(divider.join(str(cell) for cell in row) + "\n" for row in rows)


SHEETS: dict[str, dict] = {}
CONTENT: dict[str, object] = {}


def sheet(name: str, content: object, **expected: object) -> None:
    """Note a sheet: `content` is text, bytes, or rows of a workbook."""
    CONTENT[name] = content
    SHEETS[name] = {"kind": "converter", "open": [], "answers": {}, "rows": N, "rtol": 0.002,
                    **expected}  # fmt: skip


ONE_WAY = {"stator": "one-way"}

sheet(
    "plain.csv",
    text([["Speed ratio", "Torque ratio", "K-factor [rpm/sqrt(N.m)]", "Efficiency (%)"],
          *zip(NU, MU, K_SI, ETA, strict=True)], ","),
    open=["stator-inferred"], answers={"confirm": ["stator"]},
    mess="none but that the kind of stator is not said",
)  # fmt: skip
sheet(
    "semicolons-comma.csv",
    text([["SR", "TR", "Torque absorbed at 1.000 rpm, N·m"],
          *([comma(a, 2), comma(b, 3), comma(c, 1)]
            for a, b, c in zip(NU, MU, TORQUE, strict=True))],
         ";").encode("cp1252"),
    answers=ONE_WAY, notes=["decimal-comma", "encoding"],
    mess="Windows-1252, semicolons, decimal comma, a point for thousands in the heading",
)  # fmt: skip
sheet(
    "tabs-us.tsv",
    text([["n2/n1", "mu", "K (rpm/√lb-ft)"], *zip(NU, MU, K_US, strict=True)], "\t"),
    answers=ONE_WAY,
    mess="tabs, Greek by name, the K-factor under a bare root sign",
)
sheet(
    "unit-row.csv",
    text([["Invented converter", "", "", ""], ["", "", "", ""],
          ["Speed ratio", "Torque ratio", "Pump torque at 1000 rpm", "Efficiency"],
          ["[-]", "[-]", "[lb-ft]", "[%]"],
          *zip(NU, MU, [f"{t / LBF_FT:.2f}" for t in TORQUE], ETA, strict=True)], ","),
    answers=ONE_WAY, notes=["efficiency-agrees"],
    mess="a title, an empty line, units in a row of their own",
)  # fmt: skip
sheet(
    "merged-headings.xlsx",
    [["Invented converter, circuit 350"], [],
     ["Speed ratio", "Torque ratio", "Input torque at 1000 rpm", None, "K"],
     [None, None, "N.m", "lbf.ft", "rpm/sqrt(N.m)"],
     *([a, b, c, round(c / LBF_FT, 1), k] for a, b, c, k in zip(NU, MU, TORQUE, K_SI, strict=True)),
     [], ["Values at 80 degC oil."]],
    answers=ONE_WAY, notes=["capacities-agree"], merge=["C3:D3"],
    mess="a heading merged over two columns, units below it, a note at the end",
)  # fmt: skip
sheet(
    "clipboard.txt",
    "Speed ratio   Torque ratio   Input torque at 1\u202f000 rpm (N·m)\n"
    + "".join(f"  {a:.2f}      {b:.3f}      {c:.1f}\n"
              for a, b, c in zip(NU, MU, TORQUE, strict=True)),
    answers=ONE_WAY,
    mess="columns divided by spaces only, a narrow no-break space for thousands",
)  # fmt: skip
sheet(
    "percent.csv",
    text([["Speed ratio %", "Torque ratio", "Primary torque @ 1000 rpm (Nm)", "eta"],
          *([f"{100 * a:g}", b, c, f"{e} %"]
            for a, b, c, e in zip(NU, MU, TORQUE, ETA, strict=True))],
         ";"),
    answers=ONE_WAY, notes=["efficiency-agrees"],
    mess="speed ratio in percent by its heading, efficiency by its cells",
)  # fmt: skip
sheet(
    "no-units.csv",
    text([["i", "TR", "K", "Efficiency"], *zip(NU, MU, K_US, ETA, strict=True)], ","),
    open=["stator-inferred", "unit-inferred", "unit-missing"],
    answers={**ONE_WAY, "confirm": ["unit:4"], "units": {"K": "rpm/sqrt(lbf.ft)"}},
    mess="no unit anywhere: percent shows by its size, the K-factor has to be asked for",
)
SHUFFLED = [3, 0, 7, 1, 12, 5, 2, 11, 4, 9, 6, 10, 8]
sheet(
    "mixed-order.csv",
    text([["Speed ratio", "Torque ratio", "K (rpm/sqrt(N.m))"],
          *([NU[i], MU[i], K_SI[i]] for i in SHUFFLED),
          [NU[4], MU[4], K_SI[4]], [NU[6], round(MU[6] * 1.004, 3), K_SI[6]]], ","),
    open=["point-repeated-differs"], answers={**ONE_WAY, "confirm": ["repeat:12"]}, given=ONE_WAY,
    notes=["rows-sorted", "point-repeated"], rtol=0.004,
    mess="rows in no order, one point twice, one point twice with a little between",
)  # fmt: skip
sheet(
    "notes-and-marks.csv",
    text([["Converter data; invented", "", ""], ["Profile diameter: 350 mm", "", ""],
          ["Oil density", "850 kg/m3", ""], ["Stator: one-way", "", ""], ["", "", ""],
          ["SR", "TR", "K [rpm/sqrt(Nm)]"],
          *([a, f"{b}*" if n == 9 else b, c] for n, (a, b, c) in
            enumerate(zip(NU, MU, K_SI, strict=True))),
          ["* coupling point", "", ""], ["n/a", "-", "-"], ["Measured cold.", "", ""]], "\t"),
    notes=["fact-from-sheet", "footnote-mark", "lambda-usual"], remarks=6,
    mess="facts above the table, a footnote mark in a cell, notes below",
)  # fmt: skip
sheet(
    "lambda-thousandths.csv",
    text([["Profile diameter", "350 mm", ""], ["Oil density", "850 kg/m3", ""],
          ["ν", "µ", "λ × 1000"],
          *zip(NU, MU, [f"{1000 * value:.4f}" for value in LAMBDA], strict=True)], ";"),
    answers=ONE_WAY,
    mess="Greek letters; the performance coefficient times a thousand",
)  # fmt: skip
sheet(
    "absorbed-power.csv",
    text([["Speed ratio", "Torque ratio", "Absorbed power at 2,000 rpm (hp)"],
          *zip(NU, MU, [f"{t * 4 * 2000 * RPM / HP:.2f}" for t in TORQUE], strict=True)], ";"),
    answers=ONE_WAY,
    mess="power instead of torque, a comma for thousands in the heading",
)  # fmt: skip
sheet(
    "lying-down.csv",
    text([["Speed ratio", *NU], ["Torque ratio", *MU], ["K (rpm/sqrt(N.m))", *K_SI]], ","),
    answers=ONE_WAY, notes=["turned"],
    mess="quantities in rows instead of columns",
)  # fmt: skip
sheet(
    "german.csv",
    text([["Drehzahlverhältnis", "Wandlung", "Pumpenmoment bei 1000 1/min [Nm]",
           "Wirkungsgrad [%]"],
          *([comma(a, 2), comma(b, 3), comma(c, 1), comma(e, 1)]
            for a, b, c, e in zip(NU, MU, TORQUE, ETA, strict=True))], ";").encode("cp1252"),
    answers={**ONE_WAY, "map": "german.toml", "reference_speed": "1000 rpm"},
    mess="another language, with a mapping file; a speed that only the user can name",
)  # fmt: skip
sheet(
    "utf16.txt",
    text([["Speed ratio", "Torque ratio", "K-factor, rpm/sqrt(N.m)"],
          *zip(NU, MU, K_SI, strict=True)], "\t").encode("utf-16"),
    answers=ONE_WAY, notes=["encoding"],
    mess="UTF-16, as spreadsheets save Unicode text",
)  # fmt: skip
BENCH = [1000 - 6 * i for i in range(N)]
sheet(
    "test-bench.csv",
    text([["Impeller speed (rpm)", "Pump torque (N.m)", "Turbine speed (rpm)",
           "Turbine torque (N.m)"],
          *([n, f"{t * (n / 1000) ** 2:.3f}", f"{nu * n:.4f}", f"{t * (n / 1000) ** 2 * mu:.3f}"]
            for n, t, nu, mu in zip(BENCH, TORQUE, NU, MU, strict=True))], ","),
    answers=ONE_WAY,
    notes=["speed-ratio-from-speeds", "torque-ratio-from-torques"],
    mess="measured speeds and torques, no ratios, the impeller speed falling from row to row",
)  # fmt: skip
sheet(
    "spoilt-cells.xlsx",
    [["Speed ratio", "Torque ratio", "K [rpm/sqrt(N.m)]"],
     *([a, b, k] for a, b, k in zip(NU, MU, K_SI, strict=True)),
     [datetime.date(2024, 2, 1), 1.0, 90.0], [0.95, "1,0O", 95.0], [0.955, "#DIV/0!", 99.0]],
    open=["row-rejected", "row-rejected", "row-rejected"], given=ONE_WAY,
    answers={**ONE_WAY, "confirm": ["row:15", "row:16", "row:17"]}, rejected=[15, 16, 17],
    mess="a number that became a date, a letter O for a zero, a spreadsheet error",
)  # fmt: skip
sheet(
    "slip.csv",
    text([["Slip, %", "Torque ratio", "Torque input at 1000 rpm, Nm"],
          *([f"{100 - 100 * a:g}", b, c] for a, b, c in zip(NU, MU, TORQUE, strict=True))], ";"),
    answers=ONE_WAY, notes=["speed-ratio-from-slip"],
    mess="slip instead of speed ratio",
)  # fmt: skip
sheet(
    "bars.txt",
    "| Speed ratio | Torque ratio | Capacity (rpm/(lbf.ft)^0.5) |\n|---|---|---|\n"
    + "".join(f"| {a} | {b} | {k} |\n" for a, b, k in zip(NU, MU, K_US, strict=True)),
    answers=ONE_WAY,
    mess="a table with bars, as documents have them; 'capacity' that only its unit explains",
)
WRONG = [*ETA[:5], ETA[5] - 9.0, *ETA[6:]]
sheet(
    "contradictions.csv",
    text([["Speed ratio", "Torque ratio", "K (rpm/sqrt(N.m))", "Input torque at 1000 rpm (N.m)",
           "Efficiency (%)"],
          *zip(NU, MU, K_SI, [f"{t / LBF_FT:.1f}" for t in TORQUE], WRONG, strict=True)], ","),
    open=["capacity-contradicts", "efficiency-contradicts"], given=ONE_WAY,
    answers={**ONE_WAY, "ignore": ["5"], "units": {"4": "lbf.ft"}},
    mess="a torque column in another unit than it says, an efficiency that contradicts",
)  # fmt: skip
sheet(
    "engine-ratings.csv",
    text([["", "Rating A", "", "Rating B", ""],
          ["Engine speed", "Torque", "Power", "Torque", "Power"], ["rpm", "N.m", "kW", "N.m", "kW"],
          *([n, t, kw(t, n), round(0.9 * t, 1), kw(0.9 * t, n)]
            for n, t in zip(SPEED, ENGINE_TORQUE, strict=True))], ","),
    kind="engine", rows=len(SPEED), open=["several-ratings"], given=ENGINE_FACTS,
    answers={**ENGINE_FACTS, "rating": "B"}, scale=0.9, notes=["power-agrees"],
    mess="two ratings side by side under merged headings",
)  # fmt: skip
sheet(
    "engine-us.csv",
    '"Engine speed (rpm)","Torque (lb-ft)","Power (hp)"\n'
    + "".join(f'"{n:,}","{t / LBF_FT:.1f}","{t * n * RPM / HP:.1f}"\n'
              for n, t in zip(SPEED, ENGINE_TORQUE, strict=True)),
    kind="engine", rows=len(SPEED), answers=ENGINE_FACTS, notes=["power-agrees"],
    mess="US units, commas for thousands in quoted cells",
)  # fmt: skip
sheet(
    "engine-no-units.csv",
    text([["rpm", "torque", "kW"],
          *([n, f"{t / LBF_FT:.1f}", kw(t, n)] for n, t in zip(SPEED, ENGINE_TORQUE, strict=True))],
         ";"),
    kind="engine", rows=len(SPEED), open=["unit-inferred"], given=ENGINE_FACTS,
    answers={**ENGINE_FACTS, "confirm": ["unit:2"]},
    mess="torque without a unit beside power in kW: only lbf.ft fits",
)  # fmt: skip
sheet(
    "engine-facts.xlsx",
    [["Invented engine"], ["Low idle", "750 rpm"], ["High idle", 2380, "rpm"],
     ["Rated speed:", "2200 rpm"], ["Rating basis", "gross"], ["Governing", "speed"], [],
     ["n [1/min]", "M [Nm]", "P [PS]", "be [g/kWh]"],
     *([n, t, round(t * n * RPM / 735.49875, 1), 215 + abs(n - 1500) // 50]
       for n, t in zip(SPEED, ENGINE_TORQUE, strict=True))],
    kind="engine", rows=len(SPEED), notes=["fact-from-sheet"],
    mess="facts in cells above the table, one-letter headings, metric horsepower, consumption",
)  # fmt: skip

sheet(
    "document.txt",
    "Converter performance (invented)\n\n"
    "                        Input torque at\n"
    " SR       TR        1500 rpm    1800 rpm\n"
    "                     lb.ft.      lb.ft.\n"
    + "".join(f"{'stall' if a == 0 else f'{a:.2f}':5}    {b:.3f}       {c / LBF_FT * 2.25:.2f}"
              f"      {c / LBF_FT * 3.24:.2f}\n"
              for a, b, c in zip(NU, MU, TORQUE, strict=True)),
    answers=ONE_WAY, notes=["capacities-agree", "stall-is-zero"], remarks=1,
    mess="a heading centred over two columns by spaces alone, the word stall for zero",
)  # fmt: skip
sheet(
    "engine-twice.csv",
    text([["RPM", "Torque", "", "Power"], ["", "Nm", "lb-ft", "kW"],
          *([n, t, f"{t / LBF_FT:.1f}", kw(t, n)]
            for n, t in zip(SPEED, ENGINE_TORQUE, strict=True))], ","),
    kind="engine", rows=len(SPEED), answers=ENGINE_FACTS, notes=["column-repeats", "power-agrees"],
    mess="the torque twice, in two units under one heading",
)  # fmt: skip

MAPPING = """\
# Headings of the German sheet in our words.
[columns]
"Drehzahlverhältnis" = "speed_ratio"
"Wandlung" = "torque_ratio"
"Pumpenmoment bei 1000 1/min" = "torque_at_speed"
"Wirkungsgrad" = "efficiency"
"""


def write(folder: Path) -> None:
    import openpyxl

    for name, content in CONTENT.items():
        path = folder / name
        if isinstance(content, list):
            book = openpyxl.Workbook()
            page = book.active
            for row in content:
                page.append(row)
            for cells in SHEETS[name].get("merge", []):
                page.merge_cells(cells)
            book.save(path)
        else:
            path.write_bytes(content.encode() if isinstance(content, str) else content)
    (folder / "german.toml").write_text(MAPPING, encoding="utf-8")
    truth = {"speed_ratio": NU, "torque_ratio": MU, "capacity": CAPACITY,
             "speed": [n * RPM for n in SPEED], "torque": ENGINE_TORQUE}  # fmt: skip
    text = json.dumps({"truth": truth, "sheets": SHEETS}, indent=1, ensure_ascii=False)
    (folder / "expected.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
