"""The oil temperature at which to stop, whatever a machine's own data say."""

from __future__ import annotations

# US Army TM 9-2320-283-10 (public domain): at 149 degC, 300 degF, stop and go to neutral.
STOP_AT = 422.15  # K
