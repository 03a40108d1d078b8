"""Which texts a carrier is to be asked about, and when; each question is taken by one worker."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, or_, select, update

from reminder_service.kinds import NoticeState, PhoneNumber
from reminder_service.records.tables import Outcome, attempts, notices, phones


@dataclass(frozen=True, slots=True)
class Ask:
    """A text whose fate is to be asked for.

    Attributes
    ----------
    attempt_id : the try that handed it over, perhaps
    gateway : name of the route that had it
    number : of its phone
    carrier_reference : the carrier's id of it; None if its answer never came
    client_reference : our id of it
    started_at : aware UTC instant of the try
    asks : how often the carrier was asked before
    expires_at : aware UTC instant after which the first of its notices is of no use
    state : of its notices
    """

    attempt_id: int
    gateway: str
    number: PhoneNumber
    carrier_reference: str | None
    client_reference: str
    started_at: datetime
    asks: int
    expires_at: datetime
    state: NoticeState


def doubts_to_ask(
    c: Connection, gateway: str, *, now: datetime, before: datetime, most_asks: int, limit: int
) -> list[int]:
    """Texts in doubt whose carrier may be asked now, the longest due first.

    Index: ix_notices_state_send_at_id for the state, then primary key.

    Parameters
    ----------
    c : connection
    gateway : name of the route
    now : aware UTC instant
    before : aware UTC instant; a try that ended later may still be on its way to the carrier
    most_asks : texts that were asked for as often are left alone
    limit : how many at most

    Returns
    -------
    ids of attempts
    """
    in_doubt = select(notices.c.attempt_id).where(notices.c.state == NoticeState.IN_DOUBT.value)
    due = (
        select(attempts.c.id)
        .where(
            attempts.c.id.in_(in_doubt),
            attempts.c.gateway == gateway,
            attempts.c.outcome == Outcome.UNSURE.value,
            attempts.c.ended_at <= before,
            attempts.c.asks < most_asks,
            or_(attempts.c.ask_at.is_(None), attempts.c.ask_at <= now),
        )
        .order_by(func.coalesce(attempts.c.ask_at, attempts.c.ended_at), attempts.c.id)
        .limit(limit)
    )
    return list(c.execute(due).scalars())


def unheard_of(
    c: Connection,
    gateway: str,
    *,
    now: datetime,
    since: datetime,
    before: datetime,
    most_asks: int,
    limit: int,
) -> list[int]:
    """Texts handed over long ago of which no receipt has told the end, the longest due first.

    Index: ix_notices_state_send_at_id between the two instants, then primary key.

    Parameters
    ----------
    c : connection
    gateway : name of the route
    now : aware UTC instant
    since, before : aware UTC instants; only texts due and tried between them are asked for
    most_asks : texts that were asked for as often are left alone
    limit : how many at most

    Returns
    -------
    ids of attempts
    """
    over = select(notices.c.attempt_id).where(
        notices.c.state == NoticeState.HANDED_OVER.value,
        notices.c.send_at >= since,
        notices.c.send_at <= before,
    )
    due = (
        select(attempts.c.id)
        .where(
            attempts.c.id.in_(over),
            attempts.c.gateway == gateway,
            attempts.c.started_at <= before,
            attempts.c.asks < most_asks,
            or_(attempts.c.ask_at.is_(None), attempts.c.ask_at <= now),
        )
        .order_by(func.coalesce(attempts.c.ask_at, attempts.c.started_at), attempts.c.id)
        .limit(limit)
    )
    return list(c.execute(due).scalars())


def ask_of(c: Connection, attempt_id: int) -> Ask | None:
    """The question about a text; None if its notices are settled meanwhile.

    Index: primary keys, ix_notices_attempt_id.
    """
    open_states = (NoticeState.IN_DOUBT.value, NoticeState.HANDED_OVER.value)
    row = c.execute(
        select(
            attempts.c.gateway,
            attempts.c.carrier_reference,
            attempts.c.client_reference,
            attempts.c.started_at,
            attempts.c.asks,
            phones.c.number,
            notices.c.expires_at,
            notices.c.state,
        )
        .join_from(attempts, notices, notices.c.attempt_id == attempts.c.id)
        .join(phones, notices.c.phone_id == phones.c.id)
        .where(attempts.c.id == attempt_id, notices.c.state.in_(open_states))
        .order_by(notices.c.expires_at)
        .limit(1)
    ).one_or_none()
    if row is None:
        return None
    known = dict(row._mapping)
    return Ask(attempt_id=attempt_id, **known | {"state": NoticeState(row.state)})


def take_ask(c: Connection, ask: Ask, ask_at: datetime) -> bool:
    """Take a question, unless another worker did; to be committed before the carrier is asked.

    Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    ask : as `ask_of` answered it
    ask_at : aware UTC instant of the next time, should nobody learn anything now

    Returns
    -------
    whether it is ours
    """
    taken = (
        update(attempts)
        .where(attempts.c.id == ask.attempt_id, attempts.c.asks == ask.asks)
        .values(asks=ask.asks + 1, ask_at=ask_at)
    )
    return c.execute(taken).rowcount == 1


def put_off(c: Connection, attempt_id: int, ask_at: datetime) -> None:
    """Ask no sooner than a carrier wishes. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    attempt_id : of the text
    ask_at : aware UTC instant
    """
    sooner = or_(attempts.c.ask_at.is_(None), attempts.c.ask_at < ask_at)
    c.execute(update(attempts).where(attempts.c.id == attempt_id, sooner).values(ask_at=ask_at))


def ask_no_more(c: Connection, attempt_id: int, most_asks: int) -> None:
    """Leave a text alone, since its carrier cannot say. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    attempt_id : of the text
    most_asks : how often texts are asked for at most
    """
    c.execute(update(attempts).where(attempts.c.id == attempt_id).values(asks=most_asks))
