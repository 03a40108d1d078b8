"""The practice phone: write as a farmer would."""

from dataclasses import dataclass
from datetime import timedelta
from uuid import uuid4

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy import Connection

from gateways.protocol import Incoming
from reminder_service.kinds import PhoneNumber
from reminder_service.records import farmers, practice, queue_views, views
from reminder_service.records.engine import reading, writing
from reminder_service.records.queue_views import NoticeLine
from reminder_service.records.views import Ward
from reminder_service.texts.segments import segments
from reminder_service.web.plot_pages import Turn
from reminder_service.web.said import say
from reminder_service.web.walls import now, number_given, person, scope, services
from reminder_service.work.receive import Received, receive
from reminder_service.work.routes import serving

blueprint = Blueprint("practice", __name__)

GATEWAY = "practice"
"""What texts written on the practice phone are kept under, so that nobody takes them for real."""

PHONES_SHOWN = 60
"""Phones offered to choose from at once (setting)."""

LOOK_BACK = timedelta(days=30)
"""How far back the practice phone shows its texts (setting)."""

NEW_NUMBERS = tuple(PhoneNumber(f"+447700900{number:03}") for number in range(999, -1, -1))
"""Numbers set aside for fiction that a newcomer is tried from.

References
----------
Ofcom, Telephone numbers for use in TV and radio drama programmes: 07700 900000 to 900999.
"""

TEXTS_SHOWN = 15
"""Latest texts shown on the practice phone (setting)."""


@dataclass(frozen=True, slots=True)
class Held:
    """The phone that is held in the hand.

    Attributes
    ----------
    farmers : names of those whom it serves and the person may see; nobody for an invented one
    ward : of the first of them
    """

    id: int
    number: str
    farmers: tuple[str, ...]
    ward: Ward | None


@blueprint.get("/practice")
def page() -> str:
    """Choose a farmer's phone, or show the one chosen with its texts."""
    return _shown(number_given("phone"), None, "")


@blueprint.post("/practice/new")
def new_number() -> ResponseReturnValue:
    """Take an invented number that nobody has, to try how somebody joins."""
    with writing(services().engine) as c:
        number = practice.unused_number(c, NEW_NUMBERS)
        phone = None if number is None else farmers.phone_for(c, number)
    if phone is None:
        say("All invented numbers are in use: choose a phone below.", failed=True)
        return redirect(url_for("practice.page"))
    return redirect(url_for("practice.page", phone=phone.id))


@blueprint.post("/practice")
def send() -> str:
    """Take a text as if the phone had sent it."""
    number = request.form.get("phone", "")
    phone_id = int(number) if number.isascii() and number.isdigit() else abort(400)
    body, token = request.form.get("body", ""), request.form.get("token", "")[:40]
    with reading(services().engine) as c:
        phone = _held_or_404(c, phone_id)
    # The token makes a page sent twice one text; the person's id leaves a trace of who wrote it.
    message = Incoming(
        f"person-{person().id}-{token or uuid4().hex}", phone.number, body.encode(), now()
    )
    return _shown(phone_id, receive(services(), gateway=GATEWAY, message=message), body)


def _held_or_404(c: Connection, phone_id: int) -> Held:
    """The phone with those of its farmers that the person may see; an invented one has none."""
    lines = views.phone_seen(c, phone_id, scope())
    if lines:
        names = tuple(line.farmer_name for line in lines)
        return Held(phone_id, lines[0].number, names, lines[0].ward)
    number = practice.unserving_number(c, phone_id)
    if number is None or number not in NEW_NUMBERS:
        abort(404)
    return Held(phone_id, number, (), None)


def _shown(phone_id: int | None, received: Received | None, written: str) -> str:
    name = request.args.get("name", "").strip()[:80]
    with reading(services().engine) as c:
        if phone_id is None:
            phones = views.phones_named(c, scope(), name, PHONES_SHOWN)
            return render_template("phones.html", phones=phones, name=name, most=PHONES_SHOWN)
        held = _held_or_404(c, phone_id)
        turns = _turns(c, phone_id)
    return render_template(
        "practice.html",
        phone=held,
        zone=held.ward.zone if held.ward else "UTC",
        turns=turns,
        received=received,
        written=segments(written) if written else None,
        token=uuid4().hex,
        gateway=_gateway(held),
    )


def _gateway(phone: Held) -> str:
    """Name of the gateway that the reply will go by; empty if no route serves the phone."""
    fitting = serving(
        services().routes, phone.number, phone.ward.name if phone.ward else None, None
    )
    return fitting[0].gateway if fitting else ""


def _turns(c: Connection, phone_id: int) -> list[Turn]:
    """Texts both ways, a reply standing under its question even while it waits to go out."""
    came = queue_views.inbound_of_phones(c, [phone_id], TEXTS_SHOWN)
    went = queue_views.notices_of_phone(c, phone_id, scope(), now() - LOOK_BACK)
    turns = [Turn(line.sent_at, line, None) for line in came]
    turns += [Turn(line.sent_at or line.send_at, None, line) for line in went if _on_phone(line)]
    return sorted(turns, key=lambda turn: (turn.at, turn.went is not None))[-2 * TEXTS_SHOWN :]


def _on_phone(line: NoticeLine) -> bool:
    return line.sent_at is not None or line.inbound_id is not None
