"""The sentences of the sheet for a stall test of a machine with a motor, by code."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue, alike

FOOTER = (
    "Usual cautions and common practice; the machine maker's procedure and local rules come first. "
    "After the test: with the motor stopped the transmission gets no oil, so do not tow with the "
    "driven wheels on the ground unless the maker says how."
)
WORDS = Catalogue(
    alike(
        "warning",
        {
            "warm": "Transmission oil at {low:temperature .0f} to {high:temperature .0f} (the span "
            "of US Army TM 10-3930-671-24 for engines), level right, no foam. Motor and controller "
            "cool, no warning shown.",
            "battery": "Battery charged and at working temperature; its voltage under load is read "
            "with the speed. Charger unplugged; lights and pumps off, implements lowered.",
            "high-voltage": "No cover of battery, controller or motor is opened: that is for "
            "people trained and licensed for it.",
            "select-gear": "Brakes hard on, accelerator released, select the gear, the highest "
            "first. The motor stands still until the accelerator is pressed.",
            "full": "Accelerator fully down. As soon as the speed stands still, read speed and "
            "battery voltage; hold {seconds:time .0f} at most.",
            "release": "Accelerator released, neutral.",
            "cool-down": "At least {time:time .0f} in neutral, and until oil and motor are back "
            "where they began, before the next hold. A motor that stands pumps and cools no oil: "
            "as the machine maker says.",
            "write-down": "Write down every reading with gear, oil temperature and voltage. If the "
            "controller reduced the torque (a warning, a falling speed), the reading is void.",
            "no-time": "none: winding or oil leave no time for a hold; do not test",
            "no-band": "none: motor and converter do not meet at stall; do not test",
            "moves": "the machine moves: accelerator off at once",
            "too-fast": "in gear above {speed:angular_speed .0f}, or the machine moves: "
            "accelerator off at once",
            "too-hot": "oil at {limit:temperature .0f}, a warning of motor, controller or battery, "
            "smoke or a smell of burning: accelerator off, neutral; switch off as the maker says",
            "at-voltage": "{speed:angular_speed .0f} at {voltage:voltage .4g}",
            "by-winding": "; winding at its limit in {time:time .0f}",
        },
    )
)
note = WORDS.note
