"""What is said of a machine on a route or in a short cycle: notes by code."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

NO_FUEL = "not known: no consumption in the engine's file"

WORDS = Catalogue(
    {
        "service-brakes-carry-descent": (
            "caution",
            "Downhill the engine cannot hold the machine at the speed it runs, and the service "
            "brakes "
            "take the rest: segment {segments}. Worst is segment {worst}: the retarding "
            "power required is {need:power .0f}, the engine retarding available is "
            "{able:power .0f}. Brakes that hold a long descent overheat and fade: go slower, in "
            "a lower "
            "gear, or carry less. The machine maker's table of grades and speeds and the site's "
            "rules come first.",
        ),
        "oil-volume-not-given": (
            "assumption",
            "The machine's file gives no oil volume: the oil temperature is not computed.",
        ),
        "oil-above-limit": (
            "limit",
            "The transmission oil reaches {hottest:temperature .0f}, above its limit of "
            "{limit:temperature .0f}.",
        ),
        "hot-oil": (
            "caution",
            "The oil would reach {hottest:temperature .0f}. One army manual (TM 9-2320-283-10) "
            "stops the vehicle at {stop:temperature .0f} or more: neutral, engine at 1500 rpm, "
            "shut down if it is not below that within 3 minutes. Hot oil burns people: the machine "
            "maker's procedure comes first.",
        ),
        "no-cooler": (
            "assumption",
            "The machine's file gives no cooler: where the oil settles lap after lap is not known, "
            "and in the first lap all heat stays in it.",
        ),
        "cooler-held-beyond-table": (
            "assumption",
            "The oil gets hotter than the cooler's table reaches: its last value is held, which is "
            "on the safe side.",
        ),
        "outlet-above-limit": (
            "limit",
            "The oil at the converter outlet reaches {hottest:temperature .0f}, above its limit of "
            "{limit:temperature .0f}.",
        ),
        "outlet-above-level": (
            "warning",
            "The oil at the converter outlet reaches {hottest:temperature .0f}; at "
            "{level:temperature .0f} the usual rule is to stop (common practice, no source).",
        ),
        "traction-not-given": (
            "assumption",
            "No traction coefficient is given for {surfaces}: nothing limits the pull there.",
        ),
        "retarding-beyond-grip": (
            "caution",
            "The engine holds the machine back by more than its driven wheels pass to the ground: "
            "segment {segments}. Worst is segment {worst}: {force:force .0f} against "
            "{most:force .0f} (the weight counted that slope and braking move), so the "
            "driven wheels would slide there. Use the service brakes of all wheels earlier, at "
            "a lower speed; the machine maker's and the site's rules come first.",
        ),
        "braking-beyond-grip": (
            "caution",
            "Slowing down by {rate:acceleration .2f} asks for more than the ground gives to all "
            "wheels together: segment {segments}. Worst is segment {worst}: {force:force .0f} "
            "against {most:force .0f}. The machine would slide: slow down earlier and more "
            "gently there.",
        ),
        "oil-does-not-settle": (
            "limit",
            "With every lap the oil gets hotter: the cooler carries away less than goes into the "
            "oil, as far as its data reach.",
        ),
        "oil-lap-after-lap": (
            "assumption",
            "The route is taken to be driven again and again: the maximum oil temperature is that "
            "of the lap that ends as warm as it starts. The first lap starts at "
            "{start:temperature .0f}. No thermostat is counted: oil that comes out cool here is "
            "held at the machine's working temperature.",
        ),
        "gearbox-would-hunt": (
            "warning",
            "Left to its shift speeds the gearbox would hunt between gears in segment {segments}: "
            "the next gear cannot keep the speed at which it is taken. The times are those of a "
            "driver who holds gear {gears} there.",
        ),
        "gearbox-hunts": (
            "warning",
            "The gearbox hunts between gears {gears} in segment {segments}, from "
            "{start:distance .0f} along the route: {count:.0f} times it shifts up into a "
            "gear that does not keep the speed there, {time:time .0f} in all. A stronger or "
            "lighter machine may be the slower one there. Hold the lower gear, or move the "
            "upshift or the downshift apart.",
        ),
        "kept-in-slower-gear": (
            "warning",
            "Shift and lock-up speeds, or the interruption of a shift, keep the machine in a "
            "slower gear in segment {segments}: {gears} (L: locked up). That costs about "
            "{time:time .0f} in all, and a stronger or lighter machine may be the slower one "
            "there. Where the machine maker's book allows it, take the other gear by hand.",
        ),
        "driven-hard": (
            "assumption",
            "The machine is driven at full throttle up to the speed allowed, slows down ahead of "
            "limits and stops at {rate:acceleration .1f}, and stands in neutral. "
            "Bends, traffic and the driver's care are in the speed limits, or nowhere.",
        ),
        "starts-of-an-ideal-engine": (
            "assumption",
            "No response of the engine is counted along a route. It starts from rest {count:.0f} "
            "times; at the usual response of its aspiration (common practice, no source) each "
            "start costs {lost:time .2f} of full torque, more on a climb.",
        ),
        "upshift-where-it-pays": (
            "assumption",
            "No upshift speed is given for gear {gears}: from the speed on at which the next gear "
            "pulls as much, it is taken where the machine is ahead with it at the end of the "
            "stretch or {time:time .0f} on, the time without drive counted. Else the gear is held.",
        ),
        "downshift-where-it-pays": (
            "assumption",
            "No downshift is given for gear {gears}: below the speed at which the next lower gear "
            "would be left again, that is taken where the machine is ahead with it in the same "
            "sense, even if it loses all speed in the shift and starts anew.",
        ),
        "fuel-density-typical": (
            "assumption",
            "Fuel density {density:density .0f}, typical of diesel fuel, for litres.",
        ),
        "engine-overspeeds": (
            "caution",
            "On a descent the engine is driven to {speed:angular_speed .0f}, above its high idle "
            "of {idle:angular_speed .0f}.",
        ),
        "retarding-gear-chosen": (
            "assumption",
            "On a descent the driver is taken to be in the gear in which engine braking is "
            "greatest without overspeeding the engine.",
        ),
    }
)
note = WORDS.note

# Sentences under a code that says different things in different places.
STANDSTILL = Catalogue(
    {
        "cannot-move-on": (
            "limit",
            "The machine stops in segment {segment}, {into:distance .0f} into it, on "
            "{grade:grade g}: it is traction-limited to {effort:force .1f}, and {need:force .1f} "
            "are needed there. The route ends here.",
        )
    }
)
TOO_WEAK = Catalogue(
    {
        "cannot-move-on": (
            "limit",
            "The machine stops in segment {segment}, {into:distance .0f} into it, on "
            "{grade:grade g}: from rest it pulls no more than {effort:force .1f}, and "
            "{need:force .1f} are needed there. The route ends here.",
        )
    }
)
CYCLE = Catalogue(
    {
        "oil-above-limit": (
            "limit",
            "Cycle after cycle the transmission oil reaches its limit of {limit:temperature .0f} "
            "after {time:minutes .0f}: the heat of {heat:power .0f} is above the continuous "
            "cooling capacity.",
        ),
        "hot-oil": (
            "caution",
            "The oil would reach {hottest:temperature .0f}. One army manual (TM 9-2320-283-10) "
            "stops the vehicle at {stop:temperature .0f} or more. Hot oil burns people: the "
            "machine maker's procedure comes first.",
        ),
        "cycle-driven-hard": (
            "assumption",
            "Each drive starts and ends at rest, at full throttle up to its speed limit. While "
            "standing with pumps at work the engine runs at rated speed, else at low idle. In a "
            "phase the pumps take a torque that is the same at every speed, as much as gives them "
            "their power at the mean engine speed; what they take anyway is within it.",
        ),
        "cannot-move-on": (
            "limit",
            "The machine stops in the phase {phase} on {grade:grade .1f}: tractive effort or "
            "traction is not sufficient.",
        ),
        "pumps-short": (
            "warning",
            "In the phase {phase} the engine cannot give the pumps {asked:power .0f}: they get "
            "{given:power .0f}, and the implement is so much slower.",
        ),
        "clutch-heat": (
            "assumption",
            "Heat in the clutches at changes of gear and of direction: the slip falls in a "
            "straight line over {time:time .2f} ({how}); at a change of direction, at rest, from "
            "low idle. Reversing on the move, as drivers do, is a multiple of that.",
        ),
        "response-in-drives": (
            "assumption",
            "The response of the engine costs {lag:time .2f} in {count:.0f} drives and changes "
            "their heat by {heat:energy .1f}: the difference of two runs from low idle to the "
            "stop, the engine's speed a state of its own, brakes as in the drive. Not counted: "
            "less "
            "heat at the speed limit, slower pumps, and less fuel while the torque is missing "
            "(counted as the rest of the drive, at most {fuel:mass .3f} in all).",
        ),
        "response-while-crowding": (
            "assumption",
            "Crowding starts with the engine's torque there. Where it is asked for from light "
            "load, {lost:time .2f} of full torque are lost each time, of {time:time .1f} of "
            "crowding.",
        ),
        "production-usual-values": (
            "assumption",
            "Production to expect is reckoned with usual values of: {names} (common practice, no "
            "source). The cycle's file can state them.",
        ),
        "oil-against-working": (
            "assumption",
            "In continuous work the steady oil temperature is {balance:temperature .0f}, by its "
            "heat here; the machine's file says that it works at {working:temperature .0f}.",
        ),
        "oil-misses-sources": (
            "warning",
            "In continuous work the steady oil temperature would be {balance:temperature .0f}, by "
            "converter, gearbox and clutches of this cycle alone; the machine's file says that it "
            "works at "
            "{working:temperature .0f}. That is {share:share} of the rise over the air: half or "
            "more of the heat has other sources, such as charge pump, relief valves, brakes, or "
            "hydraulics on the same cooler.",
        ),
        "crowd-limited-by-grip": (
            "warning",
            "In the phase {phase} the wheels would spin at full throttle: the machine is "
            "traction-limited to {force:force .0f}.",
        ),
    }
)
# Beside a figure.
TABLE = Catalogue(
    {
        "hottest-oil": ("assumption", "{oil:temperature .0f}, lap after lap"),
        "hottest-oil-once": ("assumption", "{oil:temperature .0f}, up to where it stops"),
        "first-lap-oil": (
            "assumption",
            "{oil:temperature .0f} (from {start:temperature .0f} at the start)",
        ),
        "first-lap-oil-at-start": ("assumption", "{oil:temperature .0f} (the start)"),
        "too-many-segments": (
            "assumption",
            "{count} segments are too many to list here: see the CSV or the JSON.",
        ),
    }
)

FASTER = "{own} where {better} would be faster"
IDEAL = "production without waiting, bucket full"
AS_SHIFTED, AS_USUAL = "the driveline's shift time", "common practice, no source"
