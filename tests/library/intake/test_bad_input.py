import io
import os
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.library.intake.mapping import read_mapping
from converter_match.library.intake.reading import intake, intake_text
from converter_match.library.intake.upload import save_upload

TABLE = "speed ratio,torque ratio,K [rpm/sqrt(N.m)]\n0,2.2,62\n0.5,1.5,63\n0.9,1,75\n0.95,1,99\n"


def saved(folder, content, name="sheet.csv"):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def workbook(folder, rows=(), name="sheet.xlsx", change=None):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    raw = stream.getvalue()
    if change is not None:
        raw = change(raw)
    return saved(folder, raw, name)


def repacked(raw, **parts):
    """Return a workbook with parts added or replaced."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(raw)) as old,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            if part not in parts:
                new.writestr(part, old.read(part))
        for part, content in parts.items():
            new.writestr(part, content)
    return stream.getvalue()


ROWS = [["speed ratio", "torque ratio", "K [rpm/sqrt(N.m)]"], [0, 2.2, 62], [0.5, 1.5, 63],
        [0.9, 1, 75], [0.95, 1, 99]]  # fmt: skip


def refusal(path, **more):
    with pytest.raises(InputError) as caught:
        intake(path, **more)
    text = str(caught.value)
    assert os.path.basename(path) in text
    assert "\n" not in text
    return text


def test_file_of_a_gigabyte_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(10**9)  # sparse: takes no room
    assert "is too large; found '1000.0 MB'" in refusal(path)


@pytest.mark.slow
def test_packing_bomb_is_refused_by_what_it_would_unpack_to(tmp_path):
    bomb = b"<a>" + b" " * 80_000_000 + b"</a>"
    path = workbook(
        tmp_path, ROWS, change=lambda raw: repacked(raw, **{"xl/worksheets/sheet9.xml": bomb})
    )
    assert path.stat().st_size < 200_000
    assert "would unpack to too much" in refusal(path)


def test_small_bomb_is_refused_by_its_ratio(tmp_path):
    bomb = b" " * 5_000_000
    path = workbook(tmp_path, ROWS, change=lambda raw: repacked(raw, **{"xl/media/a.xml": bomb}))
    assert "would unpack to too much" in refusal(path)


def test_entities_in_a_workbook_are_refused(tmp_path):
    laughs = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "cc">]><a>&b;</a>'
    path = workbook(tmp_path, ROWS, change=lambda raw: repacked(raw, **{"xl/odd.xml": laughs}))
    assert "XML entity declarations" in refusal(path)


@pytest.mark.parametrize("part", ["xl/vbaProject.bin", "xl/macrosheets/sheet1.xml"])
def test_macros_are_refused_whatever_the_file_is_called(tmp_path, part):
    path = workbook(tmp_path, ROWS, change=lambda raw: repacked(raw, **{part: b"<x/>"}))
    assert "carries macros" in refusal(path)


def test_workbook_that_says_it_has_macros_is_refused(tmp_path):
    def change(raw):
        with zipfile.ZipFile(io.BytesIO(raw)) as old:
            types = old.read("[Content_Types].xml")
        said = types.replace(b"spreadsheetml.sheet.main", b"sheet.macroEnabled.main")
        return repacked(raw, **{"[Content_Types].xml": said})

    assert "workbook with macros" in refusal(workbook(tmp_path, ROWS, change=change))


@pytest.mark.parametrize("ending", ["xlsm", "xlsb", "xls"])
def test_other_workbooks_are_refused_by_name(tmp_path, ending):
    text = refusal(workbook(tmp_path, ROWS, name=f"sheet.{ending}"))
    assert "save it as XLSX or CSV" in text


def test_formula_without_a_stored_value_is_an_error_at_its_cell(tmp_path):
    rows = [*ROWS, ["=A5+0.02", 1, 120]]
    draft = intake(workbook(tmp_path, rows), stator="one-way")
    assert [each.where for each in draft.errors if each.code == "formula-without-value"] == ["A6"]
    assert [each.row for each in draft.rejected] == [6]


def test_stored_value_of_a_formula_is_taken_and_said(tmp_path):
    def change(raw):
        with zipfile.ZipFile(io.BytesIO(raw)) as old:
            sheet = old.read("xl/worksheets/sheet1.xml").decode()
        assert "<f>A5+0.02</f><v" in sheet
        # openpyxl writes the empty value in one of three ways, as lxml is there or not.
        for empty in ("<v />", "<v/>", "<v></v>"):
            sheet = sheet.replace(f"<f>A5+0.02</f>{empty}", "<f>A5+0.02</f><v>0.97</v>")
        return repacked(raw, **{"xl/worksheets/sheet1.xml": sheet})

    path = workbook(tmp_path, [*ROWS, ["=A5+0.02", 1, 120]], change=change)
    draft = intake(path, stator="one-way")
    assert draft.accept().speed_ratio[-1] == 0.97
    [said] = [each for each in draft.problems if each.code == "formulas"]
    assert "A6" in said.message


def test_formula_in_a_text_file_is_never_more_than_text():
    draft = intake_text(TABLE + "=1+1,1,130\n", stator="one-way")
    assert draft.rejected[0].why == "speed ratio: '=1+1' is not a number"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"   \n\n", "is empty"),
        (b"\x7fELF" + bytes(200), "is binary"),
        (bytes(range(256)) * 10, "is binary"),
        (b"speed ratio\x01;torque ratio\n0;1\n", "control character"),
        (b"PK\x03\x04" + b"junk" * 50, "damaged workbook"),
        (b"\xd0\xcf\x11\xe0" + bytes(600), "old or a protected office file"),
        (b"%PDF-1.4 ...", "is a PDF"),
        (b"\x89PNG\r\n", "is a picture"),
        (b"\xff\xfea", "begins like UTF-16 but is not"),
        (b"caf\x81 \x8d\n1;2\n", "neither UTF-8 nor Windows-1252"),
        (b"one line of words", "no row of headings"),
        (b"1;2;3\n4;5;6\n", "no row of headings"),
        (b"a,b\n" * 30_000, "too large a table"),
        (b'speed ratio,"' + b"x" * 200_000, "cannot be divided"),
    ],
)
def test_what_is_no_sheet_is_refused_in_one_line(tmp_path, content, said):
    assert said in refusal(saved(tmp_path, content))


def test_wide_and_long_tables_are_refused():
    with pytest.raises(InputError, match="too large a table"):
        intake_text(";".join(["1"] * 300) + "\n" + ";".join(["2"] * 300))


def test_zip_that_is_no_workbook_is_refused(tmp_path):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("readme.txt", "hello")
    assert "not an XLSX workbook" in refusal(saved(tmp_path, stream.getvalue(), "a.xlsx"))


def test_missing_file_names_its_neighbours(tmp_path):
    saved(tmp_path, TABLE, "sheet.csv")
    assert "did you mean 'sheet.csv'?" in refusal(tmp_path / "shet.csv")


def test_sheet_far_to_the_right_and_far_down_is_not_unpacked_into_memory(tmp_path):
    book = openpyxl.Workbook()
    book.active["XFD1048576"] = 1
    for row in ROWS:
        book.active.append(row)
    book.save(tmp_path / "far.xlsx")
    with pytest.raises(InputError):
        intake(tmp_path / "far.xlsx")


def test_unknown_sheet_column_row_and_answer_are_refused(tmp_path):
    path = workbook(tmp_path, ROWS)
    assert "there is no such sheet" in refusal(path, sheet="Shet")
    assert "there is no such column" in refusal(path, units={"L": "N.m"})
    assert "there is no row of numbers" in refusal(path, leave_out=99)
    assert "a column cannot be this" in refusal(path, columns={"1": "speed_ration"})
    with pytest.raises(InputError, match="did you mean 'profile_diameter'"):
        intake(path, profil_diameter="345 mm")
    with pytest.raises(InputError, match="not a known choice"):
        intake(path, stator="oneway")


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.binary(max_size=400))
def test_any_bytes_are_a_draft_or_one_clear_refusal(tmp_path, raw):
    path = saved(tmp_path, raw)
    said = ""
    try:
        intake(path).text()
    except InputError as error:
        said = str(error)
    assert "\n" not in said


CELLS = st.sampled_from(
    ["0", "0.5", "1", "2,2", "1.234", "x", "", "-", "85 %", "inf", "speed ratio", "SR", "K",
     "torque", "rpm", "[Nm]", "power kW", "1e308", "9" * 30, "=A1", "at 1700 rpm", "\u221e"]
)  # fmt: skip


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=1, max_size=5), min_size=1, max_size=8))
def test_any_cells_are_a_draft_or_one_clear_refusal(rows):
    try:
        draft = intake_text("\n".join(";".join(row) for row in rows), stator="one-way")
    except InputError:
        return
    draft.text()
    draft.to_dict()
    if not draft.open:
        draft.accept()


@pytest.mark.parametrize(
    "name",
    ["../sheet.csv", "..\\sheet.csv", "/etc/sheet.csv", "C:sheet.csv", "a/b.csv", ".hidden.csv",
     "sheet.csv\0.png", "", "  ", "nul.csv", "COM1.csv", "sheet.exe", "x" * 200 + ".csv",
     "sheet\u202e.csv", "sheet.csv ", "..", "a:b.csv"],
)  # fmt: skip
def test_uploaded_name_cannot_leave_the_folder(tmp_path, name):
    home = tmp_path / "home"
    home.mkdir()
    with pytest.raises(InputError, match="a name that is not taken"):
        save_upload(name, b"1;2", home)
    assert [path.name for path in tmp_path.rglob("*")] == ["home"]


def test_upload_does_not_follow_a_link_out_of_the_folder_nor_replace_a_file(tmp_path):
    home, outside = tmp_path / "home", tmp_path / "outside.csv"
    home.mkdir()
    outside.write_text("mine", encoding="utf-8")
    (home / "sheet.csv").symlink_to(outside)
    with pytest.raises(InputError, match="leads out of its folder"):
        save_upload("sheet.csv", b"1;2", home, overwrite=True)
    assert outside.read_text(encoding="utf-8") == "mine"
    saved_file = save_upload("other.csv", b"1;2", home)
    assert saved_file.read_bytes() == b"1;2"
    with pytest.raises(InputError, match="is there already"):
        save_upload("other.csv", b"3;4", home)
    with pytest.raises(InputError, match="is too large"):
        save_upload("big.csv", bytes(10_000_001), home)


def test_mapping_file_that_leads_nowhere_is_refused(tmp_path):
    path = saved(tmp_path, '[columns]\n"Wandlung" = "torque_ration"\n', "map.toml")
    with pytest.raises(InputError, match="did you mean 'torque_ratio'"):
        read_mapping(path)
    path = saved(tmp_path, '[column]\n"Wandlung" = "torque_ratio"\n', "map.toml")
    with pytest.raises(InputError, match="unknown table"):
        read_mapping(path)
    path = saved(tmp_path, '[units]\n"Fuss" = "feets"\n', "map.toml")
    with pytest.raises(InputError, match="unknown unit"):
        read_mapping(path)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("speed ratio;torque ratio;K\n0;2.2;x\n", "too-few-rows"),
        ("rpm;Nm;bsfc\n-;-;-\n0;660;x\n1000;x;x\n", "too-few-rows"),
        ("rpm;Nm\n0;660\n1000;700\n1400;650\n", "speed-not-above-zero"),
        (f"rpm;Nm\n800;660\n1000;{'9' * 30}\n1400;650\n", "row-rejected"),
    ],
)
def test_absurd_tables_are_errors_at_their_place_and_nothing_overflows(text, code):
    facts = {"rating_basis": "net", "governing": "speed", "low_idle": "500 rpm",
             "rated_speed": "1400 rpm", "high_idle": "1500 rpm"}  # fmt: skip
    draft = intake_text(text, smooth=True, **(facts if "rpm" in text else {}))
    assert code in {problem.code for problem in draft.open}
