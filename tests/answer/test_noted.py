"""What every result has in common."""

from dataclasses import dataclass

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer


@dataclass(frozen=True)
class Held(Answer):
    seconds: float
    notes: tuple = ()

    def blocks(self):
        return (Block("hold", "Hold", ((Heading("hold", "longest hold", "time"), self.seconds),)),)


def test_an_answer_is_printed_as_its_text_and_not_as_its_fields():
    held = Held(20.0)
    assert repr(held) == str(held) == held.text() == "Hold\n  longest hold: 20.0 s"
