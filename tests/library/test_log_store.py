"""The folders of a store of logs say which machine and day; whatever stands there is an answer."""

import pytest

from converter_match.errors import InputError
from converter_match.library.log_store import partition_of


def test_letters_that_are_none_stand_for_themselves():
    found = partition_of("machine=loader%FF/day=2031-05-04/0.parquet", "here")
    assert found.machine == "loader\ufffd"


@pytest.mark.parametrize("below", ["day=2031-05-04/0.parquet", "machine=/day=2031-05-04/0.parquet"])
def test_a_folder_without_a_machine_is_refused_with_what_was_found(below):
    with pytest.raises(InputError, match="which machine") as caught:
        partition_of(below, "here")
    assert caught.value.source == "here"
    assert caught.value.found == below.rpartition("/")[0]


@pytest.mark.parametrize("day", ["day=2031-13-04", "year=2031/month=x/day=4", "month=5/day=4"])
def test_a_folder_without_a_day_is_refused(day):
    with pytest.raises(InputError, match="which day"):
        partition_of(f"machine=a/{day}/0.parquet", "here")
