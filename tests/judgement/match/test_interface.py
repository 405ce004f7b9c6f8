"""What two files say of the joint between engine and converter."""

from converter_match.judgement.match.solve import solve
from tests.examples import converter, engine


def noted(ours, theirs):
    result = solve(
        engine(interface=tuple(ours.items())), converter(interface=tuple(theirs.items()))
    )
    return [note for note in result.notes if note.code == "interface-differs"]


def test_items_that_differ_are_named_with_both_sides():
    ours = {"housing": "SAE 2", "pilot_diameter": "50 mm", "rotation": "clockwise"}
    theirs = {"housing": "SAE 1", "pilot_diameter": "80 mm", "rotation": "clockwise"}
    (note,) = noted(ours, theirs)
    items = dict(note.values)["items"]
    assert "flywheel housing (engine SAE 2, converter SAE 1)" in items
    assert "pilot diameter (engine 50 mm, converter 80 mm)" in items
    assert "rotation" not in items


def test_the_same_in_other_words_or_on_one_side_alone_is_not_noted():
    assert noted({"housing": "SAE 2", "pilot_diameter": "50 mm"},
                 {"housing": "sae  2", "pilot_diameter": "1.9685 in"}) == []  # fmt: skip
    assert noted({"housing": "SAE 2"}, {"flywheel": "14 in"}) == []
    assert noted({}, {}) == []
    # What lies behind the converter is no business of the engine's.
    assert noted({"dry_mass": "500 kg"}, {"dry_mass": "60 kg"}) == []
