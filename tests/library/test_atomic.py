"""Files that are written whole or not at all; what the machine does meanwhile: tests/faults."""

import pytest

from converter_match.errors import InputError
from converter_match.library.atomic import write_text


def test_name_that_no_file_can_have_is_refused():
    with pytest.raises(InputError, match="no name that a file can have"):
        write_text("", "out\0.json")
