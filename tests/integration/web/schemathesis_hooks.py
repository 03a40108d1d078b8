"""Give each made-up write an Idempotency-Key of its own.

Schemathesis says the same word over and over, so all but its first write would be answered with
422. Words that are none, and missing ones, stay as they are.
"""

import re
from uuid import uuid4

import schemathesis

HEADER = "Idempotency-Key"


@schemathesis.hook
def before_call(ctx, case, kwargs) -> None:
    given = (case.headers or {}).get(HEADER)
    if isinstance(given, str) and re.fullmatch(r"[!-~]{1,200}", given):
        case.headers[HEADER] = uuid4().hex
