"""The criteria by name: what each asks for, why, and the thresholds that a study may change.

The defaults are common practice, no single source: a study that knows better says so. How a
criterion is measured stands in `judgement.verdict.criteria_match` and
`judgement.verdict.criteria_wheels`, how it is judged in `judgement.verdict.measure`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from converter_match.errors import InputError, did_you_mean

Weight = Literal["must", "should", "off"]
WEIGHTS: tuple[Weight, ...] = get_args(Weight)
PumpState = Literal["standby", "working", "relief"]
PUMP_STATES: tuple[PumpState, ...] = get_args(PumpState)
"""What the implement pumps do, from least to most torque; stable, for scripts rely on them."""


@dataclass(frozen=True, kw_only=True)
class Threshold:
    """One number of a criterion that a study may change.

    Parameters
    ----------
    name : str
    default : float
        SI.
    words : str
        What it is.
    dimension : str
        ``ratio`` for a share.
    """

    name: str
    default: float
    words: str
    dimension: str = "ratio"


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A criterion as a study applies it.

    Parameters
    ----------
    name : str
        Of the criterion.
    weight : {"must", "should", "off"}
        A failed must speaks against the candidate; a failed should is a reservation.
    thresholds : tuple of (str, float)
        All of them, changed or not.
    conditions : tuple of str
        States of the pumps and ids of sites that it is looked at in; empty: all of them.

    Raises
    ------
    InputError
        If the criterion or a threshold is not known, a number is below zero, or two thresholds
        contradict each other.
    """

    name: str
    weight: Weight
    thresholds: tuple[tuple[str, float], ...]
    conditions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        spec = spec_of(self.name)
        if self.weight not in WEIGHTS:
            raise InputError(
                "not a known choice",
                field="criterion.weight",
                found=self.weight,
                expected=" | ".join(WEIGHTS),
                hint=did_you_mean(str(self.weight), WEIGHTS),
            )
        known = [item.name for item in spec.thresholds]
        for name, value in self.thresholds:
            if name not in known:
                raise InputError(
                    f"the criterion {self.name!r} has no such threshold",
                    field=f"criterion.{name}",
                    found=name,
                    expected=" | ".join(known) or "none",
                    hint=did_you_mean(name, known),
                )
            if not (math.isfinite(value) and value >= 0.0):
                raise InputError(
                    "a threshold cannot be below zero",
                    field=f"criterion.{name}",
                    found=value,
                    expected="zero or more",
                )
        given = dict(self.thresholds)
        if set(given) != set(known):
            raise InputError(
                "missing", field="criterion", expected=", ".join(sorted(set(known) - set(given)))
            )

    def __getitem__(self, name: str) -> float:
        return dict(self.thresholds)[name]

    @property
    def spec(self) -> Spec:
        """The criterion itself."""
        return CATALOGUE[self.name]


@dataclass(frozen=True, kw_only=True)
class Spec:
    """A criterion.

    Parameters
    ----------
    name : str
        Stable.
    title : str
        What a reader calls it.
    asks : str
        What is asked for, in words.
    reason : str
        Why, in one sentence.
    weight : {"must", "should"}
        Unless a study changes it.
    thresholds : tuple of Threshold
    compares : bool
        Whether it compares with the present machine.
    or_limits : tuple of str
        Limits of a study (`study.Limits`), any of which lets a comparing criterion be applied
        without a present machine.
    on_routes : bool
        Whether it looks at the routes of the duty.
    conditions : tuple of str
        States of the pumps that it is looked at in, unless a study says otherwise; empty: all.
    engine_alone : bool
        Whether neither air nor pumps change it, so that it is known where they are not.
    """

    name: str
    title: str
    asks: str
    reason: str
    weight: Weight = "should"
    thresholds: tuple[Threshold, ...] = ()
    compares: bool = False
    or_limits: tuple[str, ...] = ()
    on_routes: bool = False
    conditions: tuple[str, ...] = ()
    engine_alone: bool = False

    def choice(
        self,
        weight: Weight | None = None,
        conditions: Sequence[str] = (),
        **changes: float,
    ) -> Choice:
        """Return the criterion with some thresholds changed, or looked at in other conditions.

        Where no state of the pumps is among the conditions, those of the criterion stand.

        Raises
        ------
        InputError
            As `Choice`.
        """
        given = {item.name: item.default for item in self.thresholds} | changes
        own = () if set(conditions) & set(PUMP_STATES) else self.conditions
        return Choice(
            name=self.name,
            weight=weight or self.weight,
            thresholds=tuple(given.items()),
            conditions=(*conditions, *own),
        )


def _margin(default: float = 0.03) -> Threshold:
    return Threshold(
        name="margin",
        default=default,
        words="met with less than this share to spare counts as marginal",
    )


def _least(default: float, of: str) -> Threshold:
    return Threshold(name="least", default=default, words=f"least share of {of}")


def _most(default: float, of: str) -> Threshold:
    return Threshold(name="most", default=default, words=f"greatest share of {of}")


_SPECS = (
    Spec(
        name="single-stable-match",
        title="Single stable match",
        asks="exactly one engine speed at which engine and converter match, at stall and after it",
        reason="With several, or none, a small change of torque "
        "decides whether the engine stays at low speed or accelerates.",
        weight="must",
        thresholds=(
            Threshold(
                name="margin",
                default=0.03,
                words="less change than this, of engine torque or of capacity, to another match "
                "counts as marginal",
            ),
        ),
    ),
    Spec(
        name="stall-speed-window",
        title="Stall speed window",
        asks="stall between the lowest speed with 99 % of peak torque and rated speed",
        reason="With a stall speed far below peak torque the engine lugs and smokes; "
        "with stall on the governor the oil takes nearly full power as heat.",
        thresholds=(
            _least(0.95, "the lowest engine speed with 99 % of peak torque"),
            _most(0.98, "rated speed"),
            _margin(0.02),
        ),
    ),
    Spec(
        name="rated-power-usable",
        title="Rated power usable in the working range",
        asks="the engine's greatest net power absorbed in the working range of the converter",
        reason="Power absorbed outside the working range goes largely "
        "into heat and does not reach the wheels.",
        thresholds=(
            _least(0.95, "the greatest net power"),
            Threshold(name="efficiency", default=0.80, words="least converter efficiency"),
            _margin(0.02),
        ),
    ),
    Spec(
        name="converter-input-torque",
        title="Converter input torque",
        asks="highest input torque within the converter's limit",
        reason="Blades, hub and flex plate are sized for a torque, and break above it.",
        weight="must",
        thresholds=(_most(1.0, "the limit"), _margin()),
    ),
    Spec(
        name="converter-input-power",
        title="Converter input power",
        asks="highest input power within the converter's limit",
        reason="Power above the rating overheats oil and seals.",
        weight="must",
        thresholds=(_most(1.0, "the limit"), _margin()),
    ),
    Spec(
        name="converter-input-speed",
        title="Converter input speed",
        asks="high idle within the converter's speed limit",
        reason="Stress in the shell rises with the square of speed, "
        "and the engine reaches high idle whenever the load is released.",
        weight="must",
        thresholds=(_most(1.0, "the limit"), _margin(0.02)),
    ),
    Spec(
        name="turbine-stall-torque",
        title="Transmission input torque",
        asks="highest turbine torque within the transmission's input rating",
        reason="At stall the converter multiplies torque, and the gearbox has to carry all of it.",
        weight="must",
        thresholds=(_most(1.0, "the rating"), _margin()),
    ),
    Spec(
        name="governed-overspeed",
        title="Driven-equipment overspeed at high idle",
        asks="high idle within the speed limits of transmission, pumps and accessories",
        reason="Without load all driven equipment runs at high idle.",
        weight="must",
        thresholds=(_most(1.0, "the lowest speed limit given"), _margin(0.02)),
        engine_alone=True,
    ),
    Spec(
        name="tractive-effort-kept",
        title="Tractive effort retained",
        asks="tractive effort at every road speed, against the present machine",
        reason="With less effort than before the machine cannot "
        "do its present work, whatever its rated power.",
        thresholds=(
            _least(0.95, "the present effort at any road speed"),
            Threshold(
                name="up_to",
                default=0.90,
                words="road speeds looked at, as a share of the present top speed",
            ),
            _margin(),
        ),
        compares=True,
    ),
    Spec(
        name="grade-start-kept",
        title="Startability (gradeability from rest)",
        asks="steepest grade on which it starts, against the present machine",
        reason="A loaded machine that stops on the ramp must be able to start again.",
        thresholds=(_least(0.97, "the present grade"), _margin()),
        compares=True,
    ),
    Spec(
        name="speed-on-grades-kept",
        title="Speed on grades retained",
        asks="speed on every grade of the duty, against the present machine",
        reason="Speed on the ramp sets the number of loads in a shift.",
        thresholds=(_least(0.95, "the present speed on any grade of the duty"), _margin()),
        compares=True,
    ),
    Spec(
        name="top-speed-kept",
        title="Top speed retained",
        asks="top speed on the level with the pumps at standby, against the present machine and "
        "the limits of the study",
        reason="An engine governed to another speed changes every road speed with it.",
        conditions=("standby",),
        thresholds=(_least(0.95, "the present top speed"), _margin(0.02)),
        compares=True,
        or_limits=("top_speed_least", "top_speed_most"),
    ),
    Spec(
        name="continuous-heat",
        title="Continuous heat rejection",
        asks="heat on the continuous grade of the duty within the capacity of the cooler",
        reason="Heat beyond the capacity of the cooler overheats the oil, and clutches and seals "
        "with it.",
        weight="must",
        thresholds=(
            _most(1.0, "the capacity of the cooler with the oil at its limit"),
            _margin(0.1),
        ),
    ),
    Spec(
        name="oil-temperature",
        title="Oil temperature on the route",
        asks="maximum oil temperature on the routes of the duty below its limit",
        reason="Overheated oil ages fast and damages the seals.",
        thresholds=(
            Threshold(
                name="margin",
                default=5.0,
                words="met with less than this to spare counts as marginal",
                dimension="temperature_difference",
            ),
        ),
        on_routes=True,
    ),
    Spec(
        name="route-time-kept",
        title="Cycle time no worse than present",
        asks="time for every route of the duty, against the present machine",
        reason="Cycle time sets the number of loads in a shift.",
        thresholds=(_most(1.03, "the present time"), _margin(0.02)),
        compares=True,
        on_routes=True,
    ),
    Spec(
        name="fuel-kept",
        title="Fuel no worse than present",
        asks="fuel for every route of the duty, against the present machine",
        reason="Fuel is a running cost of every working hour.",
        thresholds=(_most(1.05, "the present fuel"), _margin(0.02)),
        compares=True,
        on_routes=True,
    ),
    Spec(
        name="idle-creep",
        title="Creep effort at low idle",
        asks="creep effort in gear at low idle, against the present machine",
        reason="The brakes must hold the machine in gear at low idle as they do at present.",
        thresholds=(_most(1.2, "the present creep effort in the lowest gear"), _margin(0.05)),
        compares=True,
    ),
    Spec(
        name="engine-braking-kept",
        title="Engine braking retained",
        asks="engine braking (motoring) power, against the present engine",
        reason="Downhill the service brakes must absorb what engine braking does not.",
        thresholds=(_least(0.9, "the present braking power"), _margin(0.05)),
        compares=True,
        engine_alone=True,
    ),
)

CATALOGUE: Mapping[str, Spec] = MappingProxyType({spec.name: spec for spec in _SPECS})
"""Every criterion by its name."""


def spec_of(name: str) -> Spec:
    """Return the criterion of a name.

    Raises
    ------
    InputError
        If there is none, naming the nearest.
    """
    if name not in CATALOGUE:
        raise InputError(
            "there is no such criterion",
            field="criterion.name",
            found=name,
            expected="one of the criteria of docs/study.md",
            hint=did_you_mean(str(name), CATALOGUE) or f"known: {', '.join(CATALOGUE)}",
        )
    return CATALOGUE[name]
