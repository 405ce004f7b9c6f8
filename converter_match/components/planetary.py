"""A simple planetary gear set as a three-port: sun, ring and carrier.

With k = Z_ring / Z_sun the three speeds obey one linear equation (R. Willis, Principles of
Mechanism, 1841; the basic equation of VDI 2157),

    omega_sun + k omega_ring - (1 + k) omega_carrier = 0,

and, without friction and at steady speed, the torques acting on the gear set stand in the ratio of
the same coefficients, T_sun : T_ring : T_carrier = 1 : k : -(1 + k). The torques then sum to zero,
and so do the powers, whatever the two free speeds are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import Component, require_choice
from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean

Member = Literal["sun", "ring", "carrier"]
MEMBERS: tuple[Member, ...] = ("sun", "ring", "carrier")
_MOST_TEETH = 10_000  # more than any gear has
Split = Literal["input-split", "output-split"]
# The shafts of each split, in the order engine side, hydraulic side, output side.
SHAFTS: dict[Split, tuple[str, str, str]] = {
    "input-split": ("engine-and-impeller", "turbine", "output"),
    "output-split": ("engine", "impeller", "turbine-and-output"),
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Planetary(Component):
    """A planetary gear set of one sun, one ring and single planets, without friction.

    Parameters
    ----------
    ratio : float, optional
        k = Z_ring / Z_sun, above 1 (the ring surrounds the sun).
    sun_teeth, ring_teeth : int, optional
        Both, or neither; then the ratio follows from them.

    Raises
    ------
    InputError
        If a tooth count is not a whole number from 1 to 10000, the ratio is not above 1, ratio and
        teeth contradict each other, or neither is given.

    Examples
    --------
    >>> gears = Planetary(sun_teeth=30, ring_teeth=75)
    >>> gears.ratio
    2.5
    >>> float(gears.speed("carrier", sun=100.0, ring=100.0))
    100.0
    """

    ratio: float = math.nan
    sun_teeth: int | None = None
    ring_teeth: int | None = None

    def __post_init__(self) -> None:
        for name in ("sun_teeth", "ring_teeth"):
            _check_teeth(getattr(self, name), name)
        if (self.sun_teeth is None) != (self.ring_teeth is None):
            raise InputError(
                "tooth counts come in pairs",
                field="ring_teeth" if self.ring_teeth is None else "sun_teeth",
                expected="the teeth of both sun and ring, or the ratio alone",
            )
        ratio = float(self.ratio)
        if self.sun_teeth is not None and self.ring_teeth is not None:
            by_teeth = self.ring_teeth / self.sun_teeth
            if not math.isnan(ratio) and abs(ratio - by_teeth) > 0.005 * by_teeth:
                raise InputError(
                    "the ratio contradicts the tooth counts",
                    field="ratio",
                    found=ratio,
                    expected=f"{self.ring_teeth} / {self.sun_teeth} = {by_teeth:.4g}, or no ratio",
                )
            ratio = by_teeth
        elif math.isnan(ratio):
            raise InputError(
                "the planetary has neither teeth nor a ratio",
                field="ratio",
                expected="sun_teeth and ring_teeth, or ratio (ring / sun)",
            )
        if not (math.isfinite(ratio) and ratio > 1.0):
            raise InputError(
                "no such planetary: the ring surrounds the sun, so it has more teeth",
                field="ratio" if self.sun_teeth is None else "ring_teeth",
                found=ratio,
                expected="ring teeth / sun teeth above 1",
                hint="give ring / sun, not sun / ring" if 0 < ratio < 1 else None,
            )
        object.__setattr__(self, "ratio", ratio)

    def coefficient(self, member: Member) -> float:
        """Return the coefficient of a member in the speed equation: 1, k or -(1 + k).

        Raises
        ------
        InputError
            If there is no such member.
        """
        require_choice(member, "member", MEMBERS)
        return {"sun": 1.0, "ring": self.ratio, "carrier": -(1.0 + self.ratio)}[member]

    def speed(self, member: Member, **others: ArrayLike) -> FloatArray:
        """Return the speed of a member from those of the two others (Willis).

        Parameters
        ----------
        member : {"sun", "ring", "carrier"}
        **others : array_like
            Speed of each of the two other members, by name; they broadcast.

        Raises
        ------
        InputError
            If the speeds given are not exactly those of the two others.
        """
        a = self.coefficient(member)
        if set(others) != set(MEMBERS) - {member}:
            raise InputError(
                f"the speed of the {member} needs those of the two other members",
                field="others",
                found=", ".join(sorted(others)) or "none",
                expected=" and ".join(sorted(set(MEMBERS) - {member})),
            )
        rest = [name for name in MEMBERS if name != member]
        first, second = (
            self.coefficient(name) * np.asarray(others[name], dtype=np.float64) for name in rest
        )
        return np.asarray(-(first + second) / a)

    def torque(self, member: Member, *, of: Member, torque: ArrayLike) -> FloatArray:
        """Return the torque that acts on the gear set at a member, given that at another.

        Parameters
        ----------
        member, of : {"sun", "ring", "carrier"}
        torque : array_like
            Acting on the gear set at `of` [N.m], positive in the common direction of rotation.
        """
        share = self.coefficient(member) / self.coefficient(of)
        return np.asarray(share * np.asarray(torque, dtype=np.float64))


def _check_teeth(teeth: int | None, name: str) -> None:
    if teeth is None:
        return
    if isinstance(teeth, bool) or not 1 <= teeth <= _MOST_TEETH or teeth != int(teeth):
        raise InputError(
            "not a number of teeth",
            field=name,
            found=teeth,
            expected=f"a whole number from 1 to {_MOST_TEETH}",
        )


@dataclass(frozen=True, kw_only=True)
class Connection:
    """Which shaft turns which member of the planetary.

    Parameters
    ----------
    split : {"input-split", "output-split"}
        ``input-split``: engine and impeller share a shaft and a member, the turbine turns another,
        and the gears add the two up at the output. ``output-split``: the gears stand at the engine
        and divide its torque between the impeller and a shaft that turbine and output share.
    engine, hydraulic, output : {"sun", "ring", "carrier"}
        Members on the engine shaft, on the shaft of turbine (input split) or impeller (output
        split), and on the output shaft; all different.

    Raises
    ------
    InputError
        If a member is named twice or is unknown.
    """

    split: Split
    engine: Member
    hydraulic: Member
    output: Member

    def __post_init__(self) -> None:
        require_choice(self.split, "connection", tuple(SHAFTS))
        for member in self.members:
            require_choice(member, "connection", MEMBERS)
        if len(set(self.members)) != 3:
            raise InputError(
                "two shafts on one member",
                field="connection",
                found=str(self),
                expected="each of sun, ring and carrier once",
            )

    @property
    def members(self) -> tuple[Member, Member, Member]:
        """Members on the engine, hydraulic and output shafts."""
        return self.engine, self.hydraulic, self.output

    @classmethod
    def parse(cls, text: str) -> Connection:
        """Return the connection written as ``shaft -> member, shaft -> member, shaft -> member``.

        Raises
        ------
        InputError
            If a shaft or member is unknown or missing.

        Examples
        --------
        >>> Connection.parse("engine-and-impeller -> sun, turbine -> ring, output -> carrier").split
        'input-split'
        """
        connected: dict[str, str] = {}
        for part in text.split(","):
            shaft, arrow, member = (word.strip() for word in part.partition("->"))
            if not arrow:
                raise InputError(
                    "not a connection",
                    field="connection",
                    found=part.strip(),
                    expected="shaft -> member, three times, separated by commas",
                )
            known = {name for shafts in SHAFTS.values() for name in shafts}
            if shaft not in known:
                raise InputError(
                    "no such shaft",
                    field="connection",
                    found=shaft,
                    expected="; or ".join(", ".join(shafts) for shafts in SHAFTS.values()),
                    hint=did_you_mean(shaft, known),
                )
            if shaft in connected:
                raise InputError("a shaft is connected twice", field="connection", found=shaft)
            connected[shaft] = member
        for split, shafts in SHAFTS.items():
            if set(shafts) == set(connected):
                engine, hydraulic, output = (connected[shaft] for shaft in shafts)
                return cls(
                    split=split,
                    engine=engine,  # type: ignore[arg-type]
                    hydraulic=hydraulic,  # type: ignore[arg-type]
                    output=output,  # type: ignore[arg-type]
                )
        raise InputError(
            "these shafts do not make an arrangement",
            field="connection",
            found=", ".join(connected),
            expected="; or ".join(", ".join(shafts) for shafts in SHAFTS.values()),
        )

    def __str__(self) -> str:
        pairs = zip(SHAFTS[self.split], self.members, strict=True)
        return ", ".join(f"{shaft} -> {member}" for shaft, member in pairs)


CLASSIC = Connection(split="input-split", engine="sun", hydraulic="ring", output="carrier")
