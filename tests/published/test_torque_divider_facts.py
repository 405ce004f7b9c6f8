"""Planetary gears and the torque divider against manuals and the theory as taught."""

import numpy as np
import pytest

from converter_match.components.arrangement import TorqueDivider
from converter_match.components.planetary import CLASSIC, Planetary
from converter_match.physics.arrangement.torque_divider import (
    combine,
    power_split,
    stall_speed_ratio,
)
from tests.examples import full_range

GEARS = {"topic": "Planetary gears and torque divider"}
THEORY = "theory of the input-split torque divider as taught"


def divider(ratio):
    return TorqueDivider(planetary=Planetary(ratio=ratio), connection=CLASSIC)


def test_willis_basic_ratio(published_case):
    # Carrier held: sun/ring = -Z_ring/Z_sun. Ring held: sun/carrier = 1 + Z_ring/Z_sun.
    gears = Planetary(sun_teeth=30, ring_teeth=75)
    for held, published, ours in (
        ("carrier", -2.5, float(gears.speed("sun", ring=10.0, carrier=0.0)) / 10),
        ("ring", 3.5, float(gears.speed("sun", ring=0.0, carrier=10.0)) / 10),
    ):
        published_case(
            **GEARS, source="R. Willis; VDI 2157", tag="memory",
            quantity="speed of the sun / speed of the other free member",
            inputs=f"sun 30 teeth, ring 75, {held} held", published=published, ours=ours,
            relative=1e-14, why="double precision",
        )  # fmt: skip
    assert float(gears.speed("carrier", sun=7.0, ring=7.0)) == pytest.approx(7.0, rel=1e-15)


def test_usual_connection_is_that_of_the_manual(published_case):
    published_case(
        **GEARS, source="US Army TM 5-2410-233-34 para 6-1a", tag="seen",
        quantity="connection of a torque divider", inputs="what is assumed where none is named",
        published="engine drives pump and sun, turbine drives the ring, carrier is the output",
        ours=f"engine {CLASSIC.engine}, turbine {CLASSIC.hydraulic}, output {CLASSIC.output}; "
        f"{CLASSIC.split}",
        agrees=(CLASSIC.engine, CLASSIC.hydraulic, CLASSIC.output, CLASSIC.split)
        == ("sun", "ring", "carrier", "input-split"),
        why="a connection, no number",
    )  # fmt: skip


def test_at_output_stall_the_turbine_runs_backwards_and_multiplication_is_greatest(published_case):
    unit, gears = full_range(), divider(2.5)
    published_case(
        **GEARS, source=THEORY, tag="computed",
        quantity="speed ratio inside with the output stopped, -1/r", inputs="r = 2.5",
        published=-0.4, ours=stall_speed_ratio(gears), relative=1e-14, why="double precision",
    )  # fmt: skip
    rows = combine(unit, gears, np.linspace(-0.4, 0.98, 200))
    assert rows.output_ratio[0] == pytest.approx(0.0, abs=1e-15)
    greatest = int(np.argmax(rows.torque_ratio))
    published_case(
        **GEARS, source="US Army TM 5-2410-241-23-1", tag="seen",
        quantity="output stopped", inputs="r = 2.5, 200 speed ratios from -0.4 to 0.98",
        published="ring turns slowly backwards; multiplication is greatest",
        ours=f"ring at -0.4 of engine speed; greatest at output speed "
        f"{abs(rows.output_ratio[greatest]):.1f}",
        agrees=greatest == 0 and stall_speed_ratio(gears) < 0, why="a fact, no number",
    )  # fmt: skip
    split = power_split(unit, gears, -0.4, 150.0)
    assert split.hydraulic_out < 0
    assert split.output == pytest.approx(0.0, abs=1e-9)
    # The gears' whole power goes into the turbine backwards, and with the impeller's into the oil.
    assert split.circulating == pytest.approx(float(split.mechanical), rel=1e-12)
    assert split.heat == pytest.approx(float(split.engine), rel=1e-12)


@pytest.mark.parametrize("nu", [-0.4, 0.0, 0.6, 0.95])
def test_formulas_of_the_theory(nu, published_case):
    # SR = (1 + r nu)/(1 + r); TR = (1 + r) mu/(r + mu); K_overall = K sqrt(r/(r + mu)); sun's share
    # of engine torque mu/(r + mu).
    r, unit = 2.5, full_range()
    mu, c = float(unit.torque_ratio_at(nu)), float(unit.capacity_at(nu))
    rows = combine(unit, divider(r), nu)
    published_case(
        **GEARS, source=THEORY, tag="computed",
        quantity="overall speed ratio; torque ratio; K [rad/s/√(N·m)]; sun's share of torque",
        inputs=f"r = 2.5, speed ratio inside {nu}, torque ratio inside {mu:.4g}",
        published=[(1 + r * nu) / (1 + r), (1 + r) * mu / (r + mu),
                   c**-0.5 * (r / (r + mu)) ** 0.5, mu / (r + mu)],
        ours=[float(rows.output_ratio), float(rows.torque_ratio), float(rows.capacity) ** -0.5,
              float(rows.mechanical_share)],
        tolerance=1e-12, why="double precision",
    )  # fmt: skip
