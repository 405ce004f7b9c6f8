"""Words of the pages that a reader moves: the script puts the numbers in."""

from __future__ import annotations

from types import MappingProxyType

FRAME = MappingProxyType(
    {
        "noscript": "This page moves by a script, which is switched off here. What else stands on "
        "it holds all the same.",
    }
)
"""Of every page."""

SLIDER = MappingProxyType(
    {
        "heading": "From stall to the governor",
        "named-points": "Named points",
        "controls": "Move the machine",
        "play": "Play",
        "pause": "Pause",
        "flow": "oil moves",
        "from": "stall",
        "to": "governor",
        "slider": "Speed ratio, turbine over impeller",
        "valuetext": "speed ratio {nu}, turbine {turbine}",
        "unknown": "not known",
        "not-known": "not known",
        "state": "Speed ratio {nu}: engine and impeller {engine}, turbine {turbine}. The engine "
        "gives {input}, the gearbox gets {output}, {ratio} times as much; {gearbox} of power goes "
        "to the gearbox, {heat} into the oil. {stator}; {oil}.",
        "stator-held": "The stator is held",
        "stator-turns": "The stator turns with the oil",
        "stator-fixed": "The stator is fixed",
        "stator-none": "There is no stator",
        "stator-unknown": "Held or turning: not known",
        "held": "held",
        "oil-unknown": "how hot the oil would get is not known",
        "oil-beyond": "where the oil would settle is beyond the data of the cooler",
        "oil-settles": "held there, the oil would settle at {settles}",
        "oil-over": "held there, the oil would go to {settles}, past its limit of {limit}",
        "panel-section": "The oil goes round",
        "panel-triangles": "Velocities of the oil (estimated blades)",
        "panel-engine": "Engine and converter meet",
        "panel-torques": "Torques on the oil balance",
        "panel-power": "Where the power goes",
        "panel-oil": "Oil temperature if held there",
        "engine": "engine",
        "cover": "cover",
        "turbine": "turbine",
        "impeller": "impeller",
        "stator": "stator",
        "clutch": "one-way clutch",
        "gearbox": "gearbox",
        "housing": "housing",
        "leaves-impeller": "Impeller exit",
        "leaves-turbine": "Turbine exit",
        "leaves-stator": "Stator exit",
        "key-blade": "u blade",
        "key-along": "W along blade",
        "key-oil": "V oil",
        "key-next": "dotted: next blade",
        "swirl": "forwards",
        "swirl-short": "swirl",
        "shock": "shock",
        "swirl-sum": "Radius × swirl, what each row changes:",
        "swirl-parts": "impeller {impeller}, turbine {turbine}, stator {stator}; sum {sum} {unit}",
        "engine-speed": "engine speed",
        "torque": "torque",
        "engine-net": "engine, net",
        "absorbs": "impeller at {nu}",
        "on-oil": "put on the oil",
        "off-oil": "taken off it",
        "torque-sum": "{impeller} + {stator} = {turbine} {unit} (rounded), left over {left}",
        "torque-ratio": "torque ratio",
        "from-engine": "from the engine",
        "to-gearbox": "to the gearbox",
        "to-oil": "to the oil (dashed)",
        "efficiency": "efficiency",
        "power-sum": "{in} = {out} + {heat} {unit} (rounded), left over {left}",
        "limit": "limit",
        "oil-would": "would settle at {settles}",
        "no-limit": "no limit is known",
        "over-limit": "over the limit: do not hold",
        "under-limit": "within the limit",
        "outlet-above": "converter outlet {above} above",
        "oil-rate": "{rate} at first,",
        "oil-from": "from {start}, metal as warm",
        "off": "States are computed by converter-match {version}; the page draws straight lines "
        "between {rows} of them. Held against the package at {tried} places between, no quantity "
        "is off by more than {off} of its largest value.",
        "keys": "Keys: arrows move, with Shift further; Page Up and Page Down go to the next and "
        "the last named point; Home and End to the ends; the space bar plays.",
        "caution": "A stall test can move the machine and boils the oil within a minute. This page "
        "is a calculation; the machine maker's procedure and local rules come first.",
    }
)
"""From stall to the governor: by key; places are filled by the page."""

WHAT_IF = MappingProxyType(
    {
        "heading": "What if: torque, capacity, altitude, pump load",
        "back": "as it is",
        "as-it-is": "as it is",
        "what-if": "what if",
        "change": "change",
        "none": "none",
        "torque": "torque",
        "engine-speed": "engine speed",
        "turbine-speed": "turbine speed",
        "turbine-torque": "turbine torque",
        "what-table": "Key figures, as it is and what if",
        "panel-what-engine": "Engine, net, and what the impeller takes at stall",
        "panel-what-output": "What the gearbox gets",
        "slide-torque": "Engine torque",
        "said-torque": "{value} %",
        "slide-capacity": "Capacity",
        "said-capacity": "{value} %",
        "said-capacity-size": "{value} %, Ø {size} %",
        "slide-altitude": "Altitude",
        "slide-pump": "Pump load",
        "figure-stall-speed": "stall speed",
        "figure-stall-torque": "turbine torque at stall",
        "figure-stall-heat": "heat at stall",
        "figure-coupling-speed": "engine speed at the coupling point",
        "figure-coupling-turbine": "turbine speed there",
        "figure-coupling-torque": "turbine torque there",
        "figure-most-power": "greatest power to the gearbox",
        "lugs": "No stall: the engine cannot hold the converter at idle, and is lugged down.",
        "on-governor": "Stall is on the governor: the converter no longer loads the engine fully.",
        "jumps": "Here the engine jumps from one match to another on the way.",
        "doubtful": "From {altitude} on, the altitude correction is beyond the range that its "
        "method holds in.",
        "diameter": "Ø is the diameter of a converter of the same family, capacity going with "
        "its fifth power: an estimate.",
        "sheets": "The pair as it is stands on its sheets; a slider changes one thing and leaves "
        "all others, the torque ratio too.",
        "off": "The figures are looked up in a table that converter-match {version} computed "
        "({rows} engine speeds at the ends of torque and pump load, between which it is a straight "
        "line). Held against the package at {tried} settings of all sliders off the table, no "
        "speed, torque or power is off by more than {off} of its value.",
    }
)
"""What if: by key; places are filled by the page."""
