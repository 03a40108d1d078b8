"""Texts in doubt: ask the carrier what became of them, or do what the programme's policy says.

The carrier is never asked inside a transaction: a question is taken in one, and its answer is
worked in another, which changes only what is still open then.
"""

import logging
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from time import monotonic

from sqlalchemy import Connection

from gateways.errors import TryLater, Unsure
from gateways.protocol import Asking, NotKnown, Question, Receipt
from reminder_service.kinds import NoticeState
from reminder_service.records import asks, doubts, receipts
from reminder_service.records.asks import Ask
from reminder_service.records.engine import reading, writing
from reminder_service.records.tables import SettledBy
from reminder_service.work.at_once import at_once
from reminder_service.work.services import Services

log = logging.getLogger(__name__)

FIRST_ASK = timedelta(minutes=2)
"""How long after a try its carrier is asked first, since it may still be on its way; each wait
after that is twice as long (setting)."""

LONGEST_WAIT = timedelta(hours=1)
"""Longest wait between two questions about a text in doubt (setting)."""

LAST_ASK = timedelta(minutes=10)
"""How long before a text expires it is asked for once more, so that it can still go (setting)."""

MOST_ASKS = 12
"""How often a carrier is asked about one text: over some seven hours if in doubt (setting)."""

NO_RECEIPTS_WAIT = timedelta(minutes=15)
"""How long after a try a carrier that sends no receipts is asked first (setting)."""

RECEIPT_OVERDUE = timedelta(days=1)
"""How long a carrier that sends receipts has for one before it is asked (setting)."""

UNHEARD_WAIT = timedelta(hours=1)
"""First wait between two questions about a text that was handed over (setting)."""

UNHEARD_LONGEST_WAIT = timedelta(days=1)
"""Longest such wait, and the longest that a carrier may wish for (setting)."""

FORGOTTEN = timedelta(days=4)
"""Age from which nobody asks for a text that was handed over any more (setting)."""

ASKS_A_ROUND = 50
"""How many texts of each kind one carrier is asked about in one round (setting)."""

ROUND_S = 20.0
"""How long one round of questions to one carrier may take, in seconds (setting)."""

EVASIONS_BORNE = 3
"""Questions of one round that a carrier may put off before it is left in peace (setting)."""

POLICY_BATCH = 200
"""How many texts the policy settles in one round (setting)."""

NEVER_TAKEN = "the carrier does not know it, so it goes again"
AGAIN_BY_POLICY = "nobody could tell whether it went out, so it goes again"
SENT_BY_POLICY = "nobody could tell whether it went out; it counts as handed over"


@dataclass(frozen=True, slots=True)
class Settled:
    """What one round came to.

    Attributes
    ----------
    asked : questions put to carriers
    by_answer : notices that an answer moved
    by_policy : notices that the policy moved
    """

    asked: int = 0
    by_answer: int = 0
    by_policy: int = 0


def settle_doubts(services: Services) -> Settled:
    """Follow the programme's policy, then ask every carrier that can be asked, all at once.

    Texts that were handed over and never heard of again are asked for too.

    Parameters
    ----------
    services : database, clock, gateways, settings

    Returns
    -------
    counts
    """
    by_policy = follow_policy(services)
    rounds = {
        name: partial(_ask_round, services, name, gateway)
        for name, gateway in services.gateways.items()
        if gateway.abilities.asking and isinstance(gateway, Asking)
    }
    answered = at_once(rounds).values()
    asked = sum(asked for asked, _ in answered)
    return Settled(asked, sum(moved for _, moved in answered), by_policy)


def follow_policy(services: Services) -> int:
    """Do with texts in doubt that nothing else will settle what the programme wants done.

    A text that could no longer go out is never sent again: it waits for a person.

    Parameters
    ----------
    services : database, clock, gateways, settings

    Returns
    -------
    how many notices are in doubt no more
    """
    policy, now = services.settings.doubt_policy, services.clock()
    if policy == "person":
        return 0
    can = {name: gateway.abilities for name, gateway in services.gateways.items()}
    most_tries = services.settings.retry_attempts
    with writing(services.engine) as c:
        left = doubts.left_to_policy(
            c,
            resent=[name for name, abilities in can.items() if abilities.client_reference],
            asked=[name for name, abilities in can.items() if abilities.asking],
            most_asks=MOST_ASKS,
            before=now - timedelta(seconds=services.settings.doubt_wait_s),
            now=now,
            sendable=most_tries if policy == "send again" else None,
            limit=POLICY_BATCH,
        )
        return sum(_by_policy(c, services, attempt_id, now) for attempt_id in left)


def _by_policy(c: Connection, services: Services, attempt_id: int, now: datetime) -> int:
    policy = services.settings.doubt_policy
    by, who = SettledBy.POLICY, f"policy: {policy}"
    if policy == "send again":
        moved = doubts.send_anew(
            c,
            attempt_id,
            by=by,
            who=who,
            at=now,
            reason=AGAIN_BY_POLICY,
            most_tries=services.settings.retry_attempts,
        )
    else:
        state = NoticeState.HANDED_OVER
        moved = doubts.settle_as(
            c, attempt_id, state, by=by, who=who, at=now, reason=SENT_BY_POLICY
        )
    return len(moved)


def _ask_round(services: Services, route: str, gateway: Asking) -> tuple[int, int]:
    """Questions put to one carrier, and notices that its answers moved."""
    ends_at = monotonic() + ROUND_S
    asked = moved = evasions = 0
    for attempt_id in _due(services, route):
        ask = _taken(services, attempt_id)
        if ask is None:
            continue
        asked += 1
        known = {"attempt_id": attempt_id, "route": route}
        question = Question(ask.number, ask.carrier_reference, ask.client_reference, ask.started_at)
        try:
            moved += _worked(services, ask, gateway.ask(question))
        except TryLater as wait:
            told = (attempt_id, route, wait.reason)
            log.warning("attempt %s: %s does not say yet: %s", *told, extra=known)
            _put_off(services, attempt_id, wait.after_s)
            evasions += 1
        except Unsure as doubt:
            told = (attempt_id, route, doubt.reason)
            log.warning("attempt %s: %s cannot say: %s", *told, extra=known)
            with writing(services.engine) as c:
                asks.ask_no_more(c, attempt_id, MOST_ASKS)
        if evasions >= EVASIONS_BORNE or monotonic() > ends_at:
            break
    return asked, moved


def _due(services: Services, route: str) -> list[int]:
    """Attempts to ask one carrier about: those in doubt, then those never heard of again."""
    now = services.clock()
    receipts_come = services.gateways[route].abilities.receipts
    overdue = RECEIPT_OVERDUE if receipts_come else NO_RECEIPTS_WAIT
    with reading(services.engine) as c:
        in_doubt = asks.doubts_to_ask(
            c, route, now=now, before=now - FIRST_ASK, most_asks=MOST_ASKS, limit=ASKS_A_ROUND
        )
        unheard = asks.unheard_of(
            c,
            route,
            now=now,
            since=now - FORGOTTEN,
            before=now - overdue,
            most_asks=MOST_ASKS,
            limit=ASKS_A_ROUND,
        )
    return in_doubt + unheard


def _taken(services: Services, attempt_id: int) -> Ask | None:
    """The question about one text, if it is still open and no other worker asks it."""
    now = services.clock()
    with writing(services.engine) as c:
        ask = asks.ask_of(c, attempt_id)
        if ask is None or not asks.take_ask(c, ask, next_ask_at(ask, now)):
            return None
        return ask


def next_ask_at(ask: Ask, now: datetime) -> datetime:
    """When a text is asked for next if nothing is learnt now: each wait doubles.

    One in doubt is asked for once more shortly before it expires.

    Parameters
    ----------
    ask : the question that is put now
    now : aware UTC instant

    Returns
    -------
    aware UTC instant
    """
    if ask.state is not NoticeState.IN_DOUBT:
        return now + min(UNHEARD_WAIT * (1 << ask.asks), UNHEARD_LONGEST_WAIT)
    at = now + min(FIRST_ASK * (1 << ask.asks), LONGEST_WAIT)
    last = ask.expires_at - LAST_ASK
    return last if now < last < at else at


def _put_off(services: Services, attempt_id: int, after_s: float) -> None:
    wait = timedelta(seconds=min(after_s, UNHEARD_LONGEST_WAIT.total_seconds()))
    with writing(services.engine) as c:
        asks.put_off(c, attempt_id, services.clock() + wait)


def _worked(services: Services, ask: Ask, answer: Receipt | NotKnown) -> int:
    """Let an answer move the notices it is about, if they are still open; answers how many."""
    now, who = services.clock(), f"route {ask.gateway}"
    with writing(services.engine) as c:
        if isinstance(answer, Receipt):
            moved = receipts.take_word(
                c,
                ask.attempt_id,
                answer.state.value,
                by=SettledBy.ASKED,
                who=who,
                at=now,
                reason=answer.reason or None,
                reference=answer.reference,
            )
            if moved:
                _keep(c, ask, answer, now)
            return moved
        if ask.state is not NoticeState.IN_DOUBT:
            # It was taken once: a carrier that has forgotten it has no more to say.
            asks.ask_no_more(c, ask.attempt_id, MOST_ASKS)
            return 0
        sent_anew = doubts.send_anew(
            c,
            ask.attempt_id,
            by=SettledBy.ASKED,
            who=who,
            at=now,
            reason=NEVER_TAKEN,
            most_tries=services.settings.retry_attempts,
        )
        return len(sent_anew)


def _keep(c: Connection, ask: Ask, answer: Receipt, now: datetime) -> None:
    """Keep what the carrier said among the receipts."""
    receipts.keep_receipt(
        c,
        gateway=ask.gateway,
        reference=answer.reference,
        client_reference=answer.client_reference or ask.client_reference,
        state=answer.state.value,
        at=answer.at,
        reason=answer.reason,
        received_at=now,
        attempt_id=ask.attempt_id,
    )
