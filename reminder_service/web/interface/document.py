"""The OpenAPI 3.1 document, made from the operations and their models."""

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from reminder_service.web.interface.operations import OPERATIONS, Operation
from reminder_service.web.interface.problems import PROBLEM_TYPE, TITLES, ProblemOut
from reminder_service.work.program_keys import KeyScope

PREFIX = "/api/v1"
REF = "#/components/schemas/{model}"

Json = dict[str, Any]

READ_PROBLEMS = (400, 401, 403, 404, 429, 500, 503)
WRITE_PROBLEMS = (400, 401, 403, 404, 409, 413, 415, 422, 429, 500, 503)

IDEMPOTENCY: Json = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": True,
    "description": (
        "A word of your own for this write. The same word with the same write within a day "
        "answers the same again and does nothing twice; with another write it answers 422, and "
        "409 while the first is under way."
    ),
    "schema": {"type": "string", "pattern": "^[!-~]{1,200}$"},
}


def document(programme: str) -> Json:
    """The whole document.

    Parameters
    ----------
    programme : what farmers know the programme as
    """
    schemas, of = _schemas()
    paths: Json = {}
    for operation in OPERATIONS:
        described = _operation(operation, of, schemas)
        paths.setdefault(PREFIX + operation.path, {})[operation.method.lower()] = described
    return {
        "openapi": "3.1.0",
        "info": {
            "title": f"{programme}: field reminders",
            "version": "1",
            "description": (
                "Wards, farmers, plots, tasks, reports, notices and rain of one programme. Keys "
                "are made on the page Keys for other programs; a key sees its wards only. Lists "
                "come page by page: give `next` as `after`. Every error is a problem (RFC 9457)."
            ),
        },
        "servers": [{"url": "/"}],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": {
                "key": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "Scopes: " + ", ".join(KeyScope) + ".",
                }
            },
            "responses": {str(code): _problem(code) for code in sorted(TITLES)},
        },
    }


def _schemas() -> tuple[Json, dict[type[BaseModel], Json]]:
    """Schemas of all models by name, and how each model is referred to."""
    coming = {op.body for op in OPERATIONS if op.body} | {op.query for op in OPERATIONS}
    going = {op.answer for op in OPERATIONS} | {ProblemOut}
    wanted: list[tuple[type[BaseModel], Any]] = [(each, "validation") for each in _named(coming)]
    wanted += [(each, "serialization") for each in _named(going)]
    refs, found = models_json_schema(wanted, ref_template=REF)
    by_name = {key[0].__name__: ref for key, ref in refs.items()}
    return found["$defs"], {model: by_name[model.__name__] for model in coming | going}


def _named(models: set[type[BaseModel]]) -> list[type[BaseModel]]:
    return sorted(models, key=lambda model: model.__name__)


def _problem(code: int) -> Json:
    content = {PROBLEM_TYPE: {"schema": {"$ref": REF.format(model="ProblemOut")}}}
    return {"description": TITLES[code], "content": content}


def _operation(operation: Operation, of: dict[type[BaseModel], Json], schemas: Json) -> Json:
    problems = READ_PROBLEMS if operation.body is None else WRITE_PROBLEMS
    answers: Json = {
        str(operation.status): {
            "description": operation.summary,
            "content": {"application/json": {"schema": of[operation.answer]}},
        }
    }
    if operation.body is None:
        answers["304"] = {"description": "Nothing changed since the ETag in If-None-Match"}
    answers |= {str(code): {"$ref": f"#/components/responses/{code}"} for code in problems}
    described: Json = {
        "operationId": operation.name,
        "summary": operation.summary,
        "security": [{"key": [operation.scope.value]}],
        "parameters": list(_parameters(operation, of, schemas)),
        "responses": answers,
    }
    if operation.body is not None:
        content = {"application/json": {"schema": of[operation.body]}}
        described["requestBody"] = {"required": True, "content": content}
    return described


def _parameters(
    operation: Operation, of: dict[type[BaseModel], Json], schemas: Json
) -> Iterator[Json]:
    for name in operation.ids:
        schema = {"type": "integer", "minimum": 1, "maximum": 2**53 - 1}
        yield {"name": name, "in": "path", "required": True, "schema": schema, "example": 1}
    query = schemas[of[operation.query]["$ref"].rpartition("/")[2]]
    for name, schema in query.get("properties", {}).items():
        yield {"name": name, "in": "query", "required": False, "schema": _given(schema)}
    if operation.body is not None:
        yield IDEMPOTENCY


def _given(schema: Json) -> Json:
    """A query's part as it may be given: left out, never null."""
    kept = {key: value for key, value in schema.items() if key not in ("anyOf", "default")}
    if schema.get("default") is not None:
        kept["default"] = schema["default"]
    choices = [each for each in schema.get("anyOf", []) if each != {"type": "null"}]
    return kept | choices[0] if choices else kept
