"""Plausible files with something nasty in them, and the verdict of a careful engineer, with why.

The verdicts were typed before the tool was asked, from the data as a person would read them. Where
the two disagreed, one of them was wrong, and was mended; `docs/adversarial-studies.md` is this
table. Each case is the shipped study `loader-nothing-to-measure`, whose one candidate can be
ordered, with a few words of its files changed. Its files are taken as sheets are that print every
figure once: what a second unit or a rating beside the curve would give away stays hidden.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["order", "conditional", "not-known", "no", "refused"]
SAYS = {
    "order": "can be ordered",
    "conditional": "only once what is odd is cleared up",
    "not-known": "not decided",
    "no": "do not order",
    "refused": "the file is not read",
}


@dataclass(frozen=True)
class Case:
    """One nasty study.

    Parameters
    ----------
    name : str
        What is nasty about it.
    changes : tuple of (file, old, new)
        Texts of its files that are changed.
    verdict : str
    why : str
        In a sentence.
    tells : str
        A code of a note, a criterion, or words of the refusal, that has to be there.
    """

    name: str
    changes: tuple[tuple[str, str, str], ...]
    verdict: Verdict
    why: str
    tells: str = ""


_E, _C, _D, _M, _S, _Q = (
    "engine.toml", "converter.toml", "driveline.toml", "machine.toml", "site.toml", "study.toml",
)  # fmt: skip
_T = "602, 725, 825, 959, 993, 1004, 998, 981, 958, 930, 899, 867, 835, 803"
_N = "800, 900, 1000, 1200, 1300, 1400, 1500, 1600, 1700, 1800, 1900, 2000, 2100, 2200"
_NU = "0.00, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.86, 0.90, 0.93, 0.96, 0.98"
_MU = "2.20, 2.07, 1.93, 1.79, 1.65, 1.51, 1.37, 1.23, 1.09, 1.00, 1.00, 1.00, 1.00, 1.00"
_K = "72.1, 71.9, 71.9, 72.2, 72.8, 73.5, 74.6, 76.0, 77.7, 79.0, 90.4, 104.2, 130.4, 172.0"
_COUPLING = "coupling_speed_ratio = { value = 0.86 }\n"


def _rows(first: int, last: int) -> tuple[tuple[str, str, str], ...]:
    """Leave some rows of the converter."""
    return tuple((_C, text, ", ".join(text.split(", ")[first:last])) for text in (_NU, _MU, _K))


def _picked(*rows: int) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (_C, text, ", ".join(text.split(", ")[row] for row in rows)) for text in (_NU, _MU, _K)
    )


def _power(factor: float) -> str:
    """Return the power column [kW] of a torque that is `factor` times the one on the sheet."""
    pairs = zip(_N.split(", "), _T.split(", "), strict=True)
    watts = (float(n) * 0.10471975512 * float(t) * factor for n, t in pairs)
    return ", ".join(f"{w / 1e3:.1f}" for w in watts)


_ACCESSORIES = 'rating_basis = "gross"'

CASES = (
    Case("nothing: the study as shipped", (), "order", "Every criterion is met on clean data."),
    # --- the engine's sheet
    Case("a dip of half the torque in one row", ((_E, "1004", "504"),), "no",
         "Nobody may order on such a curve, and no engine has it: a digit is misread.",
         "torque-row-off"),
    Case("a digit too few in one row of the torque", ((_E, "959", "95.9"),), "no",
         "The row lies a tenth of its neighbours; on it nothing can be matched.",
         "row-out-of-line"),
    Case("a torque plateau", ((_E, "993, 1004, 998, 981, 958", "990, 990, 990, 990, 958"),),
         "order", "Flat torque is how many engines are set; nothing is doubtful about it."),
    Case("three rows for the whole curve",
         ((_E, _N, "800, 1400, 2200"), (_E, _T, "602, 1004, 803")), "not-known",
         "Stall lies between two rows that are 800 rpm apart: what is there is a guess.",
         "few-rows"),
    Case("torque in lbf.ft under a head of N.m, power beside it in kW",
         ((_E, f"values = [{_T}] }}",
           f"values = [{_T}] }}\npower = {{ unit = \"kW\", values = [{_power(1.3558)}] }}"),),
         "refused", "Torque times speed is a third less than the power of the same row.",
         "contradicts the torque column"),
    Case("the curve ends 200 rpm below rated speed",
         ((_E, _N, _N.removesuffix(", 2100, 2200")), (_E, _T, _T.removesuffix(", 835, 803"))),
         "refused", "Where the governor takes over nothing is known of the engine.", "rated"),
    Case("high idle with a digit wrong", ((_E, "value = 2380", "value = 3380"),), "no",
         "At 3380 rpm the converter is beyond its speed limit, whoever mistyped it.",
         "converter-input-speed"),
    Case("a governor without droop", ((_E, "value = 2380", "value = 2201"),), "conditional",
         "No mechanical governor runs out within 1 rpm; rated and high idle are confused.",
         "droop-unusual"),
    Case("a gross rating, and nothing that the engine drives",
         ((_E, "[[accessory]]", "[[removed]]"),), "conditional",
         "Without fan, alternator and pumps the stall comes out too high.",
         "gross-without-accessories"),
    Case("a fan of 110 kW", ((_E, "value = 11.0", "value = 110.0"),), "conditional",
         "Ten times any fan of this size: it takes what the old engine kept on the ramp.",
         "accessories-heavy"),
    Case("a fan's power at 220 rpm", ((_E, "value = 11.0 }\nat_speed = { unit = \"rpm\", "
         "value = 2200", "value = 11.0 }\nat_speed = { unit = \"rpm\", value = 220"),), "no",
         "With the cube of speed it takes 11 MW at 2200 rpm.", "accessories-heavy"),
    Case("displacement with a digit too few", ((_E, "value = 7.0", "value = 0.7"),), "conditional",
         "Two hundred bar of mean pressure: displacement or torque is wrong.",
         "mean-pressure-implausible"),
    Case("low idle of 80 rpm", ((_E, "low_idle = { unit = \"rpm\", value = 800",
         "low_idle = { unit = \"rpm\", value = 80"),), "not-known",
         "The curve begins at 800 rpm: between 80 and 800 nothing is known.", "low-idle-unusual"),
    Case("inertia in g.m2 read as kg.m2", ((_E, "value = 1.45", "value = 1450"),), "conditional",
         "A flywheel of a thousand times the inertia: the sheet was misread somewhere.",
         "inertia-unusual"),
    Case("idle consumption with a digit too many", ((_E, "value = 1.16", "value = 11.6"),),
         "conditional", "Eleven kilograms an hour at idle is a third of full load.",
         "sizes-unusual"),
    Case("consumption in lb/hp.h under a head of g/kWh",
         ((_E, "values = [213, 206, 203, 201, 202, 205, 210, 218]",
           "values = [0.35, 0.34, 0.33, 0.33, 0.33, 0.34, 0.35, 0.36]"),), "refused",
         "A third of a gram for a kilowatt-hour: there is no such engine.", "bsfc"),
    Case("density of the fuel in kg/L under kg/m3", ((_E, "value = 835", "value = 0.835"),),
         "refused", "Fuel as thin as air: litres would come out a thousandfold.", "density"),
    Case("the maker's derate table ends at 1000 m, the site lies at 2000 m",
         ((_E, "method = \"diesel-iso-1585\"\nengine_factor = 0.43",
           "method = \"derate-table\"\n\n[site_correction.derate]\naltitude = { unit = \"m\", "
           "values = [0, 1000] }\nfactor = [1.0, 0.98]"),
          (_S, "value = 0 }", "value = 2000 }")), "not-known",
         "What the engine gives at 2000 m its maker does not say, and nothing is extrapolated.",
         "stall-speed-window"),
    # --- the converter's sheet
    Case("no row at stall", _rows(1, 14), "refused",
         "The stall speed cannot be found, and everything begins with it.",
         "does not include stall"),
    Case("the rows end at speed ratio 0.8, below the coupling point",
         (*_rows(0, 9), (_C, _COUPLING, "")), "not-known",
         "Where the stator freewheels, and all light load and cruising, nothing is known.",
         "ends-early"),
    Case("four rows for the whole characteristic", _picked(0, 5, 9, 13), "not-known",
         "Between four rows the curve is a guess.", "few-rows"),
    Case("a torque ratio that rises", ((_C, "1.79, 1.65", "1.65, 1.79"),), "conditional",
         "Two rows are exchanged.", "torque-ratio-rises"),
    Case("a torque ratio of 0.9 behind a freewheel",
         ((_C, "1.09, 1.00, 1.00, 1.00, 1.00, 1.00", "1.09, 1.00, 0.95, 0.93, 0.90, 0.88"),),
         "conditional", "The one-way clutch overruns at 1: the stator is fixed, or a row misread.",
         "torque-ratio-below-one"),
    Case("one K misread by ten", ((_C, "73.5, 74.6", "63.5, 74.6"),), "conditional",
         "The row is off the line of its neighbours to one side, the next to the other.",
         "capacity-wiggles"),
    Case("K ten times too high: the converter hardly absorbs",
         ((_C, _K, ", ".join(f"{10 * float(k):.1f}" for k in _K.split(", "))),), "no",
         "The engine would stall on its governor.", "stall-speed-window"),
    Case("a converter too large for the engine to hold at idle",
         ((_C, _K, ", ".join(f"{0.5 * float(k):.2f}" for k in _K.split(", "))),), "no",
         "Lugged down at idle there is no stall from idle at all.", "single-stable-match"),
    Case("two forms of the capacity that contradict each other",
         ((_C, "capacity = {", "capacity = [{"),
          (_C, f"[{_K}] }}", f"[{_K}] }}, {{ form = \"torque_at_speed\", unit = \"N*m\", "
           "reference_speed = { unit = \"rpm\", value = 1700 }, values = [556, 559, 559, 554, "
           "545, 535, 519, 500, 478, 463, 353, 266, 170, 98] }]")), "refused",
         "The second column has the numbers of lbf.ft under a head of N.m; which one is right?",
         "contradicts the capacity"),
    Case("an efficiency column that is not torque ratio times speed ratio",
         ((_C, "capacity = {", "efficiency = [0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.85, 0.9, 0.92, 0.94, "
           "0.95, 0.96, 0.97, 0.98]\ncapacity = {"),), "refused",
         "One of the two columns belongs to another converter.", "contradicts the torque ratio"),
    Case("more power out than in", ((_C, "1.23, 1.09", "1.53, 1.39"),), "refused",
         "At speed ratio 0.7 a torque ratio of 1.53 makes an efficiency above 1.",
         "efficiency above 1"),
    Case("a fluid coupling that multiplies torque", ((_C, '"one-way"', '"none"'),), "refused",
         "Without a stator nothing takes up the difference of the torques.", "torque_ratio"),
    Case("diameter in cm under mm", ((_C, "value = 345", "value = 34.5"),), "conditional",
         "The capacity would need a coefficient a hundred thousand times too high.",
         "profile-diameter-unusual"),
    Case("oil as thin as foam", ((_C, "value = 840", "value = 84"),), "refused",
         "No oil weighs 84 kg/m3.", "oil_density"),
    Case("input torque limit with a digit too few", ((_C, "value = 1230", "value = 123"),), "no",
         "On the data as they stand the engine breaks it; ask for the sheet again.",
         "converter-input-torque"),
    Case("oil limit in degC read as K", ((_C, "oil_temperature = { unit = \"degC\"",
         "oil_temperature = { unit = \"K\""),), "refused", "120 K is liquid air.",
         "oil_temperature"),
    Case("no limits on the converter's sheet", ((_C, "[limits]", "[removed_limits]"),), "not-known",
         "What blades and hub stand has to be asked.", "converter-input-torque"),
    # --- gearbox, axles, machine
    Case("a top gear with its point misplaced", ((_D, "ratio = 0.74", "ratio = 7.4"),),
         "conditional", "The fourth gear would be lower than the first.", "gear-order-odd"),
    Case("the second gear left out",
         ((_D, "[[gear]]\nname = \"2\"\nratio = 1.95\nefficiency = 0.96\n\n", ""),),
         "conditional", "No gearbox steps by 3.2: a line of the sheet is missing.",
         "gear-step-unusual"),
    Case("an efficiency of 9.6 %", ((_D, "ratio = 3.45\nefficiency = 0.96",
         "ratio = 3.45\nefficiency = 0.096"),), "refused", "No gear loses nine tenths.",
         "efficiency"),
    Case("hub reduction forgotten", ((_D, "ratio = 5.4", "ratio = 1.0"),), "conditional",
         "Turbine to wheels of 3 in top gear: a reduction is missing.", "overall-ratio-unusual"),
    Case("gearbox rating with a digit too few", ((_D, "value = 2600", "value = 260"),), "no",
         "The turbine gives eight times that at stall.", "turbine-stall-torque"),
    Case("no gearbox rating", ((_D, "turbine_torque = { unit = \"N*m\", value = 2600 }\n", ""),),
         "not-known", "Whether the gearbox stands the stall has to be asked.",
         "turbine-stall-torque"),
    Case("a speed limiter at 4 km/h", ((_D, "value = 40", "value = 4"),), "not-known",
         "A loader that may walk only: a digit is missing.", "number-unusual"),
    Case("mass with its point misplaced", ((_M, "value = 17.0", "value = 1.7"),), "conditional",
         "Seventeen hundred kilograms behind a front of 7.8 m2 and on 23.5R25 tyres.",
         "sizes-unusual"),
    Case("cooler in W under kW", ((_M, "value = 62", "value = 0.062"),), "no",
         "On the data as they stand the oil boils on the ramp.", "continuous-heat"),
    Case("no cooler in the file",
         ((_M, "[cooler]\nrated_heat = { unit = \"kW\", value = 62 }\noil_temperature = { unit = "
           "\"degC\", value = 110 }\nair_temperature = { unit = \"degC\", value = 40 }\n", ""),),
         "not-known", "Whether the ramp can be cooled cannot be said.", "continuous-heat"),
    Case("working temperature in degC read as K", ((_M, "working_temperature = { unit = \"degC\"",
         "working_temperature = { unit = \"K\""),), "refused", "Oil at 85 K is a stone.",
         "working_temperature"),
    Case("tyre radius in inches read as mm", ((_M, "value = 775", "value = 30.5"),), "refused",
         "A wheel of 6 cm on a loader.", "rolling_radius"),
    Case("twice the wheel that the size says", ((_M, "value = 775", "value = 1550"),),
         "conditional",
         "A 23.5R25 rolls some 0.78 m: diameter was read for radius.", "sizes-unusual"),
    Case("wheel inertia of one wheel in g.m2", ((_M, "value = 540", "value = 135000"),),
         "conditional", "The wheels would weigh more than the machine.", "wheel-inertia-unusual"),
    # --- site and study
    Case("air at 85 degC", ((_S, "value = -5", "value = 85"),), "refused",
         "No such air on land.", "temperature"),
    Case("pressure reduced to sea level, as the weather report gives it",
         ((_S, "value = 0 }", "value = 2000 }\nair_pressure = { unit = \"hPa\", value = 1015 }"),),
         "conditional", "At 2000 m the air has some 795 hPa: the engine would get too much.",
         "pressure-and-altitude-disagree"),
    Case("an altitude that no formula reaches", ((_S, "value = 0 }", "value = 5900 }"),),
         "conditional",
         "With half the air no formula holds; the engine's maker has to say what is left.",
         "number-unusual"),
    Case("4000 m in summer, by the formula alone", ((_S, "value = 0 }", "value = 4000 }"),
         (_S, "value = -5", "value = 25")), "conditional",
         "The formula holds in a narrow range about the reference air, and this is far outside.",
         "site-correction-outside-validity"),
    Case("required stall speed with a digit too few", ((_Q, "value = 1550", "value = 155"),),
         "conditional", "Below idle: as typed it asks for nothing.", "limit-unusual"),
    Case("a required stall speed just out of reach", ((_Q, "value = 1550", "value = 2150"),), "no",
         "The engine does not reach it against this converter.", "stall-speed-window"),
    Case("a ramp of 0.08 percent for 8", ((_Q, "values = [0, 8, 16]", "values = [0, 0.08, 0.16]"),),
         "conditional", "Hardly a grade: a share was typed as percent.", "grade-tiny"),
    Case("a continuous ramp of 40 percent", ((_Q, "value = 4 }\n\n[limits]",
         "value = 40 }\n\n[limits]"),), "conditional",
         "Low gears would carry the heat, but no haul road is so steep: a digit too many.",
         "number-unusual"),
    Case("tolerances a hundred times too tight",
         ((_Q, "half_width = { unit = \"percent\", value = 3 }",
           "half_width = { unit = \"percent\", value = 0.03 }"),), "conditional",
         "Nobody knows an engine's torque to a third of a thousandth.", "tolerance-tiny"),
    Case("ground on which nothing grips",
         ((_Q, "surface = \"firm smooth earth\"",
           "surface = \"firm smooth earth\"\ntraction = 0.02"),), "no",
         "The wheels spin on the level; and wet ice has five times that.", "number-unusual"),
    Case("a margin as wide as the criterion", ((_Q, "margin = { unit = \"percent\", value = 1 }",
         "margin = { unit = \"percent\", value = 40 }"),), "conditional",
         "With such a margin everything is marginal.", "threshold-unusual"),
)  # fmt: skip
