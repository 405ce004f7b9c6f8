"""How a converter stalls, as the trade says it, becomes an estimate with its band."""

import pytest
from pint import UnitRegistry

from converter_match.errors import InputError
from converter_match.library.intake.export import export_component
from converter_match.library.intake.reading import intake, intake_line, intake_text
from converter_match.library.intake.stall_line import intake_stall, tells_a_stall
from tests.examples import RPM

PINT = UnitRegistry()
NM_PER_LBF_FT = PINT.Quantity(1.0, "lbf * ft").to("N * m").magnitude
LINE = "stalls at 2400 rpm behind 300 lbf*ft, torque ratio 2.2"


def datum(draft):
    return draft.accept().stall_datum


def codes(problems):
    return [problem.code for problem in problems]


def test_the_line_of_the_trade_is_taken_in_its_own_units():
    known = datum(intake_line(LINE))
    assert known.engine_speed == pytest.approx(2400 * RPM, rel=1e-12)
    assert known.input_torque == pytest.approx(300 * NM_PER_LBF_FT, rel=1e-9)
    assert known.torque_ratio == (2.2, 2.2)


@pytest.mark.parametrize(
    ("line", "ratio"),
    [
        ("Stall speed: 2,400 rpm; input torque 300 lb-ft; TR 2.1 .. 2.3", (2.1, 2.3)),
        ("stall speed 2400 r/min at 300 lbf.ft, torque ratio 2.1 to 2.3", (2.1, 2.3)),
        ("stalls 2.400 rpm, 300 lbf ft, ratio 2,1-2,3", (2.1, 2.3)),
        ("stalls at 2400 rpm behind 300 ft.lbf, 2.2:1", (2.2, 2.2)),
        ("stalls at 2400 rpm behind 300 lbf.ft, 2.2 torque ratio", (2.2, 2.2)),
        ("stalls at 2400 rpm behind 300 lbf.ft, turbine torque 660 lbf.ft", (2.2, 2.2)),
        ("stalls at 2400 rpm behind 300 lbf.ft", None),
    ],
)
def test_other_ways_of_saying_it_mean_the_same(line, ratio):
    known = datum(intake_line(line))
    assert known.engine_speed == pytest.approx(2400 * RPM, rel=1e-12)
    assert known.input_torque == pytest.approx(300 * NM_PER_LBF_FT, rel=1e-9)
    assert known.torque_ratio == (None if ratio is None else pytest.approx(ratio, rel=1e-6))


def test_size_and_coupling_point_are_taken_with_it():
    unit = intake_line(f"{LINE}, diameter 12 in, coupling point 0.86, one-way stator").accept()
    assert unit.profile_diameter == pytest.approx(12 * 0.0254)
    assert unit.coupling == 0.86


def test_the_stator_that_nobody_names_is_an_assumption_in_the_file():
    draft = intake_line(LINE)
    assert "stall-stator-assumed" in draft.toml()
    assert "stall-stator-assumed" in codes(draft.noticed)


def test_a_torque_that_is_missing_is_asked_for_and_can_be_given():
    draft = intake_line("stalls at 2400 rpm, torque ratio 2.2")
    assert codes(draft.open) == ["stall_torque-missing"]
    assert datum(draft.answered(stall_torque="407 N.m")).input_torque == pytest.approx(407.0)


def test_a_range_of_speed_is_asked_about_and_not_averaged():
    draft = intake_line("stall 2350-2450 rpm at 300 lbf.ft, torque ratio 2.2")
    assert codes(draft.open)[0] == "range-not-taken"
    answered = draft.answered(stall_speed="2400 rpm")
    assert datum(answered).engine_speed == pytest.approx(2400 * RPM)


def test_a_minus_sign_is_asked_about():
    draft = intake_line("stalls at 2400 rpm behind -300 lbf.ft")
    assert "minus-sign" in codes(draft.open)
    with pytest.raises(InputError):
        draft.accept()


def test_two_speeds_are_a_question():
    draft = intake_line("stalls at 2400 rpm behind 300 lbf.ft, governed 2600 rpm")
    assert codes(draft.open) == ["fact-twice"]


def test_turbine_torque_that_contradicts_the_torque_ratio_is_a_question():
    # 660 / 300 = 2.2, not 2.6.
    line = "stalls at 2400 rpm behind 300 lbf.ft, turbine torque 660 lbf.ft, torque ratio 2.6"
    assert codes(intake_line(line).open) == ["twin-value-differs"]


def test_what_no_shape_can_meet_is_an_error_of_the_draft_with_its_reason():
    draft = intake_line("stalls at 2400 rpm behind 300 lbf.ft, torque ratio 5")
    [refused] = draft.errors
    assert "no known shape" in refused.text()


def test_a_fluid_coupling_is_refused_since_no_shape_is_published_of_one():
    draft = intake_line(f"fluid coupling, {LINE}")
    [refused] = draft.errors
    assert "no shape is published" in refused.text()


def test_words_that_say_nothing_are_shown_as_they_stand():
    draft = intake_line(f"{LINE}; by the foreman, 20 kW")
    assert "words-not-used" in codes(draft.noticed)
    assert any("foreman" in line for line in draft.remarks)


def test_a_text_file_with_the_line_is_read_as_one(tmp_path):
    path = tmp_path / "loader-converter.txt"
    path.write_text("Stalls at 2400 rpm\nbehind 300 lbf.ft\ntorque ratio 2.2\n", encoding="utf-8")
    unit = intake(path).accept()
    assert (unit.id, unit.stall_datum.torque_ratio) == ("loader-converter", (2.2, 2.2))
    assert intake_text(LINE).accept().estimated


def test_a_sheet_that_mentions_stall_is_read_as_a_table():
    sheet = (
        "Stall speed 2400 rpm at 300 lbf.ft\nSR;TR;K [rpm/sqrt(Nm)]\n0;2,20;62,0\n0,5;1,52;63,0\n"
        "0,86;1;68,0\n0,95;1;110\n"
    )
    assert not tells_a_stall(sheet)
    unit = intake_text(sheet).accept(confirm="stator")
    assert not unit.estimated


def test_an_engines_spec_line_is_no_stall():
    line = "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm; speed governed; gross"
    assert intake_line(line).kind == "engine"


def test_a_line_about_nothing_is_refused():
    with pytest.raises(InputError, match="says nothing about a converter's stall"):
        intake_stall("a good one, hardly used")
    with pytest.raises(InputError, match="too long"):
        intake_stall("stall " * 1000)


def test_an_estimate_is_not_exported_as_rows_of_a_sheet(tmp_path):
    with pytest.raises(InputError, match="would pass for data"):
        export_component(intake_line(LINE).accept(), tmp_path / "sheet.csv")
    assert not (tmp_path / "sheet.csv").exists()
