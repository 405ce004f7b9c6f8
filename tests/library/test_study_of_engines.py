"""A study of engines names no motor, wherever it may stand."""

import pytest

from converter_match.errors import InputError
from converter_match.library.study_file import read_study
from tests.study_examples import study_file

NEW = 'engine = "six-cylinder-7l-185kw"'
OLD = 'engine = "six-cylinder-10l5-138kw"'
SECOND = '\n[[candidate]]\nid = "other"\nname = "Other"\nengine = "six-cylinder-7l-185kw"\n'


@pytest.mark.parametrize("line", ['motor = "lift-truck-80v-30kw"', "direct = 1.4",
                                  'voltage = { unit = "V", value = 80 }'])  # fmt: skip
@pytest.mark.parametrize("place", ["present", "candidate[0]", "candidate[1]"])
def test_motor_in_a_study_of_engines_is_named_by_its_place(tmp_path, place, line):
    key = line.split()[0]
    if place == "present":
        path = study_file(tmp_path, (OLD, f"{OLD}\n{line}"))
    elif place == "candidate[0]":
        path = study_file(tmp_path, (NEW, f"{NEW}\n{line}"))
    else:
        path = study_file(tmp_path, more=f"{SECOND}{line}\n")
    with pytest.raises(InputError) as refused:
        read_study(path)
    assert refused.value.field == f"{place}.{key}"
    assert "motor-study/1" in refused.value.expected
