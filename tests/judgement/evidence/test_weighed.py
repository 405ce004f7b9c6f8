"""Readings of a study: what they should have been, what they change, and what they leave alone."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

import converter_match as cm
from converter_match.components.arrangement import Arrangement, HydraulicSharing
from converter_match.components.engine import SpeedTable
from converter_match.errors import InputError
from converter_match.judgement.evidence.evidence import evidence, weighed
from converter_match.judgement.evidence.prior import Prior, prior_of
from converter_match.judgement.evidence.readings import predicted
from converter_match.judgement.match.solve import solve
from converter_match.judgement.uncertainty.inputs import drawn_inputs
from converter_match.judgement.uncertainty.judged import judged
from converter_match.judgement.verdict.outcome import outcome
from converter_match.judgement.verdict.view import Nominal
from converter_match.library.study_file import read_study
from converter_match.physics.stall.settling import density_factor
from converter_match.study.doubts import Tolerance
from converter_match.study.measurement import Measurement
from converter_match.study.study import PRESENT, Duty, Study
from converter_match.units import note_text
from tests.evidence_machines import (
    TARGETS,
    exchange_unit,
    found_wrong,
    looked_for,
    of_yard,
    without_model_error,
    yard,
)
from tests.examples import RPM, converter
from tests.machines import surface
from tests.study_examples import combination, flat_engine

BARE = {"driveline": None, "machine": None}
TORQUE, WIDE = 0.05, 0.04  # standard deviations of engine torque and K-factor


def tolerance(quantity, deviation, **changes):
    return Tolerance(
        quantity=quantity, half_width=2.0 * deviation, distribution="normal", **changes
    )


def study(*readings, tolerances=None, present=None, candidate=None, **changes):
    """A study whose stall speed is the root of torque over capacity."""
    old = combination(PRESENT, engine=flat_engine(), **BARE) if present is None else present
    other = flat_engine(1000.0, id="other")
    new = candidate or combination("new", engine=other, converter=old.converter, **BARE)
    given = tolerances or (tolerance("engine-torque", TORQUE), tolerance("k-factor", WIDE))
    fields = {"id": "s", "name": "S", "source": "t", "duty": Duty(), "work_error": 0.0} | changes
    return Study(
        present=old, candidates=(new,), tolerances=given, measurements=tuple(readings), **fields
    )


def stall(value, deviation=10 * RPM, **changes):
    fields = {"quantity": "stall-speed", "combination": PRESENT, "model_error": 0.0}
    return Measurement(value=value, deviation=deviation, **(fields | changes))


def nominal_stall():
    return float(np.sqrt(900.0 / converter().capacity_at(0.0)))


# --- against closed forms and integrals ------------------------------------------------------


@pytest.mark.parametrize("off", [-0.04, 0.03])
def test_a_stall_reading_gives_the_integrals_over_torque_and_k_factor(off):
    # T (1 + e) = C / (1 + k)^2 w^2, so w = w_0 sqrt(1 + e) (1 + k): two parameters, one reading.
    middle = nominal_stall()
    value, sigma = middle * (1.0 + off), 0.01 * middle
    grid = np.linspace(-0.3, 0.3, 801)
    e, k = np.meshgrid(grid, grid, indexing="ij")
    speed = middle * np.sqrt(1.0 + e) * (1.0 + k)
    density = (
        stats.norm.pdf(e, 0, TORQUE) * stats.norm.pdf(k, 0, WIDE)
        * stats.norm.pdf(value, speed, sigma)
    )  # fmt: skip

    def integral(of):
        return integrate.simpson(integrate.simpson(of * density, x=grid), x=grid)

    whole = integral(np.ones_like(e))
    found = weighed(study(stall(value, sigma)), draws=8192)
    assert not found.refused
    error = 5.0 / np.sqrt(found.updated.effective_size)
    for item in found.inputs:
        if PRESENT not in item.combinations:
            continue
        of = e if item.quantity == "engine-torque" else k
        width = TORQUE if item.quantity == "engine-torque" else WIDE
        mean, square = integral(of) / whole, integral(of * of) / whole
        assert np.mean(item.deviations) == pytest.approx(mean, abs=error * width)
        assert np.std(item.deviations) == pytest.approx(
            np.sqrt(square - mean**2), abs=error * width
        )


def test_what_no_reading_touches_keeps_its_prior():
    given = study(stall(nominal_stall() * 0.97))
    read = evidence(given, draws=4096)
    by_name = {(item.quantity, item.combinations): item for item in read.parts}
    assert [item.quantity for item in read.untouched] == ["engine-torque"]
    alone = by_name["engine-torque", ("new",)]
    assert alone.after == pytest.approx((0.0, TORQUE), abs=0.02 * TORQUE)
    assert by_name["k-factor", (PRESENT, "new")].learned == "sharpened"
    # The converter stays, so the candidate's stall speed is known better as well.
    [figure] = [
        item for item in read.figures
        if item.combination == "new" and item.before.name == "stall-speed"
    ]  # fmt: skip
    assert figure.after.high - figure.after.low < 0.95 * (figure.before.high - figure.before.low)


def test_another_unit_of_the_type_shares_the_error_of_the_sheet_only():
    old = combination(PRESENT, engine=flat_engine(), **BARE)
    other = combination("new", engine=old.engine, converter=converter(), **BARE)  # anew: a unit
    exact = tolerance("engine-torque", 1e-6)
    given = study(
        stall(nominal_stall() * 1.04, 1e-4), present=old, candidate=other,
        tolerances=(exact, tolerance("k-factor", WIDE, scatter=0.5)),
    )  # fmt: skip
    found = weighed(given, draws=4096)
    mean = {item.combinations[0]: float(np.mean(item.deviations)) for item in found.inputs
            if item.quantity == "k-factor"}  # fmt: skip
    # K of the present one is read; of the other half of that is to be expected, by regression.
    assert mean[PRESENT] == pytest.approx(0.04, abs=1e-3)
    assert mean["new"] == pytest.approx(0.02, abs=2e-3)


def test_repeats_narrow_the_instrument_and_not_the_model():
    one = stall(100.0, 4.0, model_error=0.03)
    four = replace(one, repeats=4)
    other_day = replace(one, date="2026-05-04", value=101.0)
    prior = Prior(study(), (one, four, other_day))
    covariance = prior.covariance
    assert covariance[0, 0] == pytest.approx(16.0 + 9.0)
    assert covariance[1, 1] == pytest.approx(4.0 + 9.0)
    assert covariance[0, 2] == pytest.approx(0.03**2 * 100.0 * 101.0)  # one model error for both


# --- predictions -----------------------------------------------------------------------------


def test_predictions_without_deviations_are_what_the_data_say():
    whole = yard()
    site, present = whole.sites[0], whole.present
    where = {"combination": PRESENT, "deviation": 1.0, "site": site, "air_known": (True, True)}
    asked = (
        Measurement(quantity="stall-speed", oil_temperature=358.15, **where),
        Measurement(quantity="top-speed", **where),
        Measurement(quantity="speed-on-grade", gear="2", grade=0.08, **where),
        Measurement(quantity="weight", combination=PRESENT, deviation=1.0, load="empty"),
        Measurement(quantity="engine-torque", combination=PRESENT, deviation=1.0,
                    engine_speed=150.0),
        Measurement(quantity="k-factor", combination=PRESENT, deviation=1.0, speed_ratio=0.5),
        Measurement(quantity="torque-ratio", combination=PRESENT, deviation=1.0, speed_ratio=0.5),
        Measurement(quantity="rolling-radius", combination=PRESENT, deviation=1.0),
    )  # fmt: skip
    exact = whole.replace(tolerances=(tolerance("engine-torque", 1e-9),))
    [row] = predicted(Prior(exact, asked), np.zeros((1, Prior(exact, asked).size)))
    thicker = present.converter.replace(
        capacity=present.converter.capacity * density_factor(358.15)
    )
    view = Nominal(outcome(present, whole.conditions[0], whole.duty))
    geared = present.replace(
        driveline=present.driveline.replace(gears=(present.driveline.gear("2"),))
    )
    in_gear = Nominal(outcome(geared, whole.conditions[0], Duty(
        surface=whole.duty.surface, load=whole.duty.load, grades=(0.08,))))  # fmt: skip
    expected = [
        solve(present.engine, thicker, site=site).stall.engine_speed,
        view.speed_on(0.0)[0],
        in_gear.speed_on(0.08)[0],
        present.machine.mass_empty,
        float(present.engine.full_load(150.0)),
        float(present.converter.capacity_at(0.5)) ** -0.5,
        float(present.converter.torque_ratio_at(0.5)),
        present.machine.rolling_radius,
    ]
    np.testing.assert_allclose(row, expected, rtol=1e-6)


@pytest.mark.parametrize(
    ("quantity", "settings", "change"),
    [
        ("pull", {"gear": "1"}, ("torque-ratio", 0.02)),
        ("time-to-speed", {"speed": 3.0}, ("mass", 0.05)),
        ("temperature-rise", {"duration": 20.0}, ("k-factor", -0.03)),
        ("top-speed", {"gear": "3"}, ("rolling-radius", 0.02)),
    ],
)
def test_a_reading_goes_with_the_part_as_the_machine_built_so_does(quantity, settings, change):
    name, share = change
    whole = yard().replace(tolerances=(tolerance(name, 0.05),))
    item = Measurement(quantity=quantity, combination=PRESENT, deviation=1.0, site=whole.sites[0],
                       air_known=(True, True), **settings)  # fmt: skip
    prior = prior_of(whole, (item,))
    scores = np.zeros((3, prior.size))
    scores[1:, prior.touched()[0]] = share / 0.05, -share / 0.05
    moved = predicted(prior, scores)[:, 0]
    other = whole.replace(present=built(whole.present, name, share))
    after = prior_of(other, (item,))
    expected = predicted(after, np.zeros((1, after.size)))[0, 0]
    assert moved[1] / moved[0] == pytest.approx(expected / moved[0], rel=2e-3)
    assert moved[1] != pytest.approx(moved[0], rel=2e-3)


def built(item, name, share):
    """The combination with one of its parts made otherwise."""
    box, machine = item.converter, item.machine
    if name == "torque-ratio":
        mu = box.torque_ratio
        scaled = 1.0 + (mu - 1.0) * (mu[0] * (1.0 + share) - 1.0) / (mu[0] - 1.0)
        return item.replace(converter=box.replace(torque_ratio=scaled))
    if name == "k-factor":
        return item.replace(converter=box.replace(capacity=box.capacity / (1.0 + share) ** 2))
    if name == "mass":
        heavier = {key: getattr(machine, key) * (1.0 + share) for key in ("mass_empty", "payload")}
        return item.replace(machine=machine.replace(**heavier))
    return item.replace(machine=machine.with_radius(1.0 + share))


def test_other_ground_and_other_air_are_those_of_the_day():
    whole = yard()
    other = surface(name="gravel", rolling_resistance=0.05)
    drive = Measurement(quantity="speed-on-grade", combination=PRESENT, deviation=0.1, value=2.0,
                        gear="2", grade=0.08, site=whole.sites[0], ground="other",
                        surface=other)  # fmt: skip
    prior = prior_of(whole.replace(tolerances=(*whole.tolerances, tolerance(
        "air-temperature", 3.0))), (drive,))  # fmt: skip
    own = {name for name, level, _ in prior.names if level == "day"}
    assert own == {"rolling-resistance", "air-temperature", "payload"}
    touched = {prior.names[k][:2] for k in prior.touched()}
    assert ("rolling-resistance", "day") in touched
    assert ("rolling-resistance", "unit") not in touched
    assert ("air-temperature", "unit") not in touched
    # The days do not go with the parts: they are independent of each other.
    scores = prior.draw(4096, 0)
    assert np.abs(np.corrcoef(scores.T) - np.eye(prior.size)).max() < 0.02


# --- contradictions --------------------------------------------------------------------------


def test_a_contradiction_is_named_and_nothing_is_made_of_it():
    wrong = stall(nominal_stall() * 1.3)
    given = study(wrong)
    read = evidence(given, draws=2048)
    assert read.refused == "conflict"
    assert not read.accepted
    assert read.posterior is None
    assert not read.figures
    [row] = read.readings
    assert row.place == "contradicts"
    said = " ".join(note_text(note, "si") for note in row.points_to)
    assert "to be expected" in said
    assert "engine torque" in said
    assert "above" in said
    for item in read.parts:  # nothing is shown of what it would come to
        assert item.before == item.after


def test_readings_that_fit_alone_may_contradict_together():
    high = stall(nominal_stall() * 1.07)
    sheet = float(converter().capacity_at(0.0)) ** -0.5
    bench = Measurement(quantity="k-factor", combination=PRESENT, speed_ratio=0.0, model_error=0.0,
                        value=sheet, deviation=0.02)  # fmt: skip
    torque = Measurement(quantity="engine-torque", combination=PRESENT, engine_speed=1600 * RPM,
                         value=900.0, deviation=5.0, model_error=0.0)  # fmt: skip
    read = evidence(study(high, bench, torque), draws=2048)
    assert read.refused == "conflict"
    assert read.joint < 0.01
    assert min(item.p for item in read.readings) > 0.01 / 3
    with pytest.raises(InputError, match=r"contradicts measurement no\. 1"):
        study(high, replace(high, value=0.9 * high.value))


@pytest.mark.slow
def test_units_that_were_confused_are_named():
    heavy = yard().replace(measurements=(Measurement(
        quantity="weight", combination=PRESENT, value=17000 / 0.90718474, deviation=50.0,
        load="empty"),))  # fmt: skip
    read = evidence(heavy, draws=1024)
    said = " ".join(note_text(note, "si") for note in read.readings[0].points_to)
    assert "read in short ton and written in t" in said or "short ton" in said


def test_too_few_draws_are_refused_and_said(monkeypatch):
    monkeypatch.setattr("converter_match.judgement.evidence.update.LEAST_EFFECTIVE", 1e9)
    read = evidence(study(stall(nominal_stall())), draws=512)
    assert read.refused == "few"
    assert not read.accepted
    assert [note.code for note in read.contradictions] == ["few"]


def test_a_reading_that_depends_on_more_than_it_may_is_refused(monkeypatch):
    given = study(stall(nominal_stall()))
    known = Prior.touched
    # As if the converter had been forgotten among what a stall speed depends on.
    monkeypatch.setattr(
        Prior,
        "touched",
        lambda self, rows=None: tuple(
            k for k in known(self, rows) if self.names[k][0] != "k-factor"
        ),
    )
    read = evidence(given, draws=512)
    assert read.refused == "leak"
    assert not read.accepted


@pytest.mark.slow
def test_with_contradicting_readings_nothing_can_be_ordered():
    shipped = read_study("loader-in-the-yard")
    assert cm.run_study(shipped, draws=1024).decision.code == "order"
    wrong = replace(shipped.measurements[0], value=shipped.measurements[0].value * 1.25)
    result = cm.run_study(shipped.replace(measurements=(wrong,)), draws=1024)
    assert result.evidence.refused == "conflict"
    assert result.decision.code == "conditional"
    assert "readings-unsettled" in [note.code for note in result.decision.reasons]
    assert "settle-readings" in [note.code for note in result.decision.before_ordering]
    assert result.decision.probability == result.uncertainty.of("new-engine").all_musts
    # Without draws nothing was weighed: no yes either.
    assert cm.run_study(shipped, draws=0).decision.code == "conditional"


@pytest.mark.slow
def test_the_probability_after_the_readings_is_the_one_that_counts():
    shipped = read_study("loader-in-the-yard")
    result = cm.run_study(shipped, draws=2048)
    read = result.evidence
    [odds] = [item for item in read.odds if not item.criterion]
    assert odds.before == result.uncertainty.of("new-engine").all_musts
    assert odds.after == read.posterior.of("new-engine").all_musts == result.decision.probability
    assert odds.before < odds.asked == 0.9 < odds.after
    plain = result.to_dict()["evidence"]
    assert plain["accepted"] is True
    assert plain["criteria"][-1]["after"] == odds.after
    assert {row["learned"] for row in plain["parts"]} == {"sharpened", "touched", "untouched"}


def test_work_differs_from_a_test_by_its_own_error():
    quiet, loud = study(stall(nominal_stall())), study(stall(nominal_stall()), work_error=0.03)
    spread = [
        float(np.std(judged(given, drawn_inputs(given, 2048, 0), 2048).sampled[0][0].torque))
        for given in (quiet, loud)
    ]
    assert spread[0] == pytest.approx(TORQUE, rel=0.02)
    assert spread[1] == pytest.approx(np.hypot(TORQUE, 0.03), rel=0.03)
    without = study(work_error=0.03)
    assert np.std(judged(without, drawn_inputs(without, 2048, 0), 2048).sampled[0][0].torque) == (
        pytest.approx(TORQUE, rel=0.02)
    )


def test_studies_without_tolerances_take_no_readings():
    with pytest.raises(InputError, match="nothing is in doubt"):
        yard().replace(tolerances=(), measurements=of_yard(1, yard()))
    with pytest.raises(InputError, match="no measurements"):
        cm.evidence(yard())


# --- calibration, small; the whole stands in benchmarks/evidence_calibration.py ---------------


@pytest.mark.slow
def test_bands_cover_planted_machines():
    prior = Prior(yard(), of_yard(3, yard()))
    found = looked_for(prior, prior, machines=60, draws=512)
    low, high = stats.binom(60, 0.8).ppf([0.0005, 0.9995]) / 60
    for k, name in enumerate(TARGETS):
        assert low <= found.coverage(k, 0.8) <= high, name
        assert stats.kstest(found.ranks[:, k], "uniform").pvalue > 1e-4, name


@pytest.mark.slow
def test_mistakes_in_what_is_believed_cost_coverage():
    whole = yard()
    readings = of_yard(3, whole)
    right, k = Prior(whole, readings), TARGETS.index("stall speed, candidate")
    other = looked_for(Prior(exchange_unit(whole), readings), right, machines=60, draws=512)
    assert other.coverage(k, 0.95) < 0.9
    exact = Prior(whole, without_model_error(readings))
    assert exact.covariance[0, 0] < right.covariance[0, 0]


def test_a_worse_reading_is_found_more_often():
    prior = Prior(yard(), of_yard(1, yard()))
    shares = [found_wrong(prior, error, machines=60, draws=512) for error in (0.0, 0.08, 0.2)]
    assert shares[0] <= 0.05
    assert shares[0] < shares[1] < shares[2]
    assert shares[2] == 1.0


def test_pumps_are_apart_from_the_fan_where_they_have_a_tolerance_of_their_own():
    # A table of the pumps and nothing else: a share p of their torque is p of the load, and the
    # accessories, of which there are none, move nothing.
    pumps = SpeedTable(speed=np.array([800.0, 2400.0]) * RPM, value=[100.0, 100.0], name="relief")
    idle = SpeedTable(speed=np.array([800.0, 2400.0]) * RPM, value=[0.0, 0.0], name="standby")
    shared = Arrangement(
        id="a", name="A", source="t",
        hydraulic_sharing=HydraulicSharing(standby=idle, partial=pumps, relief=pumps),
    )  # fmt: skip
    old = combination(PRESENT, engine=flat_engine(), arrangement=shared)
    given = study(
        present=old, candidate=combination("new", engine=old.engine, arrangement=shared),
        tolerances=(tolerance("pumps", 0.2), tolerance("accessories", 0.2)),
    )  # fmt: skip
    asked = stall(None, pumps="relief"), stall(None)
    prior = prior_of(given, asked)
    scores = np.zeros((2, prior.size))
    place = next(k for k, name in enumerate(prior.names) if name[0] == "pumps")
    scores[1, place] = 0.5  # 10 % more
    found = predicted(prior, scores)
    capacity = float(converter().capacity_at(0.0))
    np.testing.assert_allclose(found[:, 0], np.sqrt(np.array([800.0, 790.0]) / capacity), rtol=1e-9)
    np.testing.assert_allclose(found[:, 1], nominal_stall(), rtol=1e-9)
