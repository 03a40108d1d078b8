"""Cursors: where a page ended, signed, so that what comes back is what went out."""

from typing import Any

from itsdangerous import BadData, URLSafeSerializer

from reminder_service.session_secret import session_secret
from reminder_service.web.interface.operations import Call
from reminder_service.web.interface.problems import FieldFault, Problem, shown


def _serializer(call: Call) -> URLSafeSerializer:
    """Of one list alone: a cursor of another is none here."""
    secret = session_secret(call.services.settings)
    return URLSafeSerializer(secret, salt=f"cursor of {call.operation.name}")


def place_written(call: Call, key: tuple[Any, ...]) -> str:
    """A place as a cursor."""
    written = _serializer(call).dumps(list(key))
    return written.decode("ascii") if isinstance(written, bytes) else written


def place_given(call: Call, cursor: str | None) -> tuple[Any, ...] | None:
    """The place of a cursor; None for the beginning.

    Raises
    ------
    Problem
        It is no cursor of this list.
    """
    if cursor is None:
        return None
    try:
        return tuple(_serializer(call).loads(cursor))
    except BadData:
        fault = FieldFault(
            field="query.after",
            value=shown(cursor),
            expected="the `next` of a page of this same list",
        )
        detail = "That cursor leads nowhere: begin without one."
        raise Problem(404, detail, [fault]) from None
