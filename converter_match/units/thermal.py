"""Trade spellings of air, oil, fuel, heat and voltage: pressure, temperature, flow, energy."""

from __future__ import annotations

from converter_match.constants import SEA_LEVEL_PRESSURE, ZERO_CELSIUS
from converter_match.units.tables import (
    BTU,
    FAHRENHEIT,
    FOOT,
    HOUR,
    HP,
    IMP_GALLON,
    INCH,
    KCAL_IT,
    KCAL_TH,
    KGF,
    LBF,
    MINUTE,
    MMH2O,
    MMHG,
    POUND,
    PS,
    US_GALLON,
    YARD,
    Dimension,
    Row,
)

_US_GAL = "US gal, USgal, US gallon, US gallons, gal(US)"
_IMP_GAL = (
    "imp gal, Imp gal, imperial gal, imperial gallon, imperial gallons, UK gal, gal(imp), gal(UK)"
)

THERMAL: dict[str, Dimension] = {
    "pressure": Dimension(
        "absolute pressure",
        "kPa",
        "inHg",
        "kPa, bar, inHg, psi",
        (
            Row(1.0, "Pa, pascal, pascals"),
            Row(1e3, "kPa, KPA, KPa, kpa, Kpa, kPa(a), kPaa, kPa abs, kPa absolute"),
            Row(1e6, "MPa, megapascal"),
            Row(1e5, "bar, Bar, BAR, bars, bara, bar(a), bar abs, bar absolute"),
            Row(100.0, "mbar, mbara, mbar(a), mbar abs, mb, hPa, millibar, millibars"),
            Row(
                LBF / INCH**2,
                "psi, PSI, Psi, psia, PSIA, psi(a), psi abs, psi absolute, lbf/in2, lb/in2, "
                "lb/sq in, lbf/sq in",
            ),
            Row(25.4 * MMHG, "inHg, in Hg, InHg, inches Hg, inches of mercury"),
            Row(25.4 * MMH2O, "inH2O, in H2O, inches H2O, inches of water"),
            Row(MMHG, "mmHg, mm Hg"),
            Row(SEA_LEVEL_PRESSURE / 760.0, "Torr, torr"),
            Row(MMH2O, "mmH2O, mm H2O"),
            Row(SEA_LEVEL_PRESSURE, "atm"),
            Row(KGF * 1e4, "kgf/cm2, kg/cm2, kp/cm2"),
        ),
    ),
    "temperature": Dimension(
        "temperature",
        "degC",
        "degF",
        "degC, degF, K",
        (
            Row(1.0, "K, kelvin, Kelvin, degK"),
            Row(1.0, "degC, deg C, C, celsius, Celsius, degrees C, degrees Celsius", ZERO_CELSIUS),
            Row(
                FAHRENHEIT,
                "degF, deg F, F, fahrenheit, Fahrenheit, degrees F, degrees Fahrenheit",
                459.67,
            ),
        ),
    ),
    "temperature_difference": Dimension(
        "temperature difference",
        "K",
        "degF",
        "K, degC, degF",
        (
            Row(
                1.0,
                "K, kelvin, Kelvin, degK, degC, deg C, C, celsius, Celsius, delta degC, degrees C",
            ),
            Row(FAHRENHEIT, "degF, deg F, F, fahrenheit, Fahrenheit, delta degF, degrees F"),
        ),
    ),
    "density": Dimension(
        "density",
        "kg/m3",
        "lb/ft3",
        "kg/m3, kg/L, g/cm3, lb/ft3",
        (
            Row(1.0, "kg/m3, Kg/m3, KG/M3, kg.m^-3, g/L, g/l"),
            Row(1000.0, "kg/L, kg/l, kg/dm3, g/cm3, g/cc, g/mL, g/ml, t/m3"),
            Row(POUND / FOOT**3, "lb/ft3, lbm/ft3, lbs/ft3, lb/cu ft, lb/cuft, LB/FT3"),
            Row(POUND / YARD**3, "lb/yd3, lb/cu yd"),
            Row(POUND / US_GALLON, "lb/US gal, lb/gal(US), lbs/US gal, lbs/gal(US)"),
            Row(POUND / IMP_GALLON, "lb/imp gal, lb/gal(imp), lb/UK gal, lb/gal(UK)"),
        ),
    ),
    "volume": Dimension(
        "volume",
        "L",
        "US gal",
        "L, m3, US gal, imp gal",
        (
            Row(1.0, "m3, cu m"),
            Row(1e-3, "L, l, litre, litres, liter, liters, dm3"),
            Row(1e-6, "cm3, cc, CC, mL, ml, ccm"),
            Row(INCH**3, "in3, cu in, cuin, CID, cid"),
            Row(FOOT**3, "ft3, cu ft, cuft"),
            Row(US_GALLON, _US_GAL),
            Row(US_GALLON / 4.0, "US qt, US quart, US quarts, qt(US)"),
            Row(IMP_GALLON, _IMP_GAL),
            Row(
                IMP_GALLON / 4.0, "imp qt, imperial quart, imperial quarts, UK qt, qt(imp), qt(UK)"
            ),
        ),
    ),
    "volume_flow": Dimension(
        "volume flow",
        "L/min",
        "US gal/min",
        "L/min, m3/h, US gal/min",
        (
            Row(1.0, "m3/s"),
            Row(1.0 / MINUTE, "m3/min"),
            Row(1.0 / HOUR, "m3/h, m3/hr"),
            Row(1e-3, "L/s, l/s"),
            Row(1e-3 / MINUTE, "L/min, l/min, lpm, LPM, Lpm, dm3/min"),
            Row(1e-3 / HOUR, "L/h, l/h, L/hr, l/hr"),
            Row(FOOT**3 / MINUTE, "ft3/min, cfm, CFM, cu ft/min"),
            Row(
                US_GALLON / MINUTE, "US gal/min, gal(US)/min, US gpm, US GPM, USgpm, USGPM, gpm(US)"
            ),
            Row(US_GALLON / HOUR, "US gal/h, gal(US)/h, US gal/hr, US gph, gph(US)"),
            Row(IMP_GALLON / MINUTE, "imp gal/min, gal(imp)/min, UK gal/min, imp gpm, gpm(imp)"),
            Row(IMP_GALLON / HOUR, "imp gal/h, gal(imp)/h, UK gal/h, imp gph, gph(imp)"),
        ),
    ),
    "specific_fuel": Dimension(
        "specific fuel consumption",
        "g/kWh",
        "lb/(hp.h)",
        "g/kWh, lb/(hp.h), kg/kWh",
        (
            Row(1.0, "kg/J"),
            Row(
                1e-3 / (1e3 * HOUR),
                "g/kWh, g/kW.h, g/(kW.h), g/kW.hr, g/(kW.hr), g/kWhr, g/kW/h, g/KWh, g/KWH, "
                "g/kwh, G/KWH, g/kw.h, g/KW.h, G/KW.H, kg/MWh",
            ),
            Row(1.0 / (1e3 * HOUR), "kg/kWh, kg/kW.h, kg/(kW.h), kg/kW/h, kg/KWh, kg/kwh"),
            Row(1e-9, "g/MJ, mg/kJ"),
            Row(1e-6, "kg/MJ, g/kJ"),
            Row(
                POUND / (HP * HOUR),
                "lb/(hp.h), lb/hp.h, lb/(hp.hr), lb/hp.hr, lb/hph, lb/hphr, lb/hp/h, lb/(bhp.h), "
                "lb/bhp.h, lb/(bhp.hr), lb/bhp.hr, lb/bhph, lb/bhphr, LB/HP.HR, LB/BHP.HR, "
                "lbm/(hp.h), lbm/hp.h",
            ),
            Row(
                1e-3 / (HP * HOUR),
                "g/(hp.h), g/hp.h, g/(hp.hr), g/hp.hr, g/hph, g/(bhp.h), g/bhp.h, g/(bhp.hr), "
                "g/bhp.hr",
            ),
            Row(1e-3 / (PS * HOUR), "g/(PS.h), g/PS.h, g/PSh, g/(cv.h), g/cv.h, g/(CV.h), g/CV.h"),
        ),
    ),
    "fuel_rate": Dimension(
        "fuel mass flow",
        "kg/h",
        "lb/h",
        "kg/h, g/s, lb/h",
        (
            Row(1.0, "kg/s"),
            Row(1.0 / MINUTE, "kg/min"),
            Row(1.0 / HOUR, "kg/h, kg/hr, KG/H, Kg/h"),
            Row(1e-3, "g/s"),
            Row(1e-3 / MINUTE, "g/min"),
            Row(1e-3 / HOUR, "g/h, g/hr"),
            Row(POUND / HOUR, "lb/h, lb/hr, lbs/h, lbs/hr, LB/HR, lbm/h, lbm/hr, pph"),
            Row(POUND / MINUTE, "lb/min, lbs/min"),
        ),
    ),
    "fuel_charge": Dimension(
        "fuel charge",
        "mg/L",
        "mg/L",
        "mg/L, g/L, kg/m3",
        (
            Row(1.0, "kg/m3, g/L, g/l"),
            Row(
                1e-3,
                "mg/L, mg/l, mg/dm3, g/m3, mg/(L.cycle), mg/(l.cycle), mg/L/cycle, mg/l/cycle, "
                "mg/cycle/L, mg/cycle/l, mg per litre per cycle, mg per liter per cycle",
            ),
        ),
    ),
    "energy": Dimension(
        "energy",
        "kJ",
        "BTU",
        "J, kJ, kWh, BTU",
        (
            Row(1.0, "J, joule, joules, W.s"),
            Row(1e3, "kJ, KJ, kilojoule, kilojoules"),
            Row(1e6, "MJ, megajoule, megajoules"),
            Row(HOUR, "Wh, W.h"),
            Row(1e3 * HOUR, "kWh, kW.h, KWh, KWH, kwh, kW.hr"),
            Row(HP * HOUR, "hp.h, hp.hr, hph, HP.HR"),
            Row(PS * HOUR, "PS.h, PSh"),
            Row(LBF * FOOT, "ft.lbf, ft.lb, lbf.ft, lb.ft"),
            Row(BTU, "BTU, Btu"),
            Row(KCAL_IT, "kcal_IT"),
            Row(KCAL_TH, "kcal_th"),
        ),
    ),
    "specific_energy": Dimension(
        "specific energy",
        "MJ/kg",
        "BTU/lb",
        "MJ/kg, kJ/kg, BTU/lb",
        (
            Row(1.0, "J/kg, J.kg^-1"),
            Row(1e3, "kJ/kg, KJ/kg, J/g, MJ/t"),
            Row(1e6, "MJ/kg"),
            Row(1e3 * HOUR, "kWh/kg"),
            Row(BTU / POUND, "BTU/lb, Btu/lb, BTU/lbm, Btu/lbm"),
            Row(KCAL_IT, "kcal_IT/kg"),
            Row(KCAL_TH, "kcal_th/kg"),
        ),
    ),
    "specific_heat": Dimension(
        "specific heat",
        "kJ/(kg.K)",
        "BTU/(lb.degF)",
        "J/(kg.K), kJ/(kg.K), BTU/(lb.degF)",
        (
            Row(
                1.0,
                "J/(kg.K), J/kg.K, J/kg/K, J.kg^-1.K^-1, J/(kg.degC), J/kg.degC, J/kg/degC",
            ),
            Row(
                1e3,
                "kJ/(kg.K), kJ/kg.K, kJ/kg/K, kJ/(kg.degC), kJ/kg.degC, kJ/kg/degC, J/(g.K), "
                "J/(g.degC)",
            ),
            Row(
                BTU / (POUND * FAHRENHEIT),
                "BTU/(lb.degF), BTU/lb.degF, BTU/lb/degF, BTU/(lb.F), BTU/lb.F, Btu/(lb.degF), "
                "Btu/lb.degF, Btu/lb/degF, Btu/(lb.F), Btu/lb.F, BTU/(lbm.degF), Btu/(lbm.degF)",
            ),
            Row(KCAL_IT, "kcal_IT/(kg.K), kcal_IT/(kg.degC)"),
            Row(KCAL_TH, "kcal_th/(kg.K), kcal_th/(kg.degC)"),
        ),
    ),
    "heat_capacity": Dimension(
        "heat capacity",
        "kJ/K",
        "BTU/degF",
        "J/K, kJ/K, BTU/degF",
        (
            Row(1.0, "J/K, J/degC, J/C"),
            Row(1e3, "kJ/K, kJ/degC, kJ/C"),
            Row(1e6, "MJ/K, MJ/degC"),
            Row(BTU / FAHRENHEIT, "BTU/degF, BTU/F, Btu/degF, Btu/F"),
        ),
    ),
    "conductance": Dimension(
        "heat conductance",
        "kW/K",
        "BTU/(min.degF)",
        "W/K, kW/K, BTU/(min.degF), BTU/(h.degF)",
        (
            Row(1.0, "W/K, W/degC, W/C, W.K^-1"),
            Row(1e3, "kW/K, kW/degC, kW/C, KW/K, KW/degC"),
            Row(HP / FAHRENHEIT, "hp/degF, hp/F"),
            Row(
                BTU / (MINUTE * FAHRENHEIT),
                "BTU/(min.degF), BTU/min/degF, BTU/min.degF, BTU/min/F, Btu/(min.degF), "
                "Btu/min/degF",
            ),
            Row(
                BTU / (HOUR * FAHRENHEIT),
                "BTU/(h.degF), BTU/h/degF, BTU/h.degF, BTU/(hr.degF), BTU/hr/degF, BTU/hr.degF, "
                "BTU/h/F, Btu/(h.degF), Btu/h/degF, Btu/h.degF, Btu/(hr.degF), Btu/hr/degF, "
                "Btu/hr.degF",
            ),
        ),
    ),
    "per_temperature": Dimension(
        "per-temperature",
        "1/K",
        "1/degF",
        "1/K, 1/degF",
        (
            Row(1.0, "1/K, K^-1, per K, 1/degC, degC^-1, per degC, 1/C"),
            Row(1.0 / FAHRENHEIT, "1/degF, degF^-1, per degF, 1/F"),
        ),
    ),
    "mass_flow": Dimension(
        "mass flow",
        "t/h",
        "short ton/h",
        "t/h, kg/s, short ton/h",
        (
            Row(1.0, "kg/s"),
            Row(1e3 / HOUR, "t/h, t/hr, tonne/h"),
            Row(2000.0 * POUND / HOUR, "short ton/h, short ton/hr"),
        ),
    ),
    "volume_per_mass": Dimension(
        "volume per mass",
        "L/t",
        "US gal/short ton",
        "L/t, US gal/short ton",
        (
            Row(1.0, "m3/kg"),
            Row(1e-6, "L/t, l/t"),
            Row(US_GALLON / (2000.0 * POUND), "US gal/short ton"),
        ),
    ),
    "heating_rate": Dimension(
        "heating rate",
        "K/s",
        "degF/s",
        "K/s, K/min, degF/s",
        (
            Row(1.0, "K/s, degC/s"),
            Row(1.0 / MINUTE, "K/min, degC/min"),
            Row(FAHRENHEIT, "degF/s"),
            Row(FAHRENHEIT / MINUTE, "degF/min"),
        ),
    ),
    "voltage": Dimension(
        "voltage",
        "V",
        "V",
        "V, kV",
        (
            Row(1.0, "V, volt, volts, V DC, Vdc, VDC"),
            Row(1e3, "kV, KV, kilovolt, kilovolts"),
        ),
    ),
}
