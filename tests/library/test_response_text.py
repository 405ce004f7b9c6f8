"""The response of an engine as it is typed."""

import pytest

from converter_match.components.response import EngineResponse, typical_response
from converter_match.errors import InputError
from converter_match.library.response_text import response_from_text
from tests.examples import engine


def test_share_and_time_are_read_with_their_units():
    found = response_from_text("55 %, 900 ms", engine(), source="--response")
    assert (found.share, found.time) == (pytest.approx(0.55), pytest.approx(0.9))
    assert not found.typical


def test_what_is_usual_goes_by_the_aspiration():
    found = response_from_text("typical", engine(), source="--response")
    assert found.typical
    assert found.share < 1.0
    breathing = engine(aspiration="naturally-aspirated")
    assert response_from_text("typical", breathing, source="--response").share == 1.0
    with pytest.raises(InputError, match=r"test-engine: aspiration: .*give the share and the time"):
        response_from_text("typical", engine(aspiration=None), source="--response")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("60 %", r"^--response: not a response .*found '60 %'; expected typical, or share"),
        ("0 %, 1 s", r"^--response: response\.share: out of range"),
        ("60 %, -1 s", r"^--response: response\.time: out of range"),
        ("sixty, 1 s", r"^--response: "),
    ],
)
def test_what_is_none_is_refused(text, says):
    with pytest.raises(InputError, match=says):
        response_from_text(text, engine(), source="--response")


def test_torque_rises_as_a_first_order_lag():
    # s + (1 - s)(1 - 1/e) after one time constant, by definition.
    slow = EngineResponse(share=0.5, time=2.0)
    assert slow.torque_factor(0.0) == 0.5
    assert slow.torque_factor(2.0) == pytest.approx(0.5 + 0.5 * (1 - 0.36787944117144233))
    assert slow.torque_factor(60.0) == pytest.approx(1.0)
    assert typical_response("turbocharged", "e").torque_factor(-1.0) == pytest.approx(0.6)
