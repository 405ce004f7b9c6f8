import os
import stat
import time

import pytest

from converter_match.errors import InputError
from converter_match.library.files import SIZE_LIMIT, read_text, read_toml
from converter_match.library.read import read_engine
from tests.library.sheets import CONVERTER, ENGINE, saved, text_of


def refusal(path):
    with pytest.raises(InputError) as caught:
        read_toml(path)
    assert caught.value.source == str(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_content_keeps_the_order_of_the_file(tmp_path):
    toml = read_toml(saved(tmp_path, 'b = 1\na = { y = 2, x = 3 }\n[c]\nd = "ä"\n'))
    assert list(toml.data) == ["b", "a", "c"]
    assert list(toml.data["a"]) == ["y", "x"]
    assert toml.data["c"]["d"] == "ä"


def test_source_is_the_path_as_given(tmp_path, monkeypatch):
    saved(tmp_path, "a = 1")
    monkeypatch.chdir(tmp_path)
    assert read_toml("sheet.toml").source == "sheet.toml"
    assert refusal("nothing.toml").startswith("nothing.toml: no such file")


def test_missing_file_names_its_neighbour(tmp_path):
    saved(tmp_path, "a = 1", "loader-engine.toml")
    assert "did you mean 'loader-engine.toml'?" in refusal(tmp_path / "loader-engin.toml")


def test_missing_folder_is_said(tmp_path):
    assert "there is no folder" in refusal(tmp_path / "nowhere" / "engine.toml")


def test_folder_is_not_a_file(tmp_path):
    assert "is a folder" in refusal(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    assert "is a device or a pipe" in refusal(tmp_path / "pipe")


def test_name_that_no_file_can_have():
    with pytest.raises(InputError, match="cannot be opened"):
        read_text("engine\0.toml")


@pytest.mark.skipif(
    os.name != "posix" or getattr(os, "geteuid", lambda: 1)() == 0,
    reason="this user may read everything",
)
def test_file_without_permission(tmp_path):
    path = saved(tmp_path, "a = 1")
    path.chmod(stat.S_IWUSR)
    assert "permission denied" in refusal(path)


@pytest.mark.parametrize("content", ["", "\n", "  \n\t\n"])
def test_empty_file(tmp_path, content):
    assert "is empty; expected a component file" in refusal(saved(tmp_path, content))


def test_fifty_megabytes_are_refused_unread(tmp_path):
    path = tmp_path / "big.toml"
    with open(path, "wb") as file:
        file.truncate(50_000_000)  # zeros: read, they would be called binary
    started = time.perf_counter()
    message = refusal(path)
    # Reading this much takes tens of milliseconds, parsing it minutes; a look at the size, none.
    assert time.perf_counter() - started < 0.5
    assert "is too large; found '50.0 MB'; expected a text file of at most 2 MB" in message


def test_size_limit_is_where_it_says(tmp_path):
    comment = "#" * (SIZE_LIMIT - 6) + "\na = 1"
    assert read_toml(saved(tmp_path, comment)).data == {"a": 1}
    assert "is too large" in refusal(saved(tmp_path, comment + "\n"))


def test_binary_file(tmp_path):
    assert "is binary, not text; found 'a zero byte at position 1'" in refusal(
        saved(tmp_path, b"a\0b")
    )


def test_spreadsheet_is_called_one(tmp_path):
    assert "is a spreadsheet or ZIP archive" in refusal(saved(tmp_path, b"PK\x03\x04rest"))


def test_byte_order_mark_says_nothing_that_is_not_known(tmp_path):
    path = saved(tmp_path, b"\xef\xbb\xbf" + text_of(ENGINE).encode())
    assert read_engine(path).id
    assert "is empty" in refusal(saved(tmp_path, b"\xef\xbb\xbf \n"))


@pytest.mark.parametrize(
    ("encoding", "said"), [("utf-16", "is UTF-16 text"), ("utf-16-le", "is binary, not text")]
)
def test_utf_16_with_and_without_its_mark(tmp_path, encoding, said):
    assert said in refusal(saved(tmp_path, "a = 1".encode(encoding)))


def test_latin_1_text_names_the_line(tmp_path):
    path = saved(tmp_path, "a = 1\nname = 'Rad für Rad'\n".encode("latin-1"))
    message = refusal(path)
    assert "line 2" in message
    assert "is not UTF-8 text; found 'byte 0xfc'" in message


@pytest.mark.parametrize(
    ("content", "place", "hint"),
    [
        ("a = 1\nb = 1,5\n", "line 2, column 6", "decimal comma? write 1.5"),
        ("a = { unit = 'm', value = 1,5 }", "line 1", "decimal comma? write 1.5"),
        ("a = -0,86", "line 1", "decimal comma? write -0.86"),
        ("a = 1,500", "line 1", "write 1.500; or a thousands separator? write 1500"),
        ("a = [2,20, 2,07, 1,93]", "line 1", "decimal comma? write 2.07"),
        ("a = rpm", "line 1, column 5", 'text stands in quotes: "rpm"'),
        ("a = “rpm”", "line 1, column 5", "curly quotes"),
        ("a = .5", "line 1, column 5", "write 0.5"),
        ("[a]\nb = 1\n[[a]]", "line 3", "double brackets"),
        ("a = 1\na = 2", "line 2", "cannot overwrite a value"),
        ("a = [1, 2", "line 1 (end of file)", "unclosed array"),
        ("a = ", "line 1", "invalid value"),
    ],
)
def test_syntax_error_names_line_and_what_to_do(tmp_path, content, place, hint):
    message = refusal(saved(tmp_path, content))
    assert place in message
    assert "not valid TOML" in message
    assert hint in message


@pytest.mark.parametrize(
    "content",
    [
        "a" + ".a" * 100_000 + " = 1",  # memory grows with the square of such a chain
        "[a" + '."b"' * 5_000 + "]",
        "a = " + "[" * 100_000,
        "a = " + "{a=" * 100_000,
        "a = " + "9" * 5_000,
    ],
    ids=["dotted-key", "dotted-header", "brackets", "braces", "digits"],
)
def test_text_that_is_costly_to_parse_is_refused(tmp_path, content):
    started = time.perf_counter()
    refusal(saved(tmp_path, content))
    assert time.perf_counter() - started < 5.0


def test_dots_in_texts_and_numbers_are_no_nested_keys(tmp_path):
    dots = ", ".join(["1.25"] * 200)
    text = f'a = [{dots}]\nb = "{"." * 100} {"It was measured. Twice. " * 50} 1.2.3.4"\n'
    assert len(read_toml(saved(tmp_path, text)).data["a"]) == 200


def test_shipped_file_is_read_as_it_stands(tmp_path):
    text = text_of(CONVERTER)
    assert read_text(saved(tmp_path, text)) == text
