"""Command lines for PowerShell, taken apart by its rules and read by the program.

The rules (Microsoft, "about_Parsing", "about_Quoting_Rules"; from memory), as far as the page needs
them: a backtick at the end of a line joins it to the next, single quotes keep all, double quotes
all but ``$`` and the backtick, and a comma, semicolon, pipe or bracket outside of quotes is its
own.
"""

import re
from pathlib import Path

import pytest

from converter_match.cli import VERBS, build_parser

PAGE = Path(__file__).resolve().parents[2] / "docs" / "windows.md"
BLOCKS = re.findall(r"```powershell\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
_WORD = re.compile(r"""'(?:[^'])*'|"[^"$`]*"|[^\s'"`$,;|(){}&@#<>]+""")


def lines():
    text = "\n".join(BLOCKS)
    assert not re.search(r"`[ \t]+\n", text), "a backtick joins lines only where nothing follows"
    return [line for line in text.replace("`\n", " ").splitlines() if line.strip()]


def words(line):
    """Return the words that a program is given, or fail on what the shell would take itself."""
    found, at = [], 0
    while at < len(line):
        if line[at].isspace():
            at += 1
            continue
        word = _WORD.match(line, at)
        assert word, f"the shell takes {line[at]!r} for itself: {line}"
        end = word.end()
        assert end == len(line) or line[end].isspace(), line
        found.append(re.sub(r"""^(['"])(.*)\1$""", r"\2", word[0]))
        at = end
    return found


OURS = [
    re.sub(r"^\$\w+ = ", "", line).split(" | ")[0] for line in lines() if "converter-match" in line
]


@pytest.mark.parametrize("line", OURS)
def test_line_reaches_the_program_as_it_is_meant(line):
    name, *given = words(line)
    assert name == "converter-match"
    args = build_parser().parse_args(given)
    assert args.name_of_verb in VERBS


def test_lines_that_need_quotes_are_among_them():
    given = [word for line in OURS for word in words(line)]
    assert "stall speed=1880 rpm; tolerance=1 %" in given
    assert "0,8,12" in given
    assert r"C:\tests\loader 4.csv" in given


@pytest.mark.parametrize("line", ["solve --grades 0,8", "stall --claim a; b", "x --claim $(ls)"])
def test_unquoted_sign_of_the_shell_is_noticed(line):
    with pytest.raises(AssertionError):
        words(line)


def test_no_line_of_ours_is_left_for_another_shell():
    assert len(OURS) >= 7
    assert not any("&&" in line or line.rstrip().endswith("\\") for line in lines())
