"""docs/study.md says what the code does."""

from __future__ import annotations

import re
from pathlib import Path

from converter_match.library.schema import json_schema
from converter_match.library.study_file import read_study
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import (
    CLAIM_DIMENSIONS,
    TOLERANCE_DIMENSIONS,
    Limits,
)

ROOT = Path(__file__).resolve().parents[3]
DOC = (ROOT / "docs" / "study.md").read_text(encoding="utf-8")


def criteria_table():
    """Return the table as it has to stand in the document."""
    lines = ["| criterion | weight | asks for | thresholds | why |", "|---|---|---|---|---|"]
    for spec in CATALOGUE.values():
        values = []
        for item in spec.thresholds:
            if item.dimension == "temperature_difference":
                number = f"{item.default:g} K"
            else:
                number = f"{100 * item.default:g} %"
            words = "" if item.name == "margin" else f" of {item.words.partition(' share of ')[2]}"
            if item.name in ("efficiency", "up_to"):
                words = f": {item.words}"
            values.append(f"`{item.name}` {number}{words}")
        thresholds = "; ".join(values) or "none"
        lines.append(
            f"| `{spec.name}` | {spec.weight} | {spec.asks} | {thresholds} | {spec.reason} |"
        )
    return "\n".join(lines)


def test_table_of_criteria_is_the_catalogue():
    assert criteria_table() in DOC


def test_every_quantity_and_limit_is_named():
    for name in TOLERANCE_DIMENSIONS:
        assert name in DOC, name
    for name in Limits.__dataclass_fields__:
        assert name in DOC, name
    for name in CLAIM_DIMENSIONS:
        assert name in DOC, name


def test_example_in_the_document_can_be_read(tmp_path):
    text = re.search(r"```toml\n(.*?)```", DOC, re.DOTALL)[1]
    for made_up, shipped in (
        ("engines/old.toml", "six-cylinder-10l5-138kw"),
        ("engines/new.toml", "six-cylinder-7l-185kw"),
        ("sites/harbour.toml", "harbour-cold-morning"),
    ):
        assert made_up in text
        text = text.replace(made_up, shipped)
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    study = read_study(path)
    assert len(study.conditions) == 4
    assert study.claims[0].quantity == "stall-speed"


def test_json_schema_knows_studies():
    schema = json_schema("study")
    assert schema["properties"]["schema"] == {"const": "converter-match/study/1"}
    assert set(schema["required"]) == {"schema", "id", "name", "source", "candidate"}
