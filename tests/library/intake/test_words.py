"""The sentences of intake stand in one place, and each is said somewhere."""

import re
from pathlib import Path

import pytest

from converter_match.library import intake
from converter_match.library.intake import words

ROOM = Path(intake.__file__).parent
SOURCE = "\n".join(
    path.read_text(encoding="utf-8") for path in ROOM.glob("*.py") if path.name != "words.py"
)


@pytest.mark.parametrize("name", words._SENTENCES)
def test_every_sentence_is_said_somewhere(name):
    assert f'"{name}"' in SOURCE


def test_every_note_question_and_error_has_its_sentence():
    calls = re.findall(r"(?<!\.)\b(?:note|question|error|said)\(\s*\"([a-z-]+)\"", SOURCE)
    plain = [code for code in calls if f'"{code}"' in SOURCE]
    assert len(plain) > 80
    own = re.findall(r"sentence=\"([a-z-]+)\"", SOURCE)
    named_otherwise = set(re.findall(r"\"([a-z-]+)\",[^()]*?sentence=", SOURCE))
    assert set(own) <= set(words._SENTENCES)
    assert set(plain) - named_otherwise <= set(words._SENTENCES)
