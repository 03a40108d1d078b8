"""Calls that carriers make to us: receipts and inbound texts, kept before they are answered."""

from flask import Blueprint, Response, abort, request

from gateways.errors import Forged, Unreadable
from gateways.protocol import Callback, CalledBack
from reminder_service.web.walls import now, services
from reminder_service.work.events import keep_event

blueprint = Blueprint("carrier", __name__)

LARGEST_CALL = 64 * 1024
"""Bytes of the largest call that is taken (setting)."""


@blueprint.route("/carrier/<route>", methods=["GET", "POST"])
def call(route: str) -> Response:
    """Keep what a carrier's call brings, then say so; it is worked by the next tick.

    A wrong signature answers 401, what cannot be read 400, and neither is kept.
    """
    request.max_content_length = LARGEST_CALL
    gateway = services().gateways.get(route)
    if not isinstance(gateway, CalledBack):
        abort(404)
    if request.method == "HEAD":  # Flask offers it beside GET; no carrier reports by it
        abort(405)
    headers = {name.lower(): value for name, value in request.headers.items()}
    callback = Callback(
        request.method, headers, request.query_string.decode("latin-1"), request.get_data(), now()
    )
    try:
        events = gateway.events(callback)
    except Forged:
        abort(401)
    except Unreadable:
        abort(400)
    for event in events:
        keep_event(services(), route, event)
    return Response(status=204)
