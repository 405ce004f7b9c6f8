"""What intake says back: each oddity is seen where it is, and not just short of there."""

import math

import pytest

from converter_match.errors import InputError
from converter_match.library.intake.reading import intake_text

NU = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.86, 0.93)
MU = (2.2, 2.06, 1.92, 1.78, 1.64, 1.5, 1.37, 1.23, 1.09, 1.0, 1.0)
K = (61.8, 61.7, 61.8, 62.0, 62.5, 63.1, 64.0, 65.2, 66.7, 67.8, 89.5)


def sheet(mu=MU, k=K, nu=NU, heading="K [rpm/sqrt(N.m)]", top=""):
    rows = "".join(f"{a};{b};{c}\n" for a, b, c in zip(nu, mu, k, strict=True))
    return f"{top}speed ratio;torque ratio;{heading}\n{rows}"


def draft_of(text, **answers):
    return intake_text(text, **({"stator": "one-way"} | answers))


def codes(draft):
    return {problem.code for problem in draft.open}


def with_(values, row, value):
    return tuple(value if n == row else old for n, old in enumerate(values))


def test_number_outside_its_usual_span_is_a_question_and_no_mere_remark():
    # Two rows short of the usual end: docs/formats/what-is-usual.md has the span of every number.
    short = [values[:7] for values in (MU, K, NU)]
    draft = draft_of(sheet(*short))
    [found] = draft.open
    assert (found.code, found.severity) == ("number-unusual", "question")
    assert found.key == "number-unusual:characteristic.speed_ratio"
    assert "usual is 0.7 to 3" in found.message
    with pytest.raises(InputError, match="number-unusual"):
        draft.accept()
    assert len(draft.accept(confirm=found.key).speed_ratio) == 7


def test_speeds_with_a_digit_too_few_are_questions():
    rows = "".join(f"{n};{t}\n" for n, t in ((800, 800), (1400, 1010), (1800, 950), (2200, 800)))
    facts = {"rating_basis": "gross", "governing": "speed", "high_idle": "2380 rpm"}
    facts |= {"aspiration": "turbocharged", "rated_speed": "2200 rpm"}
    for idle, asked in (("80 rpm", True), ("800 rpm", False)):
        draft = intake_text(
            f"speed [rpm];torque [N.m]\n{rows}", kind="engine", low_idle=idle, **facts
        )
        assert ("low-idle-unusual" in codes(draft)) is asked, [p.text() for p in draft.open]


def test_clean_sheet_leaves_nothing_open():
    assert codes(draft_of(sheet())) == set()


@pytest.mark.parametrize(
    ("stall", "asked"), [(1.45, True), (1.55, False), (4.9, False), (5.2, True)]
)
def test_stall_ratio_out_of_the_usual_span_is_questioned(stall, asked):
    scale = (stall - 1) / 1.2
    mu = tuple(round(1 + scale * (value - 1), 3) for value in MU)
    if stall > 4:  # keep the efficiency below one
        mu = tuple(round(min(value, 0.95 / nu) if nu else value, 3)
                   for value, nu in zip(mu, NU, strict=True))  # fmt: skip
    assert ("stall-ratio-unusual" in codes(draft_of(sheet(mu)))) is asked


@pytest.mark.parametrize(("share", "asked"), [(1.012, False), (1.05, True)])
def test_capacity_row_off_the_line_of_its_neighbours_is_flagged_and_kept(share, asked):
    draft = draft_of(sheet(k=with_(K, 4, round(K[4] * share, 2))))
    assert ("row-off-the-line" in codes(draft)) is asked
    if asked:
        [found] = draft.open
        assert found.where == "row 6"
        kept = draft.accept(confirm=found.key)
        assert len(kept.speed_ratio) == len(NU)  # flagged, not removed
        assert "row-off-the-line" in {note.code for note in kept.notes}
        assert len(draft.accept(leave_out=6).speed_ratio) == len(NU) - 1


def test_smooth_minimum_of_k_is_no_wiggle():
    """K has a minimum on many converters (the quadratic model of SAE 820393 has one)."""
    k = tuple(round(60 + 14 * (nu - 0.35) ** 2, 2) for nu in NU[:-1])
    assert codes(draft_of(sheet(k=(*k, 88.0)))) == set()


@pytest.mark.parametrize(
    ("diameter", "asked"), [("345 mm", False), ("300 mm", True), ("500 mm", True)]
)
def test_unit_is_doubted_by_the_span_of_lambda_when_the_diameter_is_known(diameter, asked):
    draft = draft_of(sheet(), profile_diameter=diameter)
    assert ("unit-probably-wrong" in codes(draft)) is asked


def test_doubt_about_a_unit_names_the_one_that_would_fit():
    """lambda = C / (rho D^5): with 335 mm, lbf.ft makes 0.0090 and N.m 0.0067."""
    us = draft_of(sheet(heading="K [rpm/sqrt(lbf.ft)]"), profile_diameter="335 mm")
    [found] = us.open
    assert "N.m where lbf.ft was read would make it 0.0067" in found.message
    inches = draft_of(sheet(), profile_diameter="13.6 mm")
    [found] = inches.open
    assert "in where mm was read" in found.message


@pytest.mark.parametrize(("off", "code"), [(1.0, None), (3.0, "efficiency-off"),
                                           (8.0, "efficiency-contradicts")])  # fmt: skip
def test_efficiency_is_compared_with_speed_ratio_times_torque_ratio(off, code):
    eta = [100 * a * b for a, b in zip(NU, MU, strict=True)]
    eta[5] += off
    text = sheet().splitlines()
    text[0] += ";efficiency %"
    text[1:] = [f"{line};{value:.1f}" for line, value in zip(text[1:], eta, strict=True)]
    draft = draft_of("\n".join(text))
    assert codes(draft) == ({code} if code else set())
    if code:
        assert "row 7" in draft.open[0].message
        assert codes(draft.answered(ignore="4")) == set()


def test_unusual_coupling_point_and_rising_torque_ratio_are_questioned():
    early = tuple(max(1.0, round(2.2 - 2.4 * nu, 3)) for nu in NU)
    assert "coupling-unusual" in codes(draft_of(sheet(mu=early)))
    assert "torque-ratio-rises" in codes(draft_of(sheet(mu=with_(MU, 3, 1.99))))


def test_torque_ratio_that_makes_energy_is_an_error_at_its_row():
    draft = draft_of(sheet(mu=with_(MU, 8, 1.3)))
    assert "efficiency-above-one" in codes(draft)
    assert any("row 10" in problem.message for problem in draft.errors)


def test_all_problems_are_said_at_once_and_accept_lists_them():
    text = sheet(mu=with_(MU, 8, 1.3), k=with_(K, 2, "6x2"))
    draft = intake_text(text)
    assert {"efficiency-above-one", "row-rejected", "stator-inferred"} <= codes(draft)
    with pytest.raises(InputError) as caught:
        draft.accept()
    for problem in draft.open:
        assert problem.code in str(caught.value)


def test_rejected_row_is_listed_until_somebody_agrees_and_then_stands_in_the_file():
    draft = draft_of(sheet(k=with_(K, 2, "6x2")))
    [rejected] = draft.rejected
    assert (rejected.row, "6x2" in rejected.cells) == (4, True)
    agreed = draft.answered(confirm="row:4")
    assert agreed.open == ()
    assert agreed.rejected == draft.rejected
    assert "row 4" in agreed.toml()


def test_units_without_a_word_are_proposed_with_reasons_or_asked_for():
    draft = draft_of(sheet(heading="K"))
    assert codes(draft) == {"unit-missing"}
    with_reason = draft_of(sheet(heading="K", top="Profile diameter: 14.5 in\n\n"))
    [found] = with_reason.open
    assert found.code == "unit-inferred"
    assert "US" in found.message
    assert "confirm" in found.text()
    with pytest.raises(InputError, match="unit-inferred"):
        with_reason.accept()
    accepted = with_reason.accept(confirm=found.key)
    assert "unit-inferred" in {note.code for note in accepted.notes}


def test_answer_from_the_user_beats_the_heading():
    us = draft_of(sheet(), units={"K": "rpm/sqrt(lbf.ft)"}).accept()
    si = draft_of(sheet()).accept()
    ratio = us.capacity / si.capacity
    assert ratio == pytest.approx(0.3048 * 0.45359237 * 9.80665, rel=1e-12)  # one lbf.ft in N.m


def test_ambiguous_decimal_mark_is_asked_for():
    text = "engine speed [rpm];torque [N.m]\n1.000;1.110\n1.400;1.320\n1.800;1.240\n2.100;1.010\n"
    facts = {"rating_basis": "gross", "governing": "speed", "low_idle": "700 rpm",
             "rated_speed": "2100 rpm", "high_idle": "2300 rpm"}  # fmt: skip
    draft = intake_text(text, **facts)
    assert "decimal-mark" in codes(draft)
    told = intake_text(text, decimal=",", **facts)
    assert told.accept().torque.tolist() == [1110, 1320, 1240, 1010]


def test_misspelt_heading_is_asked_about():
    draft = draft_of(sheet().replace("torque ratio", "Torqe ratio"))
    assert "heading-misspelt" in codes(draft)
    assert codes(draft.answered(confirm="column:2")) == set()


def test_second_table_is_not_read_in_silence():
    draft = draft_of(sheet() + "\n" + sheet())
    assert codes(draft) == {"second-table"}


def test_two_sheets_with_tables_have_to_be_chosen_from(tmp_path):
    import openpyxl

    from converter_match.library.intake.reading import intake

    book = openpyxl.Workbook()
    for page in (book.active, book.create_sheet("Other")):
        for line in sheet().splitlines():
            cells = line.split(";")
            page.append([float(c) if c[0].isdigit() else c for c in cells])
    book.save(tmp_path / "two.xlsx")
    with pytest.raises(InputError, match=r"several sheets hold a table.*'Other'"):
        intake(tmp_path / "two.xlsx")
    assert intake(tmp_path / "two.xlsx", sheet="Other", stator="one-way").open == ()


def test_unknown_key_to_confirm_is_refused_and_the_keys_are_named():
    with pytest.raises(InputError, match=r"'statr'; expected stator; did you mean 'stator'\?"):
        draft_of(sheet(), confirm="statr")
    with pytest.raises(InputError, match=r"confirm: no question .* found 'row:13'; expected stat"):
        draft_of(sheet()).answered(confirm=["stator", "row:13"])


def test_a_key_that_another_answer_has_settled_is_no_mistake():
    draft = draft_of(sheet(), stator="one-way").answered(confirm="stator")
    assert "nothing-to-confirm" in {problem.code for problem in draft.problems}
    assert draft.open == ()


def test_blank_k_at_synchronism_is_capacity_zero():
    """K = speed / sqrt(torque) grows without bound as the torque goes to zero."""
    draft = draft_of(sheet((*MU, 1.0), (*K, "\u221e"), (*NU, 1.0)))
    assert draft.accept().capacity[-1] == 0.0
    blank = draft_of(sheet((*MU, 1.0), (*K, ""), (*NU, 1.0)))
    assert blank.accept().capacity[-1] == 0.0


def test_engine_power_that_is_not_torque_times_speed_is_told_with_the_likely_slip():
    rows = "".join(f"{n};{t};{t * n / 9549.3 / 0.7457:.1f}\n"
                   for n, t in ((1000, 600), (1400, 700), (1800, 650), (2100, 560)))  # fmt: skip
    draft = intake_text(f"rpm;torque [N.m];power [kW]\n{rows}")
    [found] = draft.errors
    assert found.code == "power-contradicts"
    assert "hp and kW" in found.message


def test_rated_speed_is_proposed_and_idle_speeds_are_asked_for():
    rows = "1000;600\n1400;700\n1800;650\n2100;560\n"
    draft = intake_text(f"rpm;torque [N.m]\n{rows}")
    assert codes(draft) == {"rating_basis-missing", "governing-missing", "low_idle-missing",
                            "rated-speed-inferred", "high_idle-missing"}  # fmt: skip


@pytest.mark.parametrize(("share", "code"), [(1.02, "point-repeated-differs"),
                                             (1.06, "point-contradicts")])  # fmt: skip
def test_repeats_far_apart_are_no_repeats_and_one_of_them_has_to_go(share, code):
    draft = draft_of(sheet((*MU, MU[4]), (*K, round(K[4] * share, 2)), (*NU, NU[4])))
    assert code in codes(draft)
    assert codes(draft.answered(leave_out=13)) == set()


def test_density_that_is_given_tells_the_unit_and_one_that_is_taken_is_said():
    table = "speed ratio;torque ratio;K\n0;2.2;62\n0.5;1.5;63\n0.9;1;75\n0.95;1;99\n"

    def reason(**facts):
        draft = intake_text(table, stator="one-way", profile_diameter="345 mm", **facts)
        return next(each.message for each in draft.problems if each.code == "unit-inferred")

    # By hand: 1 / (62 rpm/sqrt(N.m))^2 = 0.02372 N.m/(rad/s)^2, over rho 0.345^5.
    capacity = (30 / (math.pi * 62)) ** 2
    for density, facts in ((850, {}), (900, {"oil_density": "900 kg/m3"})):
        said = reason(**facts)
        assert f"coefficient of {capacity / (density * 0.345**5):.2g} at stall" in said
        assert ("oil taken as 850 kg/m3" in said) == (facts == {})
