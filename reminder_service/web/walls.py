"""Who asks, which wards they see, and whether they may change anything."""

from collections.abc import Collection
from datetime import date, datetime
from typing import cast
from zoneinfo import ZoneInfo

from flask import Response, abort, current_app, make_response, redirect, request, url_for
from flask.typing import ResponseReturnValue
from flask_login import current_user
from sqlalchemy import Connection

from reminder_service.records import factors
from reminder_service.records.engine import reading
from reminder_service.records.people import Person
from reminder_service.records.queue_views import NoticeLine, notices_seen
from reminder_service.records.tables import Role
from reminder_service.records.views import Scope, SeasonHead, Ward, season_head, wards_seen
from reminder_service.work.services import Services

EXTENSION = "reminder_service"

OPEN = frozenset(
    {
        "carrier.call",
        "login.page",
        "login.enter",
        "login.code",
        "login.enter_code",
        "health",
        "ready",
        "metrics.page",
        "static",
    }
)
"""Endpoints that need no login: a carrier's call is checked by its gateway, figures by a token."""

KEYED = frozenset({"interface", "feeds"})
"""Blueprints that ask for a key of their own before they answer anything of a ward."""

OWN = frozenset({"login.leave", "factor.page", "factor.begin", "factor.confirm", "factor.end"})
"""Endpoints about the person's own login alone, open to every role."""

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
"""Methods that change nothing (RFC 9110, section 9.2.1)."""


def services() -> Services:
    """Services of the running app."""
    return cast(Services, current_app.extensions[EXTENSION])


def person() -> Person:
    """The person who is logged in; only behind ``login_required``."""
    return cast(Person, current_user.person)


def scope() -> Scope:
    """Wards that the person may see; None for all."""
    asking = person()
    return frozenset(asking.ward_ids) if asking.role == Role.COORDINATOR else None


def may_change() -> bool:
    """Whether the person may change anything at all."""
    return person().role != Role.AUDITOR


def guard() -> ResponseReturnValue | None:
    """Before each request: nobody unknown sees a page, nobody who only reads changes anything.

    Whatever is not named here as open is closed, so that a page added later is too.

    Returns
    -------
    the way to the login page, or None to go on
    """
    if request.endpoint is None or request.endpoint in OPEN or request.blueprint in KEYED:
        return None
    if not current_user.is_authenticated:
        wanted = here() if request.method == "GET" else None
        return redirect(url_for("login.page", next=wanted))
    if request.endpoint in OWN:
        return None
    if must_have_factor(person()) and not _has_factor(person()):
        return redirect(url_for("factor.page"))
    if request.method not in SAFE and not may_change():
        abort(403)
    return None


def must_have_factor(asking: Person) -> bool:
    """Whether the settings ask a person of this role for one-time codes."""
    asked = services().settings.second_factor
    return asked == "all" or (asked == "leads" and asking.role == Role.PROGRAMME_LEAD)


def _has_factor(asking: Person) -> bool:
    with reading(services().engine) as c:
        return factors.is_confirmed(c, asking.id)


def today_in(zone: str) -> date:
    """Local day in a ward's zone now."""
    return services().clock().astimezone(ZoneInfo(zone)).date()


def now() -> datetime:
    """Aware UTC instant."""
    return services().clock()


def season_or_404(c: Connection, season_id: int) -> SeasonHead:
    """A season inside the person's wards, or the page that says there is none."""
    return season_head(c, season_id, scope()) or abort(404)


def ward_or_404(c: Connection, ward_id: int) -> Ward:
    """A ward among the person's, or the page that says there is none."""
    seen = {ward.id: ward for ward in wards_seen(c, scope())}
    return seen.get(ward_id) or abort(404)


def notices_or_404(c: Connection, ids: Collection[int]) -> list[NoticeLine]:
    """Some notices, every one of them inside the person's wards; else 404."""
    seen = notices_seen(c, ids, scope())
    if len(seen) != len(set(ids)):
        abort(404)
    return seen


def local_path(given: str | None, otherwise: str) -> str:
    """Path on this site to go back to; anything that leads elsewhere is dropped.

    Parameters
    ----------
    given : as it came in with the request
    otherwise : used if it is none of ours
    """
    if not given or not given.startswith("/") or given.startswith("//"):
        return otherwise
    return otherwise if any(letter in given for letter in "\\\r\n\t") else given


def here() -> str:
    """Path and query of this request, to come back to."""
    return request.full_path.rstrip("?")


def number_given(name: str) -> int | None:
    """A whole number from the query; 400 if it is none."""
    text = request.args.get(name, "")
    if not text:
        return None
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else abort(400)


def form_number(name: str) -> int:
    """A whole number that a form must hold; 400 if it does not."""
    text = request.form.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else abort(400)


def shown_once(page: str) -> Response:
    """A page with a secret on it, which nothing may store."""
    answer = make_response(page)
    answer.headers["Cache-Control"] = "no-store"
    return answer
