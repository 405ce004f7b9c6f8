"""The schema of a file, as an editor gets it from the command line."""

import json
from pathlib import Path

import jsonschema
import pytest

from converter_match.cli import main
from converter_match.cli.schema import DESCRIPTION
from converter_match.library import schema as models_room
from converter_match.library.schema import FILES


@pytest.mark.parametrize("kind", FILES)
@pytest.mark.slow
def test_prints_a_json_schema_that_asks_for_the_schema_line(kind, capsys):
    assert main(["schema", kind]) == 0
    schema = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["properties"]["schema"] == {"const": f"converter-match/{kind}/1"}
    assert "schema" in schema["required"]


def test_writes_what_it_prints_and_replaces_nothing_unasked(tmp_path, capsys):
    path = tmp_path / "site.json"
    assert main(["schema", "site", "--out", str(path)]) == 0
    assert capsys.readouterr().out == ""
    assert main(["schema", "site"]) == 0
    assert path.read_text(encoding="utf-8") == capsys.readouterr().out
    assert main(["schema", "site", "--out", str(path)]) == 2
    assert "--overwrite" in capsys.readouterr().err


def test_unknown_kind_is_answered_with_the_nearest(capsys):
    assert main(["schema", "convertor"]) == 2
    assert "did you mean 'converter'" in capsys.readouterr().err


def test_help_names_every_kind_that_has_a_model():
    room = Path(models_room.__file__).parent
    models = [
        path.stem.replace("_", "-")
        for path in sorted(room.glob("*.py"))
        if f"class {path.stem.title().replace('_', '')}File(" in path.read_text(encoding="utf-8")
    ]
    assert "engine" in models
    assert f"kinds: {', '.join(models)}" in DESCRIPTION
