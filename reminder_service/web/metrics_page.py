"""The service's figures for Prometheus, for whoever brings the token."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from hmac import compare_digest

from flask import Blueprint, Response, abort, request
from prometheus_client import CollectorRegistry, Gauge
from prometheus_client.exposition import choose_encoder
from sqlalchemy import Connection

from reminder_service.records import queue, queue_figures, route_answers, route_health, ticks
from reminder_service.records.engine import reading
from reminder_service.records.route_views import Fate, tries_by_route
from reminder_service.records.tables import Outcome
from reminder_service.web.walls import now, services
from reminder_service.work import budget
from reminder_service.work.services import Services

blueprint = Blueprint("metrics", __name__)

UNDER_WAY = "under way"
"""Outcome of a try that has none yet."""

Rows = Iterable[tuple[tuple[str, ...], float]]
"""Values with the labels of each."""


@blueprint.get("/metrics")
def page() -> Response:
    """All figures as Prometheus reads them.

    They are read from the database at each request, so any process of several may answer.
    """
    token = services().settings.metrics_token
    if token is None:
        abort(404)
    given = request.authorization
    brought = given.token if given is not None and given.type == "bearer" else None
    if not compare_digest((brought or "").encode(), token.get_secret_value().encode()):
        told = {"WWW-Authenticate": 'Bearer realm="metrics"'}
        return Response("Bring REMINDER_METRICS_TOKEN as a bearer token.\n", 401, told)
    with reading(services().engine) as c:
        registry = figures(c, services(), now())
    write, content_type = choose_encoder(request.headers.get("Accept", ""))
    told = {"Content-Type": content_type, "Cache-Control": "no-store"}
    return Response(write(registry), headers=told)


def figures(c: Connection, services: Services, now: datetime) -> CollectorRegistry:
    """A registry that holds the figures of one instant.

    Parameters
    ----------
    c : connection; everything is read from one moment
    services : the routes and the budget
    now : aware UTC instant
    """
    registry = CollectorRegistry()
    names = [route.name for route in services.routes]
    _tell_health(registry, c, services, names, now)
    _tell_money(registry, c, services, now)
    _tell_tries(registry, c, names, now)
    _tell_queue(registry, c, now)
    _tell_ticks(registry, c, now)
    return registry


def _tell(
    registry: CollectorRegistry, name: str, meaning: str, labels: tuple[str, ...], rows: Rows
) -> None:
    gauge = Gauge(f"reminder_{name}", meaning, labels, registry=registry)
    for values, figure in rows:
        (gauge.labels(*values) if labels else gauge).set(figure)


def _tell_health(
    registry: CollectorRegistry,
    c: Connection,
    services: Services,
    names: list[str],
    now: datetime,
) -> None:
    fares = route_health.healths(c, names)
    resting = {name: fare.rests_until for name, fare in fares.items() if fare.rests_until}
    _tell(
        registry,
        "route_resting",
        "1 while the route is passed over after failures, else 0.",
        ("route",),
        (((name,), float(name in resting and resting[name] > now)) for name in names),
    )
    _tell(
        registry,
        "route_failures_in_a_row",
        "Tries in a row that the carrier did not take.",
        ("route",),
        (((name,), fares[name].failures if name in fares else 0) for name in names),
    )
    today = now.astimezone(UTC).date()
    limits = {route.name: route.per_day for route in services.routes if route.per_day}
    used = {name: fare.texts_that_day for name, fare in fares.items() if fare.day == today}
    _tell(
        registry,
        "route_texts_left_today",
        "Texts that the route's limit still allows on this UTC day.",
        ("route",),
        (((name,), max(limit - used.get(name, 0), 0)) for name, limit in limits.items()),
    )


def _tell_money(
    registry: CollectorRegistry, c: Connection, services: Services, now: datetime
) -> None:
    given = route_answers.given_on(c, now.astimezone(UTC).date())
    nothing = route_answers.GivenToday(0, 0, 0)
    theirs = [(route.name, given.get(route.name, nothing)) for route in services.routes]
    currency = services.budget.currency if services.budget is not None else ""
    _tell(
        registry,
        "route_texts_today",
        "Texts that the route was given on this UTC day.",
        ("route",),
        (((name,), today.texts) for name, today in theirs),
    )
    _tell(
        registry,
        "route_spent_today",
        "Money that the route's texts of this UTC day cost.",
        ("route", "currency"),
        (((name, currency), today.cost / 1000) for name, today in theirs),
    )
    stands = budget.left(c, services, now)
    if stands is None:
        return
    limits = {"day": stands.per_day, "season": stands.per_season}
    known = {period: limit for period, limit in limits.items() if limit is not None}
    for name, meaning, part in (
        ("budget_limit", "Most money in one UTC day and in one season.", "limit"),
        ("budget_left", "Money of the limit that is still left.", "left"),
    ):
        rows = (((key, currency), getattr(limit, part) / 1000) for key, limit in known.items())
        _tell(registry, name, meaning, ("period", "currency"), rows)


def _tell_tries(
    registry: CollectorRegistry, c: Connection, names: list[str], now: datetime
) -> None:
    found = {name: tries.last_24_h for name, tries in tries_by_route(c, names, now, 2).items()}
    outcomes = [(outcome.value, outcome) for outcome in Outcome] + [(UNDER_WAY, None)]
    _tell(
        registry,
        "route_attempts_last_24h",
        "Tries at handing a text over, by the carrier's answer.",
        ("route", "outcome"),
        (
            ((name, label), tries.outcomes[outcome])
            for name, tries in found.items()
            for label, outcome in outcomes
        ),
    )
    _tell(
        registry,
        "route_texts_last_24h",
        "The same tries, by what has become of the text since.",
        ("route", "fate"),
        (((name, fate.value), tries.fates[fate]) for name, tries in found.items() for fate in Fate),
    )
    times = route_answers.hand_over_times(c, names, now - timedelta(hours=24))
    for part, share in (("median", 0.5), ("p95", 0.95)):
        known = ((name, route_answers.nearest_rank(each, share)) for name, each in times.items())
        _tell(
            registry,
            f"route_hand_over_{part}_seconds",
            f"How long handing over takes: {part} of the last tries in 24 hours, at most "
            f"{route_answers.LAST_TRIES}.",
            ("route",),
            (((name,), figure) for name, figure in known if figure is not None),
        )
    unmatched = route_answers.unmatched_by_route(c, names, now - timedelta(days=7))
    _tell(
        registry,
        "route_unmatched_receipts_last_7d",
        "Receipts that no try was found for.",
        ("route",),
        (((name,), count) for name, count in unmatched.items()),
    )


def _tell_queue(registry: CollectorRegistry, c: Connection, now: datetime) -> None:
    _tell(
        registry,
        "notices",
        "Notices in the outbound queue by state, since the first.",
        ("state",),
        (((state.value,), count) for state, count in queue_figures.notices_by_state(c).items()),
    )
    due_at = queue.next_due_at(c)
    late_s = max((now - due_at).total_seconds(), 0.0) if due_at is not None else 0.0
    _tell(
        registry,
        "oldest_due_notice_lateness_seconds",
        "How long the notice that is due longest has been waiting; 0 if none is due.",
        (),
        [((), late_s)],
    )
    _tell(
        registry,
        "inbound_unworked",
        "Texts that came in and were not worked yet.",
        (),
        [((), queue_figures.unworked_texts(c))],
    )


def _tell_ticks(registry: CollectorRegistry, c: Connection, now: datetime) -> None:
    known = ticks.ticks(c)
    _tell(
        registry,
        "tick_age_seconds",
        "Time since each repeating piece of work last started.",
        ("tick",),
        (((tick.name,), (now - tick.started_at).total_seconds()) for tick in known),
    )
    _tell(
        registry,
        "tick_failed",
        "1 if the last run of the piece of work failed, else 0.",
        ("tick",),
        (((tick.name,), float(tick.error is not None)) for tick in known),
    )
