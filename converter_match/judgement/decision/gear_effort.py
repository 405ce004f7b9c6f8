"""The effort of each gear beside that of the present gear of the same name."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.judgement.verdict.estimated import pairs
from converter_match.judgement.verdict.outcome import Outcome


@dataclass(frozen=True, kw_only=True)
class GearShare:
    """Effort of one gear against that of the present gear of the same name.

    Parameters
    ----------
    gear : str
    least, most : float
        Shares over the road speeds that both reach.
    """

    gear: str
    least: float
    most: float


def gear_shares(own: Outcome, present: Outcome) -> tuple[GearShare, ...]:
    """Return the effort of every forward gear that both have, over the speeds that both reach.

    Least and most over everything that an estimated converter of the two may be.
    """
    by_gear: dict[str, list[GearShare]] = {}
    for (one,), others in pairs((own,), (present,)):
        for item in _shares(one, others[0]) if others else ():
            by_gear.setdefault(item.gear, []).append(item)
    return tuple(
        GearShare(
            gear=gear,
            least=min(item.least for item in items),
            most=max(item.most for item in items),
        )
        for gear, items in by_gear.items()
    )


def _shares(own: Outcome, present: Outcome) -> tuple[GearShare, ...]:
    if own.tractive is None or present.tractive is None or own.missing or present.missing:
        return ()
    mine = {(d.gear.name, d.drive): i for i, d in enumerate(own.tractive.drives)}
    by_gear = []
    for i, drive in enumerate(present.tractive.drives):
        key = drive.gear.name, drive.drive
        if drive.gear.direction != "forward" or key not in mine:
            continue
        curves = []
        for result, index in ((present.tractive, i), (own.tractive, mine[key])):
            curve = result.drives[index].curve()
            grip = float(result.road_loads[index].adhesion(0.0))
            speed = curve.road_speed(result.machine, grip)
            curves.append((speed, np.minimum(curve.force, grip)))
        # At the governor every curve falls to nothing, and a share of nothing says nothing.
        top = 0.95 * min(float(speed.max()) for speed, _ in curves)
        grid = np.linspace(0.0, top, 200)
        before, after = (np.interp(grid, speed, force) for speed, force in curves)
        good = before > 0.02 * before.max()
        share = after[good] / before[good]
        name = drive.gear.name + (" locked up" if drive.drive == "lock-up" else "")
        by_gear.append(GearShare(gear=name, least=float(share.min()), most=float(share.max())))
    return tuple(by_gear)
