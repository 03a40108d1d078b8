"""Doors of the running programme: text, queue, serve, add-person."""

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime

import click
from argon2 import PasswordHasher
from pydantic import Field, field_validator

from gateways.protocol import Incoming
from reminder_service.commands.answers import (
    BadInput,
    Door,
    Request,
    Value,
    json_option,
    lines_option,
)
from reminder_service.commands.serving import Part, serve_until_stopped
from reminder_service.kinds import NoticeState
from reminder_service.log_lines import write_logs
from reminder_service.records import farmers, people
from reminder_service.records.engine import reading, writing
from reminder_service.records.queue_views import NoticeLine, Wanted, queue_page
from reminder_service.records.tables import Role
from reminder_service.settings import load_settings
from reminder_service.work.receive import Received, e164, receive
from reminder_service.work.services import make_services, utc_now

PASSWORD_LENGTH = 12
"""Fewest characters of a password (setting)."""


class TextRequest(Request):
    """One text as a phone sends it."""

    sender: str = Field(alias="from")
    body: str
    at: datetime | None = None

    @field_validator("at")
    @classmethod
    def _aware(cls, at: datetime | None) -> datetime | None:
        """A time without an offset is UTC."""
        return at.replace(tzinfo=UTC) if at is not None and at.tzinfo is None else at


def _received(asked: TextRequest) -> Received:
    settings = load_settings()
    if e164(asked.sender, settings.default_region) is None:
        raise BadInput("from", asked.sender, "a phone number such as +447700900001")
    clock = _clock_at(asked.at)
    services = make_services(settings, clock)
    message = Incoming(
        f"command-{uuid.uuid4()}",
        asked.sender,
        asked.body.encode("utf-8", "surrogateescape"),
        clock(),
    )
    return receive(services, gateway="command", message=message)


def _clock_at(at: datetime | None) -> Callable[[], datetime]:
    return utc_now if at is None else lambda: at


def _received_value(received: Received) -> Value:
    return {
        "understood": received.understood,
        "reply": received.reply,
        "segments": received.segments,
        "changes": received.changes,
    }


def _received_text(received: Received) -> str:
    lines = [f"reply ({received.segments} segments): {received.reply or 'none'}"]
    lines += [f"change: {change}" for change in received.changes] or ["nothing changed"]
    return "\n".join(lines)


TEXT = Door(TextRequest, _received, _received_value, _received_text)


@click.command("text")
@click.option("--from", "sender", metavar="PHONE", help="The sender, for example +447700900001.")
@click.argument("body", required=False)
@click.option(
    "--at", metavar="ISO-TIME", help="When it was sent; UTC if no offset; now if left out."
)
@lines_option
@json_option
def text(sender: str | None, body: str | None, at: str | None, lines: bool, as_json: bool) -> None:
    """Take one text as if a phone had sent it: reply, segments, changes."""
    if lines:
        TEXT.run_lines()
    else:
        TEXT.run({"from": sender, "body": body, "at": at}, as_json)


class QueueRequest(Request):
    """Which notices to list."""

    state: NoticeState | None = None
    ward: str | None = None
    day: date | None = None
    limit: int = Field(default=100, gt=0, le=10_000)

    @field_validator("state", mode="before")
    @classmethod
    def _spelled(cls, state: object) -> object:
        """``handed-over`` and ``handed_over`` are ``handed over``."""
        return state.replace("-", " ").replace("_", " ") if isinstance(state, str) else state


def _listed(asked: QueueRequest) -> list[NoticeLine]:
    services = make_services(load_settings())
    with reading(services.engine) as c:
        ward_id = None
        if asked.ward is not None:
            wards = {ward.name: ward.id for ward in farmers.wards(c)}
            if asked.ward not in wards:
                raise BadInput("ward", asked.ward, f"one of {', '.join(wards) or 'no ward yet'}")
            ward_id = wards[asked.ward]
        states = None if asked.state is None else (asked.state,)
        wanted = Wanted(states=states, ward_id=ward_id, day=asked.day)
        return queue_page(c, None, wanted, None, asked.limit)


def _notice_value(line: NoticeLine) -> dict[str, object]:
    return {
        "id": line.id,
        "state": line.state.value,
        "reason": line.reason,
        "send_at": line.send_at,
        "day": line.day,
        "to": line.phone_number,
        "farmer": line.farmer_name,
        "ward": line.ward_name,
        "plot": line.plot_number,
        "task": line.task,
        "number": line.number,
        "stage": line.stage.value,
        "segments": line.segments,
        "body": line.body,
    }


def _notices_text(lines: list[NoticeLine]) -> str:
    if not lines:
        return "No notices."
    return "\n".join(
        f"{line.send_at:%Y-%m-%d %H:%M}Z  {line.state.value:<11}  {line.phone_number}  {line.body}"
        for line in lines
    )


QUEUE = Door(
    QueueRequest,
    _listed,
    lambda lines: {"notices": [_notice_value(line) for line in lines]},
    _notices_text,
)


@click.command("queue")
@click.option("--state", help=f"One of {', '.join(NoticeState)}.")
@click.option("--ward", help="A ward's name.")
@click.option("--day", metavar="DATE", help="The local day it goes out.")
@click.option("--limit", help="At most so many, 100 if not given.")
@json_option
def queue(as_json: bool, **given: str | None) -> None:
    """The outbound queue."""
    QUEUE.run(given, as_json)


@click.command("serve")
@click.option("--web-only", is_flag=True, help="Serve the pages and carriers' calls alone.")
@click.option("--work-only", is_flag=True, help="Send, listen and run the ticks alone.")
def serve(web_only: bool, work_only: bool) -> None:
    """Run the programme: pages, scheduler and dispatcher, in one process or several."""
    if web_only and work_only:
        raise BadInput("--web-only", "given with --work-only", "one of the two, or none for both")
    settings = load_settings()
    write_logs(settings.log_format)
    part = Part.PAGES if web_only else Part.WORK if work_only else Part.ALL
    serve_until_stopped(make_services(settings), part)


@click.command("add-person")
@click.argument("login")
@click.option("--name", required=True)
@click.option("--role", type=click.Choice([role.value for role in Role]), default="coordinator")
@click.option("--ward", "ward_names", multiple=True, help="A ward of theirs; may be given again.")
@click.password_option()
def add_person(
    login: str, name: str, role: str, ward_names: tuple[str, ...], password: str
) -> None:
    """Add somebody who logs in to the pages; asks for the password."""
    if len(password) < PASSWORD_LENGTH:
        raise BadInput("password", "too short", f"at least {PASSWORD_LENGTH} characters")
    services = make_services(load_settings())
    with writing(services.engine) as c:
        known = {ward.name: ward.id for ward in farmers.wards(c)}
        for ward in ward_names:
            if ward not in known:
                raise BadInput("ward", ward, f"one of {', '.join(known) or 'no ward yet'}")
        people.add_person(
            c,
            login=login,
            name=name,
            password_hash=PasswordHasher().hash(password),
            role=Role(role),
            ward_ids=[known[ward] for ward in ward_names],
        )
    click.echo(f"{login} can log in now.")
