"""What is odd about the points of a duty."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.duty_points import DutyPoints
from converter_match.library.odd.columns import column_oddities
from converter_match.notes import Note


def oddities(duty: DutyPoints) -> Iterator[Note]:
    """Yield what is odd about the points of a duty.

    Parameters
    ----------
    duty : DutyPoints

    Yields
    ------
    Note
    """
    pumps = [] if duty.pump_torque is None else duty.pump_torque.tolist()
    yield from column_oddities(
        "duty",
        {
            "turbine speed": duty.turbine_speed.tolist(),
            "speed ratio": duty.speed_ratio.tolist(),
            "pump torque": pumps,
        },
    )
