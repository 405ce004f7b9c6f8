"""The blading of a converter: what the mean-streamline model needs to know of it. SI units.

The flow circuit is reduced to one streamline and three stations, each the exit of one blade row and
the entry of the next: impeller to turbine, turbine to stator, stator to impeller. Without a stator
the turbine discharges straight into the impeller. Blade angles are measured from the meridional
plane (the plane through the axis), positive where the blade leans in the direction of rotation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from converter_match.components.base import Component, require_choice, require_positive
from converter_match.errors import InputError
from converter_match.notes import Note

Mounting = Literal["one-way", "fixed", "free", "none"]
MOUNTINGS: tuple[Mounting, ...] = ("one-way", "fixed", "free", "none")
FrictionForm = Literal["each-element", "circuit"]
FRICTION_FORMS: tuple[FrictionForm, ...] = ("each-element", "circuit")
# A blade steeper than this leaves no passage on the mean streamline.
STEEPEST = math.radians(85.0)
# Loss factors above this are no longer a loss model but a misfit.
HIGHEST_FACTOR = 10.0


@dataclass(frozen=True, kw_only=True, eq=False)
class BladeRow(Component):
    """Blade angles of one element and how much of a shock at its entry is lost.

    Parameters
    ----------
    entry_angle, exit_angle : float
        [rad], from the meridional plane, positive in the direction of rotation.
    shock_factor : float
        Share of the kinetic energy of the sudden turn at the entry that is lost; 1 is all of it.

    Raises
    ------
    InputError
        If an angle is steeper than 85 degrees or a factor is not within 0 .. 10.
    """

    entry_angle: float
    exit_angle: float
    shock_factor: float

    def __post_init__(self) -> None:
        for name in ("entry_angle", "exit_angle"):
            value = getattr(self, name)
            if not (math.isfinite(value) and abs(value) <= STEEPEST):
                raise InputError(
                    "blade angle out of range",
                    field=name,
                    found=f"{math.degrees(value):.6g} degrees",
                    expected="-85 .. 85 degrees from the meridional plane",
                )
        _require_factor(self.shock_factor, "shock_factor")


@dataclass(frozen=True, kw_only=True, eq=False)
class BladingGeometry(Component):
    """A converter's flow circuit on the mean streamline, frozen and validated.

    Parameters
    ----------
    id, name, source : str
        Identity and where the numbers come from.
    mounting : {"one-way", "fixed", "free", "none"}
        How the stator is held. ``free`` turns both ways without reaction (a one-way clutch that
        slips); ``none`` is a fluid coupling.
    impeller_exit_radius, turbine_exit_radius : float
        Mean-streamline radii [m]; each is also the entry radius of the next row.
    stator_exit_radius : float, optional
        [m]; required where there is a stator.
    flow_area : float
        Cross-section of the circuit, normal to the meridional flow [m^2], taken as constant.
    profile_diameter : float
        Largest diameter of the flow circuit [m].
    oil_density : float
        [kg/m^3].
    impeller, turbine : BladeRow
    stator : BladeRow, optional
        Required where there is a stator.
    friction_factor : float
        f in the friction loss.
    friction_form : {"each-element", "circuit"}
        (f/2) (V_meridional / cos(exit angle))^2 in every row, or (f/2) V_meridional^2 once round
        the circuit.
    impeller_inertia, turbine_inertia : float, optional
        [kg.m^2], oil included; handed on to the characteristic.
    given_notes : tuple of Note
        What a reader of the numbers has to know; handed on likewise.

    Raises
    ------
    InputError
        Naming the field: radii that do not fit the circuit, a stator missing or too many, a factor
        or a size out of range.
    """

    id: str
    name: str
    source: str
    mounting: Mounting
    impeller_exit_radius: float
    turbine_exit_radius: float
    stator_exit_radius: float | None = None
    flow_area: float
    profile_diameter: float
    oil_density: float
    impeller: BladeRow
    turbine: BladeRow
    stator: BladeRow | None = None
    friction_factor: float
    friction_form: FrictionForm = "each-element"
    impeller_inertia: float | None = None
    turbine_inertia: float | None = None
    given_notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        require_choice(self.mounting, "mounting", MOUNTINGS)
        require_choice(self.friction_form, "friction_form", FRICTION_FORMS)
        for name in (
            "impeller_exit_radius",
            "turbine_exit_radius",
            "stator_exit_radius",
            "flow_area",
            "profile_diameter",
            "oil_density",
            "impeller_inertia",
            "turbine_inertia",
        ):
            require_positive(getattr(self, name), name)
        _require_factor(self.friction_factor, "friction_factor")
        if self.friction_factor == 0:
            raise InputError(
                "without friction nothing limits the circulating flow at every speed ratio",
                field="friction_factor",
                found=self.friction_factor,
                expected="a number above zero",
            )
        self._check_stator()
        self._check_sizes()

    def _check_stator(self) -> None:
        for name in ("stator", "stator_exit_radius"):
            if self.mounting != "none" and getattr(self, name) is None:
                raise InputError(
                    f"a stator mounted {self.mounting!r} needs its blading",
                    field=name,
                    hint="give it, or set mounting to 'none' for a fluid coupling",
                )

    def _check_sizes(self) -> None:
        outer = 0.5 * self.profile_diameter
        if self.impeller_exit_radius >= outer:
            raise InputError(
                "the mean streamline leaves the impeller outside the flow circuit",
                field="impeller_exit_radius",
                found=f"{self.impeller_exit_radius:.6g} m",
                expected=f"less than half the profile diameter, {outer:.6g} m",
            )
        for name in ("turbine_exit_radius", "stator_exit_radius"):
            radius = getattr(self, name)
            if radius is not None and radius >= self.impeller_exit_radius:
                raise InputError(
                    "the inner end of the circuit must lie inside its outer end",
                    field=name,
                    found=f"{radius:.6g} m",
                    expected=f"less than impeller_exit_radius, {self.impeller_exit_radius:.6g} m",
                )
        disc = math.pi * outer**2
        if self.flow_area >= 0.5 * disc:
            raise InputError(
                "the flow area does not fit into the profile: the flow passes it twice, outward "
                "and back",
                field="flow_area",
                found=f"{self.flow_area:.6g} m^2",
                expected=f"less than half the profile's disc, {0.5 * disc:.6g} m^2",
            )

    def mounted(self, mounting: Mounting) -> BladingGeometry:
        """Return the same blading with the stator held in another way.

        With ``none`` the stator's data are kept but play no part, so that the way back is open.

        Raises
        ------
        InputError
            If a stator is asked for and there is none.
        """
        return self.replace(mounting=mounting)

    def with_losses(
        self,
        *,
        impeller: float | None = None,
        turbine: float | None = None,
        stator: float | None = None,
        friction: float | None = None,
    ) -> BladingGeometry:
        """Return a copy with other shock factors or another friction factor.

        Raises
        ------
        InputError
            If a factor is out of range, or belongs to a stator that does not exist.
        """

        def changed(row: BladeRow, factor: float | None) -> BladeRow:
            return row if factor is None else row.replace(shock_factor=factor)

        if stator is not None and self.stator is None:
            raise InputError("there is no stator to give a shock factor", field="stator")
        return self.replace(
            impeller=changed(self.impeller, impeller),
            turbine=changed(self.turbine, turbine),
            stator=None if self.stator is None else changed(self.stator, stator),
            friction_factor=self.friction_factor if friction is None else friction,
        )


def _require_factor(value: float, field: str) -> None:
    if not (math.isfinite(value) and 0.0 <= value <= HIGHEST_FACTOR):
        raise InputError(
            "loss factor out of range",
            field=field,
            found=value,
            expected=f"0 .. {HIGHEST_FACTOR:g}",
        )
