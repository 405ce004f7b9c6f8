"""The one error type: what is wrong, where, what was found, what was expected, what to do."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from typing import Any

NO_SUCH_FILE = "no-such-file"
"""Code of an error about a file that is not there."""
_ABSENT: Any = object()
_LONGEST_SHOWN = 120
# A place may be a path, and a path is of no use in part: one of ordinary length stays whole.
_LONGEST_PLACE = 300
_ALIKE = 0.5
_MOST_LETTERS = 12
_INDEX = re.compile(r"((?:\[\d+\])+)(?P<inner>\.)?")
# A message is one line, also where the name of a file holds a line break.
_BREAKS = {code: repr(chr(code))[1:-1] for code in (*range(32), *range(127, 160), 0x2028, 0x2029)}


class InputError(ValueError):
    """Input that cannot be used, said so that the person who gave it can correct it.

    Parameters
    ----------
    problem : str
        What is wrong, in a few words.
    source : str, optional
        The file, table or argument the input came from.
    field : str, optional
        The field inside the source, as the person wrote it (``full_load.torque[3]``). Indices count
        from 0, as everywhere in Python; the message counts from 1 (see `place_text`).
    found : object, optional
        The offending value, shown as given.
    expected : str, optional
        What would have been right.
    hint : str, optional
        The nearest right thing, or the next step.
    code : str
        What kind of error it is, where a program goes on by it: ``no-such-file``. The words may
        change, the code stays.
    """

    def __init__(
        self,
        problem: str,
        *,
        source: str | None = None,
        field: str | None = None,
        found: object = _ABSENT,
        expected: str | None = None,
        hint: str | None = None,
        code: str = "",
    ) -> None:
        self.problem = problem
        self.source = source
        self.field = field
        self.found = found
        self.expected = expected
        self.hint = hint
        self.code = code
        super().__init__(self._text())

    def _text(self) -> str:
        field = place_text(self.field) if self.field else None
        where = ": ".join(shortened(part, _LONGEST_PLACE) for part in (self.source, field) if part)
        text = f"{where}: {self.problem}" if where else self.problem
        if self.found is not _ABSENT:
            text += f"; found {shown(self.found)}"
        if self.expected:
            text += f"; expected {self.expected}"
        if self.hint:
            text += f"; {self.hint}"
        return text.translate(_BREAKS)

    def __str__(self) -> str:
        return self._text()

    def located(self, *, source: str | None = None, field: str | None = None) -> InputError:
        """Return the same error with the missing part of its place filled in.

        A component does not know which file it came from; the reader does.
        """
        return self.changed(source=self.source or source, field=self.field or field)

    def said_of(self, source: str) -> InputError:
        """Return the same error said of another source, such as the file of a component."""
        return self.changed(source=source)

    def changed(self, **parts: Any) -> InputError:
        """Return the same error with some of its parts changed.

        Examples
        --------
        >>> print(InputError("is empty", source="a.toml", hint="write it").changed(hint=None))
        a.toml: is empty
        """
        own = {name: value for name, value in vars(self).items() if name != "problem"}
        return InputError(parts.pop("problem", self.problem), **(own | parts))

    def __reduce__(self) -> tuple[Any, ...]:
        # Exceptions pickle by their args; ours are keyword-only, so rebuild from the fields.
        has_found = self.found is not _ABSENT
        fields = (self.problem, self.source, self.field, self.expected, self.hint, self.code)
        return (_rebuild, (fields, has_found, shown(self.found) if has_found else None))


class WorkLost(RuntimeError):
    """Work of which a part could not be done: too large for a worker, or its worker died."""


class LettersNotDrawn(UserWarning):
    """Letters that no font of this machine has: a figure or a page shows a box for each.

    Parameters
    ----------
    letters : str
        Each of them once.
    """

    def __init__(self, letters: str) -> None:
        super().__init__(letters)
        self.letters = letters

    def __str__(self) -> str:
        named = " ".join(self.letters[:_MOST_LETTERS])
        more = len(self.letters) - _MOST_LETTERS
        rest = f" and {more} more" if more > 0 else ""
        return (
            f"no font of this machine has the characters {named}{rest}: figures and PDF pages "
            f"show a "
            "box in their place; install a font that has them, and write the file again"
        )


class OddData(UserWarning):
    """Data that can be read and are odd: a second look at the sheet, before anything rests on them.

    Parameters
    ----------
    source : str
        Name of the file.
    odd : tuple of str
        What is odd, each a sentence.
    """

    def __init__(self, source: str, odd: tuple[str, ...]) -> None:
        super().__init__(source, odd)
        self.source, self.odd = source, odd

    def __str__(self) -> str:
        return f"{self.source}: odd about the data: {' '.join(self.odd)}"


def place_text(field: str) -> str:
    """Return a field as a person counts: rows and repeated tables from 1.

    Examples
    --------
    >>> place_text("full_load.torque.values[3]")
    'full_load.torque.values (row 4)'
    >>> place_text("candidate[0].engine")
    'candidate (no. 1).engine'
    >>> place_text("p[1][2]")
    'p (row 2, column 3)'
    """

    def counted(found: re.Match[str]) -> str:
        numbers = [int(number) + 1 for number in re.findall(r"\d+", found[1])]
        if found["inner"]:
            return f" (no. {', '.join(map(str, numbers))})."
        names = ("row", "column", *("place" for _ in numbers))
        return f" ({', '.join(f'{n} {k}' for n, k in zip(names, numbers, strict=False))})"

    return _INDEX.sub(counted, field).lstrip()


def _rebuild(fields: tuple[Any, ...], has_found: bool, found: object) -> InputError:
    problem, source, field, expected, hint, code = fields
    return InputError(
        problem,
        source=source,
        field=field,
        found=_Verbatim(found) if has_found else _ABSENT,
        expected=expected,
        hint=hint,
        code=code,
    )


class _Verbatim(str):
    """Text that is shown without quotes: the value was already rendered once."""


def shown(value: object) -> str:
    """Render a value for a message: short, one line, numbers without float noise."""
    if isinstance(value, _Verbatim):
        return str(value)
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, str):
        text = repr(str(value))
    else:
        text = " ".join(str(value).split())
    return shortened(text)


def shortened(text: str, most: int = _LONGEST_SHOWN) -> str:
    """Return a text of at most `most` letters: start and end tell what it was.

    Examples
    --------
    >>> shortened("a" * 500 + ".toml", 20)
    'aaaaaaaaaa ... .toml'
    """
    if len(text) <= most:
        return text
    end = most // 4
    return f"{text[: most - end - 5]} ... {text[-end:]}"


def nearest(word: str, candidates: Iterable[str], n: int = 3) -> tuple[str, ...]:
    """Return up to `n` candidates that look like `word`, best first (case is ignored).

    Of two that are as near, the one that was named first comes first.
    """
    by_folded: dict[str, str] = {}
    for candidate in candidates:
        by_folded.setdefault(candidate.casefold(), candidate)
    matcher = difflib.SequenceMatcher()
    matcher.set_seq2(shortened(word.casefold()))
    alike = {}
    for folded, candidate in by_folded.items():
        matcher.set_seq1(folded)
        if min(matcher.real_quick_ratio(), matcher.quick_ratio()) >= _ALIKE:
            alike[candidate] = matcher.ratio()
    found = sorted(alike, key=lambda candidate: -alike[candidate])  # keeps the order of equals
    return tuple(candidate for candidate in found if alike[candidate] >= _ALIKE)[:n]


def did_you_mean(word: str, candidates: Iterable[str]) -> str | None:
    """Return 'did you mean ...?' naming the nearest candidates, or None when nothing is near."""
    found = nearest(word, candidates)
    return f"did you mean {' or '.join(repr(str(name)) for name in found)}?" if found else None
