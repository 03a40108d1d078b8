"""What a carrier's answer means: taken with its id, never, later, or nobody knows."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime

from gateways.errors import Refused, TryLater, Unsure
from gateways.http.fields import NoJson, json_value, value_at, word, word_found
from gateways.http.profile_answers import Answer, Verdict
from gateways.http.profile_parts import Words
from gateways.protocol import Outgoing, Taken

LONGEST_WAIT_S = 86_400.0
"""Longest wait that a carrier may ask for (setting); the queue bounds it by the task's close."""

_SHORTEST_WAIT_S = 1.0
"""Wait where a carrier asks for none (setting)."""

LONGEST_REFERENCE = 200
"""Letters of the longest id that is kept (setting)."""

_SHOWN = 80
"""Letters of an answer that a reason shows (setting)."""

_SHORTEST_HIDDEN = 4
"""Letters of the shortest part that is hidden from reasons: less stands in every answer."""

_BY_STATUS: dict[int, Verdict] = {
    408: "unsure",
    409: "unsure",
    425: "later",
    429: "later",
    503: "later",
}
"""Statuses that mean something else than their hundred: RFC 9110, RFC 6585, RFC 8470."""


@dataclass(frozen=True, slots=True)
class Reply:
    """An answer as it came.

    Attributes
    ----------
    status : of HTTP
    retry_after : that header's value, if it came
    content : the body
    """

    status: int
    retry_after: str | None
    content: bytes


def taken_by(
    answer: Answer, reply: Reply, reference: str, now: datetime, hidden: Sequence[str]
) -> Taken:
    """The carrier's id, if the answer says that the message was taken.

    Parameters
    ----------
    answer : how this carrier's answers are read
    reply : what it answered
    reference : ours of the message
    now : aware UTC instant
    hidden : secrets and parts of the message, which no reason may show

    Raises
    ------
    gateways.errors.Refused, gateways.errors.TryLater, gateways.errors.Unsure
        It says otherwise, or nothing that the profile knows.

    References
    ----------
    RFC 9110, sections 10.2.3 (Retry-After) and 15 (status codes).
    """
    value = finder(answer, reply.content)
    code = value(answer.code)
    verdict = _verdict(answer, reply.status, code)
    given = value(answer.reference) if answer.reference else reference
    if verdict == "taken" and given is not None and _can_be_kept(given):
        return Taken(given)
    said = value(answer.reason) or reply.content.decode("utf-8", "replace")
    reason = reason_of(reply.status, code, said, hidden)
    if verdict == "refused":
        raise Refused(reason)
    if verdict == "later":
        raise TryLater(reason, wait_s(reply.retry_after, answer.retry_s, now))
    raise Unsure(f"{reason}; no id in it" if verdict == "taken" else reason)


def finder(answer: Answer, content: bytes) -> Callable[[str | None], str | None]:
    """What finds a value by its place; it finds nothing in an answer that cannot be read."""
    if answer.format == "text":
        text = content.decode("utf-8", "replace")
        return lambda place: None if place is None else word_found(text, place)
    try:
        read = json_value(content)
    except NoJson:
        return lambda place: None
    return lambda place: None if place is None else word(value_at(read, place))


def reason_of(status: int, code: str | None, said: str, hidden: Sequence[str]) -> str:
    """What an answer says, in one line, with nothing in it that is hidden.

    Examples
    --------
    >>> reason_of(402, "9", "no credit", [])
    'status 402, code 9: no credit'
    """
    coded = "" if code is None else f", code {shown(code, hidden)}"
    return f"status {status}{coded}: {shown(said, hidden) or 'nothing more was said'}"


def wait_s(retry_after: str | None, usual_s: float, now: datetime) -> float:
    """Seconds to wait by a Retry-After header; the usual ones where it says nothing usable.

    Examples
    --------
    >>> noon = datetime(2026, 12, 12, 12, tzinfo=UTC)
    >>> wait_s("120", 60, noon), wait_s("Sat, 12 Dec 2026 12:05:00 GMT", 60, noon)
    (120.0, 300.0)
    """
    written = (retry_after or "").strip()
    if re.fullmatch(r"[0-9]+", written):
        seconds = float(written) if len(written) < 10 else LONGEST_WAIT_S
        return min(max(seconds, _SHORTEST_WAIT_S), LONGEST_WAIT_S)
    try:
        at = parsedate_to_datetime(written)
    except (ValueError, OverflowError):
        return usual_s
    seconds = ((at if at.tzinfo else at.replace(tzinfo=UTC)) - now).total_seconds()
    return min(seconds, LONGEST_WAIT_S) if seconds >= _SHORTEST_WAIT_S else usual_s


def hidden_parts(messages: Iterable[Outgoing], secrets: Iterable[str]) -> list[str]:
    """Numbers, texts and secrets that no reason may show, without those too short to hide."""
    parts = {*secrets}
    for each in messages:
        parts |= {each.to.removeprefix("+"), each.body}
    # The longest first: a shorter one may be part of it.
    return sorted((each for each in parts if len(each) >= _SHORTEST_HIDDEN), key=len, reverse=True)


def shown(text: str, hidden: Sequence[str]) -> str:
    r"""The beginning of a text on one line, without phone numbers and what else is hidden.

    Examples
    --------
    >>> shown("no credit\nfor +447700900001", [])
    'no credit for …'
    """
    for part in hidden:
        text = text.replace(part, "…")
    text = re.sub(r"\+?[0-9]{7,}", "…", " ".join(text[: 4 * _SHOWN].split()))
    printable = "".join(letter if letter.isprintable() else "?" for letter in text)
    return printable if len(printable) <= _SHOWN else f"{printable[: _SHOWN - 1]}…"


def _can_be_kept(reference: str) -> bool:
    """Whether an id is of letters that every database takes, and not too long."""
    return len(reference) <= LONGEST_REFERENCE and reference.isprintable()


def _verdict(answer: Answer, status: int, code: str | None) -> Verdict:
    codes = answer.codes
    by_code: dict[Verdict, Words] = {
        "refused": codes.refused,
        "later": codes.later,
        "unsure": codes.unsure,
    }
    for verdict, words in by_code.items():
        if code in words:
            return verdict
    if str(status) in answer.statuses:
        return answer.statuses[str(status)]
    if not 200 <= status < 300:
        return _usual(status)
    if code in codes.taken or (code is None and not codes.taken):
        return "taken"
    return "unsure"


def _usual(status: int) -> Verdict:
    """What a status other than 2xx means where the profile says nothing of it."""
    return _BY_STATUS.get(status, "refused" if 400 <= status < 500 else "unsure")
