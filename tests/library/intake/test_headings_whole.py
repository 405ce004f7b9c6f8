"""No word of a heading is dropped: factor, qualifier, condition; what is hidden or struck out."""

import openpyxl
import pytest
from openpyxl.styles import Font

from converter_match.errors import InputError
from converter_match.library.intake.reading import intake, intake_text
from tests.examples import RPM

NU = [0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95]
MU = [2.2, 1.9, 1.62, 1.34, 1.07, 1, 1]
K = [62.0, 62.3, 63, 65, 69, 73, 110]
TORQUE = [round((1700 / k) ** 2, 1) for k in K]  # K = n / sqrt(T), by definition
SPEED = [800, 1000, 1200, 1400, 1600, 1800, 2000, 2200]
LOAD = [700, 850, 960, 1010, 1000, 950, 880, 803]


def sheet(headings, *columns, above="", comma=False):
    lines = [";".join(str(cell) for cell in row) for row in zip(*columns, strict=True)]
    body = "\n".join(lines)
    return f"{above}{headings}\n{body.replace('.', ',') if comma else body}\n"


def converter(heading, column=TORQUE, **more):
    return intake_text(sheet(f"SR;TR;{heading}", NU, MU, column, **more), stator="one-way")


def engine(heading, column=LOAD, speed="n [rpm]"):
    facts = {"governing": "speed", "low_idle": "800 rpm", "high_idle": "2400 rpm",
             "rated_speed": "2200 rpm", "rating_basis": "gross"}  # fmt: skip
    return intake_text(sheet(f"{speed};{heading}", SPEED, column), **facts)


def codes(draft):
    return [problem.code for problem in draft.open]


def test_a_unit_is_taken_whole_before_a_part_of_it_is():
    draft = converter("Capacity rpm/sqrt(Nm)", K)
    assert codes(draft) == []
    assert draft.accept().capacity[0] == pytest.approx(1 / (62.0 * RPM) ** 2)


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("Torque at 50 % load [Nm]", "50 % load"),
        ("Torque [Nm] 50 % load", "50 % load"),
        ("Torque, half load [Nm]", "half load"),
        ("Torque at wheels [Nm]", "at wheels"),
        ("Torque [Nm] at the turbine", "at the turbine"),
        ("Torque [Nm], warm", "warm"),
    ],
)
def test_a_qualifier_of_an_engine_column_is_asked_about(heading, words):
    draft = engine(heading)
    assert codes(draft) == ["heading-words-left"]
    assert words in draft.open[0].message
    assert codes(draft.answered(confirm=draft.open[0].key)) == []
    assert codes(draft.answered(columns={"2": "torque"})) == []


def test_a_qualifier_of_a_converter_column_is_asked_about():
    draft = converter("Input torque at the turbine [Nm] at 1700 rpm")
    assert codes(draft) == ["heading-words-left"]
    assert codes(converter("Input torque T1 [Nm] at 1700 rpm")) == []
    assert codes(converter("Pump torque, coast [Nm] at 1700 rpm")) == ["heading-words-left"]


@pytest.mark.parametrize("factor", ["x 10", "(x 10)", "x10^1", "* 10"])
def test_a_factor_is_asked_about_and_taken_on_consent(factor):
    draft = engine(f"Torque [Nm] {factor}", [value / 10 for value in LOAD])
    assert codes(draft) == ["heading-factor"]
    assert draft.answered(confirm="factor:2").accept().torque.max() == pytest.approx(1010)
    tenth = draft.answered(factors={"2": 1.0})
    assert codes(tenth) == []
    assert tenth.accept().torque.max() == pytest.approx(101.0)


def test_a_factor_of_the_speed_is_one_too():
    draft = engine("Torque [Nm]", speed="n [rpm x 1000]")
    assert "heading-factor" in codes(draft)


def test_a_condition_that_an_engine_column_has_no_use_for_is_asked_about():
    assert codes(engine("Torque [Nm] at 2000 rpm")) == ["condition-not-used"]


def test_a_speed_that_could_be_a_thousand_times_as_much_is_asked_about():
    draft = converter("Input torque [Nm] at 1,700 rpm", comma=True)
    assert codes(draft) == ["reference-unclear"]
    assert "1700 rpm" in draft.open[0].message
    agreed = draft.answered(confirm="reference:3").accept()
    assert agreed.capacity[0] == pytest.approx(TORQUE[0] / (1700 * RPM) ** 2)
    said = draft.answered(reference_speed="1800 rpm").accept()
    assert said.capacity[0] == pytest.approx(TORQUE[0] / (1800 * RPM) ** 2)
    beside = converter("Input torque [Nm]", comma=True, above="Input speed: 1,700 rpm\n\n")
    assert "fact-reference_speed" in codes(beside)
    assert codes(beside.answered(reference_speed="1700 rpm")) == []


def test_two_reference_speeds_are_named_and_one_is_picked():
    draft = converter("Input torque [Nm] at 1700 rpm", above="Reference speed: 2000 rpm\n\n")
    assert codes(draft) == ["reference-twice"]
    picked = draft.answered(reference_speed="2000 rpm")
    assert picked.accept().capacity[0] == pytest.approx(TORQUE[0] / (2000 * RPM) ** 2)
    both = converter("Input torque [Nm] at 1700 / 2000 rpm")
    assert "reference-speed-missing" in codes(both)


@pytest.mark.parametrize("beside", ["1700 rpm", "178.0235837 rad/s"])
def test_reference_speed_in_which_heading_and_sheet_agree_is_asked_nothing(beside):
    draft = converter("Input torque [Nm] at 1700 rpm", above=f"Reference speed: {beside}\n\n")
    assert codes(draft) == []
    assert draft.accept().capacity[0] == pytest.approx(TORQUE[0] / (1700 * RPM) ** 2)


@pytest.mark.parametrize(("said", "overruled"), [("1700 rpm", False), ("1701 rpm", True)])
def test_heading_that_the_user_overrules_is_said_only_where_the_two_differ(said, overruled):
    draft = converter("Input torque [Nm] at 1700 rpm").answered(reference_speed=said)
    assert ("fact-overruled" in [problem.code for problem in draft.noticed]) is overruled
    speed = float(said.split()[0]) * RPM
    assert draft.accept().capacity[0] == pytest.approx(TORQUE[0] / speed**2)


def test_torque_for_a_thousand_turns_is_a_capacity_coefficient():
    # C = T / n^2: what is absorbed at 1000 rpm, over (1000 rpm)^2.
    per_thousand = [round((1000 / k) ** 2, 3) for k in K]
    for heading in ("Torque N*m at (1000 rpm)^2", "Capacity [Nm/(1000 rpm)^2]"):
        draft = converter(heading, per_thousand)
        assert codes(draft) == []
        assert draft.accept().capacity[0] == pytest.approx(1 / (62.0 * RPM) ** 2, rel=1e-4)


def test_net_in_a_heading_is_the_rating_basis():
    draft = intake_text(sheet("n [rpm];Net torque [Nm]", SPEED, LOAD))
    assert "rating_basis-missing" not in codes(draft)
    assert "basis-from-heading" in [problem.code for problem in draft.noticed]


def paged(second):
    first = sheet("SR;TR;K [rpm/sqrt(Nm)]", NU[:4], MU[:4], K[:4])
    return first + "\n" + second


def test_a_heading_repeated_on_a_new_page_is_joined_on_consent():
    second = sheet("SR;TR;K [rpm/sqrt(Nm)]", NU[4:], MU[4:], K[4:])
    draft = intake_text(paged(second), stator="one-way")
    assert codes(draft) == ["heading-repeated"]
    assert list(draft.answered(confirm="joined").accept().speed_ratio) == NU
    assert len(draft.answered(table=1).sheet.rows) == 4


def test_a_second_table_can_be_picked():
    other = sheet("SR;TR;K [rpm/sqrt(Nm)]", NU, MU, [2 * k for k in K])
    draft = intake_text(paged(other), stator="one-way")
    assert codes(draft) == ["second-table"]
    second = draft.answered(table=2)
    assert codes(second) == []
    assert second.accept().capacity[0] == pytest.approx(1 / (124.0 * RPM) ** 2)
    with pytest.raises(InputError, match="no such table"):
        draft.answered(table=3)


@pytest.fixture
def book(tmp_path):
    def write(change):
        workbook = openpyxl.Workbook()
        page = workbook.active
        for row in [["speed ratio", "torque ratio", "K [rpm/sqrt(N.m)]"],
                    *zip(NU, MU, K, strict=True)]:  # fmt: skip
            page.append(list(row))
        change(page)
        path = tmp_path / "book.xlsx"
        workbook.save(path)
        return intake(path, stator="one-way")

    return write


def test_a_hidden_row_is_named(book):
    def hide(page):
        page.row_dimensions[4].hidden = True
        page.row_dimensions[5].hidden = True

    draft = book(hide)
    assert codes(draft) == ["hidden-rows"]
    assert "4, 5" in draft.open[0].message
    assert codes(draft.answered(confirm="hidden-rows")) == []
    assert codes(draft.answered(leave_out=[4, 5])) == []


def test_a_hidden_column_is_named(book):
    def hide(page):
        page.column_dimensions["C"].hidden = True

    draft = book(hide)
    assert codes(draft) == ["hidden-columns"]
    assert codes(draft.answered(confirm="hidden-columns")) == []


def test_a_number_struck_through_is_asked_about(book):
    def strike(page):
        page["C4"].font = Font(strike=True)

    draft = book(strike)
    assert codes(draft) == ["struck-through"]
    assert codes(draft.answered(leave_out=4)) == []
    assert codes(draft.answered(confirm="struck:4")) == []


@pytest.mark.parametrize("line", ["Measured at 2000 rpm", "Measured at;2000 rpm;", "half throttle"])
def test_a_line_among_the_rows_is_asked_about(line):
    text = sheet("SR;TR;K [rpm/sqrt(Nm)]", NU, MU, K).splitlines()
    text.insert(5, line)
    draft = intake_text("\n".join(text), stator="one-way")
    assert codes(draft) == ["line-among-rows"]
    assert draft.answered(confirm="between:6").open == ()
    below = list(range(7, len(text) + 1))
    assert "line-among-rows" not in codes(draft.answered(leave_out=below))


@pytest.mark.parametrize("line", ["Page 2 of 3", "- 2 -", "Converter in wheel loaders"])
def test_the_number_of_a_page_and_a_title_told_before_are_not(line):
    text = sheet("SR;TR;K [rpm/sqrt(Nm)]", NU, MU, K).splitlines()
    text.insert(5, line)
    titled = "\n".join(["Converter in wheel loaders", *text])
    assert codes(intake_text(titled, stator="one-way")) == []


def test_k_in_metric_units_on_a_sheet_in_us_units_is_asked_about():
    text = sheet("SR;TR;K [rpm/sqrt(Nm)]", NU, MU, K)
    draft = intake_text(text, stator="one-way", profile_diameter="13.6 in")
    assert codes(draft) == ["units-of-two-systems"]
    assert draft.answered(confirm="system:3").open == ()
    told = draft.answered(units={"3": "rpm/sqrt(lbf.ft)"})
    assert "units-of-two-systems" not in codes(told)
    assert codes(intake_text(text, stator="one-way", profile_diameter="345 mm")) == []
