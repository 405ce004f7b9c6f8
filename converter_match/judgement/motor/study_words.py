"""The sentences of a motor study: criteria, verdicts, decision, and what does not apply."""

from __future__ import annotations

from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

PART_LIMITS = frozenset(
    {
        "limit-input-torque", "limit-input-power", "limit-input-speed", "limit-turbine-torque",
        "limit-turbine-speed",
    }
)  # fmt: skip
"""Codes of notes on limits of converter and gearbox that are exceeded."""

TITLES = MappingProxyType(
    {
        "startability": "startability, peak torque",
        "grades": "grades of the duty climbed, peak torque",
        "continuous-grade": "continuous grade, motor and oil",
        "top-speed": "top speed on the level",
        "cycle-time": "cycle time, of the present",
        "winding": "winding on the route, of its permitted rise",
        "oil": "oil on the route, lap after lap",
        "part-limits": "limits of converter and gearbox",
    }
)
"""Criterion -> what it is called; all of them are mandatory."""

STATUSES = MappingProxyType(
    {
        "pass": "met",
        "close": "met, close",
        "fail": "not met",
        "unknown": "not known",
        "not-asked": "not asked",
    }
)

NOT_APPLIED = (
    ("idle-in-gear", "a motor has no idle: it does not hold the converter in gear at rest"),
    ("creep", "a motor gives no torque that is not asked for"),
    ("stall-speed window", "goes by rated and peak-torque speed of an engine"),
    ("governed speed and droop", "a motor has a speed limit and no governor droop line"),
    ("second intersection", "a torque that does not rise with speed meets a converter once"),
    ("intake air", "air cools a motor, and is not its charge; heat of the site is counted"),
    ("fuel", "electric energy stands in its place"),
)
"""Criterion of an engine's study -> why it is not applied."""

DECISIONS = Catalogue(
    {
        "keep-converter": (
            "assumption",
            "Keep the converter behind the motor ({name}): {why}.",
        ),
        "couple-directly": (
            "assumption",
            "Couple the motor directly, {how} ({name}): {why}.",
        ),
        "none": (
            "warning",
            "None of the candidates meets every requirement. Nearest is {name}; not met: {items}.",
        ),
        "conditional": (
            "warning",
            "Conditional: {items}. Find that out before ordering.",
        ),
        "data-in-doubt": (
            "warning",
            "Conditional: something is in doubt about the data ({whose}; see there). Settle that "
            "before ordering.",
        ),
        "none-in-doubt": (
            "warning",
            "Something is in doubt about the data ({whose}; see there), and the no with it.",
        ),
        "only-one": ("assumption", "it is the only one that meets every requirement"),
        "least-energy": (
            "assumption",
            "of those that meet every requirement it draws least, {net:electric_energy .3g} net a "
            "cycle; next is {other} with {more:electric_energy .3g}",
        ),
        "highest-start": (
            "assumption",
            "of those that meet every requirement it starts on the steepest grade "
            "({start:grade .0f}); no route is given to compare energy on",
        ),
        "close-call": (
            "warning",
            "The two differ by less than {share:share} of the energy, which is less than the "
            "overrun data and the losses are known to.",
        ),
        "sure-enough": (
            "assumption",
            "Within the tolerances it meets every requirement in {share:share} of the draws "
            "({asked:share} are asked for).",
        ),
        "not-sure": (
            "warning",
            "Within the tolerances it meets every requirement in {share:share} of the draws only, "
            "and {asked:share} are asked for: conditional. The table of draws says which "
            "requirement hangs in the balance.",
        ),
        "draws-made": (
            "assumption",
            "{count:.0f} draws ({left:.0f} more could not be calculated): motor torque ± 3 %, its "
            "losses ± 10 %, converter capacity ± 5 %, rolling resistance ± 15 % (half widths of "
            "95 %, common practice, no source); the present engine as on its sheet. So few draws "
            "tell a share to some ten percent.",
        ),
        "proposal": (
            "caution",
            "What is calculated is a proposal, and no permission: the machine maker, the motor's "
            "maker, local rules and licensed practice come first. Brakes, stability, bolting-on, "
            "battery and cables are not judged here.",
        ),
        "no-doubts": (
            "warning",
            "No tolerances are drawn (--draws): the verdicts are those of the data as given. "
            "Sheets of motors are good to some percent, so take what is met closely for open.",
        ),
    }
)
WORDS = MappingProxyType(
    {"keep": "KEEP THE CONVERTER", "direct": "COUPLE DIRECTLY", "none": "NONE OF THEM"}
)
CONDITIONAL = ", CONDITIONAL"
REDUCTION, NO_REDUCTION = "with a reduction of {ratio:g}", "without a reduction"

decision = DECISIONS.note
