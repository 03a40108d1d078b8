"""What went wrong, as RFC 9457 has it: one JSON object that a program can act on."""

from collections.abc import Mapping, Sequence

from flask import Response, current_app
from pydantic import BaseModel, Field, ValidationError
from sqlalchemy.exc import OperationalError
from werkzeug.exceptions import HTTPException, MethodNotAllowed

from reminder_service.records.errors import NotFound

PROBLEM_TYPE = "application/problem+json"

TITLES = {
    400: "The request cannot be understood",
    401: "No key, or one that opens nothing",
    403: "The key does not allow this",
    404: "There is no such thing here for this key",
    405: "This address takes no such method",
    409: "It cannot be done as things stand",
    413: "That was too much at once",
    415: "The body must be JSON",
    422: "The Idempotency-Key was used for something else",
    429: "Too many calls",
    500: "Something went wrong on our side",
    503: "The records cannot be reached",
}
"""What each status means here; programs tell problems apart by it."""

SHOWN = 100
"""Most letters of a wrong value that are shown again (setting)."""


class FieldFault(BaseModel):
    """One part of a request that is wrong."""

    field: str = Field(description="Where it stands, such as query.limit or body.on")
    value: str = Field(description="As it came, cut short; empty if it was missing")
    expected: str = Field(description="What is allowed")


class ProblemOut(BaseModel):
    """A problem (RFC 9457); `type` is about:blank, so `status` tells problems apart."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[FieldFault] = []


class Problem(Exception):
    """An answer that is a problem.

    Attributes
    ----------
    status : of HTTP
    detail : what happened and what to do
    faults : parts of the request that are wrong
    headers : further headers
    """

    def __init__(
        self,
        status: int,
        detail: str,
        faults: Sequence[FieldFault] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.status = status
        self.detail = detail
        self.faults = tuple(faults)
        self.headers = dict(headers or {})

    def as_model(self) -> ProblemOut:
        """The object that is answered."""
        return ProblemOut(
            type="about:blank",
            title=TITLES[self.status],
            status=self.status,
            detail=self.detail,
            errors=list(self.faults),
        )


def problem_answer(problem: Problem) -> Response:
    """A problem as an answer."""
    answer = Response(problem.as_model().model_dump_json(), problem.status)
    answer.headers.update(problem.headers)
    answer.headers["Content-Type"] = PROBLEM_TYPE
    return answer


def faults_of(error: ValidationError, where: str) -> list[FieldFault]:
    """Every fault that a model found, in the words of the one who sent it.

    Parameters
    ----------
    error : of pydantic
    where : ``query``, ``body`` or ``header``
    """
    return [
        FieldFault(
            field=".".join([where, *map(str, each["loc"])]),
            value="" if each["type"] == "missing" else shown(each["input"]),
            expected=each["msg"],
        )
        for each in error.errors(include_url=False, include_context=False)
    ]


def shown(value: object) -> str:
    """A value as it came, cut short and without what no text can hold."""
    return str(value)[:SHOWN].encode("utf-8", "replace").decode("utf-8")


def of_http(error: HTTPException) -> Response:
    """An error of the web server's as a problem."""
    code = error.code or 500
    if code < 400:
        return Response(error.get_response().response, code)
    status = code if code in TITLES else (400 if code < 500 else 500)
    headers = {}
    if isinstance(error, MethodNotAllowed):
        headers["Allow"] = ", ".join(sorted(error.valid_methods or ()))
    return problem_answer(Problem(status, _advice(status), headers=headers))


def _advice(status: int) -> str:
    match status:
        case 404:
            return "Look the address up in /api/openapi.json."
        case 405:
            return "The methods that this address takes stand in the header Allow."
        case 413:
            return "Send less in one call."
        case 500:
            return "Nothing was half done. Try again; if it happens again, tell us the time."
    return "Look the call up in /api/openapi.json."


def of_records(error: OperationalError) -> Response:
    """A database that does not answer, as a problem; the log says why."""
    current_app.logger.exception("the database failed", exc_info=error)
    detail = "Nothing can be read or written now: try again in a minute."
    return problem_answer(Problem(503, detail, headers={"Retry-After": "60"}))


def of_missing(error: NotFound) -> Response:
    """A row that went, as a problem."""
    return problem_answer(Problem(404, str(error)))
