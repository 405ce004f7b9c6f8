"""The form for readings: what is typed is weighed, and what cannot be is said."""

import pytest

from converter_match.library.study_file import read_study
from converter_match.present.lab.readings_form import ReadingsForm

pytestmark = pytest.mark.slow


def form():
    return ReadingsForm(read_study("loader-in-the-yard"), draws=512)


def field(form, begin):
    [name] = [name for name in form.fields if name.startswith(begin)]
    return form.fields[name]


def test_readings_of_the_study_count_and_another_value_counts_otherwise():
    own = form()
    typed = [box.value for box in own.fields.values() if box.value]
    assert sorted(typed) == ["1388 rpm", "17.35 t", "84.5 kN"]
    assert "Readings, and what was to be expected" in own.said.value
    before = own.result
    field(own, "stall speed").value = "quick"
    assert "role='alert'" in own.said.value
    assert own.result is before  # what is no quantity changes nothing
    field(own, "stall speed").value = "1340 rpm"
    assert own.result.study.measurements[0].given == "1340 rpm"
    assert own.result.decision.probability < before.decision.probability


def test_without_readings_it_says_what_to_measure_and_with_a_contradiction_nothing():
    own = form()
    for box in own.fields.values():
        if box.value:
            box.value = ""
    assert own.result.evidence is None
    assert "measure first" in own.said.value
    field(own, "stall speed").value = "1000 rpm"
    assert not own.result.evidence.accepted
    assert own.result.measure_next is None
