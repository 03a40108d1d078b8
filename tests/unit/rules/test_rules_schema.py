"""The schema that editors use, and the rulebooks that are shipped beside it."""

import json
import tomllib

import jsonschema
import pytest
from rules_cast import SMALL

from reminder_service.rules.errors import NoRulebook
from reminder_service.rules.rulebook import rulebook_schema
from reminder_service.rules.shipped import rulebook_folder, shipped_names, shipped_rulebook

SHIPPED_SCHEMA = json.loads((rulebook_folder() / "rulebook.schema.json").read_text("utf-8"))


def test_shipped_schema_is_up_to_date() -> None:
    fresh = json.dumps(rulebook_schema(), indent=2) + "\n"
    shipped = (rulebook_folder() / "rulebook.schema.json").read_text("utf-8")
    assert shipped == fresh, "write rulebook_schema() into rulebook.schema.json, indented by 2"


def test_schema_is_a_valid_one() -> None:
    of_schemas = jsonschema.Draft202012Validator(jsonschema.Draft202012Validator.META_SCHEMA)
    assert list(of_schemas.iter_errors(SHIPPED_SCHEMA)) == []


@pytest.mark.parametrize("name", shipped_names())
def test_shipped_rulebook_meets_the_schema(name: str) -> None:
    text = (rulebook_folder() / f"{name}.toml").read_text("utf-8")
    checker = jsonschema.Draft202012Validator(SHIPPED_SCHEMA)
    assert [fault.message for fault in checker.iter_errors(tomllib.loads(text))] == []


@pytest.mark.parametrize(
    ("old", "new"),
    [("importance = 2", "importance = 12"), ("days = 14", "day = 14"), ("source", "origin")],
    ids=["out of range", "unknown key", "missing key"],
)
def test_schema_refuses_what_the_loader_refuses(old: str, new: str) -> None:
    data = tomllib.loads(SMALL.replace(old, new))
    assert not jsonschema.Draft202012Validator(SHIPPED_SCHEMA).is_valid(data)


@pytest.mark.parametrize("name", shipped_names())
def test_shipped_rulebook_has_the_name_of_its_file(name: str) -> None:
    assert shipped_rulebook(name).head.name == name


def test_maize_by_hand_hoe_is_shipped() -> None:
    assert shipped_rulebook().label == "maize-hand-hoe 5"


def test_rulebook_that_is_not_shipped_is_refused() -> None:
    with pytest.raises(
        NoRulebook, match="rulebook is 'rice', expected one of common-beans, groundnuts"
    ):
        shipped_rulebook("rice")
