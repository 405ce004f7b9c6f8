"""Trade spellings of length, time, mass, force, torque, speed, power and what is made of them."""

from __future__ import annotations

import math

from converter_match.constants import GRAVITY, RPM
from converter_match.units.tables import (
    BTU,
    FOOT,
    HOUR,
    HP,
    INCH,
    KCAL_IT,
    KCAL_TH,
    KGF,
    LBF,
    MILE,
    MINUTE,
    POUND,
    PS,
    REVOLUTION,
    SLUG,
    YARD,
    Dimension,
    Row,
)

TORQUE = (
    Row(1.0, "N.m, Nm, NM, N.M, m.N, newton metre, newton metres, newton meter, newton meters"),
    Row(1000.0, "kN.m, kNm, KN.m, KNm"),
    Row(10.0, "daN.m, daNm, m.daN, mdaN"),
    Row(
        LBF * FOOT,
        "lbf.ft, lb.ft, ft.lbf, ft.lb, lbft, ftlb, lbfft, ftlbf, lbs.ft, ft.lbs, LB.FT, FT.LB, "
        "LBF.FT, FT.LBF, LBS.FT, FT.LBS, Lb.Ft, Ft.Lb, LBFT, FTLB, pound foot, pound feet, "
        "foot pound, foot pounds",
    ),
    Row(
        LBF * INCH,
        "lbf.in, lb.in, in.lbf, in.lb, lbin, inlb, lbs.in, in.lbs, LB.IN, IN.LB, Lb.In, In.Lb, "
        "LBF.IN, IN.LBF, pound inch, inch pound, inch pounds",
    ),
    # In a torque column a "kilogram metre" can only be the force: older sheets write it so.
    Row(
        KGF,
        "kgf.m, kgfm, m.kgf, mkgf, kg.m, kgm, m.kg, mkg, kp.m, kpm, m.kp, mkp, KGF.M, KG.M, KGM, "
        "KPM, Kgf.m, Kg.m, Kgm, MKG",
    ),
    Row(KGF / 100.0, "kgf.cm, kg.cm, cm.kgf, cm.kg"),
)

ANGULAR_SPEED = (
    Row(1.0, "rad/s, rad/sec, rad.s^-1"),
    Row(
        RPM,
        "rpm, RPM, Rpm, r.p.m, r/min, R/MIN, 1/min, min^-1, rev/min, revs/min, REV/MIN, U/min, "
        "tr/min, giri/min, revolutions per minute",
    ),
    Row(REVOLUTION, "rev/s, rps, RPS"),
)


def _bracketed(spelling: str) -> str:
    return f"({spelling})" if "/" in spelling or "^" in spelling or "." in spelling else spelling


def _per_root_torque() -> tuple[Row, ...]:
    # K-factor: any accepted speed over the root of any accepted torque.
    return tuple(
        Row(
            speed.factor / math.sqrt(torque.factor),
            ",".join(f"{_bracketed(s)}/sqrt({t})" for s in speed.names() for t in torque.names()),
        )
        for speed in ANGULAR_SPEED
        for torque in TORQUE
    )


def _per_speed_squared() -> tuple[Row, ...]:
    rows = tuple(
        Row(
            torque.factor / speed.factor**2,
            ",".join(f"{t}/{_bracketed(s)}^2" for t in torque.names() for s in speed.names()),
        )
        for torque in TORQUE
        for speed in ANGULAR_SPEED
    )
    return (*rows, Row(1.0, "N.m.s2/rad2, N.m.s2"))


MECHANICAL: dict[str, Dimension] = {
    "torque": Dimension("torque", "N.m", "lbf.ft", "N.m, lbf.ft, kgf.m", TORQUE),
    "angular_speed": Dimension("angular speed", "rpm", "rpm", "rpm, rad/s, rev/s", ANGULAR_SPEED),
    "power": Dimension(
        "power",
        "kW",
        "hp",
        "kW, hp, PS",
        (
            Row(1.0, "W, watt, watts, J/s"),
            Row(1e3, "kW, KW, Kw, kw, kilowatt, kilowatts, kJ/s"),
            Row(1e6, "MW, megawatt, megawatts"),
            Row(
                HP,
                "hp, HP, Hp, bhp, BHP, Bhp, horsepower, mechanical horsepower, hp(mechanical), "
                "hp(imperial)",
            ),
            Row(PS, "PS, ps, Ps, pk, PK, cv, CV, ch, hk, metric horsepower, metric hp, hp(metric)"),
            Row(LBF * FOOT, "ft.lbf/s, ft.lb/s, lbf.ft/s, lb.ft/s"),
            Row(LBF * FOOT / MINUTE, "ft.lbf/min, ft.lb/min, lbf.ft/min, lb.ft/min"),
            Row(KGF, "kgf.m/s, kg.m/s, kp.m/s"),
            Row(BTU, "BTU/s, Btu/s"),
            Row(BTU / MINUTE, "BTU/min, Btu/min"),
            Row(BTU / HOUR, "BTU/h, Btu/h, BTU/hr, Btu/hr"),
            Row(KCAL_IT / HOUR, "kcal_IT/h"),
            Row(KCAL_TH / HOUR, "kcal_th/h"),
        ),
    ),
    "length": Dimension(
        "length",
        "mm",
        "in",
        "mm, m, in, ft",
        (
            Row(1.0, "m, metre, metres, meter, meters"),
            Row(1e-3, "mm, MM, millimetre, millimetres, millimeter, millimeters"),
            Row(1e-2, "cm, CM, centimetre, centimetres, centimeter, centimeters"),
            Row(1e3, "km, KM, Km, kilometre, kilometres, kilometer, kilometers"),
            Row(INCH, "in, inch, inches, IN, In, Inch"),
            Row(FOOT, "ft, foot, feet, FT, Ft"),
            Row(YARD, "yd, yard, yards"),
            Row(MILE, "mi, mile, miles"),
        ),
    ),
    "area": Dimension(
        "area",
        "m2",
        "ft2",
        "m2, cm2, ft2, in2",
        (
            Row(1.0, "m2, sq m"),
            Row(1e-4, "cm2, sq cm"),
            Row(1e-6, "mm2, sq mm"),
            Row(FOOT**2, "ft2, sq ft"),
            Row(INCH**2, "in2, sq in"),
        ),
    ),
    "angle": Dimension(
        "angle",
        "deg",
        "deg",
        "deg, rad",
        (
            Row(1.0, "rad, radian, radians"),
            Row(math.pi / 180.0, "deg, degree, degrees"),
            Row(REVOLUTION, "rev, revolution, revolutions, turn, turns"),
        ),
    ),
    "time": Dimension(
        "time",
        "s",
        "s",
        "s, min, h",
        (
            Row(1.0, "s, sec, second, seconds"),
            Row(1e-3, "ms, millisecond, milliseconds"),
            Row(MINUTE, "min, minute, minutes"),
            Row(HOUR, "h, hr, hrs, hour, hours"),
        ),
    ),
    "mass": Dimension(
        "mass",
        "kg",
        "lb",
        "kg, t, lb, short ton",
        (
            Row(1.0, "kg, KG, Kg, kgs, kilogram, kilograms, kilogramme, kilogrammes"),
            Row(1e-3, "g, gram, grams, gramme, grammes"),
            Row(1000.0, "t, tonne, tonnes, metric ton, metric tons, metric tonne, metric tonnes"),
            Row(POUND, "lb, lbs, lbm, LB, LBS, Lb, Lbs, pound, pounds"),
            Row(2000.0 * POUND, "short ton, short tons, US ton, US tons"),
            Row(
                2240.0 * POUND, "long ton, long tons, imperial ton, imperial tons, UK ton, UK tons"
            ),
            Row(SLUG, "slug, slugs"),
        ),
    ),
    "force": Dimension(
        "force",
        "kN",
        "lbf",
        "N, kN, lbf, kgf",
        (
            Row(1.0, "N, newton, newtons"),
            Row(1e3, "kN, KN, kilonewton, kilonewtons"),
            Row(10.0, "daN"),
            # Rimpull and drawbar pull in pounds: nothing but the force can be meant there.
            Row(LBF, "lbf, lb, lbs, LBF, LB, LBS, Lbf, pound force, pounds force"),
            Row(1000.0 * LBF, "kip, kips, klbf"),
            Row(KGF, "kgf, kp, KGF, Kgf, kilogram force, kilopond"),
            Row(1000.0 * KGF, "tf, tonne force"),
        ),
    ),
    "velocity": Dimension(
        "velocity",
        "km/h",
        "mph",
        "km/h, mph, m/s",
        (
            Row(1.0, "m/s, m/sec, m.s^-1, metres per second, meters per second"),
            Row(
                1000.0 / HOUR,
                "km/h, kph, KPH, Kph, kmh, KMH, KM/H, Km/h, km/hr, kmph, kilometres per hour,"
                "kilometers per hour",
            ),
            Row(1.0 / MINUTE, "m/min, metres per minute, meters per minute"),
            Row(MILE / HOUR, "mph, MPH, Mph, mi/h, mi/hr, mile/h, miles per hour"),
            Row(FOOT, "ft/s, ft/sec, fps, feet per second"),
            Row(FOOT / MINUTE, "ft/min, fpm, FPM, FT/MIN, feet per minute"),
        ),
    ),
    "acceleration": Dimension(
        "acceleration",
        "m/s2",
        "ft/s2",
        "m/s2, ft/s2, g",
        (
            Row(1.0, "m/s2, m/sec2, m/s/s, m.s^-2"),
            Row(FOOT, "ft/s2, ft/sec2, ft/s/s"),
            Row(GRAVITY, "g, gn"),
            Row(1000.0 / HOUR, "km/h/s"),
            Row(MILE / HOUR, "mph/s"),
        ),
    ),
    "inertia": Dimension(
        "inertia",
        "kg.m2",
        "lb.ft2",
        "kg.m2, lb.ft2, lbf.ft.s2",
        (
            Row(1.0, "kg.m2, kgm2, Kg.m2, KG.M2, N.m.s2, Nm.s2"),
            Row(1e-4, "kg.cm2, kgcm2"),
            Row(1e-6, "kg.mm2, kgmm2"),
            Row(POUND * FOOT**2, "lb.ft2, lbm.ft2, lbft2, LB.FT2"),
            Row(POUND * INCH**2, "lb.in2, lbm.in2, lbin2, LB.IN2"),
            Row(
                LBF * FOOT,
                "lbf.ft.s2, lb.ft.s2, ft.lbf.s2, ft.lb.s2, lbf.ft.sec2, lb.ft.sec2, ft.lb.sec2,"
                "slug.ft2, slugs.ft2",
            ),
            Row(
                LBF * INCH,
                "lbf.in.s2, lb.in.s2, in.lbf.s2, in.lb.s2, lbf.in.sec2, lb.in.sec2, in.lb.sec2",
            ),
            Row(KGF, "kgf.m.s2, kg.m.s2, kp.m.s2"),
            Row(KGF / 100.0, "kgf.cm.s2, kg.cm.s2"),
        ),
    ),
    "k_factor": Dimension(
        "K-factor",
        "rpm/sqrt(N.m)",
        "rpm/sqrt(lbf.ft)",
        "rpm/sqrt(N.m), rpm/sqrt(lbf.ft), (rad/s)/sqrt(N.m)",
        _per_root_torque(),
    ),
    "capacity_coefficient": Dimension(
        "capacity coefficient",
        "N.m/(rad/s)^2",
        "lbf.ft/rpm^2",
        "N.m/(rad/s)^2, N.m/rpm^2, lbf.ft/rpm^2",
        _per_speed_squared(),
    ),
    "ratio": Dimension(
        "ratio",
        "1",
        "1",
        "1, %",
        (
            Row(1.0, "1, -, ratio, "),  # the last one is empty: a bare number is a ratio
            Row(1e-2, "%, percent, per cent, pct"),
            Row(1e-3, "per mille, permille, ‰"),
        ),
    ),
    # Resistance and pull as a share of the weight, grades as rise over run.
    "weight_share": Dimension(
        "share of weight",
        "%",
        "%",
        "%, lb/short ton, kgf/t",
        (
            Row(1.0, "1, -, ratio, N/N, kN/kN, "),
            Row(1e-2, "%, percent, per cent, pct"),
            Row(1e-3, "per mille, permille, ‰, kgf/t, kg/t, kgf/tonne, kg/tonne"),
            Row(1.0 / 2000.0, "lb/short ton, lbf/short ton, lbs/short ton, lb/US ton"),
        ),
    ),
}
