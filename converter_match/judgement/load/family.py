"""A pair whose converter is adjustable, over all its settings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Facts, Heading
from converter_match.answer.noted import Answer
from converter_match.components.adjustment import Adjustment
from converter_match.components.converter_family import at_setting
from converter_match.components.load import ShaftLoad
from converter_match.errors import InputError
from converter_match.judgement.load import words
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve_in
from converter_match.notes import Note
from converter_match.physics.load.equilibria import LoadEquilibria, load_equilibria
from converter_match.physics.load.shaft import Unit

_SPEED, _TORQUE, _POWER = "angular_speed", "torque", "power"
_SETTINGS = (
    Heading("setting", "setting", form="g"),
    Heading("characteristic", "characteristic", choices=words.GIVEN),
    Heading("stall_speed", "stall", _SPEED),
    Heading("stall_torque_ratio", "stall torque ratio"),
    Heading("stall_torque", "turbine at stall", _TORQUE),
    Heading("stall_heat", "heat at stall", _POWER),
    Heading("coupling_speed_ratio", "coupling point"),
    Heading("greatest_output", "most output", _POWER),
)
_LOADED = (
    Heading("turbine_speed", "turbine with load", _SPEED),
    Heading("load_engine_speed", "engine with load", _SPEED),
    Heading("load_heat", "heat with load", _POWER),
)


@dataclass(frozen=True, eq=False)
class AtSetting:
    """A pair at one setting of its converter.

    Parameters
    ----------
    setting : float
    given : bool
        Whether the sheet has it; else it is interpolated.
    match : MatchResult
    found : LoadEquilibria or None
        With a load: where it runs; of a winch its outermost layer.
    """

    setting: float
    given: bool
    match: MatchResult
    found: LoadEquilibria | None


@dataclass(frozen=True, eq=False, repr=False)
class OverSettings(Answer):
    """A pair over the settings of its converter, SI units.

    Parameters
    ----------
    adjustment : Adjustment
        At the setting asked for.
    each : tuple of AtSetting
        By rising setting; that asked for among them.
    notes : tuple of Note
    """

    adjustment: Adjustment
    each: tuple[AtSetting, ...]
    notes: tuple[Note, ...]

    def blocks(self) -> tuple[Block, ...]:
        """Return the parameter, and a row a setting."""
        how = self.adjustment
        loaded = self.each[0].found is not None
        facts: Facts = (
            (Heading("parameter", ""), how.parameter),
            (Heading("unit", ""), how.unit),
            (Heading("between", ""), how.between),
            (Heading("setting", "setting", form="g"), how.setting),
        )
        return (
            Block(
                "family",
                title=words.FAMILY.format(parameter=how.called),
                facts=facts,
                columns=(*_SETTINGS, *(_LOADED if loaded else ())),
                rows=tuple(
                    (*_cells(one), *(_with_load(one) if loaded else ())) for one in self.each
                ),
                rows_key="settings",
                detail=self,
            ),
        )


def _cells(one: AtSetting) -> tuple[object, ...]:
    stall, match = one.match.stall, one.match
    from_where = "given" if one.given else "interpolated"
    if stall is None:
        return (one.setting, from_where, None, None, None, None, match.converter.coupling, None)
    return (
        one.setting, from_where, stall.engine_speed, stall.torque_ratio, stall.turbine_torque,
        stall.heat, match.converter.coupling, match.greatest_output,
    )  # fmt: skip


def _with_load(one: AtSetting) -> tuple[object, ...]:
    found = one.found
    if found is None or found.reached is None:
        return None, None, None
    unit = found.states.units[0].at(found.reached)
    return float(unit.turbine_speed), float(unit.engine_speed), float(unit.heat)


def over_settings(match: MatchResult, load: ShaftLoad | None = None) -> OverSettings:
    """Match a pair at every setting of its adjustable converter.

    Parameters
    ----------
    match : MatchResult
        In whose air, and with whose hydraulics, the others run.
    load : ShaftLoad, optional
        On the turbine shaft: the speed that it comes to at each setting; of a winch with the rope
        on its outermost layer.

    Returns
    -------
    OverSettings

    Raises
    ------
    InputError
        If the converter is not adjustable.
    """
    converter = match.converter
    how = converter.adjustment
    if how is None:
        raise InputError(
            "the converter is not adjustable: its file has no family of characteristics",
            source=converter.id,
            field="family",
        )
    line = None if load is None else load.lines()[-1]
    each = []
    notes = [words.note("settings-each-steady")]
    for setting in np.unique([*how.settings, how.setting]).tolist():
        own = at_setting(converter, setting)
        done = solve_in(match.engine, own, match.site, hydraulic_torque=match.hydraulic_torque)
        found = None if line is None else load_equilibria([Unit(done.supply, own)], line)
        each.append(AtSetting(setting, how.row(setting) is not None, done, found))
        if done.stall is None:
            notes.append(words.note("setting-does-not-match", setting=f"{setting:g}"))
    return OverSettings(how, tuple(each), tuple(notes))
