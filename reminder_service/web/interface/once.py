"""Writes under an Idempotency-Key: done once, answered the same for a day.

References
----------
draft-ietf-httpapi-idempotency-key-header, The Idempotency-Key HTTP Header Field (from memory).
"""

import json
import re
from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from typing import Any

from flask import request
from sqlalchemy.exc import OperationalError

from reminder_service.records import keys
from reminder_service.records.engine import reading, writing
from reminder_service.web.interface.operations import Call
from reminder_service.web.interface.problems import FieldFault, Problem, shown

HEADER = "Idempotency-Key"

LOST_AFTER = timedelta(minutes=1)
"""After so long without an end, a write is taken for cut off (setting)."""

Answered = tuple[int, Any]
"""Status and the JSON that is answered; of a problem too."""


def key_given() -> str:
    """The key of this call.

    Raises
    ------
    Problem
        There is none, or it cannot be used.
    """
    key = request.headers.get(HEADER)
    if key is None or not re.fullmatch(r"[!-~]{1,200}", key):
        fault = FieldFault(
            field=f"header.{HEADER}",
            value=shown(key or ""),
            expected="1 to 200 letters, digits and marks of ASCII, without a space",
        )
        raise Problem(400, "Every write needs a word of its own, so that it is done once.", [fault])
    return key


def fingerprint(call: Call, body: object) -> str:
    """What tells one write from another."""
    said = [call.operation.name, call.ids, body]
    return sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def done_once(call: Call, body: object, work: Callable[[], Answered]) -> tuple[Answered, bool]:
    """Do a write unless it was done before under the same key.

    A write that fails on our side is forgotten, so that it can be tried again; but one whose end
    the database did not confirm is kept as under way.

    Parameters
    ----------
    call : the call
    body : as it came
    work : does it

    Returns
    -------
    what is answered, and whether it had been done before

    Raises
    ------
    Problem
        The key stands for another write, or for one that is under way.
    """
    engine, now = call.services.engine, call.services.clock()
    key, mark = key_given(), fingerprint(call, body)
    with writing(engine) as c:
        call_id = keys.begin_call(c, call.asking.key.id, key, mark, now)
    if call_id is None:
        return _known(call, key, mark), True
    try:
        status, answer = work()
    except OperationalError:
        raise  # perhaps it was done: whoever asks again must look first
    except Exception:
        with writing(engine) as c:
            keys.drop_call(c, call_id)
        raise
    with writing(engine) as c:
        keys.end_call(c, call_id, status, answer)
    return (status, answer), False


def _known(call: Call, key: str, mark: str) -> Answered:
    with reading(call.services.engine) as c:
        known = keys.known_call(c, call.asking.key.id, key)
    if known is None:
        raise Problem(409, "The first call under this key has just failed: ask again.")
    if known.fingerprint != mark:
        detail = "That Idempotency-Key was used for another write: take a new one for each."
        raise Problem(422, detail)
    if known.status is None:
        lost = call.services.clock() - known.began_at > LOST_AFTER
        detail = (
            "The first call under this key was cut off: look whether it was done, and use a new "
            "key if it was not."
            if lost
            else "The first call under this key is under way: ask again in a moment."
        )
        raise Problem(409, detail, headers={"Retry-After": "2"})
    return known.status, known.answer
