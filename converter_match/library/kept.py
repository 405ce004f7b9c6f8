"""Results that are kept: by a digest of all they depend on, so that nothing is calculated twice.

An entry is a file of its own, named by its key: 32 bytes of checksum, and the result as text. One
that does not agree with its checksum is dropped, and calculated again. Keys hold the versions of
the package, of its sources and of the libraries (`tasks.piece.facts`): what another version has
found is never served.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from converter_match.errors import InputError

FOLDER = "CONVERTER_MATCH_KEPT"
"""Environment variable: the folder of what is kept, or ``off``."""
OFF = "off"
MOST = 1 << 30
"""Bytes that are kept; beyond that the entries that were used longest ago go."""
_SUM = hashlib.sha256().digest_size
_KEY = re.compile(r"[0-9a-f]{64}")
_DRAFT = re.compile(r"[0-9a-f]{64}\.[0-9a-f]{12}\.part")
_ABANDONED = 3600.0  # s
# Says whose folder it is: no other is ever cleared.
_MARK = "converter-match-kept.txt"
_MARK_TEXT = "Results kept by converter-match. It may be cleared: converter-match kept --clear\n"


@dataclass(frozen=True)
class Held:
    """What a folder holds.

    Parameters
    ----------
    entries, size : int
        How many, and their bytes.
    """

    entries: int
    size: int


class KeptResults:
    """Results in a folder.

    Parameters
    ----------
    folder : path
        Made where it is not there.
    fresh : bool
        Whether nothing that is there is taken; what is calculated is kept all the same.

    Raises
    ------
    InputError
        If the folder cannot be made or written to, or is something else's.
    """

    def __init__(self, folder: Path, *, fresh: bool = False) -> None:
        self.folder, self.fresh = folder, fresh
        self.spoilt = 0
        """Entries that did not agree with their checksum."""
        self.unkept = 0
        """Results that could not be kept: a full disk, say."""
        mark = folder / _MARK
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not mark.exists():
                if any(folder.iterdir()):
                    raise InputError(
                        "is a folder of something else",
                        source=str(folder),
                        expected="a new or empty folder for the results that are kept",
                    )
                mark.write_text(_MARK_TEXT, encoding="utf-8")
        except OSError as error:
            raise _unusable(folder, error) from None

    def get(self, key: str) -> bytes | None:
        """Return what is kept under a key; None for nothing."""
        if self.fresh:
            return None
        path = self._path(key)
        try:
            raw = path.read_bytes()
        except OSError:
            return None
        if hashlib.sha256(raw[_SUM:]).digest() != raw[:_SUM]:
            self.spoilt += 1
            with contextlib.suppress(OSError):
                path.unlink()
            return None
        with contextlib.suppress(OSError):
            os.utime(path)  # used just now
        return raw[_SUM:]

    def put(self, key: str, value: bytes) -> None:
        """Keep a result, whole or not at all; where that fails it is counted, and work goes on."""
        path = self._path(key)
        draft = path.with_name(f"{path.name}.{uuid.uuid4().hex[:12]}.part")
        try:
            path.parent.mkdir(exist_ok=True, mode=0o700)
            draft.write_bytes(hashlib.sha256(value).digest() + value)
            os.replace(draft, path)
        except OSError:
            self.unkept += 1
            with contextlib.suppress(OSError):
                draft.unlink()
        except BaseException:  # interrupted: leave nothing half-written
            with contextlib.suppress(OSError):
                draft.unlink()
            raise

    def _path(self, key: str) -> Path:
        if not _KEY.fullmatch(key):
            raise ValueError(f"no key: {key!r}")
        return self.folder / key[:2] / key

    def held(self) -> Held:
        """Return how much is kept."""
        sizes = [size for _, size, _ in self._entries()]
        return Held(len(sizes), sum(sizes))

    def clear(self) -> Held:
        """Remove all that is kept, and return how much it was."""
        held = self.held()
        for part in self._parts():
            shutil.rmtree(part, ignore_errors=True)
        return held

    def trim(self, most: int = MOST) -> None:
        """Let go of the entries that were used longest ago, and of drafts of killed processes.

        Parameters
        ----------
        most : int
            Bytes that may stay.
        """
        for part in self._parts():
            for path in part.iterdir():
                with contextlib.suppress(OSError):
                    old = time.time() - path.stat().st_mtime > _ABANDONED
                    if _DRAFT.fullmatch(path.name) and old:
                        path.unlink()
        entries = sorted(self._entries())
        size = sum(size for _, size, _ in entries)
        for _, own, path in entries:
            if size <= most:
                return
            with contextlib.suppress(OSError):
                path.unlink()
            size -= own

    def _entries(self) -> Iterator[tuple[float, int, Path]]:
        """Yield (when used, bytes, path) of each entry."""
        for part in self._parts():
            for path in part.iterdir():
                if _KEY.fullmatch(path.name):
                    with contextlib.suppress(OSError):
                        found = path.stat()
                        yield found.st_mtime, found.st_size, path

    def _parts(self) -> Iterator[Path]:
        for path in sorted(self.folder.iterdir()):
            if re.fullmatch(r"[0-9a-f]{2}", path.name) and path.is_dir():
                yield path


def kept(folder: str | None = None, *, fresh: bool = False) -> KeptResults | None:
    """Return what is kept in a folder, by default the one of this user.

    Parameters
    ----------
    folder : str, optional
        ``off`` for none; by default what the environment variable `FOLDER` names, else the user's
        cache folder.
    fresh : bool
        Whether nothing that is there is taken.

    Returns
    -------
    KeptResults or None
        None where nothing is to be kept.

    Raises
    ------
    InputError
        As `KeptResults`; never for the default folder, without which work goes on.
    """
    named = folder or os.environ.get(FOLDER)
    if named == OFF:
        return None
    if named:
        return KeptResults(Path(named), fresh=fresh)
    from platformdirs import user_cache_path

    try:
        return KeptResults(
            user_cache_path("converter-match", appauthor=False) / "kept", fresh=fresh
        )
    except InputError:  # a home that nobody may write to: everything is calculated each time
        return None


def _unusable(folder: Path, error: OSError) -> InputError:
    why = (error.strerror or str(error)).lower()
    return InputError(
        f"results cannot be kept there: {why}",
        source=str(folder),
        hint="name another folder, or off",
    )
