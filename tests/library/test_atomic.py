"""Files that are written whole or not at all; what the machine does meanwhile: tests/faults."""

import errno
import os
import time

import pytest

from converter_match.errors import InputError
from converter_match.library import atomic
from converter_match.library.atomic import clear_drafts, exchange, write_bytes, write_text

HOUR = 3600.0
LETTERS = "0123456789ab"


def content(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def fails(code):
    """Return what a system call does that the system refuses."""

    def refuse(*args, **options):
        raise OSError(code, os.strerror(code))

    return refuse


def test_name_that_no_file_can_have_is_refused():
    with pytest.raises(InputError, match="no name that a file can have"):
        write_text("", "out\0.json")


def test_text_that_is_half_a_letter_is_refused_and_leaves_nothing(tmp_path):
    with pytest.raises(InputError, match="cannot be written") as caught:
        write_text("\ud800", tmp_path / "a.txt")
    assert caught.value.source == str(tmp_path / "a.txt")
    assert content(tmp_path) == {}


def test_bytes_are_written_as_they_are_and_replaced_only_when_asked(tmp_path):
    target = tmp_path / "a.bin"
    write_bytes(b"\r\n\0", target)
    with pytest.raises(InputError, match=r"is there already.*nothing is overwritten"):
        write_bytes(b"new", target)
    assert content(tmp_path) == {"a.bin": b"\r\n\0"}
    write_bytes(b"new", target, overwrite=True)
    assert content(tmp_path) == {"a.bin": b"new"}


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "a.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to(tmp_path / "a.txt")
    write_text("new", tmp_path / "link.txt", overwrite=True)
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "a.txt").read_text() == "new"


def test_a_folder_is_no_place_for_a_file(tmp_path):
    with pytest.raises(InputError, match=r"is a folder.*the name of a file"):
        write_text("", tmp_path, overwrite=True)


def test_where_the_system_refuses_nothing_is_left_and_it_says_why(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "fsync", fails(errno.ENOSPC))
    with pytest.raises(InputError, match="cannot be written: no space left"):
        write_text("a", tmp_path / "a.txt")
    assert content(tmp_path) == {}


def test_an_interruption_leaves_nothing(tmp_path, monkeypatch):
    def interrupted(number):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_text("a", tmp_path / "a.txt")
    assert content(tmp_path) == {}


def test_a_file_held_by_another_program_is_said_to_be_so(tmp_path, monkeypatch):
    (tmp_path / "a.txt").write_text("old")
    monkeypatch.setattr(os, "replace", fails(errno.EACCES))
    with pytest.raises(InputError, match=r"permission denied.*open in another program") as caught:
        write_text("new", tmp_path / "a.txt", overwrite=True)
    assert caught.value.source == str(tmp_path / "a.txt")
    assert content(tmp_path) == {"a.txt": b"old"}


def test_without_hard_links_a_new_file_gets_its_name_all_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "link", fails(errno.EPERM))
    write_text("a", tmp_path / "a.txt")
    assert content(tmp_path) == {"a.txt": b"a"}
    seen = os.path.lexists
    asked = []

    def once_free(path):
        asked.append(path)
        return len(asked) > 1 and seen(path)

    monkeypatch.setattr(os.path, "lexists", once_free)  # somebody was first, meanwhile
    with pytest.raises(InputError, match="is there already"):
        write_text("b", tmp_path / "a.txt")
    assert content(tmp_path) == {"a.txt": b"a"}


def test_files_asked_for_together_take_their_names_at_the_end(tmp_path):
    (tmp_path / "b.txt").write_text("old")
    with atomic.all_or_none():
        write_text("one", tmp_path / "a.txt")
        write_text("two", tmp_path / "b.txt", overwrite=True)
        assert not (tmp_path / "a.txt").exists()
        assert (tmp_path / "b.txt").read_text() == "old"
    assert content(tmp_path) == {"a.txt": b"one", "b.txt": b"two"}
    write_text("three", tmp_path / "c.txt")  # and what comes afterwards, at once
    assert (tmp_path / "c.txt").read_text() == "three"


def test_new_files_go_again_where_an_old_one_cannot_be_replaced(tmp_path, monkeypatch):
    (tmp_path / "b.txt").write_text("old")
    monkeypatch.setattr(os, "replace", fails(errno.EIO))

    def writes():
        with atomic.all_or_none():
            write_text("two", tmp_path / "b.txt", overwrite=True)
            write_text("one", tmp_path / "a.txt")

    with pytest.raises(InputError, match="cannot be written: input/output error") as caught:
        writes()
    assert caught.value.source == str(tmp_path / "b.txt")
    assert content(tmp_path) == {"b.txt": b"old"}


def test_old_drafts_of_this_name_are_cleared_away_and_nothing_else(tmp_path):
    old = time.time() - 1.1 * HOUR
    for name in (
        f"a.txt.{LETTERS}.part", f".a.txt.{LETTERS}.part", f"b.txt.{LETTERS}.part",
        f"a.txt.{LETTERS[:11]}.part", f"a-txt.{LETTERS}.part", f"a.txt.{LETTERS}.part.txt",
        f"xa.txt.{LETTERS}.part",
    ):  # fmt: skip
        (tmp_path / name).write_text("left")
        os.utime(tmp_path / name, (old, old))
    fresh = tmp_path / f"a.txt.{LETTERS[::-1]}.part"
    fresh.write_text("being written")
    almost = time.time() - 0.9 * HOUR
    os.utime(fresh, (almost, almost))
    folder = tmp_path / f".a.txt.{'f' * 32}.part"
    (folder / "below").mkdir(parents=True)
    os.utime(folder, (old, old))
    clear_drafts(tmp_path / "a.txt")
    assert not folder.exists()
    assert sorted(content(tmp_path)) == sorted([
        f"b.txt.{LETTERS}.part", f"a.txt.{LETTERS[:11]}.part", f"a-txt.{LETTERS}.part",
        f"a.txt.{LETTERS}.part.txt", f"xa.txt.{LETTERS}.part", fresh.name,
    ])  # fmt: skip


def test_clearing_where_there_is_no_folder_does_nothing(tmp_path):
    clear_drafts(tmp_path / "none" / "a.txt")
    clear_drafts("a\0b")


def test_two_folders_change_names_in_one_step_or_stay(tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / f"{name}.txt").write_text(name)
    done = exchange(tmp_path / "one", tmp_path / "two")
    first, second = ("two", "one") if done else ("one", "two")
    assert [path.name for path in (tmp_path / "one").iterdir()] == [f"{first}.txt"]
    assert [path.name for path in (tmp_path / "two").iterdir()] == [f"{second}.txt"]
    assert not exchange(tmp_path / "one", tmp_path / "none")
    assert [path.name for path in (tmp_path / "one").iterdir()] == [f"{first}.txt"]
