"""Each call as it comes in: key, pace, scope, query, body, work, answer."""

import json
from functools import partial
from typing import NoReturn

from flask import Blueprint, Flask, Response, current_app, jsonify, request
from pydantic import BaseModel, ValidationError
from sqlalchemy.exc import OperationalError
from werkzeug.exceptions import HTTPException

from reminder_service.records.engine import reading
from reminder_service.records.errors import NotFound
from reminder_service.settings import Settings
from reminder_service.web.interface import reading as reading_calls
from reminder_service.web.interface import writing as writing_calls
from reminder_service.web.interface.document import PREFIX, document
from reminder_service.web.interface.once import Answered, done_once
from reminder_service.web.interface.operations import OPERATIONS, Call, Operation
from reminder_service.web.interface.pace import Pace
from reminder_service.web.interface.problems import (
    FieldFault,
    Problem,
    faults_of,
    of_http,
    of_missing,
    of_records,
    problem_answer,
    shown,
)
from reminder_service.web.walls import services
from reminder_service.work.program_keys import Asking, asking_by

BLUEPRINT = "interface"
PACE = "interface pace"
CALLS = (reading_calls, writing_calls)
"""Modules whose functions offer themselves as calls when they are imported."""


def install_interface(app: Flask, settings: Settings) -> Blueprint:
    """Give an app the interface for other programs; answers it, to be freed of form tokens."""
    made = Blueprint(BLUEPRINT, __name__)
    for operation in OPERATIONS:
        made.add_url_rule(
            PREFIX + operation.rule,
            operation.name,
            partial(_answered, operation),
            methods=[operation.method],
            provide_automatic_options=False,
        )
    made.add_url_rule("/api/openapi.json", "document", _document)
    made.register_error_handler(Problem, problem_answer)
    made.register_error_handler(HTTPException, of_http)
    made.register_error_handler(OperationalError, of_records)
    made.register_error_handler(NotFound, of_missing)
    app.extensions[PACE] = Pace(settings.calls_per_minute)
    app.register_blueprint(made)
    return made


def _document() -> Response:
    return jsonify(document(services().settings.programme))


def _answered(operation: Operation, **ids: int) -> Response:
    asking = _asking()
    wait_s = current_app.extensions[PACE].wait_s(asking.key.id)
    if wait_s:
        detail = f"This key has made too many calls: wait {wait_s} s."
        raise Problem(429, detail, headers={"Retry-After": str(wait_s)})
    if operation.scope.value not in asking.key.scopes:
        raise Problem(403, f"The key has no scope {operation.scope.value}.")
    call = Call(services(), asking, operation, ids)
    query = _query(operation.query)
    if operation.body is None:
        with reading(call.services.engine) as c:
            found = operation.done(c, call, query)
        answer = _json(200, found.model_dump_json())
        answer.add_etag()
        answer.make_conditional(request)
        return answer
    body = _body(operation.body)
    (status, said), before = done_once(call, body[1], partial(_written, call, body[0]))
    answer = _json(status, json.dumps(said))
    if status >= 400:
        answer.headers["Content-Type"] = "application/problem+json"
    if before:
        answer.headers["Idempotency-Replayed"] = "true"
    return answer


def _json(status: int, text: str) -> Response:
    return Response(text, status, content_type="application/json")


def _written(call: Call, body: BaseModel) -> Answered:
    """Do a write; what stands in its way is an answer too, and kept like one."""
    try:
        answer = call.operation.done(call, body)
    except Problem as problem:
        return problem.status, problem.as_model().model_dump(mode="json")
    return call.operation.status, answer.model_dump(mode="json")


def _asking() -> Asking:
    scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
    asking = asking_by(services(), secret.strip()) if scheme.lower() == "bearer" else None
    if asking is None:
        detail = (
            "Send `Authorization: Bearer` with a key that is made on the page Keys for other "
            "programs and has neither ended nor expired."
        )
        raise Problem(401, detail, headers={"WWW-Authenticate": "Bearer"})
    return asking


def _query(model: type[BaseModel]) -> BaseModel:
    given: dict[str, str] = {}
    for name, values in request.args.lists():
        if len(values) > 1:
            fault = FieldFault(
                field=f"query.{shown(name)}", value=shown(values), expected="one value"
            )
            raise Problem(400, "A part of the query was given twice.", [fault])
        given[name] = values[0]
    try:
        return model.model_validate(given)
    except ValidationError as error:
        detail = "The query is not as described: see which parts."
        raise Problem(400, detail, faults_of(error, "query")) from None


def _body(model: type[BaseModel]) -> tuple[BaseModel, object]:
    """The body as a model, and as it came."""
    if request.mimetype != "application/json":
        fault = FieldFault(
            field="header.Content-Type", value=shown(request.mimetype), expected="application/json"
        )
        raise Problem(415, "Send the body as JSON.", [fault])
    try:
        given = json.loads(request.get_data().decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        fault = FieldFault(field="body", value="", expected="one JSON document in UTF-8")
        raise Problem(400, "The body is no JSON.", [fault]) from None
    try:
        return model.model_validate(given), given
    except ValidationError as error:
        detail = "The body is not as described: see which parts."
        raise Problem(400, detail, faults_of(error, "body")) from None


def _no_number(word: str) -> NoReturn:
    """JSON knows no NaN and no infinity (RFC 8259, section 6)."""
    raise ValueError(f"{word} is no number")
