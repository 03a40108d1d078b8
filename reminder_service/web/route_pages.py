"""Routes: how each carrier fares, what money is left, and a test text by one of them."""

from datetime import timedelta
from uuid import uuid4

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from gateways.errors import GatewayError, Unsure
from gateways.protocol import Outgoing
from reminder_service.records import audit
from reminder_service.records.engine import reading, writing
from reminder_service.records.route_answers import LAST_TRIES
from reminder_service.records.tables import Role
from reminder_service.web.route_cards import body_of_test, money_words, route_cards
from reminder_service.web.said import say
from reminder_service.web.walls import now, person, services
from reminder_service.work import budget
from reminder_service.work.receive import e164

blueprint = Blueprint("routes", __name__)
blueprint.add_app_template_filter(money_words, "money")

TEST_LIFE = timedelta(hours=1)
"""How long a test text is worth sending (setting)."""


@blueprint.get("/routes")
def page() -> str:
    """What is left of the budget, and how every route stands and fares."""
    with reading(services().engine) as c:
        stands = budget.left(c, services(), now())
        cards = route_cards(c, services(), now())
    return render_template(
        "routes.html",
        stands=stands,
        cards=cards,
        last_tries=LAST_TRIES,
        named_file=services().settings.routes is not None,
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
    body = body_of_test(services().settings.programme)
    may_cost = True
    try:
        taken = gateway.send(Outgoing(number, body, uuid4().hex, now() + TEST_LIFE))
        answer = f"taken under the carrier's reference {taken.reference}"
    except GatewayError as fault:
        answer = f"not taken: {fault}"
        may_cost = isinstance(fault, Unsure)
    with writing(services().engine) as c:
        if may_cost:
            budget.count_text(c, services(), name, body, now())
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
