"""What a coordinator does by hand: hold, release, withdraw, send again, report for a plot."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from sqlalchemy import Connection

from reminder_service.kinds import MOVABLE, Kind, SeasonId
from reminder_service.records import audit, farmers, plans, queue_by_hand
from reminder_service.records.engine import writing
from reminder_service.records.people import Person
from reminder_service.work.explaining import for_coordinator
from reminder_service.work.hours import next_allowed
from reminder_service.work.replan import sending_hours
from reminder_service.work.reporting import Refused, ReportGiven, take_report
from reminder_service.work.services import Services

AGAIN_LIFE = timedelta(days=2)
"""How long a text sent again by hand is worth sending (setting)."""


@dataclass(frozen=True, slots=True)
class ReportOutcome:
    """What became of a report entered on a page.

    Attributes
    ----------
    accepted : whether it was kept
    sentence : what to tell the person
    changes : one sentence a change to the plan
    """

    accepted: bool
    sentence: str
    changes: list[str] = field(default_factory=list)


def hold(services: Services, ids: Sequence[int], person: Person) -> list[int]:
    """Keep notices from going out until they are released.

    Returns
    -------
    ids of those that were still movable and are held now
    """
    return _done(services, "hold", person, lambda c, at: queue_by_hand.hold(c, ids, person.id, at))


def release(services: Services, ids: Sequence[int], person: Person) -> list[int]:
    """Let held notices go out again.

    Returns
    -------
    ids of those that were held and are planned now
    """
    return _done(services, "release", person, lambda c, at: queue_by_hand.release(c, ids, at))


def withdraw(services: Services, ids: Sequence[int], person: Person) -> list[int]:
    """Take notices out of the queue for good; re-planning leaves them out.

    Returns
    -------
    ids of those that were still movable and are withdrawn now
    """
    return _done(
        services,
        "withdraw",
        person,
        lambda c, at: queue_by_hand.withdraw_by_hand(c, ids, person.id, at),
    )


def hold_season(services: Services, season_id: SeasonId, person: Person) -> list[int]:
    """Hold every unsent notice of one plot's season.

    Returns
    -------
    ids of those that are held now
    """

    def all_of_it(c: Connection, at: datetime) -> list[int]:
        """Hold what is still movable of the season."""
        rows = plans.notices_of_season(c, season_id)
        ids = [row.id for row in rows if row.state in MOVABLE]
        return queue_by_hand.hold(c, ids, person.id, at)

    return _done(services, "hold", person, all_of_it)


def send_again(services: Services, notice_id: int, person: Person) -> int:
    """Queue the text of a notice that has left the queue once more, at the next allowed hour.

    Returns
    -------
    id of the new notice

    Raises
    ------
    NotFound
        There is no such notice, or it has not left the queue yet.
    """
    now = services.clock()
    with writing(services.engine) as c:
        zone = queue_by_hand.zone_of(c, notice_id)
        send_at = next_allowed(now, sending_hours(services.settings, zone))
        new_id = queue_by_hand.send_again(
            c,
            notice_id,
            person_id=person.id,
            at=now,
            send_at=send_at,
            expires_at=send_at + AGAIN_LIFE,
        )
        _note(c, now, person, "send again", f"notice {notice_id}", {"new notice": new_id})
    return new_id


def report(
    services: Services,
    season_id: SeasonId,
    person: Person,
    kind: Kind,
    on: date,
    task: str | None = None,
    number: int | None = None,
) -> ReportOutcome:
    """Enter or correct a report for a plot, as if its farmer had sent it.

    Parameters
    ----------
    services : the services
    season_id : which season
    person : who enters it
    kind : what is reported
    on : local day of the event
    task, number : for ``done``

    Returns
    -------
    whether it was taken, and what it changed
    """
    now = services.clock()
    with writing(services.engine) as c:
        season = farmers.lock_season(c, season_id)
        given = ReportGiven(kind, on, now, task, number, person_id=person.id)
        taken = take_report(c, services.rulebook, services.settings, season, now, given)
        sentence = for_coordinator(taken, services.rulebook)
        if isinstance(taken, Refused):
            return ReportOutcome(False, sentence)
        before = {"on": taken.corrected.isoformat()} if taken.corrected else None
        after = {"kind": kind.value, "on": on.isoformat(), "task": task, "number": number}
        _note(c, now, person, "report", f"season {season_id}", after, before)
    return ReportOutcome(True, sentence, taken.changes)


def _done(
    services: Services,
    what: str,
    person: Person,
    act: Callable[[Connection, datetime], list[int]],
) -> list[int]:
    now = services.clock()
    with writing(services.engine) as c:
        ids = act(c, now)
        for notice_id in ids:
            _note(c, now, person, what, f"notice {notice_id}", None)
    return ids


def _note(
    c: Connection,
    at: datetime,
    person: Person,
    what: str,
    subject: str,
    after: Mapping[str, object] | None,
    before: Mapping[str, object] | None = None,
) -> None:
    audit.note(c, at=at, who=person.login, what=what, subject=subject, before=before, after=after)
