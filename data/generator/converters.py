"""Invented converters: closed forms, parameters, and the text of their files.

Symbols: nu speed ratio, mu torque ratio, lambda performance coefficient, C capacity coefficient,
D profile diameter, rho oil density. C = lambda rho D^5, T_impeller = C w^2.

* Up to the coupling point nu_c: mu = mu0 - (mu0 - 1)(nu/nu_c)^a,
  lambda = lambda0 (1 + b nu - c nu^2).
* One-way stator beyond nu_c: mu = 1, lambda = lambda_c ((1 - nu)/(1 - nu_c))^q, lambda_c being
  lambda at nu_c. The exponent lies between 0.5 (flow limited by friction alone) and 1 (linear in
  slip).
* Overrun, nu > 1: mu = 1, lambda = -g lambda_c ((nu - 1)/(1 - nu_c))^q.
* Turbine turning backwards, nu < 0: mu = mu0 + m (1 - exp(2 nu)), lambda as below nu_c.
* Fixed stator: the first pair of equations over the whole range, so that mu falls below 1.
* Fluid coupling: mu = 1, lambda = lambda0 (1 - nu^6)^q.

Inertia [kg m2], oil included: impeller 72 D^5, turbine 33 D^5. Limits: input torque 30 kN.m
(D/m)^3 (equal shell stress), speed 1050 rpm / (D/m) (equal rim speed), power 0.7 of their product.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from generator.engines import ROTATION, RPM
from generator.toml_text import LBF_FT, SOURCE, also_column, number, one, row, text

Array = NDArray[np.float64]

OIL_DENSITY = 840.0  # kg/m3, at which the invented capacities hold


@dataclass(frozen=True, kw_only=True)
class Converter:
    """Parameters of one invented converter."""

    id: str
    name: str
    stator: str
    diameter_mm: int
    lambda0: float
    mu0: float = 1.0
    nu_c: float = 1.0
    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    q: float = 0.8
    m: float = 0.0
    g: float = 0.0
    rows: Sequence[float]
    form: str
    unit: str
    reference_rpm: int = 0
    states_coupling: bool = True
    states_efficiency: bool = False
    states_limits: bool = False
    states_inertia: bool = False
    interface: dict[str, str] = field(default_factory=dict)  # TOML text by key


def torque_ratio(t: Converter, nu: Array) -> Array:
    """Return the torque ratio at speed ratios ``nu``, before rounding."""
    if t.stator == "none":
        return np.ones_like(nu)
    mu = t.mu0 - (t.mu0 - 1.0) * (np.maximum(nu, 0.0) / t.nu_c) ** t.a
    mu = np.where(nu < 0.0, t.mu0 + t.m * (1.0 - np.exp(2.0 * nu)), mu)
    return mu if t.stator == "fixed" else np.maximum(mu, 1.0)


def performance_coefficient(t: Converter, nu: Array) -> Array:
    """Return lambda at speed ratios ``nu``, before rounding."""
    if t.stator == "none":
        return t.lambda0 * (1.0 - nu**6) ** t.q

    def working(at: Array | float) -> Array | float:
        return t.lambda0 * (1.0 + t.b * at - t.c * at**2)

    if t.stator == "fixed":
        return np.asarray(working(nu))
    slip = (1.0 - nu) / (1.0 - t.nu_c)
    freewheeling = working(t.nu_c) * np.where(nu > 1.0, -t.g, 1.0) * np.abs(slip) ** t.q
    return np.where(nu <= t.nu_c, working(nu), freewheeling)


def capacity_column(t: Converter, nu: Array) -> tuple[Array, int]:
    """Return the capacity in the form and unit of the sheet, and the decimals it prints."""
    lam = performance_coefficient(t, nu)
    if t.form == "performance_coefficient":
        return lam, 6
    c = lam * OIL_DENSITY * (t.diameter_mm * 1e-3) ** 5  # N.m/(rad/s)^2
    if t.form == "capacity_coefficient":
        return c, 5
    if t.form == "k_factor":
        torque = LBF_FT if "lbf" in t.unit else 1.0
        return np.sqrt(torque / c) / RPM, 1
    speed = t.reference_rpm * RPM
    if t.form == "torque_at_speed":
        return c * speed**2 / (LBF_FT if "lbf" in t.unit else 1.0), 1
    return c * speed**3 / 1e3, 1  # power_at_speed, kW


def converter_text(t: Converter) -> str:
    """Return the TOML text of one converter file."""
    nu = np.array(t.rows)
    mu = torque_ratio(t, nu)
    column, decimals = capacity_column(t, nu)
    diameter = t.diameter_mm * 1e-3
    lines = [
        'schema = "converter-match/converter/1"',
        f"id = {text(t.id)}",
        f"name = {text(t.name)}",
        f"source = {text(SOURCE)}",
        f"stator = {text(t.stator)}",
        f"profile_diameter = {one(t.diameter_mm, 'mm')}",
        f"oil_density = {one(OIL_DENSITY, 'kg/m**3')}",
    ]
    if t.stator == "one-way" and t.states_coupling:
        lines += [f"coupling_speed_ratio = {{ value = {t.nu_c:.2f} }}"]
    reference = f"reference_speed = {one(t.reference_rpm, 'rpm')}, " if t.reference_rpm else ""
    values = row(column, decimals)
    second = also_column([number(value, decimals) for value in column], t.unit)
    lines += [
        "",
        "[characteristic]",
        f"speed_ratio = {row(nu, 2)}",
        f"torque_ratio = {row(mu, 2)}",
        f"capacity = {{ form = {text(t.form)}, {reference}unit = {text(t.unit)}, "
        f"values = {values}{second} }}",
    ]
    if t.states_efficiency:
        # From the printed columns: a sheet's three columns agree to their last digit.
        lines += [f"efficiency = {row(nu.round(2) * mu.round(2), 3)}"]
    if t.states_limits:
        torque, speed = 30e3 * diameter**3, 1050.0 / diameter
        power = 0.7 * torque * speed * RPM / 1e3
        lines += [
            "",
            "[limits]",
            f"input_torque = {one(10 * round(torque / 10), 'N*m')}",
            f"input_speed = {one(50 * round(speed / 50), 'rpm')}",
            f"input_power = {one(5 * round(power / 5), 'kW')}",
            f"oil_temperature = {one(120, 'degC', twice=False)}",
        ]
    if t.states_inertia:
        lines += [
            "",
            "[inertia]",
            f"impeller = {one(72 * diameter**5, 'kg*m**2', 3)}",
            f"turbine = {one(33 * diameter**5, 'kg*m**2', 3)}",
        ]
    if t.interface:
        lines += ["", "[interface]"] + [f"{key} = {value}" for key, value in t.interface.items()]
    return "\n".join(lines) + "\n"


CONVERTERS = (
    Converter(
        id="single-stage-260mm",
        name="Single-stage converter, 260 mm, for a lift truck",
        stator="one-way",
        diameter_mm=260,
        lambda0=0.00377,
        mu0=2.45,
        nu_c=0.83,
        a=0.95,
        b=0.10,
        c=0.30,
        q=0.85,
        rows=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.78, 0.83, 0.88, 0.92, 0.96, 0.98, 1.0),
        form="torque_at_speed",
        unit="N*m",
        reference_rpm=1000,
        states_limits=True,
    ),
    Converter(
        id="single-stage-310mm",
        name="Single-stage converter, 310 mm, smaller sister of the 325 mm",
        stator="one-way",
        diameter_mm=310,
        lambda0=0.0041,
        mu0=2.35,
        nu_c=0.84,
        a=1.0,
        b=0.15,
        c=0.38,
        q=0.8,
        rows=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.84, 0.88, 0.92, 0.95, 0.98),
        form="k_factor",
        unit="rpm/(N*m)**0.5",
    ),
    Converter(
        id="single-stage-325mm",
        name="Single-stage converter, 325 mm, larger sister of the 310 mm",
        stator="one-way",
        diameter_mm=325,
        lambda0=0.0041,
        mu0=2.35,
        nu_c=0.84,
        a=1.0,
        b=0.15,
        c=0.38,
        q=0.8,
        rows=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.84, 0.88, 0.92, 0.95, 0.98),
        form="k_factor",
        unit="rpm/(lbf*ft)**0.5",
    ),
    Converter(
        id="single-stage-345mm-tight",
        name="Single-stage converter, 345 mm, tight",
        stator="one-way",
        diameter_mm=345,
        lambda0=0.0058,
        mu0=2.20,
        nu_c=0.86,
        a=1.03,
        b=0.08,
        c=0.32,
        q=0.8,
        rows=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.86, 0.90, 0.93, 0.96, 0.98),
        form="k_factor",
        unit="rpm/(lbf*ft)**0.5",
        states_limits=True,
        states_inertia=True,
        interface={
            "housing": '"SAE 2"',
            "flywheel": '"11.5 in"',
            "pilot_diameter": one(50, "mm"),
            "rotation": text(ROTATION),
        },
    ),
    Converter(
        id="single-stage-345mm-loose",
        name="Single-stage converter, 345 mm, loose: the tight one with another stator blade angle",
        stator="one-way",
        diameter_mm=345,
        lambda0=0.0047,
        mu0=2.60,
        nu_c=0.82,
        a=0.95,
        b=0.20,
        c=0.45,
        q=0.8,
        rows=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.77, 0.82, 0.87, 0.91, 0.95, 0.98),
        form="k_factor",
        unit="rpm/(N*m)**0.5",
        states_efficiency=True,
        states_limits=True,
        states_inertia=True,
        interface={"housing": '"SAE 3"', "flywheel": '"11.5 in"'},
    ),
    Converter(
        id="single-stage-360mm",
        name="Single-stage converter, 360 mm, sheet in US units without its coupling point",
        stator="one-way",
        diameter_mm=360,
        lambda0=0.0054,
        mu0=2.10,
        nu_c=0.87,
        a=1.0,
        b=0.0,
        c=0.25,
        q=0.75,
        rows=(0.0, 0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.87, 0.91, 0.95, 0.98, 1.0),
        form="torque_at_speed",
        unit="lbf*ft",
        reference_rpm=1700,
        states_coupling=False,
    ),
    Converter(
        id="single-stage-380mm-tight",
        name="Single-stage converter, 380 mm, tight, low torque ratio",
        stator="one-way",
        diameter_mm=380,
        lambda0=0.0054,
        mu0=1.85,
        nu_c=0.88,
        a=1.05,
        b=0.05,
        c=0.28,
        q=0.8,
        rows=(0.0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.88, 0.92, 0.95, 0.98, 1.0),
        form="capacity_coefficient",
        unit="N*m/(rad/s)**2",
    ),
    Converter(
        id="single-stage-390mm-full-range",
        name="Single-stage converter, 390 mm, with backward and overrun data",
        stator="one-way",
        diameter_mm=390,
        lambda0=0.0052,
        mu0=2.40,
        nu_c=0.85,
        a=0.98,
        b=0.10,
        c=0.30,
        q=0.8,
        m=0.55,
        g=0.5,
        rows=(
            *(-0.6, -0.4, -0.2, 0.0, 0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85),
            *(0.9, 0.94, 0.97, 1.0, 1.03, 1.06, 1.1, 1.2, 1.3),
        ),
        form="performance_coefficient",
        unit="1",
        states_limits=True,
        states_inertia=True,
        interface={
            "housing": '"SAE 1"',
            "flywheel": '"14 in"',
            "pilot_diameter": one(80, "mm"),
            "rotation": text(ROTATION),
        },
    ),
    Converter(
        id="single-stage-420mm",
        name="Single-stage converter, 420 mm",
        stator="one-way",
        diameter_mm=420,
        lambda0=0.0059,
        mu0=2.00,
        nu_c=0.88,
        a=1.0,
        b=0.06,
        c=0.26,
        q=0.8,
        rows=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.88, 0.92, 0.95, 0.98),
        form="k_factor",
        unit="rpm/(N*m)**0.5",
        states_limits=True,
        states_inertia=True,
        interface={
            "housing": '"SAE 1"',
            "flywheel": '"14 in"',
            "pilot_diameter": one(80, "mm"),
            "rotation": text(ROTATION),
        },
    ),
    Converter(
        id="fixed-stator-400mm-high-ratio",
        name="Single-stage converter, 400 mm, fixed stator, high torque ratio",
        stator="fixed",
        diameter_mm=400,
        lambda0=0.0030,
        mu0=3.20,
        nu_c=0.76,
        a=0.85,
        b=-0.10,
        c=0.32,
        rows=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.76, 0.8, 0.9, 1.0),
        form="torque_at_speed",
        unit="N*m",
        reference_rpm=1800,
    ),
    Converter(
        id="fluid-coupling-360mm",
        name="Fluid coupling, 360 mm, for a saw line",
        stator="none",
        diameter_mm=360,
        lambda0=0.0058,
        q=0.9,
        rows=(0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.85, 0.9, 0.94, 0.97, 0.985, 1.0),
        form="power_at_speed",
        unit="kW",
        reference_rpm=1500,
    ),
)
