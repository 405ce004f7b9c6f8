"""What the bench writes, and what it refuses to write over.

Files stand in one folder. A study that was changed by somebody else since this bench read or wrote
it is not written again: the bench says who changed it and offers another name.
"""

from __future__ import annotations

import csv
import getpass
import hashlib
import json
import os
import re
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.answer.csv_table import block_csv
from converter_match.errors import InputError
from converter_match.judgement.motor.result import MotorMatch
from converter_match.library.atomic import write_text
from converter_match.library.names import is_device
from converter_match.library.shipped import shipped
from converter_match.present.bench.shelf import Shelf
from converter_match.present.bench.state import BenchState
from converter_match.present.bench.study import (
    Opened,
    more_than_bench,
    open_study,
    saved_note,
    study_texts,
)
from converter_match.present.bench.view import BenchView, combination_words
from converter_match.units import System

FIGURES = ("svg", "png", "pdf")
SUFFIXES = {
    "study": ".toml",
    "table": ".key-figures.csv",
    "csv": ".csv",
    "json": ".json",
} | {k: f".{k}" for k in FIGURES}
_SHIPPED = " (shipped)"
_NAME = re.compile(r"[^\x00-\x1f\x7f<>:\"/\\|?*]{1,100}")
# A lock older than this was left behind by a program that was stopped [s].
_LOCK_LASTS = 20.0
_LOCK_WAIT = 2.0


class Keeper:
    """Writes and opens files in one folder, and remembers what it has seen of them.

    Parameters
    ----------
    folder : path
    who : str, optional
        Put into a saved study; by default the user's name, with the notebook's where it is known.
    now : callable, optional
        The time in UTC; for tests.
    """

    def __init__(
        self,
        folder: str | os.PathLike[str],
        *,
        who: str | None = None,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self.folder = Path(folder)
        self.who = who or _who()
        self._now = now
        self._seen: dict[Path, str] = {}

    def path(self, name: str, content: str) -> Path:
        """Return the file that a name means.

        Raises
        ------
        InputError
            If the name could lead out of the folder, or no file can have it.
        """
        suffix = SUFFIXES[content]
        given = name.strip()
        stem = given.removesuffix(suffix) if given.lower().endswith(suffix) else given
        if not stem:
            raise InputError("give the file a name", source="file name")
        if not _NAME.fullmatch(stem) or stem.startswith(".") or stem.endswith((".", " ")):
            raise InputError(
                "not a plain file name",
                source="file name",
                found=given,
                expected=f"up to 100 letters, no folder: it is written to {self.folder.name!r}",
            )
        if is_device(stem):
            raise InputError("the name of a device on some systems", source="file name", found=stem)
        return self.folder / f"{stem}{suffix}"

    def names(self) -> tuple[str, ...]:
        """Return the studies that can be opened: those in the folder, then the shipped, marked."""
        own = [path.stem for path in sorted(self.folder.glob("*.toml")) if _is_study(path)][:500]
        return (*own, *(f"{name}{_SHIPPED}" for name in shipped("studies") if name not in own))

    def open(self, name: str, shelf: Shelf) -> Opened:
        """Open a study of the folder, or a shipped one of that id.

        Raises
        ------
        InputError
            If there is none, or it cannot be used.
        """
        path = self.path(name.strip().removesuffix(_SHIPPED), "study")
        if not path.exists() and path.stem in shipped("studies"):
            return open_study(shipped("studies")[path.stem], shelf)
        if not path.exists():
            raise InputError(
                "there is no such study in this folder",
                source="file name",
                found=path.name,
                hint=f"there are: {', '.join(self.names())}",
            )
        before = _digest(path)
        opened = open_study(path, shelf)
        if _digest(path) != before:
            raise InputError("was being changed while it was read; open it again", source=path.name)
        self._seen[path] = before
        return opened

    def save_study(self, name: str, state: BenchState, shelf: Shelf) -> Path:
        """Write a study and the component files that it needs.

        Raises
        ------
        InputError
            If a file of this name is there that this bench has not opened or written, if it was
            changed by somebody else since, if it holds more than the bench would write, or if a
            setting cannot be used. Nothing is written then.
        """
        path = self.path(name, "study")
        stamp = self._now().strftime("%Y-%m-%d %H:%M:%S UTC")
        texts = study_texts(state, shelf, path, saved_by=self.who, saved_at=stamp)
        with _alone(path):
            self._may_write(path)
            for file, text in texts.items():
                if file != path.name and not (self.folder / file).exists():
                    write_text(text, self.folder / file)
            write_text(texts[path.name], path, overwrite=True)
            self._seen[path] = _digest(path)
        return path

    def save(
        self, name: str, content: str, view: BenchView, state: BenchState, shelf: Shelf
    ) -> list[Path]:
        """Write one of `SUFFIXES` and return the files; raises like the function that writes it."""
        if content == "study":
            return [self.save_study(name, state, shelf)]
        if content in FIGURES:
            return self.save_figure(name, content, view, state)
        if content == "table":
            return self.save_table(name, view)
        return self.save_data(name, content, view, state.system)

    def save_figure(
        self, name: str, content: str, view: BenchView, state: BenchState
    ) -> list[Path]:
        """Write the overlay, of both in one figure where there are two; nothing is overwritten.

        With a motor each has a figure of its own, named by its side: it has two torques to show.

        Raises
        ------
        InputError
            If a file is there already, or there is nothing to draw.
        """
        from converter_match.present.bench.still import figure_of
        from converter_match.present.drawing.saving import save
        from converter_match.present.figures.present_and_candidate import present_and_candidate

        path = self.path(name, content)
        _something(view)
        _not_there(path)
        look: dict[str, Any] = {"system": state.system, "font_scale": state.font_scale}
        engines = [each for each in view.results.values() if not isinstance(each, MotorMatch)]
        if len(engines) < len(view.results) or len(engines) == 1:
            paths = {side: path for side in view.results}
            if len(paths) > 1:
                paths = {side: path.with_stem(f"{path.stem}-{side.upper()}") for side in paths}
            for each in paths.values():
                _not_there(each)
            return [
                save(figure_of(result, **look), paths[side])
                for side, result in view.results.items()
            ]
        said = [
            combination_words(setting, view.results[side], state.system)
            for side, setting in (("a", state.a), ("b", state.b))
            if setting is not None
        ]
        a, b = engines
        return [save(present_and_candidate(a, b, set_words=(said[0], said[1]), **look), path)]

    def save_table(self, name: str, view: BenchView) -> list[Path]:
        """Write the key figures as they are shown, in the units chosen; nothing is overwritten.

        Raises
        ------
        InputError
            If the file is there already, or there is no result.
        """
        path = self.path(name, "table")
        _something(view)
        two = len(view.results) > 1
        page = StringIO()
        rows = csv.writer(page, lineterminator="\n")
        rows.writerow(
            ["key figure", "unit"]
            + (["present machine", "candidate", "candidate - present"] if two else ["value"])
        )
        for row in view.figures:
            values = [row.a, row.b, row.difference] if two else [row.a or row.b]
            rows.writerow([row.name, row.unit, *values])
        write_text(page.getvalue(), path)
        return [path]

    def save_data(
        self, name: str, content: str, view: BenchView, system: System = "si"
    ) -> list[Path]:
        """Write the results as JSON (whole) or CSV (every match point); nothing is overwritten.

        A CSV is in the units asked for, JSON in metric ones.

        Raises
        ------
        InputError
            If the file is there already, or there is no result.
        """
        path = self.path(name, content)
        _something(view)
        if content == "json":
            data = {side: result.to_dict() for side, result in view.results.items()}
            text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        else:
            _of_one_kind(view)
            tables = {side: result.table("points") for side, result in view.results.items()}
            rows = [(side.upper(), *row) for side, table in tables.items() for row in table.rows]
            columns = next(iter(tables.values())).columns
            text = block_csv(
                Block("", columns=(Heading("combination", ""), *columns), rows=tuple(rows)), system
            )
        write_text(text, path)
        return [path]

    def free_name(self, name: str, content: str) -> str:
        """Return a name like the given one that no file has yet."""
        path = self.path(name, content)
        suffix = SUFFIXES[content]
        stem = re.sub(r"-\d+$", "", path.name.removesuffix(suffix))
        taken = {item.name for item in self.folder.iterdir()}
        return next(
            f"{stem}-{number}"
            for number in range(2, 10_000)
            if f"{stem}-{number}{suffix}" not in taken
        )

    def _may_write(self, path: Path) -> None:
        if not path.exists():
            # A file that was taken away is no reason not to write it again.
            return
        seen = self._seen.get(path)
        if seen is None:
            raise InputError(
                "is there already, and this bench has not opened it" + _by(path),
                source=path.name,
                hint="open it first, or save under another name",
            )
        if _digest(path) != seen:
            raise InputError(
                "was changed since this bench read it" + _by(path),
                source=path.name,
                hint="nothing was written; open it to see the change, or save under another name",
            )
        more = more_than_bench(path)
        if more:
            raise InputError(
                "holds more than the bench would write",
                source=path.name,
                found=", ".join(more),
                hint="save under another name",
            )


def _by(path: Path) -> str:
    note = saved_note(path)
    if note is None:
        changed = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        return f" (not saved by a bench; file time {changed:%Y-%m-%d %H:%M:%S} UTC)"
    return f" (last saved by {note[0]}, {note[1]})"


def _who() -> str:
    try:
        name = getpass.getuser()
    except (OSError, KeyError, ImportError):
        name = "somebody"
    # What the notebook server tells the kernel about the notebook that it belongs to.
    notebook = Path(os.environ.get("JPY_SESSION_NAME", "")).name
    return f"{name} in {notebook}" if notebook else name


def _digest(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", source=path.name) from None


def _is_study(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return b"converter-match/study/" in file.read(2000)
    except OSError:
        return False


def _something(view: BenchView) -> None:
    if not view.results:
        raise InputError("there is no result to write", source="bench", hint=view.problems[0])


def _of_one_kind(view: BenchView) -> None:
    if len({type(result) for result in view.results.values()}) > 1:
        raise InputError(
            "the match points of an engine and of a motor have different columns",
            source="bench",
            hint="save the data as JSON, or one machine alone",
        )


def _not_there(path: Path) -> None:
    if path.exists():
        raise InputError(
            "is there already", source=path.name, hint="nothing is overwritten: take a new name"
        )


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Keep two notebooks from looking and writing at the same moment."""
    lock = path.with_name(f".{path.name}.lock")
    end = time.monotonic() + _LOCK_WAIT
    while True:
        try:
            os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            break
        except FileExistsError:
            # Also where the clock was set back meanwhile: saving takes no such time either way.
            if abs(_age(lock)) > _LOCK_LASTS:
                lock.unlink(missing_ok=True)
            elif time.monotonic() > end:
                raise InputError(
                    "is being saved by another notebook at this moment",
                    source=path.name,
                    hint="save again in a while",
                ) from None
            else:
                time.sleep(0.05)
        except OSError as error:
            raise InputError(
                f"cannot be written: {error.strerror}", source=str(path.parent)
            ) from None
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def _age(lock: Path) -> float:
    try:
        return time.time() - lock.stat().st_mtime
    except OSError:
        return 0.0
