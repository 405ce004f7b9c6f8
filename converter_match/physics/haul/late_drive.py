"""What an engine that is not instantly there costs a short drive from rest to rest.

Two runs in time from low idle to the stop, with the torque that is there at each moment and with
all of it; their difference is what the response costs.
"""

from __future__ import annotations

import numpy as np

from converter_match.components.response import EngineResponse
from converter_match.components.route import Phase
from converter_match.physics.haul.route import BRAKING, Hauler
from converter_match.physics.wheels.motion import accelerate
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.run_rows import Acceleration


def late_drive(
    ready: Hauler, phase: Phase, load: RoadLoad, top_speed: float, response: EngineResponse
) -> tuple[float, float, float]:
    """Return what a response adds to a drive, and the speed that it leaves.

    Parameters
    ----------
    ready : Hauler
    phase : Phase
    load : RoadLoad
    top_speed : float
        That is come to with all of the torque [m/s].
    response : EngineResponse

    Returns
    -------
    (float, float, float)
        Time [s]; heat in the converter up to where the speed is kept or the brakes are put on [J],
        below zero as a rule: less torque makes less of it, for longer; top speed [m/s].
    """
    limit = min(phase.speed_limit, ready.driveline.speed_limit or np.inf)
    at_limit = top_speed >= limit * (1.0 - 1e-6)
    ideal = EngineResponse(share=1.0, time=response.time)
    at_once, late = (
        _to_the_stop(
            accelerate(
                ready.chain,
                ready.inertias,
                load,
                to_speed=top_speed if at_limit else 1.2 * top_speed,
                grade=phase.grade,
                shift_time=ready.driveline.shift_time or 0.0,
                method="dynamic",
                response=each,
            ),
            phase.distance,
        )
        for each in (ideal, response)
    )
    return max(late[0] - at_once[0], 0.0), late[1] - at_once[1], min(late[2], top_speed)


def _to_the_stop(run: Acceleration, way: float) -> tuple[float, float, float]:
    """Return the time to a stop at a way [m], the heat up to the brakes, and the top speed.

    The speed at which a run ends is kept until the brakes are put on.
    """
    # Above zero where the steady rate of braking does not stop the machine in time.
    over = np.square(run.speed) - 2.0 * BRAKING * (way - run.distance)
    heat = np.append(0.0, np.cumsum(0.5 * (run.heat[1:] + run.heat[:-1]) * np.diff(run.time)))
    if over[-1] <= 0.0:
        speed = float(run.speed[-1])
        kept = -float(over[-1]) / (2.0 * BRAKING)
        return float(run.time[-1]) + kept / speed + speed / BRAKING, float(heat[-1]), speed
    last = int(np.argmax(over > 0.0))
    pair = slice(last - 1, last + 1)
    time, speed, made = (
        float(np.interp(0.0, over[pair], each[pair])) for each in (run.time, run.speed, heat)
    )
    return time + speed / BRAKING, made, speed
