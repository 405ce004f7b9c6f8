"""Spellings that are refused by name, because two people would read them as two units."""

from __future__ import annotations

from typing import NamedTuple


class Refusal(NamedTuple):
    """Some spellings, what is wrong with them, and what to write in their place."""

    spellings: str
    problem: str  # follows the spelling in the message
    expected: str
    hint: str | None = None


_MILLI_OR_MEGA = "could be read as milli or as mega"
_WHICH_CALORIE = "does not say which calorie"
_WHICH_GALLON = "does not say which gallon"
_NO_TURN = "does not say whether revolutions or radians are counted"
_GAUGE = "is a gauge pressure"
_ADD_AIR = "add the air pressure of the day to the gauge reading"
_BARE_MASS = "is a mass unit"

REFUSALS: dict[str, tuple[Refusal, ...]] = {
    "torque": (
        Refusal("mN.m, mNm, MN.m, MNm", _MILLI_OR_MEGA, "N.m or kN.m"),
        Refusal("nm, n.m", "is a nanometre as written", "N.m"),
        Refusal("t.m, ton.m, tm", "does not say which force", "kN.m or kgf.m"),
    ),
    "angular_speed": (Refusal("Hz, hz, HZ, 1/s, s^-1, c/s, cps, r/s", _NO_TURN, "rev/s or rad/s"),),
    "power": (
        Refusal("mW, mw, Mw", _MILLI_OR_MEGA, "W, kW or MW"),
        Refusal("kcal/h, kcal/hr, kcal/min", _WHICH_CALORIE, "kcal_IT/h, kcal_th/h or kW"),
    ),
    "length": (Refusal("Mm", _MILLI_OR_MEGA, "mm or m"),),
    "time": (
        Refusal("m, M", "could be a minute, a month or a metre", "min, h or s"),
        Refusal("Ms", _MILLI_OR_MEGA, "ms or s"),
    ),
    "mass": (
        Refusal(
            "ton, tons, Ton, Tons, TON, TONS, T",
            "does not say which ton",
            "t (1000 kg), short ton (2000 lb) or long ton (2240 lb)",
        ),
        Refusal("MT, mt, mT", "could be a metric ton or a million tons", "t (1000 kg)"),
        Refusal("cwt, hundredweight", "could be 100 lb or 112 lb", "lb or kg"),
        Refusal("mg, Mg, MG", _MILLI_OR_MEGA, "g, kg or t"),
    ),
    "force": (
        Refusal("kg, KG, Kg, kgs, kilogram, kilograms", _BARE_MASS, "kgf, kN or N"),
        Refusal("t, tonne, tonnes", _BARE_MASS, "tf (1000 kgf) or kN"),
        Refusal(
            "ton, tons, T, tonf, ton force", "does not say which ton", "tf (1000 kgf), kip or kN"
        ),
        Refusal("mN, MN", _MILLI_OR_MEGA, "N or kN"),
    ),
    "inertia": (
        Refusal(
            "kgf.m2, kp.m2, GD2",
            "may be the flywheel effect G.D2, whose number is four times the inertia in kg.m2",
            "kg.m2",
            "divide a G.D2 in kgf.m2 by 4",
        ),
        Refusal("lbf.ft2, WR2, WK2", "mixes a force into an inertia", "lb.ft2 or lbf.ft.s2"),
    ),
    "pressure": (
        Refusal(
            "psig, PSIG, psi(g), psi g, psi gauge, psi gage", _GAUGE, "psi (absolute)", _ADD_AIR
        ),
        Refusal("barg, bar(g), bar g, bar gauge", _GAUGE, "bar (absolute)", _ADD_AIR),
        Refusal("mbarg, mbar(g), mbar gauge", _GAUGE, "mbar (absolute)", _ADD_AIR),
        Refusal("kPag, kPa(g), kPa g, kPa gauge", _GAUGE, "kPa (absolute)", _ADD_AIR),
        Refusal("MPag, MPa(g), MPa gauge", _GAUGE, "MPa (absolute)", _ADD_AIR),
        Refusal("mPa, mpa, Mpa, MPA", _MILLI_OR_MEGA, "kPa or MPa"),
    ),
    "temperature": (
        Refusal("deg, degree, degrees", "does not say which scale", "degC, degF or K"),
        Refusal("delta degC, delta degF", "is a temperature difference", "degC, degF or K"),
    ),
    "temperature_difference": (
        Refusal("deg, degree, degrees", "does not say which scale", "degC, degF or K"),
    ),
    "density": (
        Refusal(
            "lb/gal, lbs/gal, lb/gallon, lbs/gallon, ppg", _WHICH_GALLON, "lb/US gal or lb/imp gal"
        ),
    ),
    "volume": (
        Refusal("gal, gals, gallon, gallons, Gal, GAL", _WHICH_GALLON, "US gal or imp gal"),
        Refusal("qt, qts, quart, quarts", "does not say which quart", "US qt or imp qt"),
        Refusal("ML, Ml", _MILLI_OR_MEGA, "mL or L"),
    ),
    "volume_flow": (
        Refusal(
            "gpm, GPM, gal/min, gallons/min, gallons per minute",
            _WHICH_GALLON,
            "US gal/min or imp gal/min",
        ),
        Refusal(
            "gph, GPH, gal/h, gal/hr, gallons per hour", _WHICH_GALLON, "US gal/h or imp gal/h"
        ),
    ),
    "specific_fuel": (
        Refusal("g/kW, kg/kW", "lacks the hour", "g/kWh or kg/kWh"),
        Refusal("lb/hp, lb/bhp", "lacks the hour", "lb/(hp.h)"),
    ),
    "energy": (
        Refusal("kcal, cal, Cal, Kcal", _WHICH_CALORIE, "kcal_IT, kcal_th or kJ"),
        Refusal("mJ, Mj, mj", _MILLI_OR_MEGA, "J, kJ or MJ"),
    ),
    "specific_energy": (
        Refusal("kcal/kg", _WHICH_CALORIE, "kcal_IT/kg, kcal_th/kg or kJ/kg"),
        Refusal("mJ/kg, Mj/kg, mj/kg", _MILLI_OR_MEGA, "MJ/kg or kJ/kg"),
    ),
    "specific_heat": (
        Refusal(
            "kcal/(kg.K), kcal/(kg.degC), kcal/kg.degC, kcal/kg/degC, kcal/kg.C",
            _WHICH_CALORIE,
            "kcal_IT/(kg.K), kcal_th/(kg.K) or kJ/(kg.K)",
        ),
    ),
    "weight_share": (
        Refusal(
            "lb/ton, lbs/ton, lbf/ton, lb/tons, lb/t",
            "does not say which ton",
            "lb/short ton, kgf/t or %",
        ),
        Refusal("deg, degree, degrees, °", "is an angle", "% (rise / run)"),
    ),
    "fuel_charge": (
        Refusal("mg, mg/cycle, mg/stroke", "lacks the swept volume", "mg/L (per cycle)"),
    ),
}
