"""Draws of the shipped loader against a Monte Carlo of its own: numpy, scipy and the files alone.

Engine and converter are interpolated, matched (`scipy.optimize.brentq`), geared and balanced on the
road here again, one machine at a time; nothing of the package is called but for its answer.
"""

import tomllib

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.judgement.verdict.outcome import outcome
from converter_match.library.shipped import find
from converter_match.library.study_file import read_study
from converter_match.study.study import Condition, Limits

RPM, G = np.pi / 30, 9.80665
FOOT_POUND = 1.3558179483314
AIR = 1.225  # sea level of the 1976 standard atmosphere: what is taken without a site


def data(kind, name):
    return tomllib.loads(find(kind, name).read_text(encoding="utf-8"))


class Loader:
    """The shipped quarry loader, written out anew."""

    def __init__(self, torque=1.0, k=1.0, mass=1.0, rolling=1.0):
        file = data("engines", "six-cylinder-7l-185kw")
        speed = np.array(file["full_load"]["speed"]["values"]) * RPM
        self.full = PchipInterpolator(speed, file["full_load"]["torque"]["values"])
        self.rated, self.last = speed[-1], float(file["full_load"]["torque"]["values"][-1])
        self.idle, self.high = (file[key]["value"] * RPM for key in ("low_idle", "high_idle"))
        self.loads = [
            (item["power"]["value"] * 1e3 / (item["at_speed"]["value"] * RPM),
             item["at_speed"]["value"] * RPM, item["exponent"] - 1)
            for item in file["accessory"]
        ]  # fmt: skip
        box = data("converters", "single-stage-345mm-tight")
        table, nu = box["characteristic"], np.array(box["characteristic"]["speed_ratio"])
        per_k = np.array(table["capacity"]["values"]) * RPM / np.sqrt(FOOT_POUND)
        rows = {"mu": np.array(table["torque_ratio"]), "c": per_k**-2.0}
        self.coupling, self.end = box["coupling_speed_ratio"]["value"], nu[-1]
        low, high = nu <= self.coupling, nu >= self.coupling
        self.sides = {name: (PchipInterpolator(nu[low], row[low]),
                             PchipInterpolator(nu[high], row[high]))
                      for name, row in rows.items()}  # fmt: skip
        self.line, self.body = (
            data("drivelines", "four-speed-loader"),
            data("machines", "wheel-loader-17t"),
        )
        slip = self.body["slip"]
        self.slip = PchipInterpolator(slip["use"], slip["slip"])
        self.torque, self.k, self.rolling = torque, k, rolling * ROLLING
        self.mass = mass * 22.2e3
        self.radius = self.body["tyre"]["rolling_radius"]["value"] / 1e3

    def net(self, w):
        droop = self.last * (self.high - w) / (self.high - self.rated)
        made = float(self.full(w)) if w <= self.rated else droop
        return self.torque * made - sum(t * (w / at) ** m for t, at, m in self.loads)

    def of_box(self, name, nu):
        below, above = self.sides[name]
        return float(below(nu) if nu <= self.coupling else above(nu))

    def engine_speed(self, nu):
        c = self.of_box("c", nu) * self.k**-2.0
        return brentq(lambda w: self.net(w) - c * w * w, self.idle, self.high, xtol=1e-9)

    def push(self, nu, gear):
        w = self.engine_speed(nu)
        impeller = self.of_box("c", nu) * self.k**-2.0 * w * w
        turbine = self.of_box("mu", nu) * impeller
        drag = self.line["drag"]
        loss = drag["constant"]["value"] + drag["rising"]["value"] * nu * w / (
            drag["at_speed"]["value"] * RPM
        )
        left = turbine - loss
        axle = np.prod([item["ratio"] for item in self.line["stage"]])
        kept = gear["efficiency"] * np.prod([item["efficiency"] for item in self.line["stage"]])
        if left < 0.0:
            kept = 1.0 / kept
        ratio = gear["ratio"] * axle
        return left * kept * ratio / self.radius, nu * w * self.radius / ratio

    def surplus(self, nu, gear, grade):
        force, tread = self.push(nu, gear)
        angle, weight = np.arctan(grade), self.mass * G
        grip = TRACTION * weight * np.cos(angle)
        speed = tread * (1.0 - float(self.slip(min(abs(force) / grip, 1.0))))
        body = self.body
        air = 0.5 * AIR * body["frontal_area"]["value"] * body["drag_coefficient"] * speed**2
        need = weight * (self.rolling * np.cos(angle) + np.sin(angle)) + air
        return force - need - body["running_drag"]["value"], speed

    def fastest(self, grade):
        """The fastest speed in any forward gear; every one of them is tried."""
        found = []
        for gear in self.line["gear"]:
            if gear.get("direction", "forward") != "forward":
                continue
            at = [self.surplus(nu, gear, grade)[0] for nu in (0.0, self.end)]
            if at[0] > 0.0 > at[1]:
                nu = brentq(lambda x: self.surplus(x, gear, grade)[0], 0.0, self.end, xtol=1e-10)  # noqa: B023
                found.append(self.surplus(nu, gear, grade)[1])
        return max(found) if found else np.nan


STUDY = read_study("quarry-loader-repower")
ROLLING, TRACTION = STUDY.duty.surface.rolling_resistance, STUDY.duty.surface.traction
HERE = Condition(site=None, hydraulic_torque=0.0)
WIDTHS = {"engine-torque": 0.03, "k-factor": 0.02, "mass": 0.04, "rolling-resistance": 0.25}


def numbers(count, seed):
    """Own numbers, by the distributions of the shipped study: torque normal, the rest uniform."""
    rng = np.random.default_rng(seed)
    return {
        name: rng.normal(0, width / 2, count) if name == "engine-torque"
        else rng.uniform(-width, width, count)
        for name, width in WIDTHS.items()
    }  # fmt: skip


@pytest.mark.slow
def test_each_draw_is_the_machine_calculated_with_scipy_alone():
    own = numbers(300, seed=1)
    duty = STUDY.duty.replace(routes=(), hydraulic_torque=0.0)
    drawn = Sampled(outcome(STUDY.combination("new-engine"), HERE, duty), own, 300)
    for grade in (0.0, 0.08, 0.16):
        for k in range(0, 300, 60):
            loader = Loader(*(1.0 + values[k] for values in own.values()))
            assert drawn.speed_on(grade)[k] == pytest.approx(loader.fastest(grade), rel=2e-5)


@pytest.mark.slow
def test_probability_and_quantiles_are_those_of_an_independent_monte_carlo():
    grade, count = 0.0, 250
    kept = ("engine-torque", "k-factor", "mass", "rolling-resistance")
    limit = Loader().fastest(grade)  # cuts through the draws
    study = STUDY.replace(
        sites=(), present=None, claims=(), candidates=(STUDY.combination("new-engine"),),
        duty=STUDY.duty.replace(routes=(), hydraulic_torque=0.0),
        tolerances=tuple(item for item in STUDY.tolerances if item.quantity in kept),
        limits=Limits(top_speed_least=limit),
    )  # fmt: skip
    result = uncertainty(study, draws=4096, sensitivities=False)
    own = numbers(count, seed=7)
    speed = np.array(
        [Loader(*(1.0 + values[k] for values in own.values())).fastest(grade) for k in range(count)]
    )
    figure = result.of("new-engine").figure("top-speed")
    # The middle of 250 numbers: its standard error by the binomial law of ranks.
    low, high = np.quantile(speed, 0.5 + np.array([-3.5, 3.5]) * 0.5 / np.sqrt(count))
    assert low < figure.middle < high
    share = np.mean((speed >= figure.low) & (speed <= figure.high))
    assert share == pytest.approx(0.95, abs=3.5 * np.sqrt(0.95 * 0.05 / count))
    odds = result.probability("new-engine", "top-speed-kept")
    assert 0.05 < odds < 0.95
    error = np.sqrt(odds * (1.0 - odds) / count)
    assert np.mean(speed >= limit) == pytest.approx(odds, abs=3.5 * error)
