"""Every spelling of the unit vocabulary, checked against the pint library."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pint
import pytest

from converter_match.units import DIMENSIONS, si_unit, spellings, to_si
from converter_match.units.spelling import normalise

# What each spelling means, in pint's words (pint itself misreads many of ours: PS, Nm, lb.ft).
# Trade meanings that pint cannot confirm, such as kg.m for kgf.m or bhp for the mechanical
# horsepower, are common practice, no source.
MEANING: dict[str, dict[str, str]] = {
    "torque": {
        "newton*meter": (
            "N.m, Nm, NM, N.M, m.N, newton metre, newton metres, newton meter, newton meters"
        ),
        "kilonewton*meter": "kN.m, kNm, KN.m, KNm",
        "decanewton*meter": "daN.m, daNm, m.daN, mdaN",
        "force_pound*foot": (
            "lbf.ft, lb.ft, ft.lbf, ft.lb, lbft, ftlb, lbfft, ftlbf, lbs.ft, ft.lbs, LB.FT, "
            "FT.LB, LBF.FT, FT.LBF, LBS.FT, FT.LBS, Lb.Ft, Ft.Lb, LBFT, FTLB, pound foot, "
            "pound feet, foot pound, foot pounds"
        ),
        "force_pound*inch": (
            "lbf.in, lb.in, in.lbf, in.lb, lbin, inlb, lbs.in, in.lbs, LB.IN, IN.LB, Lb.In, "
            "In.Lb, LBF.IN, IN.LBF, pound inch, inch pound, inch pounds"
        ),
        "force_kilogram*meter": (
            "kgf.m, kgfm, m.kgf, mkgf, kg.m, kgm, m.kg, mkg, kp.m, kpm, m.kp, mkp, KGF.M, "
            "KG.M, KGM, KPM, Kgf.m, Kg.m, Kgm, MKG"
        ),
        "force_kilogram*centimeter": "kgf.cm, kg.cm, cm.kgf, cm.kg",
    },
    "angular_speed": {
        "radian/second": "rad/s, rad/sec, rad.s^-1",
        "revolution/minute": (
            "rpm, RPM, Rpm, r.p.m, r/min, R/MIN, 1/min, min^-1, rev/min, revs/min, REV/MIN, "
            "U/min, tr/min, giri/min, revolutions per minute"
        ),
        "revolution/second": "rev/s, rps, RPS",
    },
    "power": {
        "watt": "W, watt, watts, J/s",
        "kilowatt": "kW, KW, Kw, kw, kilowatt, kilowatts, kJ/s",
        "megawatt": "MW, megawatt, megawatts",
        "horsepower": (
            "hp, HP, Hp, bhp, BHP, Bhp, horsepower, mechanical horsepower, hp(mechanical), "
            "hp(imperial)"
        ),
        "metric_horsepower": (
            "PS, ps, Ps, pk, PK, cv, CV, ch, hk, metric horsepower, metric hp, hp(metric)"
        ),
        "foot*force_pound/second": "ft.lbf/s, ft.lb/s, lbf.ft/s, lb.ft/s",
        "foot*force_pound/minute": "ft.lbf/min, ft.lb/min, lbf.ft/min, lb.ft/min",
        "force_kilogram*meter/second": "kgf.m/s, kg.m/s, kp.m/s",
        "Btu_it/second": "BTU/s, Btu/s",
        "Btu_it/minute": "BTU/min, Btu/min",
        "Btu_it/hour": "BTU/h, Btu/h, BTU/hr, Btu/hr",
        "kilointernational_calorie/hour": "kcal_IT/h",
        "kilocalorie/hour": "kcal_th/h",
    },
    "length": {
        "meter": "m, metre, metres, meter, meters",
        "millimeter": "mm, MM, millimetre, millimetres, millimeter, millimeters",
        "centimeter": "cm, CM, centimetre, centimetres, centimeter, centimeters",
        "kilometer": "km, KM, Km, kilometre, kilometres, kilometer, kilometers",
        "inch": "in, inch, inches, IN, In, Inch",
        "foot": "ft, foot, feet, FT, Ft",
        "yard": "yd, yard, yards",
        "mile": "mi, mile, miles",
    },
    "area": {
        "meter**2": "m2, sq m",
        "centimeter**2": "cm2, sq cm",
        "millimeter**2": "mm2, sq mm",
        "foot**2": "ft2, sq ft",
        "inch**2": "in2, sq in",
    },
    "angle": {
        "radian": "rad, radian, radians",
        "degree": "deg, degree, degrees",
        "revolution": "rev, revolution, revolutions, turn, turns",
    },
    "time": {
        "second": "s, sec, second, seconds",
        "millisecond": "ms, millisecond, milliseconds",
        "minute": "min, minute, minutes",
        "hour": "h, hr, hrs, hour, hours",
    },
    "mass": {
        "kilogram": "kg, KG, Kg, kgs, kilogram, kilograms, kilogramme, kilogrammes",
        "gram": "g, gram, grams, gramme, grammes",
        "metric_ton": "t, tonne, tonnes, metric ton, metric tons, metric tonne, metric tonnes",
        "pound": "lb, lbs, lbm, LB, LBS, Lb, Lbs, pound, pounds",
        "short_ton": "short ton, short tons, US ton, US tons",
        "long_ton": "long ton, long tons, imperial ton, imperial tons, UK ton, UK tons",
        "slug": "slug, slugs",
    },
    "force": {
        "newton": "N, newton, newtons",
        "kilonewton": "kN, KN, kilonewton, kilonewtons",
        "decanewton": "daN",
        "force_pound": "lbf, lb, lbs, LBF, LB, LBS, Lbf, pound force, pounds force",
        "kip": "kip, kips, klbf",
        "force_kilogram": "kgf, kp, KGF, Kgf, kilogram force, kilopond",
        "force_metric_ton": "tf, tonne force",
    },
    "velocity": {
        "meter/second": "m/s, m/sec, m.s^-1, metres per second, meters per second",
        "kilometer/hour": (
            "km/h, kph, KPH, Kph, kmh, KMH, KM/H, Km/h, km/hr, kmph, kilometres per hour, "
            "kilometers per hour"
        ),
        "meter/minute": "m/min, metres per minute, meters per minute",
        "mile/hour": "mph, MPH, Mph, mi/h, mi/hr, mile/h, miles per hour",
        "foot/second": "ft/s, ft/sec, fps, feet per second",
        "foot/minute": "ft/min, fpm, FPM, FT/MIN, feet per minute",
    },
    "acceleration": {
        "meter/second**2": "m/s2, m/sec2, m/s/s, m.s^-2",
        "foot/second**2": "ft/s2, ft/sec2, ft/s/s",
        "standard_gravity": "g, gn",
        "kilometer/hour/second": "km/h/s",
        "mile/hour/second": "mph/s",
    },
    "inertia": {
        "kilogram*meter**2": "kg.m2, kgm2, Kg.m2, KG.M2, N.m.s2, Nm.s2",
        "kilogram*centimeter**2": "kg.cm2, kgcm2",
        "kilogram*millimeter**2": "kg.mm2, kgmm2",
        "pound*foot**2": "lb.ft2, lbm.ft2, lbft2, LB.FT2",
        "pound*inch**2": "lb.in2, lbm.in2, lbin2, LB.IN2",
        "force_pound*foot*second**2": (
            "lbf.ft.s2, lb.ft.s2, ft.lbf.s2, ft.lb.s2, lbf.ft.sec2, lb.ft.sec2, ft.lb.sec2, "
            "slug.ft2, slugs.ft2"
        ),
        "force_pound*inch*second**2": (
            "lbf.in.s2, lb.in.s2, in.lbf.s2, in.lb.s2, lbf.in.sec2, lb.in.sec2, in.lb.sec2"
        ),
        "force_kilogram*meter*second**2": "kgf.m.s2, kg.m.s2, kp.m.s2",
        "force_kilogram*centimeter*second**2": "kgf.cm.s2, kg.cm.s2",
    },
    "ratio": {
        "dimensionless": "1, -, ratio, ",
        "percent": "%, percent, per cent, pct",
        "permille": "per mille, permille, ‰",
    },
    # A pound of force for a short ton of weight: 1/2000, whatever gravity is.
    "weight_share": {
        "dimensionless": "1, -, ratio, N/N, kN/kN, ",
        "percent": "%, percent, per cent, pct",
        "force_kilogram/(metric_ton*standard_gravity)": (
            "per mille, permille, ‰, kgf/t, kg/t, kgf/tonne, kg/tonne"
        ),
        "force_pound/(short_ton*standard_gravity)": (
            "lb/short ton, lbf/short ton, lbs/short ton, lb/US ton"
        ),
    },
    "pressure": {
        "pascal": "Pa, pascal, pascals",
        "kilopascal": "kPa, KPA, KPa, kpa, Kpa, kPa(a), kPaa, kPa abs, kPa absolute",
        "megapascal": "MPa, megapascal",
        "bar": "bar, Bar, BAR, bars, bara, bar(a), bar abs, bar absolute",
        "millibar": "mbar, mbara, mbar(a), mbar abs, mb, hPa, millibar, millibars",
        "force_pound/inch**2": (
            "psi, PSI, Psi, psia, PSIA, psi(a), psi abs, psi absolute, lbf/in2, lb/in2, lb/sq "
            "in, lbf/sq in"
        ),
        "inch_Hg": "inHg, in Hg, InHg, inches Hg, inches of mercury",
        "inch_H2O": "inH2O, in H2O, inches H2O, inches of water",
        "millimeter_Hg": "mmHg, mm Hg",
        "torr": "Torr, torr",
        "mmH2O": "mmH2O, mm H2O",
        "standard_atmosphere": "atm",
        "force_kilogram/centimeter**2": "kgf/cm2, kg/cm2, kp/cm2",
    },
    "temperature": {
        "kelvin": "K, kelvin, Kelvin, degK",
        "degree_Celsius": "degC, deg C, C, celsius, Celsius, degrees C, degrees Celsius",
        "degree_Fahrenheit": (
            "degF, deg F, F, fahrenheit, Fahrenheit, degrees F, degrees Fahrenheit"
        ),
    },
    "temperature_difference": {
        "kelvin": (
            "K, kelvin, Kelvin, degK, degC, deg C, C, celsius, Celsius, delta degC, degrees C"
        ),
        "delta_degree_Fahrenheit": "degF, deg F, F, fahrenheit, Fahrenheit, delta degF, degrees F",
    },
    "density": {
        "kilogram/meter**3": "kg/m3, Kg/m3, KG/M3, kg.m^-3, g/L, g/l",
        "kilogram/liter": "kg/L, kg/l, kg/dm3, g/cm3, g/cc, g/mL, g/ml, t/m3",
        "pound/foot**3": "lb/ft3, lbm/ft3, lbs/ft3, lb/cu ft, lb/cuft, LB/FT3",
        "pound/yard**3": "lb/yd3, lb/cu yd",
        "pound/gallon": "lb/US gal, lb/gal(US), lbs/US gal, lbs/gal(US)",
        "pound/imperial_gallon": "lb/imp gal, lb/gal(imp), lb/UK gal, lb/gal(UK)",
    },
    "volume": {
        "meter**3": "m3, cu m",
        "liter": "L, l, litre, litres, liter, liters, dm3",
        "centimeter**3": "cm3, cc, CC, mL, ml, ccm",
        "inch**3": "in3, cu in, cuin, CID, cid",
        "foot**3": "ft3, cu ft, cuft",
        "gallon": "US gal, USgal, US gallon, US gallons, gal(US)",
        "quart": "US qt, US quart, US quarts, qt(US)",
        "imperial_gallon": (
            "imp gal, Imp gal, imperial gal, imperial gallon, imperial gallons, UK gal, "
            "gal(imp), gal(UK)"
        ),
        "imperial_quart": "imp qt, imperial quart, imperial quarts, UK qt, qt(imp), qt(UK)",
    },
    "volume_flow": {
        "meter**3/second": "m3/s",
        "meter**3/minute": "m3/min",
        "meter**3/hour": "m3/h, m3/hr",
        "liter/second": "L/s, l/s",
        "liter/minute": "L/min, l/min, lpm, LPM, Lpm, dm3/min",
        "liter/hour": "L/h, l/h, L/hr, l/hr",
        "foot**3/minute": "ft3/min, cfm, CFM, cu ft/min",
        "gallon/minute": "US gal/min, gal(US)/min, US gpm, US GPM, USgpm, USGPM, gpm(US)",
        "gallon/hour": "US gal/h, gal(US)/h, US gal/hr, US gph, gph(US)",
        "imperial_gallon/minute": "imp gal/min, gal(imp)/min, UK gal/min, imp gpm, gpm(imp)",
        "imperial_gallon/hour": "imp gal/h, gal(imp)/h, UK gal/h, imp gph, gph(imp)",
    },
    "specific_fuel": {
        "kilogram/joule": "kg/J",
        "gram/kilowatt/hour": (
            "g/kWh, g/kW.h, g/(kW.h), g/kW.hr, g/(kW.hr), g/kWhr, g/kW/h, g/KWh, g/KWH, "
            "g/kwh, G/KWH, g/kw.h, g/KW.h, G/KW.H, kg/MWh"
        ),
        "kilogram/kilowatt/hour": "kg/kWh, kg/kW.h, kg/(kW.h), kg/kW/h, kg/KWh, kg/kwh",
        "gram/megajoule": "g/MJ, mg/kJ",
        "gram/kilojoule": "kg/MJ, g/kJ",
        "pound/horsepower/hour": (
            "lb/(hp.h), lb/hp.h, lb/(hp.hr), lb/hp.hr, lb/hph, lb/hphr, lb/hp/h, lb/(bhp.h), "
            "lb/bhp.h, lb/(bhp.hr), lb/bhp.hr, lb/bhph, lb/bhphr, LB/HP.HR, LB/BHP.HR, "
            "lbm/(hp.h), lbm/hp.h"
        ),
        "gram/horsepower/hour": (
            "g/(hp.h), g/hp.h, g/(hp.hr), g/hp.hr, g/hph, g/(bhp.h), g/bhp.h, g/(bhp.hr), g/bhp.hr"
        ),
        "gram/metric_horsepower/hour": (
            "g/(PS.h), g/PS.h, g/PSh, g/(cv.h), g/cv.h, g/(CV.h), g/CV.h"
        ),
    },
    "fuel_rate": {
        "kilogram/second": "kg/s",
        "kilogram/minute": "kg/min",
        "kilogram/hour": "kg/h, kg/hr, KG/H, Kg/h",
        "gram/second": "g/s",
        "gram/minute": "g/min",
        "gram/hour": "g/h, g/hr",
        "pound/hour": "lb/h, lb/hr, lbs/h, lbs/hr, LB/HR, lbm/h, lbm/hr, pph",
        "pound/minute": "lb/min, lbs/min",
    },
    "fuel_charge": {
        "kilogram/meter**3": "kg/m3, g/L, g/l",
        "milligram/liter": (
            "mg/L, mg/l, mg/dm3, g/m3, mg/(L.cycle), mg/(l.cycle), mg/L/cycle, mg/l/cycle, "
            "mg/cycle/L, mg/cycle/l, mg per litre per cycle, mg per liter per cycle"
        ),
    },
    "energy": {
        "joule": "J, joule, joules, W.s",
        "kilojoule": "kJ, KJ, kilojoule, kilojoules",
        "megajoule": "MJ, megajoule, megajoules",
        "watt*hour": "Wh, W.h",
        "kilowatt*hour": "kWh, kW.h, KWh, KWH, kwh, kW.hr",
        "horsepower*hour": "hp.h, hp.hr, hph, HP.HR",
        "metric_horsepower*hour": "PS.h, PSh",
        "foot*force_pound": "ft.lbf, ft.lb, lbf.ft, lb.ft",
        "Btu_it": "BTU, Btu",
        "kilointernational_calorie": "kcal_IT",
        "kilocalorie": "kcal_th",
    },
    "specific_energy": {
        "joule/kilogram": "J/kg, J.kg^-1",
        "kilojoule/kilogram": "kJ/kg, KJ/kg, J/g, MJ/t",
        "megajoule/kilogram": "MJ/kg",
        "kilowatt*hour/kilogram": "kWh/kg",
        "Btu_it/pound": "BTU/lb, Btu/lb, BTU/lbm, Btu/lbm",
        "kilointernational_calorie/kilogram": "kcal_IT/kg",
        "kilocalorie/kilogram": "kcal_th/kg",
    },
    "specific_heat": {
        "joule/kilogram/kelvin": (
            "J/(kg.K), J/kg.K, J/kg/K, J.kg^-1.K^-1, J/(kg.degC), J/kg.degC, J/kg/degC"
        ),
        "kilojoule/kilogram/kelvin": (
            "kJ/(kg.K), kJ/kg.K, kJ/kg/K, kJ/(kg.degC), kJ/kg.degC, kJ/kg/degC, J/(g.K), J/(g.degC)"
        ),
        "Btu_it/pound/delta_degree_Fahrenheit": (
            "BTU/(lb.degF), BTU/lb.degF, BTU/lb/degF, BTU/(lb.F), BTU/lb.F, Btu/(lb.degF), "
            "Btu/lb.degF, Btu/lb/degF, Btu/(lb.F), Btu/lb.F, BTU/(lbm.degF), Btu/(lbm.degF)"
        ),
        "kilointernational_calorie/kilogram/kelvin": "kcal_IT/(kg.K), kcal_IT/(kg.degC)",
        "kilocalorie/kilogram/kelvin": "kcal_th/(kg.K), kcal_th/(kg.degC)",
    },
    "heat_capacity": {
        "joule/kelvin": "J/K, J/degC, J/C",
        "kilojoule/kelvin": "kJ/K, kJ/degC, kJ/C",
        "megajoule/kelvin": "MJ/K, MJ/degC",
        "Btu_it/delta_degree_Fahrenheit": "BTU/degF, BTU/F, Btu/degF, Btu/F",
    },
    "conductance": {
        "watt/kelvin": "W/K, W/degC, W/C, W.K^-1",
        "kilowatt/kelvin": "kW/K, kW/degC, kW/C, KW/K, KW/degC",
        "horsepower/delta_degree_Fahrenheit": "hp/degF, hp/F",
        "Btu_it/minute/delta_degree_Fahrenheit": (
            "BTU/(min.degF), BTU/min/degF, BTU/min.degF, BTU/min/F, Btu/(min.degF), Btu/min/degF"
        ),
        "Btu_it/hour/delta_degree_Fahrenheit": (
            "BTU/(h.degF), BTU/h/degF, BTU/h.degF, BTU/(hr.degF), BTU/hr/degF, BTU/hr.degF, "
            "BTU/h/F, Btu/(h.degF), Btu/h/degF, Btu/h.degF, Btu/(hr.degF), Btu/hr/degF, "
            "Btu/hr.degF"
        ),
    },
    "per_temperature": {
        "1/kelvin": "1/K, K^-1, per K, 1/degC, degC^-1, per degC, 1/C",
        "1/delta_degree_Fahrenheit": "1/degF, degF^-1, per degF, 1/F",
    },
    "mass_flow": {
        "kilogram/second": "kg/s",
        "metric_ton/hour": "t/h, t/hr, tonne/h",
        "short_ton/hour": "short ton/h, short ton/hr",
    },
    "volume_per_mass": {
        "meter**3/kilogram": "m3/kg",
        "liter/metric_ton": "L/t, l/t",
        "gallon/short_ton": "US gal/short ton",
    },
    "heating_rate": {
        "kelvin/second": "K/s, degC/s",
        "kelvin/minute": "K/min, degC/min",
        "delta_degree_Fahrenheit/second": "degF/s",
        "delta_degree_Fahrenheit/minute": "degF/min",
    },
    "voltage": {
        "volt": "V, volt, volts, V DC, Vdc, VDC",
        "kilovolt": "kV, KV, kilovolt, kilovolts",
    },
}


def _words(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split(","))


def _bracketed(speed: str) -> str:
    return speed if speed.replace(" ", "").isalpha() else f"({speed})"


# The two families made of a speed and a torque: any speed over, or under, any torque.
MEANING["k_factor"] = {
    f"({speed})/({torque})**0.5": ", ".join(
        f"{_bracketed(s)}/sqrt({t})" for s in _words(speeds) for t in _words(torques)
    )
    for speed, speeds in MEANING["angular_speed"].items()
    for torque, torques in MEANING["torque"].items()
}
MEANING["capacity_coefficient"] = {
    f"({torque})/({speed})**2": ", ".join(
        f"{t}/{_bracketed(s)}^2" for s in _words(speeds) for t in _words(torques)
    )
    for speed, speeds in MEANING["angular_speed"].items()
    for torque, torques in MEANING["torque"].items()
}
MEANING["capacity_coefficient"]["newton*meter*second**2/radian**2"] = "N.m.s2/rad2, N.m.s2"

SI_IN_PINT = {
    "torque": "newton*meter",
    "angular_speed": "radian/second",
    "power": "watt",
    "length": "meter",
    "area": "meter**2",
    "angle": "radian",
    "time": "second",
    "mass": "kilogram",
    "force": "newton",
    "velocity": "meter/second",
    "acceleration": "meter/second**2",
    "inertia": "kilogram*meter**2",
    "k_factor": "radian/second/(newton*meter)**0.5",
    "capacity_coefficient": "newton*meter/(radian/second)**2",
    "ratio": "dimensionless",
    "weight_share": "dimensionless",
    "pressure": "pascal",
    "temperature": "kelvin",
    "temperature_difference": "kelvin",
    "density": "kilogram/meter**3",
    "volume": "meter**3",
    "volume_flow": "meter**3/second",
    "specific_fuel": "kilogram/joule",
    "fuel_rate": "kilogram/second",
    "fuel_charge": "kilogram/meter**3",
    "energy": "joule",
    "specific_energy": "joule/kilogram",
    "specific_heat": "joule/kilogram/kelvin",
    "heat_capacity": "joule/kelvin",
    "conductance": "watt/kelvin",
    "per_temperature": "1/kelvin",
    "mass_flow": "kilogram/second",
    "volume_per_mass": "meter**3/kilogram",
    "heating_rate": "kelvin/second",
    "voltage": "volt",
}


@cache
def _registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


def _by_pint(value: float, unit: str, dimension: str) -> float:
    return float(_registry().Quantity(value, unit).to(SI_IN_PINT[dimension]).magnitude)


def test_every_dimension_has_a_reference():
    assert set(MEANING) == set(SI_IN_PINT) == set(DIMENSIONS)


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_spelling_converts_as_pint_does(dimension):
    checked = []
    for in_pint, ours in MEANING[dimension].items():
        # 37 and not 1, so that a temperature offset cannot hide
        expected = _by_pint(37.0, in_pint, dimension)
        for spelling in _words(ours):
            # 1e-12: the same defined constants, multiplied in another order
            assert to_si(37.0, spelling, dimension) == pytest.approx(expected, rel=1e-12), spelling
            checked.append(spelling)
    assert sorted(checked) == sorted(spellings(dimension))


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_the_first_spelling_is_the_si_unit(dimension):
    assert si_unit(dimension) == spellings(dimension)[0]
    assert to_si(37.0, si_unit(dimension), dimension) == 37.0


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_spellings_that_fold_into_one_key_are_listed_once(dimension):
    repeated = [key for key, n in Counter(map(normalise, spellings(dimension))).items() if n > 1]
    assert repeated == []


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_no_two_spellings_that_differ_only_in_case_are_different_units(dimension):
    # milli and mega are one shift key apart
    seen: dict[str, float] = {}
    for spelling in spellings(dimension):
        value = to_si(1.0, spelling, dimension)
        assert seen.setdefault(normalise(spelling).casefold(), value) == value, spelling
