"""Notes in a few words, for the foot of a figure: the one list of them, by code.

Their sentences stand in the catalogues of the rooms; a test holds that each code here is one of a
note.
"""

from __future__ import annotations

from collections.abc import Iterable

from converter_match.notes import Note

_LIMIT = "limit-"
# Where the code without its hyphens would not tell what is meant.
WORDS: dict[str, str] = {
    "accessories-on-net-rating": "accessories listed beside a net rating",
    "air-density-standard": "air of standard density",
    "air-dry": "air taken as dry",
    "altitude-from-pressure": "altitude from air pressure",
    "band-in-two-parts": "stall band in two parts",
    "blading-no-flow": "no flow through the blades",
    "blading-table-ends": "blading's table ends",
    "cannot-climb-grip": "traction-limited on a grade",
    "cannot-climb-too-weak": "insufficient tractive effort on a grade",
    "cannot-hold-idle": "engine cannot hold low idle in gear",
    "cannot-move-on": "machine stops on the route",
    "capacity-drawn-to-zero": "capacity extrapolated to zero",
    "connection-assumed": "hydraulic connection assumed",
    "cooler-air-temperature": "air temperature at the cooler",
    "cooler-curve-short": "cooler's curve ends early",
    "cooler-held-beyond-table": "cooler's last value held beyond its table",
    "coolant-term-left-out": "coolant left out of the correction",
    "cooling-not-known": "cooling not known",
    "coupling-before-data": "coupling point before the data",
    "coupling-found": "coupling point found from the rows",
    "coupling-found-between-rows": "coupling point found between rows",
    "coupling-gains-nothing": "no torque gain without the stator",
    "coupling-gains-past": "torque gain without the stator above a speed",
    "coupling-loses-multiplication": "without the stator torque multiplication is lost",
    "clutch-heat": "heat of shifts and reversals by their slip",
    "coupling-not-reached": "coupling point not reached",
    "coupling-stated-late": "coupling point stated too high",
    "converter-from-stall-datum": "converter estimated from its stall alone",
    "coupling-torque-ratio-off": "torque ratio not 1 at the coupling point",
    "creep-at-idle": "creeps at idle",
    "crowd-limited-by-grip": "crowding traction-limited",
    "curve-from-rating": "torque curve estimated from the rating",
    "cycle-driven-hard": "cycle at full throttle, no waiting",
    "derate-altitude-only": "derating by altitude only",
    "does-not-start": "machine does not start",
    "downshift-typical": "usual gap between up- and downshift",
    "drive-curve-ends-with-data": "drive curve ends with the data",
    "downshift-where-it-pays": "lower gear where it pays",
    "driven-hard": "full throttle throughout",
    "droop-as-at-full-setting": "governor droop line as at full setting",
    "engagement-heat-not-known": "heat of engagement not known",
    "engagement-not-followed": "engagement not followed up to speed ratio 1",
    "engine-factor-typical": "usual site factor of such an engine",
    "engine-jumps-along-locus": "engine speed jumps along the locus",
    "engine-limit-unread": "an engine limit not checked",
    "engine-limits-not-checked": "engine limits not checked",
    "engine-response": "engine's torque takes time",
    "engine-response-typical": "usual response of such an engine",
    "engine-overspeeds": "engine overspeeds downhill",
    "estimated-from-blading": "characteristic estimated from blade angles",
    "fixed-from-one-way": "fixed stator estimated from one-way",
    "starts-of-an-ideal-engine": "no response of the engine along a route",
    "response-in-drives": "what the engine's response costs",
    "response-while-crowding": "crowding with the torque there",
    "retarding-beyond-grip": "engine braking beyond the grip of the driven wheels",
    "braking-beyond-grip": "braking beyond the grip",
    "run-up-from-idle": "run-up from low idle in gear",
    "fuel-map-only": "fuel only inside the map",
    "fuel-willans": "fuel by a Willans line",
    "fuel-willans-idle": "idle fuel by a Willans line",
    "fuel-willans-typical": "fuel by a usual Willans line",
    "grade-not-reached-from-rest": "fastest gear on a grade not reached from rest",
    "grade-not-started": "grade only with a run-up",
    "grades-and-brakes": "grades: brakes and stability not judged",
    "gravity-height-odd": "odd height of the centre of gravity",
    "held-only-slowed-down": "held only when slowed down to it",
    "hot-oil": "oil runs hot",
    "ideal-engine": "ideal engine, its torque there at once",
    "idle-high-idle-differ": "different match from idle and from high idle",
    "idle-in-gear-torque": "creeps at idle in gear",
    "idle-not-held-in-gear": "engine does not hold idle in gear",
    "impeller-clutch-engine-stalls": "engine may not come up with the clutch",
    "impeller-clutch-engine-stays-low": "engine speed with the clutch goes by history",
    "inertia-not-given": "inertia not given",
    "jumps-coming-down": "engine jumps, slowed down",
    "jumps-coming-up": "engine jumps, speeding up",
    "kink-row-added": "row added at the coupling point",
    "loaded-radius-as-rolling": "loaded tyre radius taken as rolling",
    "lock-up-by-gear": "lock-up at its lowest speed",
    "lock-up-capacity": "lock-up clutch capacity too low",
    "lock-up-costs-pull": "lock-up costs pull",
    "lock-up-heavy-pull": "lock-up under heavy pull",
    "lock-up-rule-not-given": "no rule given for lock-up",
    "lock-up-shock-above-capacity": "lock-up engagement torque above capacity",
    "load-with-a-motor": "load steady, run-up not timed",
    "hanging-with-a-motor": "holding and lowering not judged",
    "load-started-on-peak": "load started by the peak only",
    "load-on-peak-only": "load carried by the peak only",
    "battery-left-out": "battery losses left out",
    "controller-losses-left-out": "controller losses left out",
    "efficiency-map-edges": "loss at the edges of the efficiency map held",
    "generator-losses-as-motor": "losses as a generator as those as a motor",
    "motor-coolant-rated": "motor cooled as in its rating",
    "motor-losses-not-given": "motor losses not given",
    "motor-match-from": "matches looked for from a slow speed up",
    "no-regeneration": "no regeneration given",
    "pump-stops-with-the-motor": "pumps stand still with the motor",
    "reduction-efficiency": "usual efficiency of a reduction",
    "stall-is-overload": "stall overloads the motor",
    "stall-within-continuous": "oil limits a hold at stall",
    "thermal-class-not-given": "thermal class not given",
    "voltage-moves-corner": "torque curve stretched by the voltage",
    "whole-rise-used": "continuous torque uses the whole rise",
    "winding-time-constant-from-peak": "winding's time constant from the peak time",
    "mechanical-efficiency-typical": "usual mechanical efficiency",
    "motoring-not-known": "motoring torque not known",
    "no-cooler": "no cooler given",
    "no-cooling": "no cooling to balance the heat",
    "no-coupling-point": "no coupling point in the data",
    "no-engagement-at-full-load": "no engagement at full load",
    "no-engine-braking": "no engine braking counted",
    "no-overrun-braking": "no braking on the overrun counted",
    "no-rated-power-in-working-range": "rated power outside the working range",
    "no-row-at-rated-speed": "no row at rated speed",
    "no-site": "no site given",
    "no-site-correction": "no correction for the site",
    "no-speed-limit": "no speed limit given",
    "no-torque-near-idle": "no torque given near idle",
    "oil-above-limit": "oil above its limit",
    "oil-heat-of-converter-and-gearbox": "oil takes converter's and gearbox's heat",
    "oil-starts-cold": "oil starts at air temperature",
    "oil-typical": "usual density and specific heat of oil",
    "oil-against-working": "oil beside its working temperature",
    "oil-misses-sources": "oil heat misses half of its sources",
    "one-way-from-fixed": "one-way stator estimated from fixed",
    "overrun-assumed": "overrun characteristic assumed",
    "gear-drag-assumed": "drag of the gearbox assumed",
    "interface-differs": "joint of engine and converter differs",
    "overrun-band": "bands of the overrun tables",
    "overrun-highest-speed": "a highest speed downhill",
    "overrun-no-holding": "engine braking does not hold the machine",
    "parallel-first-drives-pumps": "the first engine drives the pumps",
    "parallel-stiff": "the two coupled, both at full throttle",
    "pressure-as-reference": "air pressure as at the rating",
    "pressure-from-altitude": "air pressure from altitude",
    "production-usual-values": "production by usual values",
    "pumps-short": "pumps get less than asked for",
    "reference-air-standard": "rated in standard air",
    "retarding-gear-chosen": "gear for the descent chosen",
    "run-out-straight": "governor droop line straight",
    "scaled-by-capacity": "converter scaled by capacity",
    "scaled-by-density": "converter scaled to the oil's density",
    "scaled-by-diameter": "converter scaled by diameter",
    "scaled-far": "converter scaled beyond the similarity range",
    "service-brakes-carry-descent": "service brakes carry a descent",
    "several-intersections": "several intersections at stall",
    "several-intersections-on-locus": "several intersections on the locus",
    "shift-hunting": "hunts between gears",
    "shift-hunting-band": "may hunt between gears",
    "shift-no-hysteresis": "no gap between up- and downshift",
    "shift-speed-computed": "shift speeds computed",
    "site-correction-outside-validity": "site beyond the correction's range",
    "site-factor-on-whole-curve": "site factor on the whole curve",
    "site-method-assumed": "kind of site correction assumed",
    "size-limits-dropped": "limits of the other size dropped",
    "speed-at-data-end": "speed where the data end",
    "stall-effort-is-short": "effort at stall only for a short time",
    "stall-hold-is-hazardous": "holding at stall is hazardous",
    "stall-on-governor": "stall on the governor",
    "stall-test-hazard": "a stall test is hazardous",
    "stator-out-capacity": "capacity without the stator estimated",
    "stator-out-stalls": "engine may not come up without the stator",
    "stator-removed": "stator removed, estimated",
    "surface-for-other-vehicle": "surface values for another kind of vehicle",
    "surface-from-table": "surface values from a table",
    "temperature-as-reference": "air temperature as at the rating",
    "temperature-from-altitude": "air temperature from altitude",
    "torque-at-high-idle": "torque given at high idle",
    "torque-divider": "torque divider's characteristic computed",
    "torque-ratio-taken-as-one": "torque ratio taken as one",
    "turbine-driven-backwards": "turbine driven backwards",
    "unity-torque-ratio-found": "torque ratio of one found between rows",
    "upshift-where-it-pays": "next gear where it pays",
    "wheels-slip-before-stall": "wheels spin before converter stall",
}


def short_words(notes: Iterable[Note]) -> str:
    """Return what notes are about, each in a few words and each once.

    Parameters
    ----------
    notes : iterable of Note

    Returns
    -------
    str
        Divided by semicolons; empty without notes.

    Examples
    --------
    >>> short_words([Note("run-out-straight", "..."), Note("gear-drag-not-given", "...")])
    'governor droop line straight; gear drag not given'
    """
    return "; ".join(dict.fromkeys(_words(note.code) for note in notes))


def _words(code: str) -> str:
    if code in WORDS:
        return WORDS[code]
    if code.startswith(_LIMIT):
        return f"{code.removeprefix(_LIMIT).replace('-', ' ')} above its limit"
    return code.replace("-", " ")
