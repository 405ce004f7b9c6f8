"""What headings mean: the synonyms of the trade, in English.

Other languages come in through a mapping file (`mapping`).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from converter_match.components.capacity_forms import DIMENSIONS
from converter_match.errors import nearest
from converter_match.library.intake.answers import CONVERTER_FACTS, ENGINE_FACTS, MOTOR_FACTS
from converter_match.units import dimensions_of

# Role -> dimension of its column. None: the unit has to tell which form of capacity it is.
CONVERTER_ROLES: Mapping[str, str | None] = MappingProxyType(
    {
        "speed_ratio": "ratio",
        "slip": "ratio",
        "torque_ratio": "ratio",
        "efficiency": "ratio",
        **DIMENSIONS,
        "capacity": None,
        "impeller_speed": "angular_speed",
        "turbine_speed": "angular_speed",
        "turbine_torque": "torque",
        "torque_ratio_band": "ratio",
        "capacity_band": "ratio",
    }
)
ENGINE_ROLES: Mapping[str, str | None] = MappingProxyType(
    {"speed": "angular_speed", "torque": "torque", "power": "power", "bsfc": "specific_fuel"}
)
MOTOR_ROLES: Mapping[str, str | None] = MappingProxyType(
    {
        "speed": "angular_speed",
        "peak": "torque",
        "continuous": "torque",
        "regenerative": "torque",
        "peak_power": "power",
        "continuous_power": "power",
        "power": "power",
    }
)
ROLES_OF: Mapping[str, Mapping[str, str | None]] = MappingProxyType(
    {"converter": CONVERTER_ROLES, "engine": ENGINE_ROLES, "motor": MOTOR_ROLES}
)
"""Kind of sheet -> what its columns may be."""
ROLES: Mapping[str, str | None] = MappingProxyType(
    {**CONVERTER_ROLES, **ENGINE_ROLES, **MOTOR_ROLES}
)

_CONVERTER_WORDS = {
    "speed_ratio": "speed ratio, sr, i, nu, ν, n2/n1, nt/np, nt/ni, n turbine/n pump, "
    "output/input speed, turbine/pump speed, turbine/impeller speed, ratio of speeds, rpm ratio, "
    "speedratio, speed rat",
    "slip": "slip, s",
    "torque_ratio": "torque ratio, tr, mu, μ, µ, t2/t1, m2/m1, tt/tp, torque multiplication, "
    "multiplication, torque conversion, conversion, output/input torque, turbine/pump torque, "
    "turbine/impeller torque, torqueratio, torque rat, torque mult",
    "efficiency": "efficiency, eff, eta, η, effcy",
    "k_factor": "k, k factor, kfactor, k value, capacity factor, input k, k input, ki, kp, k1",
    "torque_at_speed": "primary torque, pump torque, input torque, impeller torque, tp, t1, mp, m1,"
    "torque absorbed, absorbed torque, absorption torque, torque capacity, torque input, torque in",
    "power_at_speed": "absorbed power, power absorbed, input power, primary power, pump power, "
    "impeller power, absorption power, power input",
    "capacity_coefficient": "capacity coefficient, torque coefficient, c, mp/n2, t/n2",
    "performance_coefficient": "performance coefficient, lambda, λ, power coefficient, "
    "performance number",
    "speed_at_torque": "speed at constant torque, input speed at constant torque, "
    "pump speed at constant torque, impeller speed at constant torque, drive speed",
    "capacity": "capacity, converter capacity, cap",
    "impeller_speed": "impeller speed, pump speed, input speed, primary speed, np, n1, n in, "
    "speed in, speed input, pump rpm, input rpm",
    "turbine_speed": "turbine speed, output speed, secondary speed, nt, n2, n out, speed out, "
    "output rpm, turbine rpm",
    "torque_ratio_band": "torque ratio band, reading error of torque ratio",
    "capacity_band": "capacity band, reading error of capacity",
    "turbine_torque": "turbine torque, output torque, secondary torque, tt, t2, m2, torque out",
}
_ENGINE_WORDS = {
    "speed": "engine speed, speed, rpm, n, revs, crank speed, crankshaft speed, r/min, rev/min",
    "torque": "torque, full load torque, engine torque, flywheel torque, brake torque, t, m, tq, "
    "max torque, maximum torque, torque curve, gross torque, net torque",
    "power": "power, full load power, engine power, flywheel power, brake power, p, output, "
    "max power, maximum power, gross power, net power, bhp, hp, kw",
    "bsfc": "bsfc, sfc, be, specific fuel consumption, brake specific fuel consumption, "
    "fuel consumption, specific consumption, specific fuel",
}
_MOTOR_WORDS = {
    "speed": "motor speed, speed, rpm, n, revs, shaft speed, rotor speed, r/min, rev/min",
    "peak": "peak torque, torque peak, max torque, maximum torque, overload torque, "
    "short time torque, s2 torque, torque s2, intermittent torque, peak motor torque",
    "continuous": "continuous torque, torque continuous, cont torque, rated torque, "
    "nominal torque, s1 torque, torque s1, continuous motor torque",
    "regenerative": "regenerative torque, torque regenerative, regen torque, braking torque, "
    "regenerative braking torque, generator torque, generative torque, recuperation torque",
    "peak_power": "peak power, power peak, max power, maximum power, overload power, s2 power, "
    "power s2, intermittent power",
    "continuous_power": "continuous power, power continuous, cont power, rated power, "
    "nominal power, s1 power, power s1",
    "power": "power, shaft power, mechanical power, output power, motor power, p, kw, hp",
}
_FACT_WORDS = {
    "profile_diameter": "profile diameter, diameter, nominal diameter, torus diameter, "
    "circuit diameter, converter diameter, converter size, size",
    "oil_density": "oil density, density, fluid density",
    "coupling_speed_ratio": "coupling point, coupling speed ratio, lock point, clutch point",
    "reference_speed": "reference speed, test speed, input speed, pump speed, impeller speed, "
    "at input speed, at pump speed, rated input speed",
    "reference_torque": "reference torque, test torque, input torque, constant input torque, "
    "pump torque, impeller torque, primary torque, constant torque, at input torque",
    "stator": "stator, reactor, stator type",
    "name": "name, description, title, designation",
    "id": "id",
    "source": "source",
    "low_idle": "low idle, idle speed, idle, low idle speed, idling speed",
    "rated_speed": "rated speed, governed speed, rated engine speed, full load governed speed, "
    "nominal speed",
    "high_idle": "high idle, high idle speed, no load speed, maximum no load speed, "
    "no load governed speed, max no load speed",
    "rating_basis": "rating basis, basis, rating",
    "rating_standard": "rating standard, standard, test standard",
    "aspiration": "aspiration",
    "governing": "governing, governor, governor type, governed",
    "displacement": "displacement, swept volume, capacity",
    "torque_band": "torque band, uncertainty of torque",
    "speed_limit": "speed limit, maximum speed, max speed, top speed",
    "peak_time": "peak time, time at peak torque, peak duration, duration of peak torque, "
    "overload time",
    "peak_from": "peak from",
    "nominal_voltage": "nominal voltage, rated voltage, voltage, supply voltage, battery voltage, "
    "dc voltage",
    "thermal_class": "thermal class, insulation class, temperature class",
    "rated_power": "rated power",
    "peak_torque": "peak torque, maximum torque, max torque",
    "peak_torque_speed": "peak torque speed, speed at peak torque, maximum torque speed",
}
_SHORTEST_INSIDE = 3
WHOSE: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "torque": ("torque_at_speed", "turbine_torque"),
        "speed": ("impeller_speed", "turbine_speed"),
        "power": ("power_at_speed",),
    }
)
"""What a converter has two of -> what a column of it may be."""


@dataclass(frozen=True)
class Meaning:
    """What a heading means.

    Parameters
    ----------
    role : str
    exact : bool
        Whether the heading is the synonym and nothing else.
    rest : str
        Words of the heading that are not the synonym: the label of a rating, for instance.
    """

    role: str
    exact: bool
    rest: str = ""


def folded(text: str) -> str:
    """Return a heading in the form in which synonyms are compared.

    Examples
    --------
    >>> folded("Torque_Ratio  (TR)"), folded("n₂/n₁")
    ('torque ratio tr', 'n2/n1')
    """
    plain = unicodedata.normalize("NFKC", text.replace("½", "1/2")).casefold()
    plain = plain.replace("μ", "µ").replace("µ", "μ")
    plain = re.sub(r"[\s_\-–:;,.()\[\]{}=*]+", " ", plain)
    return re.sub(r" ?/ ?", "/", plain).strip()


@cache
def _synonyms(kind: str) -> dict[str, str]:
    tables = {
        "converter": _CONVERTER_WORDS,
        "engine": _ENGINE_WORDS,
        "motor": _MOTOR_WORDS,
        "facts-motor": {k: v for k, v in _FACT_WORDS.items() if k in MOTOR_FACTS},
        "facts-converter": {k: v for k, v in _FACT_WORDS.items() if k in CONVERTER_FACTS},
        "facts-engine": {k: v for k, v in _FACT_WORDS.items() if k in ENGINE_FACTS},
    }
    return {folded(word): role for role, words in tables[kind].items() for word in words.split(",")}


def meaning_of(
    heading: str, kind: str, words: Mapping[str, str] = MappingProxyType({})
) -> Meaning | None:
    """Return what a heading means, or None where no synonym of the trade stands in it.

    Parameters
    ----------
    heading : str
        Without unit and speed.
    kind : {"converter", "engine", "motor"}
        What the sheet is about.
    words : mapping
        Further headings -> role, from a mapping file; these come first.

    Examples
    --------
    >>> meaning_of("Torque ratio", "converter").role
    'torque_ratio'
    >>> meaning_of("Torque, rating B", "engine")
    Meaning(role='torque', exact=False, rest='rating b')
    """
    roles = ROLES_OF[kind]
    known = _synonyms(kind) | {folded(k): v for k, v in words.items() if v in roles}
    text = folded(heading)
    if text in known:
        return Meaning(known[text], True)
    padded = f" {text} "
    inside = [word for word in known if len(word) >= _SHORTEST_INSIDE and f" {word} " in padded]
    if not inside:
        return None
    longest = max(inside, key=len)
    rest = " ".join(padded.replace(f" {longest} ", " ", 1).split())
    return Meaning(known[longest], False, rest)


def fact_of(label: str, kind: str, words: Mapping[str, str] = MappingProxyType({})) -> str | None:
    """Return the fact that a label beside a value names; None if it names none."""
    facts = {"converter": CONVERTER_FACTS, "engine": ENGINE_FACTS, "motor": MOTOR_FACTS}[kind]
    known = _synonyms(f"facts-{kind}") | {folded(k): v for k, v in words.items() if v in facts}
    return known.get(folded(label))


def may_have(role: str, unit: str) -> bool:
    """Return whether a column can be in a unit."""
    return ROLES[role] in (None, *dimensions_of(unit))


def near_words(heading: str, kind: str, unit: str = "") -> dict[str, str]:
    """Return synonyms that look like a heading with their roles: a slip of the pen, perhaps.

    Parameters
    ----------
    heading : str
        Without unit and speed.
    kind : {"converter", "engine", "motor"}
    unit : str
        That stands with it: what cannot be in it is not meant.
    """
    known = {
        word: role
        for word, role in _synonyms(kind).items()
        if len(word) >= 5 and (not unit or may_have(role, unit))
    }
    return {word: known[word] for word in nearest(folded(heading), known, n=1)}
