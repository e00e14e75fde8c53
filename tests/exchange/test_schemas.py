import json
import re
from pathlib import Path

import pytest

from sidelong.exchange.schemas import TABLES, table_schema, write_schemas

SCHEMAS = Path(__file__).parents[2] / "docs" / "schemas"
CONTRACTS = {
    "plans": "trainee night slot position piece_mm site band course version",
    "entries": "trainee night slot position piece_mm rating went_down felt_best course version "
    "written_at written piece why_not scale rated_by source site band",
    "estimates": "trainee position p_best p_first_try expected_rating sd lower upper nights_used "
    "verdict",
    "records": "trainee course site band language referrer referred screened readiness started "
    "finished followed_up success real_medicine lost_reason coach minutes",
}
# Table Schema, Data Package standard 2.0: the types and constraints that it knows (from memory).
TYPES = {"string", "number", "integer", "date", "datetime"}
CONSTRAINTS = {"required", "minimum", "maximum", "exclusiveMinimum", "pattern", "enum"}


def test_published_files_are_those_that_the_columns_give(tmp_path: Path) -> None:
    write_schemas(tmp_path)
    for made in tmp_path.iterdir():
        published = SCHEMAS / made.name
        assert published.read_text(encoding="utf-8") == made.read_text(encoding="utf-8"), (
            f"write docs/schemas again: {made.name}"
        )


@pytest.mark.parametrize("name", CONTRACTS)
def test_columns_begin_as_the_contract_lists_them(name: str) -> None:
    listed = CONTRACTS[name].split()
    assert [field["name"] for field in table_schema(name)["fields"]][: len(listed)] == listed


@pytest.mark.parametrize("name", TABLES)
def test_schema_uses_only_words_of_the_standard(name: str) -> None:
    schema = json.loads((SCHEMAS / f"{name}.json").read_text(encoding="utf-8"))
    assert {field["type"] for field in schema["fields"]} <= TYPES
    used = {key for field in schema["fields"] for key in field["constraints"]}
    assert used <= CONSTRAINTS
    names = [field["name"] for field in schema["fields"]]
    assert len(set(names)) == len(names)
    assert all(set(key) <= set(names) for key in schema["uniqueKeys"])


def test_readme_lists_every_table() -> None:
    text = (SCHEMAS / "README.md").read_text(encoding="utf-8")
    assert set(re.findall(r"\(([a-z]+)\.json\)", text)) == set(TABLES)
