"""A case with everything that a claim can rest on, for the tests of the audit."""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.components.driveline import Stage
from converter_match.components.site import Site
from converter_match.components.tyre import Tyre
from converter_match.judgement.audit.alternatives import Alternative, Others, alternatives
from converter_match.judgement.audit.audit import audit
from converter_match.judgement.audit.case import Case
from converter_match.judgement.audit.result import AuditedClaim
from converter_match.study.doubts import Misreading
from converter_match.study.study import Claim
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine, surface
from tests.study_examples import flat_engine

SIBLING = converter(
    id="sibling", torque_ratio=1 + (np.array(converter().torque_ratio) - 1) * 1.7 / 1.2
)
RATING = engine(id="derated", torque=engine().torque * 0.88)
OTHERS = Others(siblings=(SIBLING,), ratings=(RATING,))
_MACHINE = machine(running_gear=Tyre.from_size("23.5R25"))
CASE = Case(
    engine=engine(),
    converter=converter(),
    driveline=driveline(
        stages=(Stage(name="transfer", ratio=1.3, efficiency=0.98),
                Stage(name="axle", ratio=15.0, efficiency=0.96))
    ),
    machine=_MACHINE,
    surface=surface(),
    site=Site(id="high", name="high", source="test", altitude=2000.0, air_temperature=303.0),
    hydraulic_torque=90.0,
    misreadings=(
        # PS / hp: 75 kgf.m/s over 550 ft.lbf/s
        Misreading(kind="engine", id="test-engine", given="hp", read="PS",
                   component=engine(torque=engine().torque * 0.98632)),
        Misreading(kind="machine", id="test-machine", given="t", read="short ton",
                   component=_MACHINE.replace(mass_empty=15_000 * 0.90718, payload=4535.9)),
        Misreading(kind="converter", id="test-converter", given="1700 rpm", read="2000 rpm",
                   capacity_factor=(1700 / 2000) ** 2),
    ),
)  # fmt: skip
# Flat torque T and K in rpm/sqrt(N.m): n = K sqrt(T) at stall, whatever else is assumed.
FLAT = Case(engine=flat_engine(400.0), converter=converter())


def claim(quantity: str, value: float, **details: Any) -> Claim:
    fields: dict[str, Any] = {"given": f"{value!r}", "combination": "a", "tolerance": 0.005}
    return Claim(quantity=quantity, value=value, **(fields | details))


def one(quantity: str, value: float, case: Case = CASE, **details: Any) -> AuditedClaim:
    [found] = audit([(claim(quantity, value, **details), case)], OTHERS).claims
    return found


def planted(name: str, case: Case, wanted: Claim, others: Others = OTHERS) -> Alternative:
    return next(item for item in alternatives(case, wanted, others) if item.name == name)


def stall_under(name: str, case: Case = FLAT, others: Others = OTHERS) -> float:
    """Return the stall speed under an alternative [rpm]."""
    from converter_match.judgement.audit.figures import figure

    wanted = claim("stall-speed", 1.0)
    return figure(planted(name, case, wanted, others).case, wanted) / RPM
