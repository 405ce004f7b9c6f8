"""The figures of the match, in one place to import them from.

Each takes a result or components and a unit system, draws on axes that are given or on a page of
its own, and names its artists by gid.
"""

from converter_match.present.characteristic import characteristic
from converter_match.present.engine_panel import engine_panel
from converter_match.present.overlay import overlay
from converter_match.present.turbine_panels import turbine_panels

__all__ = ["characteristic", "engine_panel", "overlay", "turbine_panels"]
