"""What thinner air takes from a cooler.

A fan at an even speed moves an even volume, so that the mass of air through the core goes with its
density r. Of the heat ``Q = e C (T_oil - T_air)`` the capacity flow C of the air goes with r; the
effectiveness e follows the transfer units ``NTU = U A / C``, and the conductance at the air side of
a finned core with about ``r^0.6``. Between a core that is all conductance (0.6) and one in which
the air comes out as warm as the oil (1) lies an exponent that hangs on NTU: 0.69 to 0.88 where
NTU is 0.5 to 2. One is used for all:

    Q = Q_ref (r / r_ref)^0.8

Source: the effectiveness-NTU method and ``j ~ Re^-0.4`` of finned surfaces, from Kays and London,
Compact Heat Exchangers, and Incropera and DeWitt, chapter 11, both from memory; that one exponent
stands for all cores is ours.
"""

from __future__ import annotations

from converter_match.components.cooling import Cooler
from converter_match.constants import SEA_LEVEL_DENSITY

EXPONENT = 0.8
LEAST_EXPONENT, MOST_EXPONENT = 0.6, 1.0


def reference_density(cooler: Cooler) -> float:
    """Return the density of the air in which a cooler's data hold [kg/m^3].

    The standard atmosphere's at sea level where the data do not say.
    """
    return SEA_LEVEL_DENSITY if cooler.air_density is None else cooler.air_density


def air_share(cooler: Cooler, density: float, exponent: float = EXPONENT) -> float:
    """Return the share of its heat that a cooler carries away in other air than its data's.

    Parameters
    ----------
    cooler : Cooler
    density : float
        Of the air [kg/m^3].
    exponent : float
        Of the density ratio.
    """
    return float((density / reference_density(cooler)) ** exponent)


def in_air(cooler: Cooler, density: float) -> Cooler:
    """Return the cooler as it works in other air than its data's.

    Parameters
    ----------
    cooler : Cooler
    density : float
        Of the air [kg/m^3].
    """
    return cooler.replace(heat=cooler.heat * air_share(cooler, density), air_density=density)
