"""Columns and figures that a sheet prints twice are kept in the file, and held against the rest."""

import tomllib

from converter_match.library.intake.reading import intake

FACTS = "low idle,800 rpm\nhigh idle,2480 rpm\nrated speed,2300 rpm\n"
# N.m by 1.355818 N.m in one lbf.ft (NIST SP 811), rounded: 900 / 1.355818 = 663.8.
ROWS = (
    (800, 800, 590), (1100, 900, 664), (1400, 950, 701), (1700, 930, 686), (2000, 870, 642),
    (2300, 790, 583),
)  # fmt: skip
NAMED = {"governing": "speed", "rating_basis": "gross"}


def sheet(tmp_path, facts="", rows=ROWS):
    path = tmp_path / "sheet.csv"
    body = "".join(f"{','.join(map(str, row))}\n" for row in rows)
    path.write_text(f"{FACTS}{facts}\nrpm,Torque,\n,Nm,lb-ft\n{body}", encoding="utf-8")
    return intake(str(path), kind="engine", **NAMED)


def test_torque_in_a_second_unit_stands_beside_the_first(tmp_path):
    draft = sheet(tmp_path)
    assert [problem.text() for problem in draft.open] == []
    torque = tomllib.loads(draft.toml())["full_load"]["torque"]
    assert torque["values"] == [800, 900, 950, 930, 870, 790]
    assert torque["also"] == {"unit": "lb-ft", "values": [590, 664, 701, 686, 642, 583]}


def test_second_column_goes_with_its_rows(tmp_path):
    # As the rows are brought into order of speed, those of both columns are.
    draft = sheet(tmp_path, rows=ROWS[::-1])
    torque = tomllib.loads(draft.toml())["full_load"]["torque"]
    assert torque["also"]["values"] == [590, 664, 701, 686, 642, 583]


def test_rating_on_the_sheet_is_held_against_its_curve(tmp_path):
    # 790 N.m at 2300 rpm are 790 x 2300 x 2 pi / 60 = 190.3 kW; 250 kW are not.
    right = sheet(tmp_path, facts="rated power,190 kW\npeak torque,950 Nm\n")
    assert [problem.text() for problem in right.open] == []
    assert tomllib.loads(right.toml())["rating"]["rated_power"] == {"unit": "kW", "value": 190}
    wrong = sheet(tmp_path, facts="rated power,250 kW\n")
    [problem] = wrong.open
    assert "rating.rated_power is 250 kW" in problem.text()


def test_second_column_with_a_gap_is_not_kept(tmp_path):
    draft = sheet(tmp_path, rows=(*ROWS[:2], (1400, 950, ""), *ROWS[3:]))
    assert "also" not in tomllib.loads(draft.toml())["full_load"]["torque"]
