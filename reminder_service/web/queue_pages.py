"""The outbound queue: what goes out when, and what a coordinator can do about it."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from urllib.parse import urlencode

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from reminder_service.kinds import MOVABLE, NoticeState
from reminder_service.records.doubts import doubt_of
from reminder_service.records.engine import reading
from reminder_service.records.queue_views import NoticeLine, Place, Wanted, queue_page
from reminder_service.records.views import wards_seen
from reminder_service.records.ward_views import NOT_ARRIVED
from reminder_service.web.said import Undo, say
from reminder_service.web.walls import (
    here,
    local_path,
    may_change,
    notices_or_404,
    now,
    number_given,
    person,
    scope,
    services,
)
from reminder_service.web.wording import counted, state_words
from reminder_service.work import by_hand
from reminder_service.work.doubts_by_hand import Verdict, settle_by_hand

blueprint = Blueprint("queue", __name__, url_prefix="/queue")

TEXTS_A_PAGE = 40
"""Texts on one page; keeps it under 100 kB (setting)."""

TO_GO = (
    NoticeState.PLANNED,
    NoticeState.HELD,
    NoticeState.WAITING,
    NoticeState.CLAIMED,
)
"""States of what is still to go out."""

GROUPS: dict[str, tuple[NoticeState, ...] | None] = {
    "to-go": TO_GO,
    "not-arrived": NOT_ARRIVED,
    "any": None,
}
"""Choices that stand for several states."""

STATE_CHOICES = [
    ("to-go", "still to go out"),
    ("not-arrived", "not arrived"),
    ("any", "any state"),
    *((state.name.lower(), state_words(state)) for state in NoticeState),
]

CAN_AGAIN = frozenset(NoticeState) - MOVABLE - {NoticeState.CLAIMED, NoticeState.IN_DOUBT}
"""States after which a person may send the same words once more; a doubt is settled first."""

SETTLED = {
    Verdict.ARRIVED: "Noted: the text arrived.",
    Verdict.AGAIN: "Queued once more; the first text counts as not arrived.",
    Verdict.LOST: "Noted: the text did not arrive.",
}
"""What a person is told after settling a doubt."""


@dataclass(frozen=True, slots=True)
class Sieve:
    """What the person asked to see, as it stood in the address."""

    state: str
    ward_id: int | None
    day: date | None
    task: str
    farmer: str


def sieve_given() -> Sieve:
    """Read the sieve from the address; 400 if a part of it is none of the choices."""
    state = request.args.get("state") or "to-go"
    if state not in dict(STATE_CHOICES):
        abort(400)
    try:
        text = request.args.get("day")
        day = date.fromisoformat(text) if text else None
    except ValueError:
        abort(400)
    return Sieve(
        state,
        number_given("ward"),
        day,
        request.args.get("task", "")[:40],
        request.args.get("farmer", "").strip()[:80],
    )


def wanted_by(sieve: Sieve, at: datetime) -> Wanted:
    """What the sieve asks of the records.

    What is to go out comes soonest first, what is over newest first. All states together start
    yesterday, unless a day or a farmer is named: nobody wants to leaf through last season.

    Parameters
    ----------
    sieve : what was asked
    at : aware UTC instant of asking
    """
    chosen = GROUPS.get(sieve.state)
    if sieve.state not in GROUPS:
        chosen = (NoticeState[sieve.state.upper()],)
    over = chosen is not None and not set(chosen) & set(TO_GO)
    narrow = sieve.day is not None or sieve.farmer
    return Wanted(
        states=chosen,
        ward_id=sieve.ward_id,
        day=sieve.day,
        task=sieve.task or None,
        farmer=sieve.farmer,
        since=at - timedelta(days=1) if chosen is None and not narrow else None,
        newest_first=over,
    )


def place_given() -> Place | None:
    """Where the last page ended, from the address; 400 if it is no place."""
    text = request.args.get("after")
    if not text:
        return None
    at, _, number = text.partition("~")
    try:
        place = Place(datetime.fromisoformat(at), int(number))
    except ValueError:
        abort(400)
    return place if place.send_at.tzinfo is not None else abort(400)


@blueprint.get("")
def page() -> str:
    """Show one page of the queue through the sieve."""
    sieve, after = sieve_given(), place_given()
    with reading(services().engine) as c:
        wards = wards_seen(c, scope())
        lines = queue_page(c, scope(), wanted_by(sieve, now()), after, TEXTS_A_PAGE + 1)
    more, lines = len(lines) > TEXTS_A_PAGE, lines[:TEXTS_A_PAGE]
    return render_template(
        "queue.html",
        sieve=sieve,
        wards=wards,
        state_choices=STATE_CHOICES,
        task_choices=[task.name for task in services().rulebook.tasks],
        lines=lines,
        after=after,
        onward=_onward(lines[-1]) if more else None,
        back=here(),
    )


def _onward(last: NoticeLine) -> str:
    place = {"after": f"{last.send_at.isoformat()}~{last.id}"}
    return f"{url_for('.page')}?{urlencode(request.args.to_dict() | place)}"


def _ids_given() -> tuple[str, list[int]]:
    """The action asked for, and the notices: one by its own button, or all that were ticked."""
    one = request.form.get("one", "")
    action, _, number = one.partition(":") if one else (request.form.get("action", ""), "", "")
    texts = [number] if one else request.form.getlist("id")
    if not all(text.isascii() and text.isdigit() and len(text) < 19 for text in texts):
        abort(400)
    return action, [int(text) for text in texts]


def _back() -> Response:
    return redirect(local_path(request.form.get("back"), url_for(".page")))


@blueprint.post("/act")
def act() -> Response | str:
    """Hold or release at once; before withdrawing, ask once more."""
    action, ids = _ids_given()
    if action not in ("hold", "release", "withdraw"):
        abort(400)
    if not ids:
        say(f"Nothing was ticked: tick the texts to {action} first.", failed=True)
        return _back()
    with reading(services().engine) as c:
        lines = notices_or_404(c, ids)
    if action == "withdraw":
        lines = [line for line in lines if line.state in MOVABLE]
        back = local_path(request.form.get("back"), url_for(".page"))
        return render_template("withdraw.html", lines=lines, asked=len(ids), back=back)
    if action == "hold":
        _say("Held", "hold", ids, by_hand.hold(services(), ids, person()), undo="release")
    else:
        _say("Released", "release", ids, by_hand.release(services(), ids, person()), undo="hold")
    return _back()


@blueprint.post("/withdraw")
def withdraw() -> Response:
    """Withdraw for good, after the page that asked once more."""
    _, ids = _ids_given()
    with reading(services().engine) as c:
        notices_or_404(c, ids)
    _say("Withdrew", "withdraw", ids, by_hand.withdraw(services(), ids, person()))
    return _back()


def _say(did: str, verb: str, asked: list[int], changed: list[int], undo: str = "") -> None:
    """Tell what was done, what was not and why, and how to undo it."""
    text = f"{did} {counted(len(changed), 'text', 'texts')}."
    left = len(set(asked)) - len(changed)
    if left:
        stood = "text was left as it stood" if left == 1 else "texts were left as they stood"
        text += f" {left} {stood}: in the state it has now, you cannot {verb} it."
    takes_back = Undo(undo, changed, request.form.get("back", "")) if undo and changed else None
    say(text, undo=takes_back)


@blueprint.get("/<int:notice_id>/again")
def ask_again(notice_id: int) -> str:
    """Ask once more before a text goes out a second time."""
    if not may_change():
        abort(403)
    with reading(services().engine) as c:
        line = notices_or_404(c, [notice_id])[0]
    back = local_path(request.args.get("back"), url_for(".page"))
    return render_template("again.html", line=line, can=can_again(line), back=back)


@blueprint.post("/<int:notice_id>/again")
def send_again(notice_id: int) -> Response:
    """Queue the same words to the same phone once more."""
    with reading(services().engine) as c:
        line = notices_or_404(c, [notice_id])[0]
    if can_again(line):
        by_hand.send_again(services(), notice_id, person())
        say(f"Queued once more to {line.farmer_name or line.phone_number}.")
    else:
        text = (
            "It was not queued again: it is in doubt or still to go out, or the farmer has texted "
            "STOP."
        )
        say(text, failed=True)
    return _back()


@blueprint.get("/<int:notice_id>/settle")
def ask_settle(notice_id: int) -> ResponseReturnValue:
    """Show a text in doubt, and what a person can say of it with what consequence."""
    if not may_change():
        abort(403)
    back = local_path(request.args.get("back"), url_for(".page"))
    with reading(services().engine) as c:
        notices_or_404(c, [notice_id])
        doubt = doubt_of(c, notice_id)
        if doubt is not None:
            lines = notices_or_404(c, doubt.notice_ids)
            return render_template("settle.html", doubt=doubt, lines=lines, back=back)
    say("That text is in doubt no more: see its state.", failed=True)
    return redirect(back)


@blueprint.post("/<int:notice_id>/settle")
def settle(notice_id: int) -> Response:
    """Settle a text in doubt as the person says."""
    with reading(services().engine) as c:
        notices_or_404(c, [notice_id])
        doubt = doubt_of(c, notice_id)
        if doubt is not None:
            notices_or_404(c, doubt.notice_ids)
    given = request.form.get("verdict", "")
    if given not in {verdict.value for verdict in Verdict}:
        abort(400)
    verdict = Verdict(given)
    if doubt is None:
        say("Nothing was changed: that text is in doubt no more.", failed=True)
    elif verdict is Verdict.AGAIN and not doubt.can_go_again:
        say("It was not queued again: the farmer has texted STOP.", failed=True)
    elif settle_by_hand(services(), doubt.attempt_id, person(), verdict):
        say(SETTLED[verdict])
    else:
        say("Nothing was changed: that text was settled meanwhile.", failed=True)
    return _back()


def can_again(line: NoticeLine) -> bool:
    """Whether a person may send the same words once more."""
    return line.state in CAN_AGAIN and line.stopped_at is None
