"""The line of a load in the panel of the turbine's torque."""

import numpy as np
import pytest

from converter_match.components.load import FlowMachine
from converter_match.judgement.load.load import over_load
from converter_match.judgement.match.solve import solve
from converter_match.present.figures.turbine_panels import turbine_panels
from tests.examples import RPM, converter, engine, full_range
from tests.load_examples import load, winch

NM_PER_LBFT = 1.355818  # NIST SP 811, appendix B.8


def drawn(ax):
    return {line.get_gid(): line for line in ax.lines if line.get_gid()}


@pytest.mark.parametrize(("system", "unit"), [("si", 1.0), ("us", NM_PER_LBFT)])
def test_the_line_and_its_point_are_those_of_the_load(system, unit):
    pump = load(FlowMachine(machine="pump", torque=600.0, speed=2000 * RPM))
    match = solve(engine(), converter())
    torque, *_ = turbine_panels(match.with_beside(over_load(match, pump)), system=system)
    line, point = drawn(torque)["load-line-0"], drawn(torque)["load-point-0"]
    x, y = line.get_data()
    assert y == pytest.approx(600.0 * (x / 2000.0) ** 2 / unit, rel=1e-6)
    assert y.max() <= torque.get_ylim()[1]
    (at,), (given,) = point.get_data()
    assert given == pytest.approx(600.0 * (at / 2000.0) ** 2 / unit, rel=1e-6)
    assert "pump" in [text.get_text() for text in torque.texts]


def test_a_hanging_load_has_a_line_a_layer_on_both_sides_of_rest():
    hoist = load(winch(), ratio=25.0, efficiency=0.9)
    match = solve(engine(), full_range())
    torque, *_ = turbine_panels(match.with_beside(over_load(match, hoist)))
    lines = drawn(torque)
    for row, radius in enumerate((0.21, 0.23, 0.25)):
        up, back = lines[f"load-line-{row}"].get_data(), lines[f"load-back-{row}"].get_data()
        assert up[1] == pytest.approx(np.full_like(up[1], 50e3 * radius / 25.0 / 0.9))
        assert back[1] == pytest.approx(np.full_like(back[1], 50e3 * radius * 0.9 / 25.0))
        assert back[0].min() < 0.0
    said = [text.get_text() for text in torque.texts]
    assert {"winch, layer 1", "winch, layer 3"} <= set(said)


def test_without_a_load_there_is_no_line():
    torque, *_ = turbine_panels(solve(engine(), converter()))
    assert not [gid for gid in drawn(torque) if str(gid).startswith("load")]
