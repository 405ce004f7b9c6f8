import base64
import re

import pytest

from converter_match import InputError
from converter_match.present.notebook import picture
from converter_match.present.style import new_figure


def test_a_picture_carries_its_text_alternative_as_html_and_as_plain_text():
    shown = picture(new_figure(2.0, 1.0), 'Torque "net"\n over speed')
    page = shown._repr_html_()
    assert 'alt="Torque &quot;net&quot; over speed"' in page
    code = re.search(r"base64,([^\"]+)", page)[1]
    assert base64.b64decode(code).startswith(b"\x89PNG")
    assert repr(shown) == '[picture: Torque "net" over speed]'


def test_a_picture_without_words_is_refused():
    with pytest.raises(InputError, match="alternative"):
        picture(new_figure(2.0, 1.0), " \n")
