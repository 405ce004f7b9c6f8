"""The reference of the file formats is what the reader goes by, and reads every shipped file."""

import json
import tomllib

import jsonschema
import pytest

from benchmarks.pages import write_between
from converter_match.library.schema import FILES as KINDS
from converter_match.library.shipped import data_folder
from converter_match.units import DIMENSIONS, spellings
from tests.docs.formats import (
    COMMAND,
    SCHEMAS,
    Table,
    columns_table,
    files,
    model_of,
    sizes_table,
    tables_of,
    units_page,
)

FILES = files()
DATA = data_folder()
USUAL = SCHEMAS.parents[1] / "docs" / "formats" / "what-is-usual.md"
SHIPPED = sorted(path.relative_to(DATA).as_posix() for path in DATA.glob("*/*.toml"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_generated_file_is_what_the_models_say(path, request):
    if request.config.getoption("write_formats"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(FILES[path], encoding="utf-8", newline="\n")
    assert path.exists(), f"not written yet: {COMMAND}"
    stands = path.read_text(encoding="utf-8")
    if path.suffix == ".json":  # the order of keys is that of the library that writes them
        assert json.loads(stands) == json.loads(FILES[path]), f"out of date: {COMMAND}"
    else:
        assert stands == FILES[path], f"out of date: {COMMAND}"


def test_sizes_that_are_held_against_each_other_are_those_of_the_code(request):
    if request.config.getoption("write_formats"):
        write_between(USUAL, "sizes", sizes_table())
    assert sizes_table() in USUAL.read_text(encoding="utf-8"), f"out of date: {COMMAND}"


def test_columns_that_are_asked_about_are_those_of_the_code(request):
    if request.config.getoption("write_formats"):
        write_between(USUAL, "columns", columns_table())
    assert columns_table() in USUAL.read_text(encoding="utf-8"), f"out of date: {COMMAND}"


def test_no_page_or_schema_stands_for_a_kind_that_is_gone():
    generated = {path.name for path in FILES}
    assert {path.name for path in SCHEMAS.glob("*.json")} <= generated
    pages = {path.name for path in (SCHEMAS.parents[1] / "docs" / "formats").glob("*.md")}
    assert pages == {name for name in generated if name.endswith(".md")} | {"index.md", USUAL.name}


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_file_conforms_to_the_schema_that_is_shipped_with_it(name):
    found = tomllib.loads((DATA / name).read_text(encoding="utf-8"))
    kind = found["schema"].split("/")[1]
    schema = json.loads((SCHEMAS / f"{kind}-1.schema.json").read_text(encoding="utf-8"))
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(found)) == []


def test_every_kind_of_file_has_a_shipped_example_or_says_where_one_is():
    kinds = {tomllib.loads((DATA / name).read_text(encoding="utf-8"))["schema"].split("/")[1]
             for name in SHIPPED}  # fmt: skip
    assert set(KINDS) - kinds == {"surfaces"}  # docs/tractive.md shows one


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_says_what_it_means(kind):
    silent = [key.path for table in tables_of(model_of(kind)) for key in table.keys
              if not key.meaning.strip()]  # fmt: skip
    assert silent == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_table_of_a_file_has_its_heading(kind):
    page = FILES[SCHEMAS.parents[1] / "docs" / "formats" / f"{kind}.md"]
    for table in tables_of(model_of(kind)):
        assert isinstance(table, Table)
        if table.path not in ("note", "unsmoothed"):
            assert f"## {table.heading}\n" in page


def test_every_spelling_of_a_unit_is_listed():
    page = units_page()
    for dimension in set(DIMENSIONS) - {"k_factor", "capacity_coefficient"}:
        for spelling in spellings(dimension):
            assert not spelling or f"`{spelling}`" in page
