"""The parser of the command line: one message for wrong use, and the nearest right thing."""

from __future__ import annotations

import argparse
import re
import shutil
import sys
import textwrap
from collections.abc import Sequence
from typing import Any, NoReturn

from converter_match.errors import did_you_mean, nearest, shortened, shown

_WIDEST = 100
_CHOICE = re.compile(
    r"invalid choice: '?(?P<word>[^']*?)'? \(choose from (?P<known>.*)\)", re.DOTALL
)
_NUMBER = re.compile(r"invalid int value: '(.*)'", re.DOTALL)
_EXTRA = "unrecognized arguments: "
_MISSING = "arguments are required", "arguments --"
# A value that begins with a minus sign, unit and all: '-10degC' is no option.
_NEGATIVE = re.compile(r"-\.?\d")

_OF_A_MOTOR = ("--motor", "--direct", "--voltage")
_NO_MOTOR = (
    "this verb is about engines and takes no electric motor; those that do: solve, tractive, "
    "accelerate, hold, stall, route, size, and study with a motor study"
)


class Once(argparse.Action):
    """An option that holds one value: given twice with two values, neither is right."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option_string: str | None = None,
    ) -> None:
        """Store the value.

        Raises
        ------
        argparse.ArgumentError
            If another value was stored already, or there is nothing in it.
        """
        for value in values if isinstance(values, list) else [values]:
            if isinstance(value, str) and not value.strip():
                raise argparse.ArgumentError(self, f"is empty; found {value!r}")
        given: frozenset[str] = getattr(namespace, "given", frozenset())
        if self.dest in given and getattr(namespace, self.dest) != values:
            first = getattr(namespace, self.dest)
            raise argparse.ArgumentError(self, f"given twice: {shown(first)} and {shown(values)}")
        namespace.given = given | {self.dest}
        setattr(namespace, self.dest, values)


class Help(argparse.RawDescriptionHelpFormatter):
    """Paragraphs as wide as the terminal, examples as they stand."""

    def __init__(self, prog: str, **kwargs: Any) -> None:
        wide = min(shutil.get_terminal_size().columns, _WIDEST) - 2
        super().__init__(prog, **({"width": wide} | kwargs))

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        paragraphs = []
        for paragraph in text.split("\n\n"):
            lines = paragraph.splitlines()
            if any(line.startswith(" ") for line in lines):  # examples
                paragraphs.append("\n".join(indent + line for line in lines))
            else:
                paragraphs.append(
                    textwrap.fill(
                        paragraph,
                        max(width, 20),
                        initial_indent=indent,
                        subsequent_indent=indent,
                        break_on_hyphens=False,
                        break_long_words=False,
                    )
                )
        return "\n\n".join(paragraphs)


class Parser(argparse.ArgumentParser):
    """A parser whose complaint is one line, as every other message of the program."""

    def __init__(self, **kwargs: Any) -> None:
        # The beginning of an option's name is not its name: a script that uses one breaks when a
        # second option begins alike, and a slip of the pen is better asked about.
        usual: dict[str, Any] = {"formatter_class": Help, "allow_abbrev": False}
        super().__init__(**(usual | kwargs))
        self._negative_number_matcher = _NEGATIVE
        self._words: Sequence[str] = ()
        self.register("action", None, Once)
        self.register("action", "store", Once)

    def parse_known_args(  # type: ignore[override]
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None
    ) -> tuple[argparse.Namespace, list[str]]:
        """Parse, and complain of what is left over here, where the options are known.

        Raises
        ------
        SystemExit
            With status 2, after one message.
        """
        self._words = sys.argv[1:] if args is None else args
        found, extras = super().parse_known_args(args, namespace)
        if extras:
            seen = (word if word.strip() else repr(word) for word in extras)  # blanks are words too
            self.error(f"{_EXTRA}{' '.join(seen)}")
        return found, extras

    def error(self, message: str) -> NoReturn:
        """Say what is wrong, and where the help is, on one line; end with status 2."""
        unknown = self._unknown_option()
        if unknown and any(words in message for words in _MISSING):
            message = f"{_EXTRA}{unknown}"  # which is most likely the one that is missing
        said = self._said(message)
        print(f"{self.prog}: {said}; see `{self.prog} --help`", file=sys.stderr)
        raise SystemExit(2)

    def _unknown_option(self) -> str | None:
        """Return the first word that looks like an option and is none."""
        for word in self._words:
            if word == "--":
                return None
            name = word.partition("=")[0]
            if (
                name.startswith("--")
                and " " not in name
                and name not in self._option_string_actions
            ):
                return word
        return None

    def _said(self, message: str) -> str:
        wrong = _CHOICE.search(message)
        if wrong:
            known = [word.strip().strip("'") for word in wrong["known"].split(",")]
            before = message[: wrong.start()].removeprefix("argument ").rstrip(": ")
            near = did_you_mean(wrong["word"], known)
            return (
                f"{before}: not a known choice; found {shown(wrong['word'])}; "
                f"expected {' | '.join(known)}" + (f"; {near}" if near else "")
            )
        if message.startswith(_EXTRA):
            first = message.removeprefix(_EXTRA).split()[0].partition("=")[0]
            if first in _OF_A_MOTOR and "--motor" not in self._option_string_actions:
                return f"{first}: {_NO_MOTOR}"
            options = [name for name in self._option_string_actions if name.startswith("--")]
            alike = nearest(first, options, n=1) if first.startswith("-") else ()
            hint = f"; did you mean {alike[0]!r}?" if alike else ""
            return f"not known here: {shortened(message.removeprefix(_EXTRA))}{hint}"
        number = _NUMBER.search(message)
        if number:
            before = message[: number.start()].removeprefix("argument ")
            return f"{before}not a whole number; found {shown(number[1])}"
        return (
            message.removeprefix("argument ")
            .replace("the following arguments are required", "missing")
            .replace("not allowed with argument", "does not go with")
            .replace("expected one argument", "a value is missing after it")
            .replace("expected at least one argument", "a value is missing after it")
        )
