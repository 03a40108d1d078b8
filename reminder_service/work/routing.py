"""Which route each text goes by now: whom it serves, whether it is well, how fast it goes."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from sqlalchemy import Connection

from reminder_service.kinds import Stage
from reminder_service.records import coming, route_health
from reminder_service.records.queue import ClaimedNotice
from reminder_service.records.route_health import RouteHealth
from reminder_service.rules.sending import local_day, sending_span
from reminder_service.settings import Settings
from reminder_service.work.bundles import Bundle, written_for
from reminder_service.work.hours import next_allowed
from reminder_service.work.prices import tables_of
from reminder_service.work.replan import sending_hours
from reminder_service.work.routes import Route, serving
from reminder_service.work.services import Services
from reminder_service.work.shortage import must_wait

FAILURES_BORNE = 5
"""Tries in a row that a carrier may leave untaken before its route rests (setting)."""

FIRST_REST = timedelta(seconds=30)
"""How long such a route rests first (setting)."""

LOOKED_AGAIN = timedelta(hours=1)
"""When a text that leaves its turn to more urgent ones is looked at again (setting)."""


@dataclass(frozen=True, slots=True)
class Letter:
    """A bundle with its route.

    Attributes
    ----------
    bundle : the text
    route : name of the route it goes by
    routes : how many routes serve it
    """

    bundle: Bundle
    route: str
    routes: int

    @property
    def importance(self) -> int:
        """Importance of its most important notice; 1 is most."""
        return min(notice.importance for notice in self.bundle.notices)

    @property
    def expires_at(self) -> datetime:
        """When the first of its notices is useless; aware UTC."""
        return min(notice.expires_at for notice in self.bundle.notices)

    @property
    def is_reply(self) -> bool:
        """Whether it answers a text."""
        return self.bundle.notices[0].stage is Stage.REPLY


Waiting = tuple[Bundle, datetime, str]
"""A bundle that may not go now, when it may, and why."""


def outside_hours(settings: Settings, notice: ClaimedNotice, now: datetime) -> datetime | None:
    """When a notice may go out if not now; None if it may.

    Replies answer a text just sent and go at any hour.

    Parameters
    ----------
    settings : the programme's sending hours
    notice : what is to go
    now : aware UTC instant
    """
    if notice.stage is Stage.REPLY or notice.zone is None:
        return None
    at = next_allowed(now, sending_hours(settings, notice.zone))
    return at if at > now else None


def routed(
    c: Connection,
    services: Services,
    made: Sequence[Bundle],
    now: datetime,
    queued: Counter[str] | None = None,
) -> tuple[list[Letter], list[Waiting], list[Bundle]]:
    """Give each bundle the best route that is well and has a turn left.

    Each further try of a notice goes by the next route that serves it, so that one carrier's bad
    day does not hold it up. A text in doubt goes again by the route that had it. Where a route
    cannot carry all that is due today, what expires first goes first.

    Parameters
    ----------
    c : connection of a write transaction
    services : the routes
    made : bundles, the most urgent first
    now : aware UTC instant
    queued : texts that wait for each route's turns already; those put off are counted in

    Returns
    -------
    letters to send now, bundles to put off, and bundles that no route serves
    """
    fares = route_health.healths(c, [route.name for route in services.routes])
    chosen: dict[str, list[Letter]] = {}
    waiting: list[Waiting] = []
    unserved: list[Bundle] = []
    for bundle in made:
        fitting = _fitting(services, bundle)
        well = [route for route in fitting if not _rests(fares.get(route.name), now)]
        if not fitting:
            unserved.append(bundle)
        elif not well:
            wakes = [fares[route.name].rests_until or now for route in fitting]
            waiting.append((bundle, min(wakes), "every route that serves it rests"))
        else:
            tries = max(bundle.notices[0].tries, 1)
            route = well[(tries - 1) % len(well)]
            written = written_for(bundle, tables_of(services, route))
            letter = Letter(written, route.name, len(fitting))
            chosen.setdefault(route.name, []).append(letter)
    letters: list[Letter] = []
    queued = Counter() if queued is None else queued
    for route in services.routes:
        wanting = chosen.get(route.name, [])
        wanting, outranked = _by_expiry(c, services.settings, route, wanting, now)
        ready, late = _in_turn(c, route, wanting, now, queued[route.name])
        queued[route.name] += len(late)
        letters += ready
        waiting += [*outranked, *late]
    return letters, waiting, unserved


def _fitting(services: Services, bundle: Bundle) -> list[Route]:
    first = bundle.notices[0]
    if first.gateway is not None:
        return [route for route in services.routes if route.name == first.gateway]
    return serving(
        services.routes,
        first.number,
        first.ward,
        first.language,
        reference=bundle.reference,
        choose=services.choose,
    )


def _rests(health: RouteHealth | None, now: datetime) -> bool:
    return health is not None and health.rests_until is not None and health.rests_until > now


def _by_expiry(
    c: Connection, settings: Settings, route: Route, letters: Sequence[Letter], now: datetime
) -> tuple[list[Letter], list[Waiting]]:
    """Letters that no text to come has more need to go than; the rest wait for what is left."""
    last_at = _turns_end(settings, letters, now)
    turns = _turns_left(c, route, now, last_at)
    limited = [letter for letter in letters if not letter.is_reply]
    if turns is None or not limited:
        return list(letters), []
    if coming.coming_count(c, now, last_at) + len(letters) <= turns:
        return list(letters), []
    to_come = coming.coming_expiries(
        c,
        now,
        last_at,
        prefixes=route.prefixes,
        ward_names=route.wards,
        languages=route.languages,
    )
    expiries = [letter.expires_at for letter in limited]
    waits = must_wait(expiries, to_come, max(turns - (len(letters) - len(limited)), 0))
    again_at = min(now + LOOKED_AGAIN, last_at)
    reason = f"route {route.name} cannot carry all that is due: what closes sooner goes first"
    flagged = list(zip(limited, waits, strict=True))
    put_off: list[Waiting] = [(each.bundle, again_at, reason) for each, wait in flagged if wait]
    replies = [letter for letter in letters if letter.is_reply]
    return [*replies, *(each for each, wait in flagged if not wait)], put_off


def _turns_end(settings: Settings, letters: Sequence[Letter], now: datetime) -> datetime:
    """When today's sending ends in the first letter's ward; a route's day ends with the UTC day."""
    midnight = datetime.combine(now.date() + timedelta(days=1), time(), now.tzinfo)
    zone = next((zone for letter in letters if (zone := letter.bundle.notices[0].zone)), None)
    if zone is None:
        return midnight
    hours = sending_hours(settings, zone)
    return min(midnight, max(sending_span(hours, local_day(now, hours))[1], now))


def _turns_left(c: Connection, route: Route, now: datetime, last_at: datetime) -> int | None:
    """How many texts a route can still carry until then; None for no limit."""
    limits = []
    if route.gap:
        limits.append(int((last_at - now) / route.gap) + 1)
    if route.per_day is not None:
        health = route_health.healths(c, [route.name]).get(route.name)
        today = health.texts_that_day if health and health.day == now.date() else 0
        limits.append(max(route.per_day - today, 0))
    return min(limits, default=None)


def _in_turn(
    c: Connection, route: Route, letters: Sequence[Letter], now: datetime, queued: int
) -> tuple[list[Letter], list[Waiting]]:
    """Letters that the route's pace and day's limit allow now; the rest one gap apart.

    They stand behind those that were put off before them, so that they come in their order.
    """
    if not letters or (not route.gap and route.per_day is None):
        return list(letters), []
    granted, next_at = route_health.take_turns(
        c, route.name, now, len(letters), route.gap, route.per_day
    )
    late: list[Waiting] = [
        (letter.bundle, next_at + place * route.gap, f"route {route.name} is at its limit")
        for place, letter in enumerate(letters[granted:], start=queued)
    ]
    return list(letters[:granted]), late


def note_route(
    c: Connection, services: Services, route: str, now: datetime, failure: str | None
) -> None:
    """Note how a route fared with one text.

    Parameters
    ----------
    c : connection of a write transaction
    services : the services
    route : its name
    now : aware UTC instant
    failure : why the carrier did not take it; None if it answered
    """
    if failure is None:
        route_health.note_taken(c, route)
    else:
        route_health.note_failure(c, route, now, failure, FAILURES_BORNE, FIRST_REST)
