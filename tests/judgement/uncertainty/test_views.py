"""The view of a draw: with no deviation it is the nominal one, with one it is the machine built so.

Every criterion is measured on views, so it is drawn as soon as it is there.
"""

from __future__ import annotations

import numpy as np
import pytest

from converter_match.components.machine import Cooler
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.match.solve import solve
from converter_match.judgement.uncertainty.response import few_draws, responses, steps_of
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.judgement.verdict.assessment import CRITERIA, assess
from converter_match.judgement.verdict.criteria_wheels import continuous_heat
from converter_match.judgement.verdict.measure import Verdict, holds, measure_note
from converter_match.judgement.verdict.outcome import outcome
from converter_match.judgement.verdict.view import Nominal, View
from converter_match.judgement.wheels.tractive import tractive
from converter_match.library.read import read_arrangement, read_converter, read_engine
from converter_match.library.shipped import find
from converter_match.library.study_file import read_study
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import Condition, Duty, Limits, Study, Tolerance
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.haul_examples import road
from tests.machines import driveline, machine, surface
from tests.study_examples import combination

GRADES = [0.0, 0.05, -0.03, 0.02]


def route(ground=None):
    """Up and down, on the tests' own ground."""
    return road(GRADES, 300.0, surface=(ground or surface(),) * len(GRADES))


HERE = Condition(site=None, hydraulic_torque=0.0)
DUTY = Duty(surface=surface(), grades=(0.0, 0.05, 0.1), continuous_grade=0.05, routes=(route(),))
SPEEDS = np.linspace(0.0, 6.0, 13)
# What a draw makes of an engine's torque curve between its nodes is good to less than this.
OF_A_CURVE = 2e-3


def real(name: str = "new", **changes):
    return combination(name, **({"engine": engine()} | changes))


def views(item, duty=DUTY, size=1, **deviations):
    made = outcome(item, HERE, duty)
    given = {name.replace("_", "-"): np.full(size, v) for name, v in deviations.items()}
    return Nominal(made), Sampled(made, given, size)


def quantities(view: View, duty: Duty = DUTY) -> dict[str, np.ndarray]:
    """Return every quantity of a view by its name."""
    grades = sorted({0.0, *duty.grades})
    given = {
        "usable_share": [(0.7,), (0.8,), (0.85,)],
        "effort": [(SPEEDS,)],
        **{name: [(grade,) for grade in grades] for name in ("speed_on", "heat_on", "cooled_on")},
    }
    values = {}
    for name in View.__abstractmethods__:
        read = getattr(view, name)
        for k, arguments in enumerate(given.get(name, [None])):
            value = read if arguments is None else read(*arguments)
            values[f"{name} {k}"] = np.asarray(value, dtype=np.float64)
    return values


@pytest.mark.parametrize(
    "item",
    [
        real(),
        real(engine=engine(torque=engine().torque * 0.3)),
        real(machine=machine(payload=60_000.0)),  # climbs no grade
        real(converter=converter(
            speed_ratio=converter().speed_ratio[:6], torque_ratio=converter().torque_ratio[:6],
            capacity=converter().capacity[:6],
        )),
    ],
    ids=["as-usual", "weak", "heavy", "data-end-early"],
)  # fmt: skip
@pytest.mark.slow
def test_a_draw_without_deviations_is_the_nominal_machine_in_every_quantity(item):
    nominal, drawn = views(item)
    expected, got = quantities(nominal), quantities(drawn)
    for name, value in expected.items():
        assert got[name].shape == value.shape, name
        assert got[name] == pytest.approx(value, rel=OF_A_CURVE, nan_ok=True), name


def test_behind_a_torque_divider_the_impeller_of_a_draw_is_the_nominal_one_too():
    item = real(
        engine=read_engine(find("engines", "six-cylinder-15l-400kw")),
        converter=read_converter(find("converters", "single-stage-390mm-full-range")),
        arrangement=read_arrangement(find("arrangements", "dozer-torque-divider")),
        driveline=None,
        machine=None,
    )
    nominal, drawn = views(item, Duty())
    for what in ("stall_speed", "impeller_torque", "impeller_power", "turbine_torque"):
        assert getattr(drawn, what) == pytest.approx(getattr(nominal, what), rel=1e-9), what
    # K lower by 2 % holds the engine at a lower speed, where this one has more torque.
    _, tighter = views(item, Duty(), k_factor=-0.02)
    assert tighter.impeller_torque > 1.01 * nominal.impeller_torque


def test_a_view_that_lacks_a_quantity_cannot_be_made():
    lacking = type("Lacking", (View,), {
        name: None for name in View.__abstractmethods__ - {"idle_torque"}
    })  # fmt: skip
    with pytest.raises(TypeError, match="idle_torque"):
        lacking()


# --- a draw is the machine built with its deviations ---------------------------------------------


def test_effort_at_every_road_speed_is_that_of_the_machine_built_with_the_draw():
    _, drawn = views(real(), size=3, engine_torque=0.03, k_factor=-0.02, torque_ratio=0.02)
    mu = converter().torque_ratio
    share = (1.02 * mu[0] - 1.0) / (mu[0] - 1.0)
    pair = solve(
        engine(torque=engine().torque * 1.03),
        converter(capacity=converter().capacity * 0.98**-2, torque_ratio=1.0 + (mu - 1.0) * share),
    )
    built = tractive(pair, driveline(), machine(), surface()).envelope
    expected = np.interp(SPEEDS, built.speed, built.force)
    # Lock-up speeds stay those of the data; at these speeds the lowest gear is in converter drive.
    slow = SPEEDS < 4.0
    assert drawn.effort(SPEEDS)[slow, 0] == pytest.approx(expected[slow], rel=2e-3)


def test_a_driven_draw_is_the_run_of_the_machine_built_with_it():
    _, drawn = views(real(), size=2, engine_torque=0.03, mass=0.04, rolling_resistance=-0.1)
    heavy = machine(mass_empty=15_000 * 1.04, payload=5_000 * 1.04)
    strong = solve(engine(torque=engine().torque * 1.03), converter())
    ground = surface(rolling_resistance=0.9 * surface().rolling_resistance)
    run = haul(strong, driveline(), heavy, route(ground))
    # The march takes effort from a table of torque factors and of tread speed.
    assert drawn.route_time[0] == pytest.approx(run.time, rel=2e-3)
    assert drawn.hottest_oil[0] == pytest.approx(run.totals.hottest[0], abs=0.5)


@pytest.mark.slow
def test_what_takes_a_machine_of_its_own_changes_a_route_as_that_machine_does():
    _, drawn = views(real(), size=2, k_factor=0.03, accessories=0.2)
    base = engine()
    loaded = base.replace(
        accessories=tuple(type(item)(name=item.name, power=1.2 * item.power,
                                     at_speed=item.at_speed, exponent=item.exponent)
                          for item in base.accessories)
    )  # fmt: skip
    loose = converter(capacity=converter().capacity * 1.03**-2)
    run = haul(solve(loaded, loose), driveline(), machine(), route())
    nominal = haul(solve(base, converter()), driveline(), machine(), route())
    assert run.time / nominal.time != pytest.approx(1.0, abs=1e-4)  # they do change something
    # Effects multiply, from runs with steps four times as long.
    assert drawn.route_time[0] == pytest.approx(run.time, rel=2e-3)


@pytest.mark.slow
def test_draws_that_are_not_driven_lie_between_those_that_are():
    size = 200
    mass = np.linspace(-0.04, 0.04, size)
    order = np.argsort(np.sin(np.arange(size)))  # the first ones lie everywhere
    made = outcome(real(), HERE, DUTY)
    drawn = Sampled(made, {"mass": mass[order]}, size)
    time = np.empty(size)
    time[order] = drawn.route_time[0]
    assert 0.0 < drawn.route_doubt < 0.02
    for k in (30, 100, 170):
        heavy = machine(mass_empty=15_000 * (1 + mass[k]), payload=5_000 * (1 + mass[k]))
        run = haul(made.match, driveline(), heavy, route())
        assert time[k] == pytest.approx(run.time, rel=5e-3)


def test_a_response_is_exact_for_powers():
    # y = m^2 / c: changes multiply, and a power is a straight line in logarithms of the factor.
    shift = {"m": np.array([0.0, 0.03, -0.05]), "c": np.array([0.02, 0.0, 0.04])}
    steps = steps_of(shift)
    few = few_draws(steps)
    answer = responses(shift, steps, 7.0 * (1 + few["m"]) ** 2 / (1 + few["c"]))
    assert answer == pytest.approx(7.0 * (1 + shift["m"]) ** 2 / (1 + shift["c"]), rel=1e-4)


# --- criteria -------------------------------------------------------------------------------------


def test_every_criterion_of_the_catalogue_has_the_one_function_that_measures_it():
    assert set(CRITERIA) == set(CATALOGUE)


BAND = (
    Tolerance(quantity="engine-torque", half_width=0.02),
    Tolerance(quantity="mass", half_width=0.02, shared=True),
)
KNOWN = Limits(
    input_torque=1500.0, input_power=400e3, input_speed=2600 * RPM, turbine_torque=4000.0,
    engine_speed=2600 * RPM, heat=300e3, oil_temperature=400.0,
)  # fmt: skip


@pytest.mark.slow
def test_no_criterion_that_is_known_is_left_undrawn():
    study = Study(
        id="s", name="S", source="test", present=real("present"), candidates=(real(),), duty=DUTY,
        limits=KNOWN, tolerances=BAND,
    )  # fmt: skip
    result = uncertainty(study, draws=128, sensitivities=False).of("new")
    assert {item.name for item in result.criteria} == set(CATALOGUE)
    undrawn = {item.name for item in result.criteria if item.probability is None}
    assert undrawn == {item.name for item in result.criteria if item.nominal == "not known"}
    for name in ("converter-input-speed", "governed-overspeed"):  # no tolerance moves high idle
        assert next(i for i in result.criteria if i.name == name).probability in (0.0, 1.0)


@pytest.mark.slow
def test_nominal_verdict_and_a_draw_without_deviations_agree_on_every_criterion():
    study = Study(
        id="s", name="S", source="test", present=real("present"),
        candidates=(real(engine=engine(torque=engine().torque * 0.93)),), duty=DUTY, limits=KNOWN,
    )  # fmt: skip
    own, present = (outcome(item, HERE, DUTY) for item in (study.candidates[0], study.present))
    assessment = assess(study, (own,), (present,))
    verdicts = {item.verdict for item in assessment.findings}
    assert {Verdict.PASS, Verdict.FAIL} <= verdicts
    for finding in assessment.findings:
        measure = CRITERIA[finding.choice.name]
        drawn = [Sampled(item, {"mass": np.zeros(2)}, 2) for item in (own, present)]
        measures = measure(study, finding.choice, *drawn)
        if finding.verdict is Verdict.NOT_KNOWN:
            assert measures.missing, finding.choice.name
        else:
            expected = finding.verdict is not Verdict.FAIL
            assert holds(measures.kept).tolist() == [expected] * 2, finding.choice.name


def test_heat_that_a_lower_gear_keeps_within_the_cooler_counts_as_held_in_draws_as_well():
    # On 5 % the fastest gear, locked up, makes 10.4 kW in the gearbox and the second 8.3 kW. At
    # 393.15 K, its limit, oil gives 9 kW away in the 298.15 K that are taken without a site.
    cooler = Cooler.from_rating(9e3, 393.15, 298.15)
    nominal, drawn = views(real(machine=machine(cooler=cooler)), size=2, mass=0.0)
    assert 9e3 < nominal.heat_on(0.05)[0] < 11e3
    study = Study(id="s", name="S", source="t", candidates=(real(),), duty=DUTY, tolerances=BAND)
    choice = CATALOGUE["continuous-heat"].choice()
    found = continuous_heat(study, choice, nominal, None).nominal
    assert found.verdict is Verdict.MARGINAL
    assert found.reserve < 0.0
    assert "continuous only in gear" in note_text(measure_note(found), "si")
    assert holds(continuous_heat(study, choice, drawn, None).kept).all()
    # A limit of the study that the lower gear does not meet either is no matter of gears.
    tight = study.replace(limits=Limits(heat=8e3))
    assert not holds(continuous_heat(tight, choice, drawn, None).kept).any()


@pytest.mark.slow
def test_all_musts_is_the_joint_probability_and_known_where_one_fails_in_every_draw():
    shipped = read_study("quarry-loader-repower")
    study = shipped.replace(
        sites=shipped.sites[:1], duty=shipped.duty.replace(hydraulic_torque=0.0)
    )
    result = uncertainty(study, draws=64, sensitivities=False)
    for item in result.combinations:
        musts = [row for row in item.criteria if row.weight == "must"]
        known = [row.probability for row in musts if row.probability is not None]
        assert item.all_musts is not None, item.combination
        # Frechet's bounds of a joint probability
        assert item.all_musts <= min(known)
        assert item.all_musts >= 1.0 - sum(1.0 - p for p in known) - 1e-12
    # Limits of its converter are not given, but it has no single match in any draw.
    assert result.of("late-boost").all_musts == 0.0
