"""Results that are kept: whole or not at all, dropped when damaged, cleared and trimmed."""

import os

import pytest

from converter_match.errors import InputError
from converter_match.library.kept import FOLDER, KeptResults, kept

ONE, OTHER = "a1" * 32, "b2" * 32


def test_a_result_comes_back_as_it_was_kept(tmp_path):
    store = KeptResults(tmp_path / "kept")
    assert store.get(ONE) is None
    store.put(ONE, b"[1.5]")
    assert KeptResults(tmp_path / "kept").get(ONE) == b"[1.5]"
    assert store.held().entries == 1


@pytest.mark.parametrize("spoil", [lambda raw: raw[:-1], lambda raw: raw[:20], lambda raw: b"",
                                   lambda raw: raw[:-2] + b"7]"])  # fmt: skip
def test_a_damaged_result_is_dropped_and_counted(tmp_path, spoil):
    store = KeptResults(tmp_path / "kept")
    store.put(ONE, b"[1.5]")
    path = tmp_path / "kept" / ONE[:2] / ONE
    path.write_bytes(spoil(path.read_bytes()))
    assert store.get(ONE) is None
    assert store.spoilt == 1
    assert not path.exists()


def test_fresh_takes_nothing_and_keeps_what_is_new(tmp_path):
    KeptResults(tmp_path / "kept").put(ONE, b"1")
    store = KeptResults(tmp_path / "kept", fresh=True)
    assert store.get(ONE) is None
    store.put(ONE, b"2")
    assert KeptResults(tmp_path / "kept").get(ONE) == b"2"


def test_clearing_removes_what_is_kept_and_nothing_else(tmp_path):
    store = KeptResults(tmp_path / "kept")
    store.put(ONE, b"1")
    mine = tmp_path / "kept" / "letter.txt"
    mine.write_text("mine")
    assert store.clear().entries == 1
    assert store.held().entries == 0
    assert mine.read_text() == "mine"


def test_a_folder_of_something_else_is_refused(tmp_path):
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(InputError, match="something else"):
        KeptResults(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]


def test_a_file_in_place_of_the_folder_is_refused_with_its_name(tmp_path):
    place = tmp_path / "file"
    place.write_text("")
    with pytest.raises(InputError, match="cannot be kept there"):
        KeptResults(place)


def test_what_was_used_longest_ago_goes_first(tmp_path):
    store = KeptResults(tmp_path / "kept")
    for key, used in ((ONE, 1000.0), (OTHER, 2000.0)):
        store.put(key, b"0" * 100)
        os.utime(tmp_path / "kept" / key[:2] / key, (used, used))
    store.get(ONE)  # used just now
    store.trim(most=150)
    assert (store.get(ONE), store.get(OTHER)) == (b"0" * 100, None)


def test_an_old_draft_of_a_killed_process_goes_and_a_new_one_stays(tmp_path):
    store = KeptResults(tmp_path / "kept")
    store.put(ONE, b"1")
    old, new = (tmp_path / "kept" / ONE[:2] / f"{ONE}.{n * 12}.part" for n in "ab")
    for path in (old, new):
        path.write_bytes(b"half")
    os.utime(old, (1000.0, 1000.0))
    store.trim()
    assert (old.exists(), new.exists()) == (False, True)
    assert store.get(ONE) == b"1"


def test_a_result_that_cannot_be_kept_is_counted_and_work_goes_on(tmp_path):
    store = KeptResults(tmp_path / "kept")
    (tmp_path / "kept" / ONE[:2]).write_text("in the way")
    store.put(ONE, b"1")
    assert store.unkept == 1
    assert store.get(ONE) is None


def test_no_name_leads_out_of_the_folder(tmp_path):
    with pytest.raises(ValueError, match="no key"):
        KeptResults(tmp_path / "kept").get("../../etc/passwd")


def test_the_environment_names_the_folder_or_switches_it_off(tmp_path, monkeypatch):
    monkeypatch.setenv(FOLDER, str(tmp_path / "there"))
    assert kept().folder == tmp_path / "there"
    assert kept(str(tmp_path / "here")).folder == tmp_path / "here"
    monkeypatch.setenv(FOLDER, "off")
    assert kept() is None
    assert kept("off") is None


def test_without_a_word_it_is_the_cache_of_the_user(tmp_path, monkeypatch):
    monkeypatch.delenv(FOLDER, raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert tmp_path in kept().folder.parents
