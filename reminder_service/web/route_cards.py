"""What the Routes page says of one route: how it stands, its limits, its figures, its failures."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from sqlalchemy import Connection

from reminder_service.records import route_answers, route_health
from reminder_service.records.route_answers import Failure, GivenToday
from reminder_service.records.route_health import RouteHealth
from reminder_service.records.route_views import Fate, RouteTries, last_days, tries_by_route
from reminder_service.records.tables import Outcome
from reminder_service.texts.segments import segments
from reminder_service.web.week_bars import WeekBars, week_bars
from reminder_service.web.wording import counted, local_words
from reminder_service.work.routes import Route
from reminder_service.work.services import Services

SHOWN_FAILURES = 5
"""Distinct reasons that are shown (setting)."""

LONG_NUMBER = re.compile(r"\+?\d{6,}")
"""Digits in a carrier's words that may be a phone number or the id of one text."""

KINDS = {
    Outcome.REFUSED.value: "refused",
    Outcome.LATER.value: "put off",
    Outcome.UNSURE.value: "unsure whether taken",
}
"""Kinds of failure whose own word would not say enough."""

ANSWERS = (
    (Outcome.TAKEN, "taken"),
    (Outcome.REFUSED, "refused"),
    (Outcome.LATER, "put off"),
    (Outcome.UNSURE, "unsure"),
    (None, "none yet"),
)
"""What the carrier answered, as the table says it."""

FATES = (
    (Fate.DELIVERED, "delivered"),
    (Fate.UNDELIVERED, "undelivered"),
    (Fate.NO_WORD, "no word yet"),
    (Fate.IN_DOUBT, "in doubt"),
)
"""What became of texts that the carrier took or may have taken, as the table says it."""

Row = tuple[str, int, int]
"""Words, and the figures of 24 hours and of seven days."""

Trouble = tuple[str, str]
"""What is wrong with a route, and what happens then or is to be done."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why some texts failed of late; ``last_at`` is an aware UTC instant."""

    count: int
    kind: str
    words: str
    last_at: datetime


@dataclass(frozen=True, slots=True)
class RouteCard:
    """All that the page says of one route.

    Attributes
    ----------
    troubles : what is wrong with it now; empty if it is well
    facts : whom it serves and how much it carries
    answers, fates : rows of the table
    unmatched : receipts of seven days that no try was found for
    times : how long handing over takes, in words; None if nothing was handed over
    bars : None if nothing was tried in seven days
    receipts : whether its carrier tells what arrived
    test_cost : of a test text, in words
    """

    name: str
    troubles: tuple[Trouble, ...]
    facts: tuple[str, ...]
    tried: Row
    answers: tuple[Row, ...]
    fates: tuple[Row, ...]
    unmatched: int
    times: str | None
    bars: WeekBars | None
    reasons: tuple[Reason, ...]
    receipts: bool
    test_cost: str


def money_words(amount: int, currency: str = "") -> str:
    """Thousandths of the programme's money, as money is written.

    Examples
    --------
    >>> money_words(1_234_500, "ZMW"), money_words(45)
    ('ZMW 1,234.50', '0.045')
    """
    places = 3 if amount % 10 else 2
    return f"{currency} {Decimal(amount) / 1000:,.{places}f}".strip()


def body_of_test(programme: str) -> str:
    """Words of a test text."""
    return f"{programme}: this is a test. No need to answer."


def without_long_numbers(reason: str) -> str:
    """A carrier's words without phone numbers and ids, which are nobody's business on this page.

    Examples
    --------
    >>> without_long_numbers("+447700900001 is no mobile, code 21614")
    '… is no mobile, code 21614'
    """
    return LONG_NUMBER.sub("…", reason)


def route_cards(c: Connection, services: Services, now: datetime) -> list[RouteCard]:
    """Everything about every route, in the order of the routes file.

    Parameters
    ----------
    c : connection
    services : routes, gateways and budget
    now : aware UTC instant

    Returns
    -------
    one card a route
    """
    names = [route.name for route in services.routes]
    week_ago = datetime.combine(last_days(now)[0], datetime.min.time(), UTC)
    fares = route_health.healths(c, names)
    tries = tries_by_route(c, names, now)
    failures = route_answers.last_failures(c, names, week_ago)
    times = route_answers.hand_over_times(c, names, now - timedelta(hours=24))
    unmatched = route_answers.unmatched_by_route(c, names, week_ago)
    given = route_answers.given_on(c, now.astimezone(UTC).date())
    cards = []
    for route in services.routes:
        theirs = tries[route.name]
        fare = fares.get(route.name)
        cards.append(
            RouteCard(
                route.name,
                tuple(troubles(route, fare, now)),
                tuple(_facts(services, route, fare, given.get(route.name), now)),
                ("tried", theirs.last_24_h.tried, theirs.all_days.tried),
                tuple(_answer_rows(theirs)),
                tuple(_fate_rows(theirs)),
                unmatched[route.name],
                _time_words(times[route.name]),
                week_bars(theirs.days),
                last_reasons(each for each in failures if each.route == route.name),
                services.gateways[route.name].abilities.receipts,
                _test_cost(services, route),
            )
        )
    return cards


def troubles(route: Route, fare: RouteHealth | None, now: datetime) -> Iterator[Trouble]:
    """What is wrong with a route now.

    Parameters
    ----------
    route : the route
    fare : how it fares; None if it was never used
    now : aware UTC instant
    """
    if fare is None:
        return
    row = counted(fare.failures, "failure", "failures in a row")
    reason = without_long_numbers(fare.reason or "no reason given").rstrip(".")
    if fare.rests_until is not None and fare.rests_until > now:
        yield (
            f"Rests until {local_words(fare.rests_until, 'UTC')} UTC after {row}: {reason}.",
            "Meanwhile texts go by the next route that serves them, or wait; then it is tried "
            "again by itself.",
        )
    elif fare.failures:
        yield f"{row}: {reason}.", "The next text shows whether it is well again."
    if route.per_day is not None and _used_today(fare, now) >= route.per_day:
        yield (
            f"At its limit of {route.per_day:,} a day.",
            "It carries more from 00:00 UTC on; raise per_day in the routes file if the carrier "
            "allows more.",
        )


def _used_today(fare: RouteHealth | None, now: datetime) -> int:
    today = now.astimezone(UTC).date()
    return fare.texts_that_day if fare is not None and fare.day == today else 0


def _facts(
    services: Services,
    route: Route,
    fare: RouteHealth | None,
    given: GivenToday | None,
    now: datetime,
) -> Iterator[str]:
    yield f"gateway {route.gateway}"
    yield f"serves {', '.join(route.prefixes + route.wards + route.languages) or 'everybody'}"
    if route.order != 1:
        yield f"order {route.order}"
    if route.weight != 1:
        yield f"weight {route.weight}"
    if route.per_second is not None:
        yield f"at most {route.per_second:g} a second"
    if route.per_day is not None:
        left = max(route.per_day - _used_today(fare, now), 0)
        yield f"at most {route.per_day:,} a day, {left:,} of them left today"
    if given is not None and given.texts:
        cost = f" for {_money(services, given.cost)}" if given.cost else ""
        yield f"{given.texts:,} given today{cost}"
    if route.segment_cost:
        per = "segment" if services.gateways[route.name].abilities.segmented else "text"
        yield f"{_money(services, route.segment_cost)} a {per}"


def _money(services: Services, amount: int) -> str:
    currency = services.budget.currency if services.budget is not None else ""
    return money_words(amount, currency)


def _answer_rows(theirs: RouteTries) -> Iterator[Row]:
    for outcome, words in ANSWERS:
        row = words, theirs.last_24_h.outcomes[outcome], theirs.all_days.outcomes[outcome]
        if outcome is not None or row[2]:
            yield row


def _fate_rows(theirs: RouteTries) -> Iterator[Row]:
    for fate, words in FATES:
        yield words, theirs.last_24_h.fates[fate], theirs.all_days.fates[fate]


def _time_words(times: Sequence[float]) -> str | None:
    half, most = (route_answers.nearest_rank(times, share) for share in (0.5, 0.95))
    if half is None or most is None:
        return None
    return f"half of them within {_seconds(half)}, 95 of 100 within {_seconds(most)}"


def _seconds(seconds: float) -> str:
    return "0.1 s" if seconds < 0.1 else f"{seconds:,.{0 if seconds >= 100 else 1}f} s"


def last_reasons(failures: Iterable[Failure]) -> tuple[Reason, ...]:
    """Distinct reasons of one route's failures, the latest first, with how often each was given.

    Parameters
    ----------
    failures : of one route, the newest first
    """
    counts: Counter[tuple[str, str]] = Counter()
    last: dict[tuple[str, str], datetime] = {}
    for failure in failures:
        words = without_long_numbers(failure.reason) or "no reason given"
        key = KINDS.get(failure.kind, failure.kind), words
        counts[key] += 1
        last.setdefault(key, failure.at)
    shown = list(last)[:SHOWN_FAILURES]
    return tuple(Reason(counts[key], *key, last[key]) for key in shown)


def _test_cost(services: Services, route: Route) -> str:
    segmented = services.gateways[route.name].abilities.segmented
    body = body_of_test(services.settings.programme)
    count = segments(body).segments if segmented else 1
    said = counted(count, "segment", "segments") if segmented else "1 text"
    cost = count * route.segment_cost
    return f"{said}, {_money(services, cost)}" if cost else said
