"""What is the same part is drawn once; units of one type have the error of the sheet in common."""

import numpy as np
import pytest
from scipy import stats

from converter_match.errors import InputError
from converter_match.judgement.uncertainty.inputs import drawn_inputs
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.library.study_file import read_study
from converter_match.study.doubts import SCATTER
from converter_match.study.study import Correlation, Duty, Limits, SamePart, Study, Tolerance
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.haul_examples import road
from tests.machines import surface
from tests.study_examples import combination, flat_engine, study_file

DUTY = Duty(surface=surface(), grades=(0.0, 0.05, 0.1), continuous_grade=0.05)
DRAWS = 4096


def band(*names, width=0.05, **changes):
    return tuple(
        Tolerance(quantity=name, half_width=width, distribution="normal", **changes)
        for name in names
    )


def study(candidates, tolerances, present=None, **changes):
    fields = {"id": "s", "name": "S", "source": "t", "duty": DUTY} | changes
    return Study(present=present, candidates=tuple(candidates), tolerances=tolerances, **fields)


def drawn(study, draws=DRAWS):
    """Return the deviations by (quantity, combination), and how many inputs there are."""
    inputs = drawn_inputs(study, draws, seed=0)
    table = {
        (item.quantity, name): item.deviations for item in inputs for name in item.combinations
    }
    return table, len(inputs)


PRESENT = combination("present", engine=engine())


def test_what_a_candidate_takes_over_is_drawn_once():
    own = combination("new", engine=PRESENT.engine, converter=converter(id="other"))
    table, count = drawn(study([own], band("engine-torque", "k-factor", "mass"), PRESENT))
    assert table["engine-torque", "new"] is table["engine-torque", "present"]
    assert table["mass", "new"] is table["mass", "present"]
    r = np.corrcoef(table["k-factor", "new"], table["k-factor", "present"])[0, 1]
    assert abs(r) < 0.02  # another type
    assert count == 4


@pytest.mark.parametrize("scatter", [None, 0.0, 0.2, 1.0])
def test_units_of_a_type_have_the_error_of_the_sheet_in_common(scatter):
    own = combination("new", engine=engine())  # built anew: another unit
    table, _ = drawn(study([own], band("engine-torque", scatter=scatter), PRESENT))
    pair = table["engine-torque", "new"], table["engine-torque", "present"]
    # Variances add: the covariance is that of the sheet.
    expected = 1.0 - (SCATTER if scatter is None else scatter)
    assert np.corrcoef(*pair)[0, 1] == pytest.approx(expected, abs=0.02)
    for values in pair:
        assert np.std(values) == pytest.approx(0.025, rel=0.01)
        assert stats.kstest(values, stats.norm(0, 0.025).cdf).statistic < 0.01


def test_the_ratio_of_two_units_has_the_spread_of_the_closed_form():
    # Torque is flat and absorbed as C omega^2, so the turbine torque at stall goes with the
    # engine's; the log of the ratio of two units has twice the variance of the scatter.
    bare = {"driveline": None, "machine": None}
    present = combination("present", engine=flat_engine(), **bare)
    own = combination("new", engine=flat_engine(), converter=present.converter, **bare)
    table, _ = drawn(study([own], band("engine-torque"), present, duty=Duty()))
    ratio = np.log1p(table["engine-torque", "new"]) - np.log1p(table["engine-torque", "present"])
    assert np.std(ratio) == pytest.approx(0.025 * np.sqrt(2 * SCATTER), rel=0.02)


@pytest.mark.parametrize("duty", [DUTY, DUTY.replace(routes=(road([0.0, 0.05, -0.03], 200.0,
                         surface=(surface(),) * 3),))], ids=["grades", "route"])  # fmt: skip
@pytest.mark.slow
def test_a_candidate_that_is_the_present_machine_keeps_everything_in_every_draw(duty):
    twin = PRESENT.replace(id="new")
    every = band("engine-torque", "k-factor", "torque-ratio", "accessories", "mass",
                 "rolling-resistance")  # fmt: skip
    result = uncertainty(study([twin], every, PRESENT, duty=duty), draws=256, sensitivities=False)
    kept = {item.name: item.probability for item in result.of("new").criteria}
    compared = ["tractive-effort-kept", "grade-start-kept", "speed-on-grades-kept",
                "top-speed-kept", "idle-creep"]  # fmt: skip
    compared += ["route-time-kept"] if duty.routes else []
    assert {name: kept[name] for name in compared} == dict.fromkeys(compared, 1.0)


def test_a_study_can_say_that_parts_are_the_same_though_named_twice():
    own = combination("new", engine=engine())
    same = SamePart(part="engine", combinations=("new", "present"))
    table, count = drawn(study([own], band("engine-torque"), PRESENT, same_parts=(same,)))
    assert count == 1
    assert table["engine-torque", "new"] is table["engine-torque", "present"]


def test_shared_is_one_draw_for_all_whatever_their_parts():
    own = combination("new", engine=engine(id="other"))
    _, count = drawn(study([own], band("engine-torque", shared=True), PRESENT))
    assert count == 1


@pytest.mark.slow
def test_a_worn_engine_is_shifted_alone_and_said():
    own = combination("new", engine=engine(id="other"))
    rows = (*band("engine-torque"), Tolerance(quantity="engine-torque", half_width=0.1,
            shift=-0.04, of="present"))  # fmt: skip
    made = study([own], rows, PRESENT)
    table, _ = drawn(made)
    assert np.median(table["engine-torque", "present"]) == pytest.approx(-0.04, abs=1e-3)
    assert np.ptp(table["engine-torque", "present"]) == pytest.approx(0.2, rel=0.01)
    assert np.median(table["engine-torque", "new"]) == pytest.approx(0.0, abs=1e-3)
    result = uncertainty(made, draws=64, sensitivities=False)
    [said] = [note_text(note, "si") for note in result.notes if note.code == "tolerance-shifted"]
    assert "-4 %" in said
    plain = result.to_dict()["tolerances"][1]
    assert (plain["shift"], plain["of"], plain["half_width"]) == (-0.04, "present", 0.1)


def test_a_tolerance_of_a_component_holds_for_all_its_units():
    own = combination("new", engine=engine())
    rows = (Tolerance(quantity="engine-torque", half_width=0.1, of="test-engine"),)
    table, count = drawn(study([own], rows, PRESENT))
    assert count == 2
    assert all(np.ptp(values) > 0.19 for values in table.values())


def test_the_input_of_the_present_machine_is_among_what_to_measure_first():
    # Only the present engine is in doubt, and the criteria compare with it.
    own = combination("new", engine=engine(id="other", torque=engine().torque * 0.955))
    rows = (Tolerance(quantity="engine-torque", half_width=0.1, of="present"),)
    first = uncertainty(study([own], rows, PRESENT), draws=512, sensitivities=False)
    [item] = first.of("new").measure_first
    assert (item.quantity, item.of) == ("engine-torque", "present")
    assert "of the present machine" in note_text(item.note, "si")


# --- correlations --------------------------------------------------------------------------------


@pytest.mark.parametrize("names", [("engine-torque", "accessories"), ("engine-torque", "k-factor"),
                                   ("mass", "k-factor")], ids="-".join)  # fmt: skip
@pytest.mark.parametrize("r", [-0.9, 0.5, 0.9])
@pytest.mark.parametrize("count", [1, 5])
def test_correlated_quantities_go_together_in_every_combination_however_many(names, r, count):
    many = [combination(f"c{k}", engine=engine(), converter=converter()) for k in range(count)]
    pair = Correlation(first=names[0], second=names[1], coefficient=r)
    table, _ = drawn(study(many, band(*names), PRESENT, correlations=(pair,)))
    for item in ("present", *(item.id for item in many)):
        ranks = stats.spearmanr(table[names[0], item], table[names[1], item])[0]
        assert ranks == pytest.approx(r, abs=0.02)
        for name in names:
            assert np.std(table[name, item]) == pytest.approx(0.025, rel=0.02)


def test_normal_draws_have_the_covariance_of_the_closed_form():
    # Gaussian copula with normal margins: Pearson 2 sin(pi r / 6); the linear combination against
    # the package uncertainties.
    from uncertainties import correlated_values

    pearson = 2 * np.sin(np.pi * 0.6 / 6)
    pair = Correlation(first="engine-torque", second="k-factor", coefficient=0.6)
    table, _ = drawn(study([PRESENT.replace(id="new")], band("engine-torque", "k-factor"),
                           correlations=(pair,)), 1 << 14)  # fmt: skip
    a, b = table["engine-torque", "new"], table["k-factor", "new"]
    assert np.corrcoef(a, b)[0, 1] == pytest.approx(pearson, abs=5e-3)
    x, y = correlated_values([0, 0], 0.025**2 * np.array([[1, pearson], [pearson, 1]]))
    assert np.std(3 * a - 2 * b) == pytest.approx((3 * x - 2 * y).std_dev, rel=5e-3)


def test_correlations_that_the_quantities_cannot_have_are_refused():
    names = ("engine-torque", "k-factor", "mass")
    pairs = [Correlation(first=names[i], second=names[j], coefficient=r)
             for i, j, r in ((0, 1, 0.9), (1, 2, 0.9), (0, 2, -0.9))]  # fmt: skip
    with pytest.raises(InputError, match="no numbers can go together like that"):
        drawn(study([PRESENT.replace(id="new")], band(*names), correlations=tuple(pairs)))


# --- draws without a match -----------------------------------------------------------------------


def test_a_draw_without_a_match_is_no_limit_exceeded():
    # At K = 30.2 (800 / 30.2)^2 = 702 N.m are absorbed at idle, where the engine has 700, and more
    # than it has above: a weak draw has no match at all. Nothing is absorbed then, no limit broken.
    tight = converter(capacity=converter().capacity * (60 / 30.2) ** 2)
    bare = {"driveline": None, "machine": None}
    own = combination("new", engine=engine(accessories=()), converter=tight, **bare)
    many = study([own], band("engine-torque", width=0.3), duty=Duty(),
                 limits=Limits(input_torque=5e3, stall_speed_most=2300 * RPM))  # fmt: skip
    result = uncertainty(many, draws=512, sensitivities=False).of("new")
    odds = {item.name: item for item in result.criteria}
    without = 1.0 - odds["single-stable-match"].probability
    assert 0.05 < without < 0.95
    torque = odds["converter-input-torque"]
    assert torque.probability == 1.0
    assert 0.05 < torque.no_match <= without
    assert torque.to_dict()["share_without_match"] == torque.no_match
    assert odds["single-stable-match"].no_match == 0.0


# --- refused -------------------------------------------------------------------------------------

ROW = '\n[[tolerance]]\nquantity = "engine-torque"\nhalf_width = 0.03\n'
WARM = '\n[[tolerance]]\nquantity = "air-temperature"\nhalf_width = { unit = "K", value = 3 }\n'


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (ROW + 'of = "presnt"\n', "did you mean 'present'"),
        (ROW + 'of = "single-stage-345mm-tight"\n', "no engine of that id"),
        (ROW + 'of = "present"\n' + ROW + 'of = "six-cylinder-10l5-138kw"\n',
         "names the same part already"),
        (ROW + 'of = "present"\nshared = true\n', "contradicts shared"),
        (ROW + "shared = true\n" + ROW + 'of = "present"\n', "contradicts shared"),
        (ROW + "scatter = 1.5\n", "0 to 1"),
        (ROW + "shift = -0.6\n", "wider than anything"),
        (WARM
         + 'of = "present"\n', "the same for every combination"),
        ('\n[[same_part]]\npart = "engine"\ncombinations = ["present", "new-enigne"]\n',
         "did you mean 'new-engine'"),
        ('\n[[same_part]]\npart = "engine"\ncombinations = ["present", "new-engine"]\n',
         "do not have the same engine"),
        ('\n[[same_part]]\npart = "engine"\ncombinations = ["present"]\n', "at least two"),
        ('\n[[same_part]]\npart = "tyre"\ncombinations = ["present", "new-engine"]\n', "part"),
    ],
)  # fmt: skip
def test_what_contradicts_or_is_not_there_is_refused(tmp_path, more, says):
    with pytest.raises(InputError) as caught:
        read_study(study_file(tmp_path, more=more))
    assert says in str(caught.value)


def test_the_file_says_parts_shift_and_scatter(tmp_path):
    more = ROW + ROW + 'of = "present"\nshift = { unit = "percent", value = -4 }\nscatter = 0.2\n'
    more += '\n[[same_part]]\npart = "converter"\ncombinations = ["present", "new-engine"]\n'
    found = read_study(study_file(tmp_path, more=more))
    assert (found.tolerances[1].of, found.tolerances[1].shift) == ("present", -0.04)
    assert found.tolerances[1].split == 0.2
    assert found.same_parts == (SamePart(part="converter", combinations=("present", "new-engine")),)
