"""One call to a gateway: the attempts written down before it, the answers noted after it."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Answer, Batching, Gateway, Outgoing, Taken
from reminder_service.records import doubts, queue
from reminder_service.records.engine import writing
from reminder_service.records.tables import Outcome, SettledBy
from reminder_service.work import budget
from reminder_service.work.budget import Held, Reserved
from reminder_service.work.bundles import Bundle, joined_body
from reminder_service.work.routing import Letter, note_route, outside_hours
from reminder_service.work.services import Services

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Dispatched:
    """How many notices one round brought to which end."""

    handed_over: int = 0
    refused: int = 0
    waiting: int = 0
    in_doubt: int = 0
    postponed: int = 0

    def __add__(self, other: "Dispatched") -> "Dispatched":
        return Dispatched(
            self.handed_over + other.handed_over,
            self.refused + other.refused,
            self.waiting + other.waiting,
            self.in_doubt + other.in_doubt,
            self.postponed + other.postponed,
        )


@dataclass(frozen=True, slots=True)
class Begun:
    """A letter whose attempt is written down.

    Attributes
    ----------
    letter : with the notices that are still to go
    attempt_id : of the attempt
    reserved : what it may cost
    """

    letter: Letter
    attempt_id: int
    reserved: Reserved

    @property
    def doubtful(self) -> int | None:
        """Id of the earlier attempt that ended in doubt, if this one repeats it."""
        return self.letter.bundle.notices[0].attempt_id


@dataclass(frozen=True, slots=True)
class _Ending:
    """What one answer means for its notices."""

    outcome: Outcome
    carrier_reference: str | None = None
    reason: str | None = None
    again_at: datetime | None = None

    @property
    def carrier_is_well(self) -> bool:
        return self.outcome in (Outcome.TAKEN, Outcome.REFUSED)


def hand_over(services: Services, claim: str, letters: Sequence[Letter]) -> Dispatched:
    """Hand the letters of one call to their gateway.

    The attempts are committed before the call, so that a crash leaves them in doubt and no text
    is sent unseen; the answers are noted in one transaction after it.

    Parameters
    ----------
    services : database, clock, gateways, settings
    claim : token of the round that claimed the notices
    letters : all by one route, no more than its gateway takes in one call

    Returns
    -------
    counts of notices
    """
    with writing(services.engine) as c:
        begun, put_off = _begun(c, services, claim, letters)
    if not begun:
        return put_off
    answers = _answers(services.gateways[letters[0].route], [_outgoing(each) for each in begun])
    with writing(services.engine) as c:
        for each, answer in zip(begun, answers, strict=True):
            put_off += _ended(c, services, claim, each, answer)
        # The route's row comes last: workers that end calls at once lock rows in the same order.
        for each, answer in zip(begun, answers, strict=True):
            failure = None if isinstance(answer, Taken | Refused) else answer.reason
            note_route(c, services, each.letter.route, services.clock(), failure)
    return put_off


def _begun(
    c: Connection, services: Services, claim: str, letters: Sequence[Letter]
) -> tuple[list[Begun], Dispatched]:
    """Write an attempt down for each letter that the budget allows; put the others off."""
    now = services.clock()
    # All money first: whoever waits for the budget's lock must hold no row of the queue.
    reserved = [budget.reserve(c, services, letter, now) for letter in letters]
    begun: list[Begun] = []
    put_off = Dispatched()
    for letter, money in zip(letters, reserved, strict=True):
        if isinstance(money, Held):
            put_off += postponed(c, claim, letter.bundle, money.until, money.reason)
            continue
        attempt = queue.begin_attempt(
            c,
            notice_ids=[notice.id for notice in letter.bundle.notices],
            claim=claim,
            gateway=letter.route,
            client_reference=letter.bundle.reference,
            at=now,
            segments=money.segments,
            cost=money.cost,
        )
        if attempt is None:
            _give_back(c, letter.route, money)
        else:
            attempt_id, ids = attempt
            begun.append(Begun(_with_only(letter, ids), attempt_id, money))
    return begun, put_off


def _give_back(c: Connection, route: str, reserved: Reserved) -> None:
    budget.give_back(c, route, reserved.day, reserved.segments, reserved.cost)


def _with_only(letter: Letter, notice_ids: Sequence[int]) -> Letter:
    """The letter without the notices that were taken out since the claim."""
    bundle = letter.bundle
    if len(notice_ids) == len(bundle.notices):
        return letter
    left = tuple(notice for notice in bundle.notices if notice.id in set(notice_ids))
    return replace(
        letter, bundle=replace(bundle, notices=left, body=joined_body(left, bundle.tables))
    )


def _outgoing(begun: Begun) -> Outgoing:
    bundle = begun.letter.bundle
    expires_at = min(notice.expires_at for notice in bundle.notices)
    return Outgoing(bundle.notices[0].number, bundle.body, bundle.reference, expires_at)


def _answers(gateway: Gateway, messages: Sequence[Outgoing]) -> Sequence[Answer]:
    """One answer for each message, from one call if the gateway takes several."""
    if isinstance(gateway, Batching) and len(messages) > 1:
        return gateway.send_many(messages)
    return [_answer(gateway, message) for message in messages]


def _answer(gateway: Gateway, message: Outgoing) -> Answer:
    try:
        return gateway.send(message)
    except (Refused, TryLater, Unsure) as no:
        return no


def _ended(
    c: Connection, services: Services, claim: str, begun: Begun, answer: Answer
) -> Dispatched:
    """Note one answer: on the attempt, its notices, the route and the money."""
    ending, now = _ending(services, begun, answer), services.clock()
    count = queue.end_attempt(
        c,
        attempt_id=begun.attempt_id,
        claim=claim,
        outcome=ending.outcome,
        at=now,
        carrier_reference=ending.carrier_reference,
        reason=ending.reason,
        send_again_at=ending.again_at,
    )
    route = begun.letter.route
    if begun.doubtful is not None and ending.carrier_is_well:
        doubts.settle(c, [begun.doubtful], SettledBy.SENT_AGAIN, now)
    if count and ending.outcome in (Outcome.REFUSED, Outcome.LATER):
        _give_back(c, route, begun.reserved)
    if ending.reason is not None:
        told = (begun.attempt_id, route, ending.outcome.value, ending.reason)
        ids = [notice.id for notice in begun.letter.bundle.notices]
        extra = {"attempt_id": begun.attempt_id, "route": route, "notice_ids": ids}
        log.warning("attempt %s by %s: %s (%s)", *told, extra=extra)
    return _counted(ending.outcome, count)


def _ending(services: Services, begun: Begun, answer: Answer) -> _Ending:
    match answer:
        case Taken():
            return _Ending(Outcome.TAKEN, carrier_reference=answer.reference)
        case Refused():
            return _Ending(Outcome.REFUSED, reason=answer.reason)
        case Unsure():
            return _Ending(Outcome.UNSURE, reason=answer.reason)
        case TryLater():
            if begun.doubtful is not None:
                # An earlier try may have got through, so this one must not become movable again.
                return _Ending(Outcome.UNSURE, reason=answer.reason)
            again_at = _retry_at(services, begun.letter, answer.after_s)
            if again_at is not None:
                return _Ending(Outcome.LATER, reason=answer.reason, again_at=again_at)
            tries = begun.letter.bundle.notices[0].tries
            given_up = f"given up after {tries} tries: {answer.reason}"
            return _Ending(Outcome.REFUSED, reason=given_up)


def postponed(
    c: Connection, claim: str, bundle: Bundle, send_at: datetime, reason: str
) -> Dispatched:
    """Put a claimed bundle off, for which nothing was tried.

    Parameters
    ----------
    c : connection of a write transaction
    claim : token of the round that claimed it
    bundle : what
    send_at : aware UTC instant of the next chance
    reason : why, for the page

    Returns
    -------
    counts of notices
    """
    zone = ZoneInfo(bundle.notices[0].zone or "UTC")
    queue.postpone(
        c,
        notice_ids=[notice.id for notice in bundle.notices],
        claim=claim,
        send_at=send_at,
        day=send_at.astimezone(zone).date(),
        reason=reason,
    )
    return Dispatched(postponed=len(bundle.notices))


def _counted(outcome: Outcome, count: int) -> Dispatched:
    match outcome:
        case Outcome.TAKEN:
            return Dispatched(handed_over=count)
        case Outcome.REFUSED:
            return Dispatched(refused=count)
        case Outcome.LATER:
            return Dispatched(waiting=count)
        case Outcome.UNSURE:
            return Dispatched(in_doubt=count)


def retry_wait_s(tries: int, first_s: float, cap_s: float, asked_s: float) -> float:
    """Seconds to wait before the next try: doubled each time, never less than asked for.

    Parameters
    ----------
    tries : tries made so far, 1 or more
    first_s, cap_s : wait after the first try, and the longest wait
    asked_s : what the gateway asked for

    Returns
    -------
    s

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> [retry_wait_s(n, 60, 3600, 0) for n in (1, 2, 3, 9)]
    [60.0, 120.0, 240.0, 3600]
    """
    return max(min(first_s * 2.0 ** (tries - 1), cap_s), asked_s)


def _retry_at(services: Services, letter: Letter, asked_s: float) -> datetime | None:
    """When to try again, inside the hours; None when the tries are used up.

    While there is another route that was not tried yet, that is at once.
    """
    settings, notice = services.settings, letter.bundle.notices[0]
    if notice.tries >= settings.retry_attempts:
        return None
    now = services.clock()
    if notice.tries < letter.routes:
        return now
    wait_s = retry_wait_s(notice.tries, settings.retry_first_s, settings.retry_cap_s, asked_s)
    # A carrier may ask for a wait that no clock can hold; the notice expires long before.
    at = now + timedelta(seconds=min(wait_s, 7 * 86_400))
    return outside_hours(settings, notice, at) or at
