"""The sentences on odd data."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

CONVERTER = Catalogue(
    {
        "no-stall-row": (
            "warning",
            "The rows begin at speed ratio {first:.4g}: without a row at 0 the stall speed cannot "
            "be found, since nothing is extrapolated.",
        ),
        "stall-capacity-implausible": (
            "warning",
            "Capacity at stall (K {in_nm:.1f} rpm/sqrt(N.m) = {in_lbf_ft:.1f} rpm/sqrt(lbf.ft)) "
            "makes a performance coefficient of {value:.3g} with a diameter of "
            "{diameter:length .4g}; usual is {least:.6g} to {most:.6g}, odd is less than "
            "{low:.6g} or more than {high:.6g}. If torque was in lbf.ft where N.m was read it is "
            "{if_lbf_ft:.3g}, the other way round {if_nm:.3g}. A diameter of about "
            "{fitting:length .3g} would fit. Is a unit, the diameter or a reference speed wrong?",
        ),
        "profile-diameter-unusual": (
            "warning",
            "The profile diameter is {diameter:length .4g}; usual is {low:length .4g} to "
            "{high:length .4g}. Is the unit right? Capacity from a coefficient follows its fifth "
            "power.",
        ),
        "stall-k-unusual": (
            "warning",
            "K at stall is {k:k_factor .3g}; usual is {low:k_factor .3g} to {high:k_factor .3g}. "
            "Is a unit or a reference speed wrong?",
        ),
        "reference-speed-unusual": (
            "warning",
            "The reference speed of the capacity is {speed:angular_speed .0f}; usual is "
            "{low:angular_speed .0f} to {high:angular_speed .0f}. Is a digit too many or too few? "
            "The capacity follows its square.",
        ),
        "stall-torque-ratio-unusual": (
            "warning",
            "The torque ratio at stall is {ratio:.3g}; usual is {low:.6g} to {high:.6g}.",
        ),
        "torque-ratio-rises": (
            "warning",
            "The torque ratio rises from {before:.4g} at speed ratio {at:.4g} to {after:.4g} at "
            "{then:.4g}; it should fall. Is a row misread?",
        ),
        "torque-ratio-below-one": (
            "warning",
            "The torque ratio is {ratio:.4g} at speed ratio {at:.4g}, but a stator on a "
            "one-way clutch freewheels where it falls to 1. Is the stator fixed?",
        ),
        "no-row-at-coupling-point": (
            "warning",
            "The sheet has no row at its coupling point (speed ratio {at:.4g}), where the torque "
            "ratio and the capacity have their corner. A row was added there; a measured one is "
            "better.",
        ),
        "capacity-wiggles": (
            "warning",
            "The capacity at speed ratio {at:.4g} is {off:share +.1f} (of the largest) off the "
            "line of its neighbours, and the row beside it is off the other way. Is a row misread?",
        ),
        "few-rows": (
            "warning",
            "There are only {count:.0f} rows between speed ratio 0 and 1: what lies between them "
            "is a guess.",
        ),
        "ends-early": (
            "warning",
            "The rows end at speed ratio {last:.4g}: beyond it nothing is known, and light load "
            "and cruising lie there.",
        ),
        "peak-efficiency-unusual": (
            "warning",
            "The best efficiency up to the coupling point is {best:.3f} (at speed ratio {at:.3g}); "
            "usual is {low:.6g} to {high:.6g}.",
        ),
        "capacity-at-synchronism": (
            "warning",
            "At speed ratio 1 the capacity is still {share:share .0f} of its largest value; with "
            "turbine and impeller at one speed hardly any torque is passed on.",
        ),
        "oil-density-unusual": (
            "warning",
            "The oil density is {density:density .4g}; transmission oil has {low:density .3g} to "
            "{high:density .3g}. Capacity and scaling follow it in proportion.",
        ),
    }
)
DRIVELINE = Catalogue(
    {
        "shift-time-long": (
            "warning",
            "A shift takes {time:.6g} s; usual is less than {most:.6g} s.",
        ),
        "speed-limit-high": (
            "warning",
            "The speed limiter is set to {limit:velocity .0f}: much for a machine with a "
            "converter.",
        ),
        "efficiency-unusual": (
            "warning",
            "The efficiency of {what} is {efficiency:.3f}; usual is {low:.6g} to {high:.6g}.",
        ),
        "overall-ratio-unusual": (
            "warning",
            "In gear {gear} the turbine turns {ratio:.2f} times as fast as the wheels; usual is "
            "{low:.6g} to {high:.6g}. Is a reduction missing, or in twice?",
        ),
        "reverse-ratio-unusual": (
            "warning",
            "The lowest reverse gear has {share:.2f} times the ratio of the lowest forward one; "
            "usual is {low:.6g} to {high:.6g}.",
        ),
        "gear-order-odd": (
            "warning",
            "Gear {gear} has a ratio of {ratio:.4g}, and the one before it, {before}, has "
            "{other:.4g}: the ratios should fall in the order of the lever. Is a digit wrong?",
        ),
        "gear-step-unusual": (
            "warning",
            "Gears {before} and {gear} stand {step:.2f} apart; usual is {low:.6g} to {high:.6g}. "
            "Is a digit wrong, or a gear left out?",
        ),
        "drag-torque-high": (
            "warning",
            "In gear {gear} the drag torque is {drag:torque .0f} at {speed:angular_speed .0f}: "
            "much for a gearbox input. Is it meant at the gearbox output?",
        ),
    }
)
ENGINE = Catalogue(
    {
        "engine-limit-unread": (
            "warning",
            "limits.{key} holds {text}, which is no {key} with its unit: it is not checked.",
        ),
        "no-rated-torque": ("warning", "The full-load torque at rated speed is zero."),
        "torque-rise-unusual": (
            "warning",
            "Peak torque ({peak:torque .0f} at {speed:angular_speed .0f}) is {rise:share .1f} "
            "above the torque at rated speed ({rated:torque .0f}); usual is {low:share .0f} to "
            "{high:share .0f}.",
        ),
        "mean-pressure-implausible": (
            "warning",
            "Peak torque {torque:torque .0f} from {displacement:volume .3g} is a mean effective "
            "pressure of {value:.1f} bar; a {kind}four-stroke engine has {low:.6g} to {high:.6g} "
            "bar. If the torque was in lbf.ft where N.m was read it is {if_lbf_ft:.1f} bar, the "
            "other way round {if_nm:.1f} bar. Is a unit or the displacement wrong?",
        ),
        "specific-power-unusual": (
            "warning",
            "Rated power {power:power .0f} from {displacement:volume .3g} is {value:.1f} kW/L; "
            "usual is {low:.6g} to {high:.6g} kW/L.",
        ),
        "torque-row-off": (
            "warning",
            "The full-load torque at {speed:angular_speed .0f} is {torque:torque .0f}, between "
            "{before:torque .0f} and {after:torque .0f} of the rows beside it. Is a digit wrong?",
        ),
        "no-row-at-rated-speed": (
            "warning",
            "The full-load curve has no row at rated speed ({rated:angular_speed .0f}), where the "
            "governor takes over: the corner there is rounded off. Add a row.",
        ),
        "power-peaks-below-rated-speed": (
            "warning",
            "The greatest power ({power:power .0f} at {speed:angular_speed .0f}) is well above the "
            "power at rated speed ({rated_power:power .0f} at {rated:angular_speed .0f}). Is the "
            "rated speed right?",
        ),
        "droop-unusual": (
            "warning",
            "High idle ({high_idle:angular_speed .0f}) is {droop:share .1f} above rated speed "
            "({rated:angular_speed .0f}); usual is {low:share .0f} to {high:share .0f}.",
        ),
        "low-idle-unusual": (
            "warning",
            "Low idle is {speed:angular_speed .0f}; usual is {low:.0f} to {high:.0f} rpm. Is the "
            "unit right?",
        ),
        "rated-speed-unusual": (
            "warning",
            "Rated speed is {speed:angular_speed .0f}; usual is {low:.0f} to {high:.0f} rpm. Is "
            "the unit right?",
        ),
        "rated-power-unusual": (
            "warning",
            "Rated power is {power:power .3g}; usual is {low:power .3g} to {high:power .4g}. Is a "
            "unit wrong?",
        ),
        "inertia-unusual": (
            "warning",
            "The inertia is {inertia:inertia .3g}; usual is {low:inertia .3g} to "
            "{high:inertia .3g}. Is the unit right?",
        ),
        "fuel-consumption-unusual": (
            "warning",
            "Specific fuel consumption at {speed:angular_speed .0f} is {value:specific_fuel .3g} "
            "({metric:.0f} g/kWh); usual at full load is {low:.0f} to {high:.0f} g/kWh.",
        ),
        "aspiration-missing": (
            "warning",
            "The file does not state the aspiration of the engine: no formula can correct "
            "its torque for another site.",
        ),
        "reference-air-missing": (
            "warning",
            "The file does not say for which air the rating holds (reference_air): a correction "
            "for another site has nothing to start from.",
        ),
        "gross-without-accessories": (
            "warning",
            "The rating is gross and no accessory is listed: without fan, alternator and charge "
            "pump the stall speed comes out too high.",
        ),
        "deducted-twice": (
            "warning",
            "The rating is net, which usually has {names} deducted already; listed as an accessory "
            "it is deducted again.",
        ),
        "accessories-heavy": (
            "warning",
            "The accessories take {total:power .0f} at rated speed, of {rated:power .0f} rated "
            "power. Is a unit or an at_speed wrong?",
        ),
        "few-rows": (
            "warning",
            "The full-load curve has only {count:.0f} rows: what lies between them is a guess.",
        ),
    }
)
MACHINE = Catalogue(
    {
        "running-drag-high": (
            "warning",
            "The running drag of {drag:force .1f} is {share:share .1f} of the empty weight: is the "
            "ground's rolling resistance in it? That belongs to the surface.",
        ),
        "wheel-inertia-unusual": (
            "warning",
            "The wheels, turning ({inertia:inertia .3g} at a radius of {radius:length .0f}), add "
            "{share:weight_share .2g} to the empty mass; usual is {low:weight_share .2g} to "
            "{high:weight_share .2g}. Are unit and digits right?",
        ),
        "driven-share-low": (
            "warning",
            "Only {share:share .0f} of the weight rests on the driven wheels ({load}).",
        ),
        "drag-coefficient-unusual": (
            "warning",
            "The drag coefficient is {value:.6g}; usual is {low:.6g} to {high:.6g}.",
        ),
        "frontal-area-unusual": (
            "warning",
            "The frontal area is {area:area .2f}; usual is {low:.6g} to {high:.6g} m². Is the unit "
            "right?",
        ),
        "cooler-size-unusual": (
            "warning",
            "The cooler carries {conductance:conductance .3g}: far from usual for a machine of "
            "{mass:mass .0f}, which has {low:conductance .3g} to {high:conductance .3g}. Is the "
            "unit right, or thousands left out?",
        ),
        "payload-unusual": (
            "warning",
            "The payload of {payload:mass .0f} is much for a machine of {mass:mass .0f}. Is the "
            "unit right?",
        ),
        "oil-volume-unusual": (
            "warning",
            "The transmission holds {volume:volume .1f} of oil: far from usual for a machine of "
            "{mass:mass .0f}.",
        ),
        "oil-limit-unusual": (
            "warning",
            "The oil temperature limit is {limit:temperature .0f}; usual are "
            "{low:temperature .0f} to {high:temperature .0f}.",
        ),
    }
)
SITE = Catalogue(
    {
        "pressure-and-altitude-disagree": (
            "warning",
            "The air pressure is {pressure:pressure .3g}, but at {altitude:altitude .0f} it is "
            "usually about {usual:pressure .3g}. Was it reduced to sea level, as weather reports "
            "give it?",
        ),
        "air-temperature-unusual": (
            "warning",
            "The air temperature is {air:temperature .0f}. Is the unit right?",
        ),
    }
)

SHARES = Catalogue(
    {
        "grade-tiny": (
            "warning",
            "{what} is {grade:grade .2g}: hardly a grade. Was a share (0.08 for 8 %) given as "
            "percent?",
        ),
        "tolerance-tiny": (
            "warning",
            "{what} is {share:weight_share .2g}: closer than anything is measured. Was a share "
            "(0.03 for 3 %) given as percent?",
        ),
        "heat-limit-unusual": (
            "warning",
            "limits.heat is {heat:power .3g}, for engines of up to {power:power .0f}; usual is "
            "{low:power .2g} to {high:power .3g}. Is the unit right, or thousands left out?",
        ),
        "threshold-unusual": (
            "warning",
            "{what} is {value:.4g}, where the criterion itself has {usual:.4g}. Is a digit, or "
            "percent for a share, wrong?",
        ),
        "tolerance-unusual": (
            "warning",
            "{what} is {value:.3g}; usual is {low:.6g} to {high:.6g}. Is a digit, or percent for "
            "a share, wrong?",
        ),
        "limit-unusual": (
            "warning",
            "{what} is {share:.3g} times {of}; usual is {low:.6g} to {high:.6g} times. Are unit "
            "and digits right?",
        ),
        "deviation-unusual": (
            "warning",
            "The deviation of {what} is {share:weight_share .2g} of the reading; usual is "
            "{low:weight_share .2g} to {high:weight_share .2g}. Are unit and digits right?",
        ),
        "hydraulic-torque-unusual": (
            "warning",
            "duty.hydraulic_torque is {torque:torque .3g}, of {most:torque .0f} that the smallest "
            "engine has. Is the unit right?",
        ),
    }
)

MOTOR = Catalogue(
    {
        "motor-few-rows": (
            "warning",
            "The torque has {rows} rows; with fewer than {few} the corner where the field is "
            "weakened is easily missed.",
        ),
        "motor-overload-unusual": (
            "warning",
            "The peak torque is {share:.2f} times the continuous one where it begins to fall; "
            "usual is {low:.1f} to {high:.1f}. Are the two columns of one motor, and is the peak "
            "time that of the peak?",
        ),
        "motor-power-rises": (
            "warning",
            "Beyond the corner the peak power rises from {corner:power .0f} to "
            "{highest:power .0f}: where the field is weakened it stays about the same as a rule. "
            "Is a speed or a unit wrong?",
        ),
        "motor-efficiency-unusual": (
            "warning",
            "At the greatest continuous power ({speed:angular_speed .0f}) the efficiency is "
            "{share:share .1f}; usual is {low:share} to {high:share}. Are the losses of this "
            "motor?",
        ),
        "motor-peak-time-long": (
            "warning",
            "The peak torque is said to be held for {time:minutes .0f}: that is near to continuous "
            "duty. Is the unit of the time right?",
        ),
        "motor-regenerates-more": (
            "warning",
            "At {speed:angular_speed .0f} the motor is said to brake with {back:torque .0f}, more "
            "than its peak torque of {peak:torque .0f} there. Are the columns interchanged?",
        ),
    }
)
