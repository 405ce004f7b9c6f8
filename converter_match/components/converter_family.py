"""A converter that is adjustable: its characteristic at any setting of the parameter.

Between two settings a < s < b, with t = (s - a) / (b - a), the curves are interpolated linearly
along the way that each goes: at equal shares u of the way to the coupling point, and of the way
from there to the end of the data,

    nu(u) = (1 - t) nu_a(u) + t nu_b(u),    mu and C likewise.

So the coupling point moves evenly from one to the other and stays a corner, which an average at
equal speed ratios would make two of. Without coupling points the share is the speed ratio itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.adjustment import Adjustment
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

NOMINAL, INTERPOLATED = "family-at-nominal", "family-interpolated"
_DIGITS = 6  # of a share of the way: what is closer is one row


def with_family(
    nominal: Converter, adjustment: Adjustment, others: dict[float, Converter]
) -> Converter:
    """Return a converter with its family, at its nominal setting.

    Parameters
    ----------
    nominal : Converter
    adjustment : Adjustment
        At the nominal setting; its settings are that and those of the others.
    others : dict of float to Converter
        The other members by their settings.

    Raises
    ------
    InputError
        If some members have a coupling point and others none, or the data of one do not include
        stall.
    """
    members = tuple(others.get(value, nominal) for value in adjustment.settings)
    for value, member in zip(adjustment.settings, members, strict=True):
        low, high = member.domain
        if not low <= 0.0 < high:
            raise InputError(
                f"the member at {value:g} does not include stall (speed ratio 0)",
                field="family.member",
                found=low,
                expected="rows from speed ratio 0 on",
            )
    coupled = [_Way.of(member).coupling is not None for member in members]
    if any(coupled) and not all(coupled) and adjustment.between != "none":
        value = adjustment.settings[coupled.index(False)]
        raise InputError(
            f"the member at {value:g} has no coupling point and others have: between them nothing "
            "can be interpolated",
            field="family.member",
            expected='a coupling point in each or in none, or between = "none"',
        )
    note = assumption(
        NOMINAL,
        f"The converter is adjustable ({adjustment.called}); it is taken at its nominal setting, "
        f"{adjustment.setting:g}.",
    )
    return nominal.replace(
        adjustment=adjustment, members=members, given_notes=(*nominal.given_notes, note)
    )


def at_setting(converter: Converter, setting: float) -> Converter:
    """Return an adjustable converter at a setting.

    Parameters
    ----------
    converter : Converter
    setting : float
        In the unit of its parameter.

    Returns
    -------
    Converter
        With its family, and a note where it is interpolated.

    Raises
    ------
    InputError
        If it is not adjustable, the setting lies outside its settings, or two members are too far
        apart to interpolate (more power out than in).
    """
    how = converter.adjustment
    if how is None:
        raise InputError(
            "the converter is not adjustable: its file has no family of characteristics",
            source=converter.id,
            field="setting",
            found=setting,
        )
    how.check(setting)
    own = tuple(note for note in converter.given_notes if note.code not in (NOMINAL, INTERPOLATED))
    row = how.row(setting)
    notes: tuple[Note, ...] = ()
    if row is not None:
        member = converter.members[row]
    else:
        upper = int(np.searchsorted(how.settings, setting))
        low, high = how.settings[upper - 1], how.settings[upper]
        share = (setting - low) / (high - low)
        member = _between(converter.members[upper - 1], converter.members[upper], share)
        notes = (
            assumption(
                INTERPOLATED,
                f"The characteristic at {setting:g} ({how.called}) is interpolated in a straight "
                f"line between {low:g} and {high:g}, the coupling point along with it.",
            ),
        )
    return converter.replace(
        name=f"{converter.members[0].name}, {how.parameter} {setting:g} {how.unit}".rstrip(),
        speed_ratio=member.speed_ratio,
        torque_ratio=member.torque_ratio,
        capacity=member.capacity,
        coupling_speed_ratio=member.coupling_speed_ratio,
        kinks=member.kinks,
        adjustment=how.at(setting),
        members=converter.members,
        given_notes=own + notes,
    )


@dataclass(frozen=True, eq=False)
class _Way:
    """A member along its way: share 0 at stall, 1 at the coupling point, 2 at the end of its data.

    Below stall, and of a member without a coupling point, the share is the speed ratio itself.
    """

    member: Converter
    coupling: float | None

    @classmethod
    def of(cls, member: Converter) -> _Way:
        return cls(member, member.coupling if member.stator == "one-way" else None)

    def share(self, nu: FloatArray) -> FloatArray:
        """Return shares of the way at speed ratios."""
        if self.coupling is None:
            return nu
        beyond = 1.0 + (nu - self.coupling) / (self.member.domain[1] - self.coupling)
        share = np.where(nu > self.coupling, beyond, nu / self.coupling)
        return np.where(nu < 0.0, nu, share)

    def speed_ratio(self, share: FloatArray) -> FloatArray:
        """Return speed ratios at shares of the way, within the data."""
        if self.coupling is None:
            return share
        last = self.member.domain[1]
        beyond = self.coupling + (share - 1.0) * (last - self.coupling)
        nu = np.where(share > 1.0, beyond, share * self.coupling)
        return np.clip(np.where(share < 0.0, share, nu), *self.member.domain)

    @property
    def rows(self) -> FloatArray:
        """Shares at which it has a row."""
        return self.share(self.member.characteristic.speed_ratio)

    @property
    def corners(self) -> FloatArray:
        """Shares at which its slopes jump."""
        rows = self.member.characteristic.kinks + self.member.kinks
        return self.share(np.array(rows, dtype=np.float64))


def _between(lower: Converter, upper: Converter, share: float) -> Converter:
    """Return the characteristic a share of the way from one member to the other."""
    ways = [_Way.of(lower), _Way.of(upper)]
    first = max(float(way.rows[0]) for way in ways)
    last = min(float(way.rows[-1]) for way in ways)
    corners = np.concatenate([way.corners for way in ways])
    rows = np.concatenate([*(way.rows for way in ways)])
    # Of two places that are one but for rounding, one is a row; a corner stays.
    rows = np.unique(np.concatenate([np.round(rows, _DIGITS), [first, last]]))
    rows = rows[(rows >= first) & (rows <= last)]
    far = np.abs(rows[:, np.newaxis] - corners).min(axis=1, initial=1.0) > 10.0**-_DIGITS
    places = np.unique(np.concatenate([rows[far], corners]))

    def mean(low: FloatArray, high: FloatArray) -> FloatArray:
        return np.asarray((1.0 - share) * low + share * high)

    nu = [way.speed_ratio(places) for way in ways]
    between = mean(*nu)
    at = between[np.searchsorted(places, np.unique(corners))]
    coupled = ways[0].coupling is not None
    return lower.replace(
        speed_ratio=between,
        torque_ratio=mean(lower.torque_ratio_at(nu[0]), upper.torque_ratio_at(nu[1])),
        capacity=mean(lower.capacity_at(nu[0]), upper.capacity_at(nu[1])),
        coupling_speed_ratio=float(between[np.searchsorted(places, 1.0)]) if coupled else None,
        kinks=tuple(value for value in at.tolist() if 0.0 < value < float(between[-1])),
    )
