"""What is said of a pair on the page that goes from stall to the governor."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

STATES = Catalogue(
    {
        "begins-late": (
            "limit",
            "The engine cannot hold this converter at stall: it is lugged down. The page begins at "
            "speed ratio {low:.2f}, the lowest at which the engine holds its speed.",
        ),
        "engine-jumps": (
            "warning",
            "This pair has several matches. The page follows the engine coming up from idle; at "
            "speed ratio {nu:.3f} that match ends and the engine jumps to another speed.",
        ),
        "several-matches": (
            "warning",
            "This pair has several matches at some speed ratios. The page follows the engine "
            "coming up from idle.",
        ),
        "no-stator": (
            "warning",
            "A fluid coupling: no stator, torque ratio 1 throughout, and no coupling point.",
        ),
        "no-coupling-point": (
            "warning",
            "The data of this converter have no coupling point: where the stator would let go is "
            "not known.",
        ),
        "stator-fixed": (
            "warning",
            "The stator of this converter is fixed. Beyond speed ratio {nu:.3f} it pushes the "
            "wrong way: the torque ratio is below 1.",
        ),
        "no-blades": (
            "assumption",
            "No blades are known that give this converter's sheet: the velocities of the oil and "
            "the speed of a freewheeling stator are left out.",
        ),
        "blades-estimated": (
            "assumption",
            "The velocities are an estimate: blades that give the stall torque ratio, the capacity "
            "at stall and the coupling point of this converter's sheet. Others would give them as "
            "well.",
        ),
        "no-machine": (
            "assumption",
            "No machine is named: how hot the oil would get is not known.",
        ),
        "no-cooler": (
            "assumption",
            "{name}: its cooler is not known, so it cannot be said where the oil would settle.",
        ),
        "converter-heat-alone": (
            "assumption",
            "Oil and cooler are those of: {name}. The converter's heat alone; the gearbox adds its "
            "own. A calculation, not a permission to hold the machine there: for that, the verb "
            "hold and the machine maker's procedure.",
        ),
    }
)
"""What of a pair cannot be shown, and what the page rests on."""
