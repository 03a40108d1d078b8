"""Each request: its id, one line in the log, and whether this process is ready for any."""

import re
from time import perf_counter
from uuid import uuid4

from flask import Flask, Response, current_app, g, jsonify, request
from sqlalchemy.exc import OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from werkzeug.wrappers import Response as AnyResponse

from reminder_service.log_lines import note_request
from reminder_service.records.engine import is_current
from reminder_service.records.errors import WrongEngine
from reminder_service.web.walls import services

HEADER = "X-Request-ID"
"""Where a proxy in front hands its id over, and where ours is answered."""

_USABLE = re.compile(r"[A-Za-z0-9._-]{8,64}")
_QUIET = frozenset({"health", "ready", "static", "metrics.page"})
"""Asked every few seconds, or told by the page that asks: a line each would bury the rest."""


def install_requests(app: Flask) -> None:
    """Give an app ids for its requests, a log line for each, and the page ``/ready``."""
    app.before_request(_begin)
    app.after_request(_tell)
    app.teardown_request(_end)
    app.add_url_rule("/ready", view_func=ready)


def _begin() -> None:
    given = request.headers.get(HEADER, "")
    g.request_id = given if _USABLE.fullmatch(given) else uuid4().hex
    g.began = perf_counter()
    note_request(g.request_id)


def _tell(response: AnyResponse) -> AnyResponse:
    """Answer the id; log the rule that was asked for, never the address: it may hold a number."""
    given = g.get("request_id")
    if given is None:  # an error before `_begin` ran
        return response
    response.headers[HEADER] = given
    if request.endpoint not in _QUIET:
        current_app.logger.info(
            "answered",
            extra={
                "method": request.method,
                "rule": str(request.url_rule) if request.url_rule else "none",
                "status": response.status_code,
                "took_ms": round((perf_counter() - g.began) * 1000, 1),
            },
        )
    return response


def _end(fault: BaseException | None) -> None:
    note_request(None)


def ready() -> tuple[Response, int]:
    """Whether this process can answer requests: the database is there, its tables are ours."""
    try:
        current = is_current(services().engine)
    except (OperationalError, PoolTimeout, WrongEngine):
        current_app.logger.exception("not ready: the database does not answer")
        return jsonify(ready=False, why="the database does not answer"), 503
    if not current:
        return jsonify(ready=False, why="the tables are not those of this release"), 503
    return jsonify(ready=True, why=None), 200
