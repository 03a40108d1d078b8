"""Routes: how each carrier fares, and a test text by one of them."""

from datetime import timedelta
from uuid import uuid4

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from gateways.errors import GatewayError
from gateways.protocol import Outgoing
from reminder_service.records import audit, route_health
from reminder_service.records.engine import reading, writing
from reminder_service.records.tables import Role
from reminder_service.web.said import say
from reminder_service.web.walls import now, person, services
from reminder_service.work.receive import e164

blueprint = Blueprint("routes", __name__)

TEST_LIFE = timedelta(hours=1)
"""How long a test text is worth sending (setting)."""


@blueprint.get("/routes")
def page() -> str:
    """Every route with whom it serves, its pace, and whether it is well."""
    with reading(services().engine) as c:
        fares = route_health.healths(c, [route.name for route in services().routes])
    return render_template(
        "routes.html",
        routes=services().routes,
        fares=fares,
        now=now(),
        may_test=person().role == Role.PROGRAMME_LEAD,
    )


@blueprint.post("/routes/<name>/test")
def test(name: str) -> ResponseReturnValue:
    """Send one test text at once, past the queue, and tell what the carrier answered."""
    if person().role != Role.PROGRAMME_LEAD:
        abort(403)
    gateway = services().gateways.get(name) or abort(404)
    number = e164(request.form.get("number", ""), services().settings.default_region)
    if number is None:
        say("That is no phone number: write it like +447700900001.", failed=True)
        return redirect(url_for("routes.page"))
    body = f"{services().settings.programme}: this is a test. No need to answer."
    try:
        taken = gateway.send(Outgoing(number, body, uuid4().hex, now() + TEST_LIFE))
        answer = f"taken under the carrier's reference {taken.reference}"
    except GatewayError as fault:
        answer = f"not taken: {fault}"
    with writing(services().engine) as c:
        audit.note(
            c,
            at=now(),
            who=person().login,
            what="test text",
            subject=f"route {name}",
            after={"answer": answer},
        )
    say(f"Test text by route {name}: {answer}.", failed=answer.startswith("not"))
    return redirect(url_for("routes.page"))
