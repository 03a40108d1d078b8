"""What some phones got these days and what they are still to get, for the cap on their texts."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, select, update

from reminder_service.kinds import NoticeState, Stage
from reminder_service.records.hooks import note_notices
from reminder_service.records.queue_claims import ClaimedNotice
from reminder_service.records.queue_rows import unclaimed
from reminder_service.records.tables import attempts, farmers, notices, phones, wards

GONE = (
    NoticeState.HANDED_OVER,
    NoticeState.DELIVERED,
    NoticeState.UNDELIVERED,
    NoticeState.IN_DOUBT,
)
"""States of a notice that has left us, or may have."""

COUNTED = (*GONE, NoticeState.PLANNED, NoticeState.WAITING, NoticeState.CLAIMED)
"""States of a notice that a phone got or may get; what a coordinator holds may never go."""


@dataclass(frozen=True, slots=True)
class PhoneNotice:
    """One notice that a phone got or is to get.

    Attributes
    ----------
    notice : as a dispatcher knows it; its attempt is the text that it went out in
    key : of the notice
    state : one of those counted
    day : local day it is to go out
    sent_at : aware UTC instant it was handed over
    """

    notice: ClaimedNotice
    key: str
    state: NoticeState
    day: date
    sent_at: datetime | None

    @property
    def is_gone(self) -> bool:
        """Whether it has left us, or may have."""
        return self.state in GONE


def phone_notices(
    c: Connection, phone_ids: Collection[int], since: datetime, until: datetime
) -> list[PhoneNotice]:
    """Notices of some phones that went out or fall due in a time; replies are left out.

    Index: ix_notices_phone_id_send_at_id, then primary keys.

    Parameters
    ----------
    c : connection
    phone_ids : whose
    since, until : aware UTC instants of their send times

    Returns
    -------
    the notices by id
    """
    own = [name for name in ClaimedNotice.__slots__ if name in notices.c]
    rows = c.execute(
        select(
            *(notices.c[name] for name in own),
            phones.c.number,
            wards.c.zone,
            attempts.c.client_reference,
            attempts.c.gateway,
            wards.c.name.label("ward"),
            farmers.c.language,
            notices.c.key,
            notices.c.state,
            notices.c.day,
            notices.c.sent_at,
        )
        .select_from(
            notices.join(phones)
            .outerjoin(farmers, notices.c.farmer_id == farmers.c.id)
            .outerjoin(wards, notices.c.ward_id == wards.c.id)
            .outerjoin(attempts, notices.c.attempt_id == attempts.c.id)
        )
        .where(
            notices.c.phone_id.in_(sorted(phone_ids)),
            notices.c.send_at >= since,
            notices.c.send_at <= until,
            notices.c.state.in_([state.value for state in COUNTED]),
            notices.c.stage != Stage.REPLY.value,
        )
        .order_by(notices.c.id)
    ).mappings()
    return [_phone_notice(dict(row)) for row in rows]


def _phone_notice(row: dict[str, object]) -> PhoneNotice:
    known = {name: row[name] for name in ClaimedNotice.__slots__ if name != "stage"}
    claimed = ClaimedNotice(stage=Stage(str(row["stage"])), **known)  # type: ignore[arg-type]
    return PhoneNotice(
        claimed,
        str(row["key"]),
        NoticeState(str(row["state"])),
        row["day"],  # type: ignore[arg-type]
        row["sent_at"],  # type: ignore[arg-type]
    )


def hold_back(
    c: Connection, *, notice_ids: Sequence[int], claim: str, reason: str, at: datetime
) -> int:
    """Take claimed notices out that a phone is not to get. Index: primary key.

    No person withdrew them, so a new plan may ask for them again.

    Parameters
    ----------
    c : connection of a write transaction
    notice_ids : which; those that an attempt was made for are left alone
    claim : token of the round that claimed them
    reason : why, for the page
    at : aware UTC instant

    Returns
    -------
    how many were taken out
    """
    state = NoticeState.WITHDRAWN.value
    values = unclaimed(state, reason=reason, person_id=None, changed_at=at)
    ours = (
        notices.c.id.in_(sorted(notice_ids)),
        notices.c.state == NoticeState.CLAIMED.value,
        notices.c.claim == claim,
        notices.c.attempt_id.is_(None),
    )
    changed = update(notices).where(*ours).values(values).returning(notices.c.id)
    return len(note_notices(c, c.execute(changed).scalars().all(), at))
