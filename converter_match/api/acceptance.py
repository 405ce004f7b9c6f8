"""After the swap: what the ordered machine should read, and whether it does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from converter_match.api.door import optional, part
from converter_match.units import System

if TYPE_CHECKING:
    from converter_match.components.site import Site
    from converter_match.judgement.decision.run import StudyResult
    from converter_match.judgement.evidence.acceptance import Acceptance, AcceptanceJudgement
    from converter_match.present.stall.sheet import SheetPage
    from converter_match.study.acceptance import AcceptanceReading


@dataclass(frozen=True, eq=False)
class AcceptanceTest:
    """A stall test and a grade run of what was ordered: what they should read, and what they do.

    Both can hurt people; the machine maker's procedure and local rules come first.

    Parameters
    ----------
    expected : Acceptance
        The bands.
    name : str
        As painted on the machine; stands on the sheet.

    Examples
    --------
    >>> import converter_match as cm
    >>> study = cm.read("loader-nothing-to-measure")
    >>> test = cm.acceptance(cm.run_study(study, draws=500))
    >>> test.judge("stall speed=1500 rpm; brakes=held").verdict
    'investigate'
    """

    expected: Acceptance
    name: str = ""

    def judge(self, *readings: AcceptanceReading | str) -> AcceptanceJudgement:
        """Say whether the machine is as predicted, or what is to be looked into.

        Parameters
        ----------
        *readings : str or AcceptanceReading
            Such as ``"stall speed=2060 rpm; gear=2; brakes=held"`` or ``"speed on grade=8.4 km/h;
            engine=2105 rpm"``.

        Returns
        -------
        AcceptanceJudgement
            Where something is outside its band, with the most likely reasons.

        Raises
        ------
        InputError
            If there is no reading, or one is not understood.
        """
        from converter_match.judgement.evidence.acceptance import judge_acceptance
        from converter_match.library.acceptance_text import parse_acceptance
        from converter_match.library.shipped import read_all

        read = [
            parse_acceptance(one, source=f"reading {row}") if isinstance(one, str) else one
            for row, one in enumerate(readings, start=1)
        ]
        return judge_acceptance(self.expected, read, read_all("converters"))

    def sheet(self, system: System = "si") -> SheetPage:
        """Return the sheet of the commissioning day as a notebook shows it; `write` keeps it.

        Parameters
        ----------
        system : {"si", "us"}
        """
        from converter_match.present.stall.acceptance import acceptance_sheet
        from converter_match.present.stall.sheet import SheetPage

        return SheetPage(acceptance_sheet(self.expected, machine_name=self.name, system=system))

    def text(self, system: System = "si") -> str:
        """Return what to expect, in a unit system.

        Parameters
        ----------
        system : {"si", "us"}
        """
        return self.expected.text(system)

    def __repr__(self) -> str:
        return self.text()


def acceptance(
    result: StudyResult,
    candidate: str | None = None,
    *,
    site: Site | None = None,
    name: str = "",
) -> AcceptanceTest:
    """Predict a stall test and a grade run of what was ordered, by all that a study knows.

    Parameters
    ----------
    result : StudyResult
        From `run_study`, with draws.
    candidate : str, optional
        Id of what was ordered; the first of the decision without.
    site : Site, optional
        Where it is commissioned; the first site of the study without.
    name : str
        As painted on the machine.

    Returns
    -------
    AcceptanceTest
        `AcceptanceTest.expected`, `AcceptanceTest.judge`, `AcceptanceTest.sheet`.

    Raises
    ------
    InputError
        If there is no such candidate, the study has no tolerances, or its readings contradict what
        is believed.

    Examples
    --------
    >>> import converter_match as cm
    >>> result = cm.run_study(cm.read("loader-nothing-to-measure"), draws=500)
    >>> [band.item.quantity for band in cm.acceptance(result).expected.bands]
    ['stall-speed', 'speed-on-grade']
    """
    from converter_match.components.site import Site
    from converter_match.judgement.decision.commissioning import acceptance_of
    from converter_match.judgement.decision.run import StudyResult

    given = part(result, StudyResult, "result")
    place = optional(site, Site, "site")
    return AcceptanceTest(acceptance_of(given, candidate, site=place), name)
