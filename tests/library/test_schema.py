"""The JSON Schema says the same as the reader."""

import tomllib

import jsonschema
import pytest

from converter_match.errors import InputError
from converter_match.library.read import KINDS
from converter_match.library.schema import json_schema
from tests.library.sheets import CONVERTER, ENGINE, NAMES, SITE, changed, text_of

KIND = {"converters": "converter", "engines": "engine", "sites": "site"}


def complaints(kind, text):
    return list(jsonschema.Draft202012Validator(json_schema(kind)).iter_errors(tomllib.loads(text)))


@pytest.mark.parametrize("kind", sorted(set(KINDS) & set(KIND.values())))
def test_is_a_json_schema(kind):
    jsonschema.Draft202012Validator.check_schema(json_schema(kind))


@pytest.mark.parametrize(("kind", "name"), NAMES)
def test_shipped_file_conforms(kind, name):
    assert complaints(KIND[kind], text_of((kind, name))) == []


@pytest.mark.parametrize(
    ("sheet", "change"),
    [
        (CONVERTER, ('{ unit = "mm", value = 345 }', "345")),
        (CONVERTER, ("torque_ratio", "torqe_ratio")),
        (CONVERTER, ('stator = "one-way"', 'stator = "oneway"')),
        (CONVERTER, ("converter/1", "converter/2")),
        (ENGINE, ('low_idle = { unit = "rpm", value = 800 }\n', "")),
        (ENGINE, ('{ unit = "rpm", value = 800 }', '{ unit = "rpm", value = "800" }')),
        (ENGINE, ('schema = "converter-match/engine/1"\n', "")),
        (SITE, ("altitude", "altitud")),
    ],
)
def test_bad_file_does_not(sheet, change):
    assert complaints(KIND[sheet[0]], changed(sheet, change))


def test_unknown_kind_is_refused():
    with pytest.raises(InputError, match="did you mean 'engine'"):
        json_schema("engin")
