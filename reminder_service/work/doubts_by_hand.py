"""Texts in doubt as a person settles them: it arrived, it did not, or it goes again."""

from enum import StrEnum

from sqlalchemy import Connection

from reminder_service.kinds import NoticeState
from reminder_service.records import audit, doubts, queue_by_hand
from reminder_service.records.engine import writing
from reminder_service.records.people import Person
from reminder_service.records.tables import SettledBy
from reminder_service.work.by_hand import AGAIN_LIFE
from reminder_service.work.hours import next_allowed
from reminder_service.work.replan import sending_hours
from reminder_service.work.services import Services


class Verdict(StrEnum):
    """What a person says of a text in doubt."""

    ARRIVED = "arrived"
    AGAIN = "again"
    LOST = "lost"


REASONS = {
    Verdict.ARRIVED: "it arrived, says a person",
    Verdict.AGAIN: "in doubt, so a person had it sent once more",
    Verdict.LOST: "it did not arrive, says a person",
}
"""What the page says of it from then on."""


def settle_by_hand(
    services: Services, attempt_id: int, person: Person, verdict: Verdict
) -> list[int]:
    """Settle a text in doubt as a person says; one of several notices is settled whole.

    A text that is to go again is queued anew, at the next allowed hour: planning has no say over
    it, and the first one counts as not arrived.

    Parameters
    ----------
    services : the services
    attempt_id : the try that nobody knows the end of
    person : who says so
    verdict : what

    Returns
    -------
    ids of the notices that are in doubt no more; empty if something else was faster
    """
    now = services.clock()
    state = NoticeState.DELIVERED if verdict is Verdict.ARRIVED else NoticeState.UNDELIVERED
    with writing(services.engine) as c:
        ids = doubts.settle_as(
            c,
            attempt_id,
            state,
            by=SettledBy.PERSON,
            who=person.login,
            at=now,
            reason=REASONS[verdict],
            person_id=person.id,
        )
        if verdict is Verdict.AGAIN:
            for notice_id in ids:
                _queue_again(c, services, notice_id, person)
    return ids


def _queue_again(c: Connection, services: Services, notice_id: int, person: Person) -> None:
    now = services.clock()
    hours = sending_hours(services.settings, queue_by_hand.zone_of(c, notice_id))
    send_at = next_allowed(now, hours)
    new_id = queue_by_hand.send_again(
        c,
        notice_id,
        person_id=person.id,
        at=now,
        send_at=send_at,
        expires_at=send_at + AGAIN_LIFE,
    )
    audit.note(
        c,
        at=now,
        who=person.login,
        what="send again",
        subject=f"notice {notice_id}",
        after={"new notice": new_id},
    )
