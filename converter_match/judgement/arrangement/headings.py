"""What the parts of an arrangement's answer are headed with."""

from converter_match.answer.block import Heading

TURBINE = Heading("turbine_speed", "turbine", "angular_speed")
WHEELS = (
    Heading("travel_speed", "travel speed", "velocity"),
    Heading("tractive_effort", "tractive effort", "force"),
)
ENGINE = Heading("engine_speed", "engine", "angular_speed")
