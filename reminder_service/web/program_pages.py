"""Keys for other programs, and what other programs are told: both made and ended by the lead."""

from datetime import datetime, timedelta

from flask import Blueprint, abort, redirect, render_template, request
from flask.typing import ResponseReturnValue

from reminder_service.records import hooks as hook_records
from reminder_service.records import keys as key_records
from reminder_service.records.engine import reading
from reminder_service.records.tables import Role
from reminder_service.records.views import wards_seen
from reminder_service.web.said import say
from reminder_service.web.walls import form_number, now, person, services, shown_once
from reminder_service.work import hooks, program_keys
from reminder_service.work.program_keys import LONGEST_LIFE, KeyScope

blueprint = Blueprint("programs", __name__, url_prefix="/programs")

SCOPE_WORDS = {
    KeyScope.WARDS_READ: "read wards",
    KeyScope.FARMERS_READ: "read farmers, their phone numbers masked",
    KeyScope.PHONES_READ: "see whole phone numbers",
    KeyScope.PLOTS_READ: "read plots, seasons and tasks",
    KeyScope.REPORTS_READ: "read reports",
    KeyScope.REPORTS_WRITE: "report what happened on a plot",
    KeyScope.NOTICES_READ: "read notices and what they say",
    KeyScope.NOTICES_WRITE: "hold, release and send notices again",
    KeyScope.RAIN_READ: "read observations of rain",
    KeyScope.RAIN_WRITE: "put rain into the rain book",
    KeyScope.INPUTS_READ: "read inputs by week",
    KeyScope.ROUTES_READ: "read how routes fare",
}
"""What each scope lets a program do, as the page says it."""

EVENT_WORDS = {
    hook_records.REPORT_KEPT: "a report was kept",
    hook_records.REPORT_TAKEN_BACK: "a report was taken back",
    hook_records.NOTICE_HANDED_OVER: "a carrier took a notice",
    hook_records.NOTICE_ENDED: (
        "a notice ended: delivered, undelivered, refused, expired or withdrawn"
    ),
}
"""Each event as the page says it."""

DAYS = (30, 90, 365, LONGEST_LIFE.days)
"""Lives of a key that are offered (setting)."""


@blueprint.before_request
def only_lead() -> None:
    """Whoever hands data out to other programs answers for all of it."""
    if person().role != Role.PROGRAMME_LEAD:
        abort(403)


@blueprint.get("")
def page() -> str:
    """List keys and what programs are told, with forms for new ones."""
    return _page()


def _page(**shown: object) -> str:
    with reading(services().engine) as c:
        keys = key_records.key_lines(c)
        lines = hook_records.hook_lines(c)
        wards = wards_seen(c, None)
    return render_template(
        "programs.html",
        keys=keys,
        hooks=lines,
        wards=wards,
        scope_words=SCOPE_WORDS,
        event_words=EVENT_WORDS,
        days=DAYS,
        now=now(),
        **shown,
    )


@blueprint.post("/keys")
def make_key() -> ResponseReturnValue:
    """Make a key and show it, this once."""
    name = request.form.get("name", "").strip()
    scopes = [scope for scope in KeyScope if scope.value in request.form.getlist("scope")]
    ward_ids = _wards_given()
    days = request.form.get("days", "")
    if days not in {str(each) for each in DAYS}:
        abort(400)
    if not 0 < len(name) <= 40 or not scopes or ward_ids == []:
        say("No key was made: give a name, what it may do, and its wards.", failed=True)
        return redirect("/programs")
    secret = program_keys.make_key(
        services(),
        person(),
        name=name,
        scopes=scopes,
        ward_ids=ward_ids,
        expires_at=_end_of(now() + timedelta(days=int(days))),
    )
    return shown_once(_page(new_key=secret, name=name))


def _end_of(at: datetime) -> datetime:
    return at.replace(hour=23, minute=59, second=0, microsecond=0)


def _wards_given() -> list[int] | None:
    """Wards that were ticked; None for all, nothing if none was."""
    if request.form.get("all_wards") == "yes":
        return None
    with reading(services().engine) as c:
        known = {str(ward.id): ward.id for ward in wards_seen(c, None)}
    return sorted({known[each] for each in request.form.getlist("ward") if each in known})


@blueprint.post("/keys/end")
def end_key() -> ResponseReturnValue:
    """End a key at once."""
    ended = program_keys.end_key(services(), form_number("id"), person())
    say("The key opens nothing any more." if ended else "Nothing was changed.", failed=not ended)
    return redirect("/programs")


@blueprint.post("/told")
def make_hook() -> ResponseReturnValue:
    """Let a program be told of events, and show the secret, this once."""
    events = [event for event in hook_records.EVENTS if event in request.form.getlist("event")]
    ward_ids = _wards_given()
    if not events or ward_ids == []:
        say("Nothing was set up: tick what it is told, and of which wards.", failed=True)
        return redirect("/programs")
    url = request.form.get("url", "").strip()
    try:
        secret = hooks.make_hook(services(), person(), url=url, events=events, ward_ids=ward_ids)
    except hooks.BadAddress as fault:
        say(f"Nothing was set up: {fault}.", failed=True)
        return redirect("/programs")
    return shown_once(_page(new_secret=secret, url=url))


@blueprint.post("/told/end")
def end_hook() -> ResponseReturnValue:
    """Tell a program nothing any more."""
    ended = hooks.end_hook(services(), form_number("id"), person())
    say("It is told nothing any more." if ended else "Nothing was changed.", failed=not ended)
    return redirect("/programs")
