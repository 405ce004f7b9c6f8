"""Invented engines: closed forms, parameters, and the text of their files.

Symbols: n speed [rpm], w speed [rad/s], T torque, V displacement. Four-stroke: T = bmep V / (4 pi).

Full load:

* rated torque from rated power, T_r = P_r / w_r; peak torque T_p = (1 + rise) T_r at n_p;
* n <= n_p: T = T_p [1 - d ((n_p - n)/(n_p - n_idle))^2], d the share lost at low idle;
* n_p <= n <= n_r: *power* is a cubic in n, tangent to constant torque at n_p (dP/dn = P/n) and
  almost to constant power at n_r (dP/dn = 0.15 P/n), so that rated power is the greatest power;
* late boost, n <= n_p: without boost T_0 = f T_p [1 - h (n - n_idle)/(n_p - n_idle)]; with it
  T = T_0 + (T_p - T_0) L(n)/L(n_p), L a logistic step at n_b of width s.

The rest:

* bsfc b = b_min [1 + k ((n - 0.65 n_r)/n_r)^2];
* motored mean effective pressure [kPa] = 75 + 48 (n/1000) + 0.4 S_p^2, S_p mean piston speed
  [m/s] (form after J. B. Heywood, Internal Combustion Engine Fundamentals, from memory);
* exhaust brake on: mean effective pressure [kPa] = 250 + 400 n/n_r, motoring included;
* inertia [kg m2] = 0.14 (V in litres)^1.2; idle fuel flow = motored power / (0.40 LHV);
* engine factor f_m = 0.036 q/r - 1.14, held in 0.3 .. 1.2; q fuel per cycle and litre [mg] at
  rated power, r boost pressure ratio (form of UNECE R85 annex 5, 5.4.2.2, second-hand).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from generator.toml_text import LBF_FT, SOURCE, many, number, one, row, text

Array = NDArray[np.float64]

RPM = np.pi / 30.0  # rad/s in one rpm
LOWER_HEATING_VALUE = 42.7e6  # J/kg
ROTATION = "counter-clockwise seen from the flywheel end"


@dataclass(frozen=True, kw_only=True)
class Engine:
    """Parameters of one invented engine; speeds in rpm, other units in the field names."""

    id: str
    name: str
    basis: str
    standard: str
    aspiration: str
    reference_kpa: int = 99  # dry air, except under ISO 3046, which states the barometer
    litres: float
    idle: int
    rated: int
    high_idle: int
    governing: str
    rated_kw: float
    rise: float
    peak_speed: int
    speeds: Sequence[int]
    idle_loss: float = 0.4
    late_boost: tuple[float, float, float, float] | None = None  # T_idle/T_p, h, n_b, s
    column: str = "torque"
    us: bool = False
    torque_step: int = 1
    rating_only: bool = False
    rating_too: bool = False  # the sheet says in words what the curve should come to
    stroke_mm: float = 0.0  # given where the file has motoring data
    exhaust_brake: bool = False
    bsfc_min: float = 200.0
    bsfc_bend: float = 0.7
    fuel: bool = False
    inertia: bool = False
    boost: float = 1.0
    correction: str = ""
    accessories: Sequence[tuple[str, float, float]] = ()  # name, power at rated speed, exponent
    interface: dict[str, str] = field(default_factory=dict)  # TOML text by key


def torque_at_full_load(engine: Engine, n: Array) -> Array:
    """Return full-load torque [N.m] at speeds ``n`` [rpm], before rounding."""
    n_i, n_p, n_r = float(engine.idle), float(engine.peak_speed), float(engine.rated)
    torque_rated = engine.rated_kw * 1e3 / (n_r * RPM)
    torque_peak = (1.0 + engine.rise) * torque_rated

    if engine.late_boost is None:
        below = torque_peak * (1.0 - engine.idle_loss * ((n_p - n) / (n_p - n_i)) ** 2)
    else:
        share, sag, n_b, width = engine.late_boost
        unboosted = torque_peak * share * (1.0 - sag * (n - n_i) / (n_p - n_i))
        step = (1.0 + np.exp(-(n_p - n_b) / width)) / (1.0 + np.exp(-(n - n_b) / width))
        below = unboosted + (torque_peak - unboosted) * step

    # Cubic Hermite in power between peak torque and rated speed.
    span = n_r - n_p
    t = (n - n_p) / span
    power_peak, power_rated = torque_peak * n_p, torque_rated * n_r  # N.m.rpm: the factor cancels
    power = (
        (2 * t**3 - 3 * t**2 + 1) * power_peak
        + (t**3 - 2 * t**2 + t) * span * torque_peak
        + (3 * t**2 - 2 * t**3) * power_rated
        + (t**3 - t**2) * span * 0.15 * torque_rated
    )
    return np.where(n <= n_p, below, power / n)


def fuel_per_energy(engine: Engine, n: Array) -> Array:
    """Return full-load brake specific fuel consumption [g/kWh] at ``n`` [rpm]."""
    return engine.bsfc_min * (
        1.0 + engine.bsfc_bend * ((n - 0.65 * engine.rated) / engine.rated) ** 2
    )


def drag_torque(engine: Engine, n: Array) -> Array:
    """Return motored (drag) torque [N.m, positive] at ``n`` [rpm]."""
    piston_speed = 2.0 * engine.stroke_mm * 1e-3 * n / 60.0
    pressure = 75.0 + 48.0 * n / 1000.0 + 0.4 * piston_speed**2
    return pressure * 1e3 * engine.litres * 1e-3 / (4.0 * np.pi)


def engine_factor(engine: Engine) -> float:
    """Return the site-correction exponent f_m from fuel charge and boost."""
    grams_per_minute = (
        float(fuel_per_energy(engine, np.array(engine.rated))) * engine.rated_kw / 60.0
    )
    charge = grams_per_minute / (engine.rated / 2.0) / engine.litres * 1e3  # mg per cycle and litre
    return min(max(0.036 * charge / engine.boost - 1.14, 0.3), 1.2)


def engine_text(e: Engine) -> str:
    """Return the TOML text of one engine file."""
    torque_unit, power_unit = ("lbf*ft", "hp") if e.us else ("N*m", "kW")
    to_torque = 1.0 / LBF_FT if e.us else 1.0
    lines = [
        'schema = "converter-match/engine/1"',
        f"id = {text(e.id)}",
        f"name = {text(e.name)}",
        f"source = {text(SOURCE)}",
        f"rating_basis = {text(e.basis)}",
        f"rating_standard = {text(e.standard)}",
        f"aspiration = {text(e.aspiration)}",
        "reference_air = { pressure = "
        + one(99, "kPa")
        + ", temperature = "
        + one(25, "degC", twice=False)
        + " }",
        f"displacement = {one(e.litres, 'L', 1)}",
        f"low_idle = {one(e.idle, 'rpm')}",
        f"rated_speed = {one(e.rated, 'rpm')}",
        f"high_idle = {one(e.high_idle, 'rpm')}",
        f"governing = {text(e.governing)}",
        "",
    ]
    n = np.array(e.speeds, dtype=float)
    torque = torque_at_full_load(e, n)
    if e.rating_only:
        peak = float(torque_at_full_load(e, np.array(float(e.peak_speed))))
        lines += [
            "[rating]",
            f"rated_power = {one(e.rated_kw, 'kW')}",
            f"peak_torque = {one(5 * round(peak / 5), 'N*m')}",
            f"peak_torque_speed = {one(e.peak_speed, 'rpm')}",
        ]
    elif e.column == "power":
        values = many(torque * n * RPM / 1e3, "kW", 1)
        lines += ["[full_load]", f"speed = {many(n, 'rpm')}", f"power = {values}"]
    else:
        printed = e.torque_step * np.round(torque * to_torque / e.torque_step)
        lines += [
            "[full_load]",
            f"speed = {many(n, 'rpm')}",
            f"torque = {many(printed, torque_unit)}",
        ]
        if e.rating_too:
            highest = int(printed.argmax())
            lines += [
                "",
                "[rating]",
                f"rated_power = {one(e.rated_kw, 'kW')}",
                f"peak_torque = {one(printed[highest], 'N*m')}",
                f"peak_torque_speed = {one(n[highest], 'rpm')}",
            ]
    for name, power, exponent in e.accessories:
        lines += [
            "",
            "[[accessory]]",
            f"name = {text(name)}",
            f"power = {one(power, power_unit, 1)}",
            f"at_speed = {one(e.rated, 'rpm')}",
            f"exponent = {number(exponent, 0)}",
        ]
    if e.stroke_mm:
        n = np.arange(e.idle, e.high_idle + 250, 200.0)
        lines += [
            "",
            "[motoring]",
            f"speed = {many(n, 'rpm')}",
            f"torque = {many(drag_torque(e, n), 'N*m')}",
        ]
        if e.exhaust_brake:
            braking = (250.0 + 400.0 * n / e.rated) * e.litres / (4.0 * np.pi)
            lines += [
                "",
                "[motoring.exhaust_brake]",
                f"speed = {many(n, 'rpm')}",
                f"torque = {many(braking, 'N*m')}",
            ]
    if e.fuel:
        n = np.linspace(e.idle, e.rated, 8).round(-1)
        idle_power = float(drag_torque(e, np.array(float(e.idle)))) * e.idle * RPM
        lines += [
            "",
            "[fuel]",
            f"speed = {many(n, 'rpm')}",
            f"bsfc = {many(fuel_per_energy(e, n), 'g/kWh')}",
            f"idle_rate = {one(idle_power / (0.40 * LOWER_HEATING_VALUE) * 3600, 'kg/h', 2)}",
            f"lower_heating_value = {one(LOWER_HEATING_VALUE / 1e6, 'MJ/kg', 1)}",
            f"density = {one(835, 'kg/m**3')}",
        ]
    if e.inertia:
        lines += ["", "[inertia]", f"value = {one(0.14 * e.litres**1.2, 'kg*m**2', 2)}"]
    if e.correction:
        lines += ["", "[site_correction]", f"method = {text(e.correction)}"]
        if e.correction == "diesel-iso-1585":
            lines += [f"engine_factor = {number(engine_factor(e), 2)}"]
        if e.correction == "iso-3046":
            lines += ["mechanical_efficiency = 0.80"]
        if e.correction == "derate-table":
            lines += [
                "",
                "[site_correction.derate]",
                f"altitude = {many([0, 1500, 2000, 2500, 3000, 3500, 4000], 'm', twice=False)}",
                f"factor = {row([1.0, 1.0, 0.98, 0.94, 0.90, 0.86, 0.81], 2)}",
            ]
    if e.interface:
        lines += ["", "[interface]"] + [f"{key} = {value}" for key, value in e.interface.items()]
    return "\n".join(lines) + "\n"


ENGINES = (
    Engine(
        id="four-cylinder-2l5-45kw",
        name="Four-cylinder lift-truck engine, 2.5 L, naturally aspirated, 45 kW",
        basis="net",
        standard="ISO 9249",
        aspiration="naturally-aspirated",
        litres=2.5,
        idle=800,
        rated=2800,
        high_idle=3020,
        governing="speed",
        rated_kw=45,
        rise=0.15,
        peak_speed=1600,
        idle_loss=0.20,
        speeds=(800, 1000, 1200, 1400, 1600, 1800, 2000, 2200, 2400, 2600, 2800),
        bsfc_min=228,
        bsfc_bend=0.6,
        fuel=True,
        correction="diesel-iso-1585",
        accessories=(("charge pump", 1.5, 1), ("steering pump at standby", 0.8, 1)),
    ),
    Engine(
        id="four-cylinder-3l6-74kw-rating-line",
        name="Four-cylinder engine, 3.6 L, turbocharged, 74 kW, known by its rating line only",
        basis="gross",
        standard="ISO 14396",
        aspiration="turbocharged",
        litres=3.6,
        idle=850,
        rated=2300,
        high_idle=2480,
        governing="speed",
        rated_kw=74,
        rise=0.27,
        peak_speed=1500,
        speeds=(),
        rating_only=True,
        accessories=(("cooling fan", 4.5, 3), ("alternator", 1.2, 1), ("charge pump", 2.2, 1)),
    ),
    Engine(
        id="four-cylinder-4l5-125hp",
        name="Four-cylinder engine, 4.5 L, turbocharged, 125 hp, sheet in US units",
        basis="gross",
        standard="SAE J1995",
        aspiration="turbocharged",
        litres=4.5,
        idle=800,
        rated=2200,
        high_idle=2370,
        governing="speed",
        rated_kw=93.2,
        rise=0.27,
        peak_speed=1400,
        speeds=(800, 1000, 1200, 1300, 1400, 1500, 1600, 1800, 2000, 2200),
        us=True,
        bsfc_min=208,
        boost=1.7,
        correction="diesel-iso-1585",
        accessories=(("cooling fan", 7.0, 3), ("alternator", 1.5, 1), ("charge pump", 3.5, 1)),
        interface={"housing": '"SAE 3"', "flywheel": '"11.5 in"'},
    ),
    Engine(
        id="six-cylinder-7l-185kw",
        name="Six-cylinder loader engine, 7 L, turbocharged and aftercooled, 185 kW",
        basis="gross",
        standard="ISO 14396",
        aspiration="turbocharged-aftercooled",
        litres=7.0,
        idle=800,
        rated=2200,
        high_idle=2380,
        governing="speed",
        rated_kw=185,
        rise=0.25,
        peak_speed=1400,
        speeds=(800, 900, 1000, 1200, 1300, 1400, 1500, 1600, 1700, 1800, 1900, 2000, 2100, 2200),
        stroke_mm=132,
        bsfc_min=201,
        fuel=True,
        inertia=True,
        boost=2.0,
        rating_too=True,
        correction="diesel-iso-1585",
        accessories=(
            ("cooling fan", 11.0, 3),
            ("alternator", 1.5, 1),
            ("charge pump", 5.0, 1),
            ("implement pumps at standby", 4.0, 1),
        ),
        interface={
            "housing": '"SAE 2"',
            "flywheel": '"11.5 in"',
            "pilot_diameter": one(50, "mm"),
            "rotation": text(ROTATION),
        },
    ),
    Engine(
        id="six-cylinder-8l-205kw-late-boost",
        name="Six-cylinder engine, 8 L, one large turbocharger, 205 kW, weak below 1300 rpm",
        basis="gross",
        standard="ISO 14396",
        aspiration="turbocharged",
        litres=8.0,
        idle=750,
        rated=2200,
        high_idle=2390,
        governing="speed",
        rated_kw=205,
        rise=0.24,
        peak_speed=1600,
        speeds=(750, 900, 1000, 1100, 1200, 1250, 1300, 1350, 1400, 1500, 1600, 1800, 2000, 2200),
        late_boost=(0.46, 0.14, 1320, 75),
        bsfc_min=206,
        boost=1.9,
        correction="diesel-iso-1585",
        accessories=(("cooling fan", 12.0, 3), ("alternator", 1.5, 1), ("charge pump", 5.0, 1)),
    ),
    Engine(
        id="six-cylinder-9l-240kw",
        name="Six-cylinder hauler engine, 9 L, turbocharged and aftercooled, 240 kW",
        basis="net",
        standard="ISO 9249",
        aspiration="turbocharged-aftercooled",
        litres=9.0,
        idle=700,
        rated=2100,
        high_idle=2300,
        governing="torque",
        rated_kw=240,
        rise=0.29,
        peak_speed=1250,
        speeds=(700, 800, 900, 1000, 1100, 1250, 1400, 1550, 1700, 1800, 1900, 2000, 2100),
        stroke_mm=142,
        exhaust_brake=True,
        bsfc_min=197,
        fuel=True,
        inertia=True,
        rating_too=True,
        correction="none",
        accessories=(("charge pump", 5.0, 1), ("air compressor", 2.5, 1)),
        interface={
            "housing": '"SAE 1"',
            "flywheel": '"14 in"',
            "rotation": text(ROTATION),
        },
    ),
    Engine(
        id="six-cylinder-10l5-138kw",
        name="Six-cylinder engine, 10.5 L, naturally aspirated, 138 kW, sheet gives power",
        basis="gross",
        standard="ISO 3046",
        reference_kpa=100,
        aspiration="naturally-aspirated",
        litres=10.5,
        idle=650,
        rated=2100,
        high_idle=2270,
        governing="speed",
        rated_kw=138,
        rise=0.15,
        peak_speed=1250,
        idle_loss=0.15,
        speeds=(650, 800, 1000, 1250, 1400, 1600, 1800, 2000, 2100),
        column="power",
        bsfc_min=224,
        bsfc_bend=0.6,
        correction="iso-3046",
        accessories=(("cooling fan", 7.0, 3), ("charge pump", 4.0, 1)),
    ),
    Engine(
        id="six-cylinder-15l-400kw",
        name="Six-cylinder dozer engine, 15 L, turbocharged and aftercooled, 400 kW",
        basis="gross",
        standard="ISO 14396",
        aspiration="turbocharged-aftercooled",
        litres=15.0,
        idle=700,
        rated=2000,
        high_idle=2150,
        governing="speed",
        rated_kw=400,
        rise=0.32,
        peak_speed=1200,
        speeds=(700, 800, 900, 1000, 1100, 1200, 1300, 1400, 1500, 1600, 1700, 1800, 1900, 2000),
        torque_step=5,
        bsfc_min=196,
        fuel=True,
        inertia=True,
        stroke_mm=165,
        rating_too=True,
        correction="derate-table",
        accessories=(("cooling fan", 22.0, 3), ("alternator", 2.0, 1), ("charge pump", 8.0, 1)),
        interface={
            "housing": '"SAE 1"',
            "flywheel": '"14 in"',
            "pilot_diameter": one(80, "mm"),
            "rotation": text(ROTATION),
        },
    ),
)
