"""A 20 km route of 400 segments: one run, 1 000 draws, and a plain time-step loop in turns.

The loop is what one writes first: a step of time, look the effort up, add the resistance, move on;
plain numbers, no arrays. It keeps speed and distance only, so that it compares with the speed
profile alone; the full run adds energies, fuel and oil temperature, which the loop leaves out. It
is run for one draw and multiplied.

The march is compiled, and the machine code kept. Whole commands say what that costs: as usual, and
where nothing is kept yet.
"""

from __future__ import annotations

import bisect
import math

import numpy as np
from measuring import Effort, Row, in_turns, python, ratio, seconds

from converter_match.judgement.haul.haul import prepare
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_driveline, read_engine, read_machine
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.shipped import find
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.route import BRAKING, Hauler, run_many, run_route
from converter_match.physics.haul.speed_profile import speed_profile

TIME_STEP = 0.1  # of the loop [s]
COMMAND = """
import contextlib, io, os, tempfile
from converter_match.cli import main
words = "route --engine six-cylinder-9l-240kw --converter single-stage-390mm-full-range "
words += "--driveline six-speed-hauler --machine articulated-hauler-25t --route island-round-20km"
with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
    if {empty}:
        os.environ["NUMBA_CACHE_DIR"] = folder
    main(words.split())
"""


def ready() -> tuple[Hauler, object]:
    match = solve(
        read_engine(find("engines", "six-cylinder-9l-240kw")),
        read_converter(find("converters", "single-stage-390mm-full-range")),
    )
    route = read_route(find_route("island-round-20km"))
    line = read_driveline(find("drivelines", "six-speed-hauler"))
    machine = read_machine(find("machines", "articulated-hauler-25t"))
    return prepare(match, line, machine, route), route


def time_step_loop(machine: Hauler, route, step: float) -> tuple[float, int]:
    """Return the time of the cycle [s] and the number of time steps."""
    chain = machine.chain
    fastest = min(chain.fastest, machine.driveline.speed_limit or math.inf)
    allowed_speed = AllowedSpeed.of(route, fastest, BRAKING)
    loads = SegmentLoads.of(route, machine.machine, machine.air_density)
    limit, ends = allowed_speed.limit.tolist(), allowed_speed.end.tolist()
    distance = [0.0, *np.cumsum(route.length).tolist()]
    force, rotating = chain.force.tolist(), chain.rotating.tolist()
    top, up, down = chain.top.tolist(), chain.up_speed.tolist(), chain.down_speed.tolist()
    up_to, down_to = chain.up_to.tolist(), chain.down_to.tolist()
    mass, rolling, climbing = (x.tolist() for x in (loads.mass, loads.rolling, loads.climbing))
    grip = loads.grip.tolist()
    points = len(force[0])
    x, v, state, clock, count = 0.0, 0.0, 0, 0.0, 0
    end = distance[-1]
    while x < end - 1e-6:
        k = min(max(bisect.bisect_right(distance, x) - 1, 0), len(mass) - 1)
        while v > up[state]:
            state = up_to[state]
        while v < down[state]:
            state = down_to[state]
        place = min(v / top[state], 1.0) * (points - 1.000001)
        cell = int(place)
        share = place - cell
        row = force[state]
        pull = row[cell] + share * (row[cell + 1] - row[cell])
        row = rotating[state]
        turning = row[cell] + share * (row[cell + 1] - row[cell])
        m = mass[k]
        need = m * 9.80665 * (rolling[k] + climbing[k]) + loads.running_drag + loads.air * v * v
        rate = min((pull - need) / (m + turning), (grip[k] * m - need) / m)
        v = max(v + rate * step, 0.05)
        left = max(distance[k + 1] - x, 0.0)
        allowed = min(limit[k], math.sqrt(ends[k] ** 2 + 2.0 * BRAKING * left))
        v = max(min(v, allowed), 0.05)
        x += v * step
        clock += step
        count += 1
    return clock + float(np.nansum(route.stops)), count


def rows(effort: Effort) -> list[Row]:
    count = 50 if effort.quick else 1000
    machine, route = ready()
    random = np.random.default_rng(2)
    draws = Draws.of(
        random.normal(1.0, 0.05, count),
        random.normal(1.0, 0.03, count),
        random.lognormal(0.0, 0.15, count),
    )
    loads = SegmentLoads.of(route, machine.machine, machine.air_density)
    fastest = min(machine.chain.fastest, machine.driveline.speed_limit or math.inf)
    allowed = AllowedSpeed.of(route, fastest, BRAKING)
    pause = machine.driveline.shift_time or 0.0
    run_route(machine, route)  # what is once in a process
    times = in_turns(
        {
            "one": lambda: run_route(machine, route),
            "draws": lambda: run_many(machine, route, draws),
            "speeds": lambda: speed_profile(machine.chain, allowed, loads, draws, shift_time=pause),
            "loop": lambda: time_step_loop(machine, route, TIME_STEP),
        },
        effort.repeats(3),
    )
    whole = in_turns(
        {
            "kept": python("-c", COMMAND.format(empty=False)),
            "first": python("-c", COMMAND.format(empty=True)),
        },
        effort.repeats(3),
        children=True,
    )
    looped = times["loop"].per(1 / count)
    clock, _ = time_step_loop(machine, route, TIME_STEP)
    cycle = float(run_route(machine, route).profile.time.sum())
    return [
        seconds(f"one run, {route.length.size} segments, 20 km", times["one"], "ms", 1e3),
        seconds(f"{count} draws", times["draws"]),
        ratio("time-step loop / one run", times["loop"], times["one"], least=1.0),
        ratio("time-step loop / draws, a draw", looped, times["draws"]),
        ratio("  speed profile only", looped, times["speeds"]),
        # A tenth of a second a step, and the loop does not shift down to gain time: a few percent.
        Row("cycle time / that of the loop", "x", (cycle / clock,)),
        seconds("the whole command", whole["kept"]),
        seconds("  for the first time on a computer", whole["first"]),
    ]
