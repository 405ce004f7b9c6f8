"""Numbers that nature and the standards have fixed, each typed once for every room.

Factors between units belong to `units`, and are used at the door only. The two here are for the
rooms that know no units, which still have to say a speed or a temperature in a message.
"""

from __future__ import annotations

import math

RPM = math.pi / 30.0  # rad/s in one revolution a minute

GRAVITY = 9.80665  # m/s^2, standard acceleration of free fall, CGPM 1901
ZERO_CELSIUS = 273.15  # K, definition of the Celsius temperature

# Standard atmosphere, ISO 2533 (below 11 km the same as the 1976 U.S. Standard Atmosphere).
SEA_LEVEL_PRESSURE = 101_325.0  # Pa
SEA_LEVEL_TEMPERATURE = 288.15  # K
SEA_LEVEL_DENSITY = 1.225  # kg/m^3, rounded there
LAPSE_RATE = 6.5e-3  # K/m of geopotential altitude
GAS_CONSTANT = 287.052_87  # J/(kg.K), dry air
