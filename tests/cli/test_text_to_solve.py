"""What the trade really has of a converter goes from a text file to `solve` in two commands."""

import json
import time

import pytest

from converter_match.cli import main

NU = [0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95]
MU = [2.2, 2.05, 1.9, 1.62, 1.34, 1.07, 1.0, 1.0]
K = [62.0, 62.0, 62.3, 63.0, 65.0, 69.0, 73.0, 110.0]  # rpm/sqrt(N.m), invented
A_MINUTE = 60.0


def table(headings, *columns, above=""):
    rows = "".join("; ".join(f"{cell:.6g}" for cell in row) + "\n"
                   for row in zip(*columns, strict=True))  # fmt: skip
    return f"{above}{headings}\n{rows}"


TEXTS = {
    "stall datum": (
        "Stalls at 1976 rpm behind 749 lbf*ft\ntorque ratio 2.1 .. 2.3\ndiameter 345 mm\n",
        (),
    ),
    "speed at constant torque": (
        table("speed ratio; torque ratio; input speed at 300 N.m [rpm]",
              NU, MU, [k * 300.0**0.5 for k in K]),
        ("--stator", "one-way"),
    ),
    "turbine speed": (
        table("turbine speed [rpm]; turbine torque [N.m]; input torque [N.m]",
              [1700.0 * nu for nu in NU],
              [mu * (1700.0 / k) ** 2 for mu, k in zip(MU, K, strict=True)],
              [(1700.0 / k) ** 2 for k in K], above="input speed: 1700 rpm\n\n"),
        ("--stator", "one-way"),
    ),
    "efficiency": (
        table("speed ratio; efficiency [%]; K [rpm/sqrt(N.m)]",
              NU, [100.0 * nu * mu for nu, mu in zip(NU, MU, strict=True)], K),
        ("--stator", "one-way", "--stall-torque-ratio", "2.2"),
    ),
}  # fmt: skip


def solved(capsys, tmp_path, text, answers):
    sheet, out = tmp_path / "from-the-dealer.txt", tmp_path / "converter.toml"
    sheet.write_text(text, encoding="utf-8")
    taken = ["intake", str(sheet), *answers, "--decimal", "point", "--accept", "--out", str(out)]
    assert main(taken) == 0, capsys.readouterr()
    capsys.readouterr()
    argv = ["solve", "--engine", "six-cylinder-7l-185kw", "--converter", str(out), "--json"]
    assert main(argv) in (0, 3)
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("name", TEXTS)
def test_from_a_text_file_to_solve_within_a_minute(capsys, tmp_path, name):
    start = time.process_time()
    answer = solved(capsys, tmp_path, *TEXTS[name])
    assert time.process_time() - start < A_MINUTE
    # K = rpm / sqrt(T) at stall, by its definition: that of the sheet.
    speed, torque = answer["stall"]["engine_speed_rpm"], answer["stall"]["input_torque_nm"]
    assert speed / torque**0.5 == pytest.approx(62.0, rel=2e-3)
    assert answer["stall"]["torque_ratio"] == pytest.approx(2.2, rel=1e-3)


def test_an_estimate_says_so_and_carries_its_band(capsys, tmp_path):
    answer = solved(capsys, tmp_path, *TEXTS["stall datum"])
    assert "converter-from-stall-datum" in [note["code"] for note in answer["assumptions"]]
    points = {row["code"]: row for row in answer["estimate"]["points"]}
    stall = points["stall"]
    assert stall["engine_speed_rpm"][0] == pytest.approx(stall["engine_speed_rpm"][1], rel=1e-12)
    assert stall["torque_ratio"] == pytest.approx([2.1, 2.3])
    least, most = points["coupling"]["output_power_kw"]
    assert least < answer["coupling"]["output_power_kw"] < most
    for row in answer["estimate"]["characteristic"]:
        assert row["torque_ratio"][0] <= row["torque_ratio"][1]


def test_a_whole_sheet_has_no_band(capsys, tmp_path):
    answer = solved(capsys, tmp_path, *TEXTS["efficiency"])
    assert "estimate" not in answer
