"""A text that a person writes to many farmers: what it comes to, sending it, taking it back."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from reminder_service.kinds import MOVABLE
from reminder_service.records import audit, broadcasts, queue_by_hand
from reminder_service.records.broadcasts import Chosen, Recipient
from reminder_service.records.engine import reading, writing
from reminder_service.records.people import Person
from reminder_service.records.views import Scope
from reminder_service.texts.segments import segments
from reminder_service.work.hours import next_allowed
from reminder_service.work.prices import Price, prices
from reminder_service.work.replan import sending_hours
from reminder_service.work.services import Services

LIFE = timedelta(days=2)
"""How long a text to many is worth sending (setting)."""

MOST_SEGMENTS = 3
"""Most segments of a text to many (setting)."""

IMPORTANCE = 1
"""How much it counts where a phone's week is full: most (setting)."""


@dataclass(frozen=True, slots=True)
class Tally:
    """What the words of one language come to.

    Attributes
    ----------
    texts : phones that get them
    segments : of one text
    prices : of one text, by each route
    """

    language: str
    body: str
    texts: int
    segments: int
    prices: tuple[Price, ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """What a text to many would come to.

    Attributes
    ----------
    tallies : by language, those with words
    unwritten : phones by language for which there are no words, so that they get none
    first_at : when the first goes out; None if nobody is reached
    """

    tallies: tuple[Tally, ...]
    unwritten: Mapping[str, int]
    first_at: datetime | None

    @property
    def texts(self) -> int:
        """Texts that would be queued."""
        return sum(tally.texts for tally in self.tallies)

    @property
    def segments(self) -> int:
        """Segments of all of them."""
        return sum(tally.texts * tally.segments for tally in self.tallies)

    def costs(self) -> dict[str, int]:
        """Thousandths of the money that all would cost by each route alone."""
        found: Counter[str] = Counter()
        for tally in self.tallies:
            for price in tally.prices:
                found[price.route] += tally.texts * price.cost
        return dict(found)


def faults(bodies: Mapping[str, str]) -> list[str]:
    """What keeps some words from being sent, each with what to do; empty if nothing does.

    Parameters
    ----------
    bodies : words by language
    """
    if not any(body.strip() for body in bodies.values()):
        return ["There are no words yet: write the text in at least one language."]
    found = []
    for language, body in bodies.items():
        count = segments(body).segments
        if count > MOST_SEGMENTS:
            found.append(
                f"The words in {language} take {count} segments: shorten them to {MOST_SEGMENTS}."
            )
    return found


def preview(
    services: Services,
    scope: Scope,
    chosen: Chosen,
    bodies: Mapping[str, str],
    days: Mapping[str, date],
) -> Preview:
    """What a text to many would come to; nothing is queued.

    Parameters
    ----------
    services : the services
    scope : wards the person may see
    chosen : which farmers
    bodies : words by language; empty ones count as none
    days : local day in each zone of the wards
    """
    with reading(services.engine) as c:
        reached = broadcasts.recipients(c, scope, chosen, days)
    by_language = Counter(recipient.language for recipient in reached)
    tallies = tuple(
        Tally(language, body, count, segments(body).segments, tuple(prices(services, body)))
        for language, count in sorted(by_language.items())
        if (body := bodies.get(language, "").strip())
    )
    written = {tally.language for tally in tallies}
    unwritten = {each: count for each, count in by_language.items() if each not in written}
    times = [_send_at(services, each) for each in reached if each.language in written]
    return Preview(tallies, unwritten, min(times, default=None))


def send(
    services: Services,
    scope: Scope,
    person: Person,
    token: str,
    chosen: Chosen,
    bodies: Mapping[str, str],
    days: Mapping[str, date],
) -> int | None:
    """Queue a text to many, in one transaction with its line on the audit log.

    Parameters
    ----------
    services : the services
    scope : wards the person may see
    person : who sends it
    token : names the form, so that it is sent once
    chosen, bodies, days : as for `preview`

    Returns
    -------
    its id; None if this form was sent before, or nobody is reached
    """
    now = services.clock()
    written = {language: body.strip() for language, body in bodies.items() if body.strip()}
    with writing(services.engine) as c:
        found = broadcasts.recipients(c, scope, chosen, days)
        reached = [each for each in found if each.language in written]
        if not reached:
            return None
        rows = [_row(services, each, written[each.language]) for each in reached]
        expires_at = max(send_at for *_, send_at in rows) + LIFE
        id_ = broadcasts.add_broadcast(
            c,
            token=token,
            person_id=person.id,
            at=now,
            expires_at=expires_at,
            chosen=chosen,
            bodies=written,
            texts=len(rows),
        )
        if id_ is None:
            return None
        broadcasts.queue_broadcast(
            c, id_, rows, at=now, expires_at=expires_at, importance=IMPORTANCE
        )
        after = {"texts": len(rows), "wards": sorted(chosen.ward_ids)}
        audit.note(
            c, at=now, who=person.login, what="write", subject=f"broadcast {id_}", after=after
        )
    return id_


def withdraw_rest(services: Services, broadcast_id: int, person: Person) -> int:
    """Take those texts back that have not gone out; answers how many."""
    now = services.clock()
    with writing(services.engine) as c:
        found = broadcasts.notices_of_broadcast(c, broadcast_id)
        ids = [id_ for id_, state in found if state in MOVABLE]
        taken = queue_by_hand.withdraw_by_hand(c, ids, person.id, now)
        after = {"withdrawn": len(taken)}
        audit.note(
            c,
            at=now,
            who=person.login,
            what="withdraw",
            subject=f"broadcast {broadcast_id}",
            after=after,
        )
    return len(taken)


def _send_at(services: Services, recipient: Recipient) -> datetime:
    return next_allowed(services.clock(), sending_hours(services.settings, recipient.zone))


def _row(
    services: Services, recipient: Recipient, body: str
) -> tuple[Recipient, str, int, date, datetime]:
    send_at = _send_at(services, recipient)
    day = send_at.astimezone(ZoneInfo(recipient.zone)).date()
    return recipient, body, segments(body).segments, day, send_at
