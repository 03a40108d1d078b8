"""What became of a text, as its carrier says when it is asked."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from gateways.errors import TryLater, Unsure
from gateways.http.answers import (
    LONGEST_REFERENCE,
    LONGEST_WAIT_S,
    Reply,
    hidden_parts,
    reason_of,
    shown,
    wait_s,
)
from gateways.http.calls import Values, call_writer
from gateways.http.events import BadEvent, Item, state_of
from gateways.http.exchange import Exchange, Unanswered
from gateways.http.fields import NoJson, json_value, list_at, word_found
from gateways.http.profile import Profile
from gateways.http.profile_asking import Asking, NeverHeard, Told
from gateways.http.times import read_time
from gateways.protocol import NotKnown, Question, Receipt

_NOT_NOW = frozenset({401, 402, 403, 407, 408, 425, 429})
"""Statuses that say nothing of the text and may change: RFC 9110, RFC 6585, RFC 8470."""

Asker = Callable[[Question], Receipt | NotKnown]
"""As `gateways.protocol.Asking.ask`."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question as it was put.

    Attributes
    ----------
    question : what was asked
    at : aware UTC instant
    usual_s : wait where the carrier names none
    hidden : what no reason may show
    """

    question: Question
    at: datetime
    usual_s: float
    hidden: Sequence[str]

    @property
    def age_s(self) -> float:
        """How long ago the text was tried."""
        return (self.at - self.question.sent_at).total_seconds()


@dataclass(frozen=True, slots=True)
class _Text:
    """An answer that is no JSON."""

    content: str

    def word(self, pattern: str | None) -> str | None:
        """What the pattern finds, or None."""
        return None if pattern is None else word_found(self.content, pattern)


def asker(asking: Asking, profile: Profile, put: Exchange, now: Callable[[], datetime]) -> Asker:
    """What asks the carrier of a text.

    An answer that is missing or cannot be read is `gateways.errors.TryLater`: asking again does
    no harm. One that does not speak of this text is `gateways.errors.Unsure`.
    """
    write = call_writer(asking.request, profile)
    by_theirs = "carrier_reference" in asking.request.names()
    secrets = [each.secret.get_secret_value() for each in profile.credentials]
    usual_s = profile.answer.retry_s

    def ask(question: Question) -> Receipt | NotKnown:
        """What the carrier says of one text."""
        if by_theirs and question.reference is None:
            raise Unsure("the carrier's id never came, and it is asked by nothing else")
        hidden = hidden_parts([], [*secrets, question.to.removeprefix("+")])
        asked = _Asked(question, now(), usual_s, hidden)
        try:
            return _fate(asking.answer, put(write(_values(question))), asked)
        except Unanswered as error:
            raise TryLater(error.reason, usual_s) from None
        except BadEvent as error:
            raise Unsure(f"the answer cannot be used: {error}") from None

    return ask


def _values(question: Question) -> Values:
    return {
        "to": question.to,
        "to_digits": question.to.removeprefix("+"),
        "reference": question.client_reference,
        "carrier_reference": question.reference or "",
    }


def _fate(told: Told, reply: Reply, asked: _Asked) -> Receipt | NotKnown:
    """What an answer says of the text that was asked for."""
    whole = _whole(told, reply.content, asked.at)
    code = None if whole is None else whole.word(told.code)
    reason = reason_of(reply.status, code, reply.content.decode("utf-8", "replace"), asked.hidden)
    if code in told.later or reply.status in _NOT_NOW or reply.status >= 500:
        raise TryLater(reason, wait_s(reply.retry_after, asked.usual_s, asked.at))
    good = 200 <= reply.status < 300
    texts = _texts(told, whole) if good and whole is not None else None
    if told.not_known is not None and _is_unknown(told.not_known, reply.status, code, texts):
        return _believed(told.not_known, asked)
    if not good:
        raise Unsure(reason)
    if whole is None:
        raise TryLater(f"the answer cannot be read, {reason}", asked.usual_s)
    return _receipt(told, _own(told, texts, asked.question), asked)


def _whole(told: Told, content: bytes, at: datetime) -> Item | _Text | None:
    """The answer, or None if it cannot be read."""
    if told.format == "text":
        return _Text(content.decode("utf-8", "replace"))
    try:
        return Item(json_value(content), True, at)
    except NoJson:
        return None


def _texts(told: Told, whole: Item | _Text) -> Sequence[Item | _Text] | None:
    """The texts that an answer speaks of; None if the list that should be there is not."""
    if told.texts is None or isinstance(whole, _Text):
        return [whole]
    listed = list_at(whole.value, told.texts)
    return None if listed is None else [Item(each, True, whole.received_at) for each in listed]


def _is_unknown(
    heard: NeverHeard, status: int, code: str | None, texts: Sequence[Item | _Text] | None
) -> bool:
    """Whether an answer says that the carrier never took the text."""
    if heard.empty and texts is not None and not texts:
        return True
    if not (heard.statuses or heard.codes):
        return False
    by_status = not heard.statuses or status in heard.statuses
    return by_status and (not heard.codes or code in heard.codes)


def _believed(heard: NeverHeard, asked: _Asked) -> NotKnown:
    """That it never took it, if the text has the age at which that can be believed."""
    if asked.age_s < heard.from_s:
        wait = min(heard.from_s - asked.age_s, LONGEST_WAIT_S)
        raise TryLater("the carrier does not know the text yet", wait)
    if asked.age_s > heard.until_s:
        raise Unsure("the carrier does not know the text, or has forgotten it by now")
    return NotKnown()


def _own(told: Told, texts: Sequence[Item | _Text] | None, question: Question) -> Item | _Text:
    """The one text that was asked for."""
    if texts is None:
        raise Unsure(f"the answer has no list {told.texts}")
    expected = [
        (place, reference)
        for place, reference in (
            (told.client_reference, question.client_reference),
            (told.reference, question.reference),
        )
        if place is not None and reference is not None
    ]
    own = [each for each in texts if all(each.word(place) == is_ for place, is_ in expected)]
    if not own or (len(own) > 1 and not expected):
        raise Unsure("the answer does not speak of this text, or of others too")
    return own[0]


def _receipt(told: Told, text: Item | _Text, asked: _Asked) -> Receipt:
    said = text.word(told.state)
    if said is None:
        raise Unsure("the answer names no state")
    state, reason = state_of(told.states, said, text.word(told.reason) or "")
    theirs = text.word(told.reference) or asked.question.reference
    return Receipt(
        reference=theirs if len(theirs or "") <= LONGEST_REFERENCE else asked.question.reference,
        client_reference=asked.question.client_reference,
        state=state,
        at=_time(told, text, asked),
        reason=shown(reason, asked.hidden),
    )


def _time(told: Told, text: Item | _Text, asked: _Asked) -> datetime:
    """When the carrier says it was so; when it was asked, where it says nothing of that."""
    written = text.word(told.at)
    if written is None:
        return asked.at
    try:
        return read_time(written, told.time, told.zone)
    except ValueError:
        raise Unsure(f"{told.at} is no time of the form {told.time}") from None
