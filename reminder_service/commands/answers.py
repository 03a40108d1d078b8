"""How every door answers: one result, printed for people or as one JSON document."""

import io
import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Generic, TypeVar

import click
from pydantic import BaseModel, ConfigDict, ValidationError

Value = Mapping[str, object]
"""What a door answers in JSON: plain values under stable keys."""

json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
lines_option = click.option(
    "--lines", is_flag=True, help="Take one JSON request a line on standard input."
)


class BadInput(ValueError):
    """Something given to a door cannot be used."""

    def __init__(self, field: str, got: object, expected: str) -> None:
        super().__init__(f"{field} is {got!r}, expected {expected}")
        self.field = field
        self.got = got
        self.expected = expected


class Request(BaseModel):
    """What one door takes, whether as options or as one line of JSON."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


RequestType = TypeVar("RequestType", bound=Request)
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Door(Generic[RequestType, Result]):
    """One stable command.

    Attributes
    ----------
    request : what it takes
    result : works out the result of a request; raises `BadInput` or another ``ValueError``
    value : JSON form of a result
    text : the same for people
    """

    request: type[RequestType]
    result: Callable[[RequestType], Result]
    value: Callable[[Result], Value]
    text: Callable[[Result], str]

    def run(self, given: Mapping[str, object], as_json: bool) -> None:
        """Answer one request on standard output; options left out count as not given."""
        result = self._result({name: got for name, got in given.items() if got is not None})
        click.echo(dumped(self.value(result)) if as_json else self.text(result))

    def run_lines(self) -> None:
        """Answer one JSON request a line, in order; a bad line answers ``{"error": …}``."""
        if isinstance(sys.stdin, io.TextIOWrapper):
            # Bytes that are no UTF-8 spoil their own line, not the ones that follow.
            sys.stdin.reconfigure(encoding="utf-8", errors="surrogateescape")
        for line in sys.stdin:
            if line.strip():
                click.echo(dumped(self._line(line)))
                sys.stdout.flush()

    def _line(self, line: str) -> Value:
        try:
            given = json.loads(line)
        except (ValueError, RecursionError) as fault:
            return {"error": f"this line is no JSON: {fault}"}
        if not isinstance(given, dict):
            return {"error": f"this line is {given!r}, expected one JSON object"}
        try:
            return self.value(self._result(given))
        except ValueError as fault:
            return {"error": str(fault)}

    def _result(self, given: Mapping[str, object]) -> Result:
        try:
            request = self.request.model_validate(given)
        except ValidationError as fault:
            raise _bad_input(fault, given) from fault
        return self.result(request)


def _bad_input(fault: ValidationError, given: Mapping[str, object]) -> BadInput:
    """The first thing wrong in a request."""
    first = fault.errors()[0]
    path = ".".join(str(part) for part in first["loc"]) or "the request"
    got = dict(given) if first["type"] == "missing" else first["input"]
    return BadInput(path, got, first["msg"].removeprefix("Value error, "))


def _plain(value: object) -> object:
    """JSON form of what is not plain: ISO dates and instants."""
    if isinstance(value, date | datetime):
        return value.isoformat()
    raise TypeError(f"{value!r} has no JSON form")


def dumped(value: Value) -> str:
    """One line of JSON."""
    return json.dumps(value, default=_plain, ensure_ascii=False)
