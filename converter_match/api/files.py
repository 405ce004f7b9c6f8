"""Files: one function that reads whatever there is, one that writes, one that copies."""

from __future__ import annotations

import os
import warnings
from pathlib import Path
from typing import Any

from converter_match.errors import InputError, OddData
from converter_match.library.files import FilePath
from converter_match.units import System


def read(*names: FilePath) -> Any:
    """Read parts, sites, routes, studies: whatever the files hold.

    Parameters
    ----------
    *names : str or path-like
        Each a file, or the id of a shipped one (`shipped` lists them). A file that exists wins.

    Returns
    -------
    Engine, Converter, Driveline, Machine, Site, Arrangement, Study, Route, ... or tuple
        What the file says that it holds, SI units: one thing for one name, a tuple in the order of
        the names for several. A file of surfaces, a log of stall tests and a table of readings are
        a tuple of their rows.

    Warns
    -----
    OddData
        If something is odd about the data of a part, a site, a route, a cycle or a duty, such as
        `check` finds it. Studies and catalogues have it in their results.

    Raises
    ------
    InputError
        If there is no such file or id (the nearest ones are named), or the file cannot be used:
        file, field, what was found and what was expected.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    >>> round(engine.rated_power / 1e3), converter.stator
    (185, 'one-way')
    >>> cm.read("quarry-to-crusher").length.size
    14
    """
    from converter_match.library.any_file import read_any
    from converter_match.library.check import odd_beside
    from converter_match.library.shipped import find
    from converter_match.study.names import called
    from converter_match.units import note_text

    if not names:
        raise InputError("nothing to read", expected="files, or ids of shipped ones")
    things = []
    for name in names:
        thing = read_any(find(None, _named(name)))
        odd = odd_beside((called(part), part) for part in _parts_of(thing))
        if odd:
            said = tuple(note_text(note, "si") for note in odd)
            warnings.warn(OddData(str(name), said), stacklevel=2)
        things.append(thing)
    return things[0] if len(things) == 1 else tuple(things)


def _parts_of(thing: Any) -> tuple[Any, ...]:
    """Return the parts whose oddities no result says; a study's stand in its own."""
    from converter_match.library.check import has_rules, parts_within

    if hasattr(thing, "odd"):
        return ()
    return tuple(part for part in (thing, *parts_within(thing)) if has_rules(part))


def _named(name: object) -> FilePath:
    if isinstance(name, str | os.PathLike):
        return name
    several = isinstance(name, list | tuple | dict)
    raise InputError(
        "not the name of a file",
        found=type(name).__name__,
        expected="a path or an id, such as 'six-cylinder-7l-185kw'",
        hint="several names are arguments of their own: cm.read(*names)" if several else None,
    )


def copy(name: str, path: FilePath) -> Path:
    """Copy a shipped file, to make one's own of it.

    Parameters
    ----------
    name : str
        Id of a shipped file of any kind.
    path : str or path-like
        Where the copy goes; nothing is overwritten.

    Returns
    -------
    Path
        The copy.

    Raises
    ------
    InputError
        If there is no such id, or a file is there already.

    Examples
    --------
    >>> import tempfile
    >>> import converter_match as cm
    >>> mine = cm.copy("quarry-to-crusher", tempfile.mkdtemp() + "/my-route.csv")
    >>> cm.read(mine) == cm.read("quarry-to-crusher").replace(id="my-route")
    True
    """
    from converter_match.library.atomic import write_bytes
    from converter_match.library.shipped import find

    write_bytes(find(None, name).read_bytes(), path)
    return Path(path)


def write(thing: Any, path: FilePath, *, overwrite: bool = False, system: System = "si") -> Path:
    """Write a part, a draft, a figure, a result or a report to a file.

    Parameters
    ----------
    thing : Engine, Converter or another component
        Becomes a TOML file that reads back as the same component. So does the draft of a sheet,
        once nothing of it is open.
    thing : Figure
        Becomes the picture that the suffix names: .png, .svg or .pdf.
    thing : StallTest
        Becomes the sheet of the test, .html or .pdf.
    thing : AcceptanceTest
        Becomes the sheet of the commissioning day, .html or .pdf.
    thing : StudyResult
        Becomes a folder: report, tables, figures and numbers; so does one of motors.
    thing : any other result
        Becomes a .json file with all its numbers.
    path : str or path-like
        Where it goes; the folder it stands in must be there.
    overwrite : bool
        Whether what is there may be replaced.
    system : {"si", "us"}
        Units of what a person reads: a report, a sheet.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    InputError
        If something is there already and `overwrite` is not given, the suffix is not one of those,
        the place cannot be written to, or there is no file for such a thing.

    Examples
    --------
    >>> import tempfile
    >>> import converter_match as cm
    >>> folder = tempfile.mkdtemp()
    >>> engine = cm.read("six-cylinder-7l-185kw")
    >>> cm.read(cm.write(engine, folder + "/mine.toml")) == engine
    True
    """
    from converter_match.components.base import Component

    target = Path(path)
    if isinstance(thing, Component):
        from converter_match.library.write import write_component

        write_component(thing, target, overwrite=overwrite)
        return target
    return _written(thing, target, overwrite, system)


def _written(thing: Any, target: Path, overwrite: bool, system: System) -> Path:
    """Write what is no component; matplotlib is loaded only where there is something to draw."""
    from converter_match.api.acceptance import AcceptanceTest
    from converter_match.api.stall import StallTest
    from converter_match.judgement.decision.run import StudyResult
    from converter_match.judgement.motor.study_result import MotorStudyResult
    from converter_match.library.intake.draft import Draft

    if isinstance(thing, Draft):
        thing.write(target, overwrite=overwrite)
        return target
    if isinstance(thing, StallTest):
        from converter_match.present.stall.sheet import save_sheet

        return save_sheet(
            thing.expected, target, machine_name=thing.name, system=system, overwrite=overwrite
        )
    if isinstance(thing, AcceptanceTest):
        from converter_match.present.stall.sheet import write_sheet

        return write_sheet(thing.sheet(system).sheet, target, overwrite=overwrite)
    if isinstance(thing, StudyResult):
        from converter_match.present.report.study_folder import write_study

        return write_study(thing, target, overwrite=overwrite, system=system)
    if isinstance(thing, MotorStudyResult):
        from converter_match.present.report.study_folder import write_motor_study

        return write_motor_study(thing, target, overwrite=overwrite, system=system)
    if hasattr(thing, "savefig"):
        from converter_match.present.drawing.saving import save

        return save(thing, target, overwrite)
    if hasattr(thing, "to_dict"):
        return _as_json(thing, target, overwrite)
    raise InputError(
        "there is no file for this",
        source=str(target),
        found=type(thing).__name__,
        expected="a component, a draft, a figure or a result",
    )


def _as_json(result: Any, target: Path, overwrite: bool) -> Path:
    import json

    from converter_match.library.atomic import write_text

    if target.suffix.lower() != ".json":
        raise InputError(
            "the suffix does not name a format of a result",
            source=str(target),
            found=target.suffix,
            expected=".json; its figure is written by cm.write(cm.figures...(result), path)",
        )
    text = json.dumps(result.to_dict(), indent=2, allow_nan=False)
    write_text(text + "\n", target, overwrite=overwrite)
    return target
