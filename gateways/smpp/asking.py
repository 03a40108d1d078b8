"""What became of a text that an SMPP carrier took: the question, and what its answer means."""

import re
from datetime import UTC, datetime, timedelta

from gateways.errors import Unsure
from gateways.protocol import Question, Receipt, ReceiptState
from gateways.smpp.profile import SmppProfile
from gateways.smpp.receipts import ENDS, STATES
from gateways.smpp.wire import Answer

_ID = re.compile("[\x01-\xff]{1,64}")
_DIGITS = re.compile("[0-9]+")
_ABSOLUTE = re.compile(r"([0-9]{12})[0-9]([0-9]{2})([+-])")
_QUARTER_MIN = 15
_UNKNOWN = "UNKNOWN"
"""An id or state of which the carrier says that nothing can be told."""


def asked_id(question: Question, profile: SmppProfile) -> str:
    """The carrier's id of a text as the carrier itself spelled it when it took the text.

    Parameters
    ----------
    profile : whose ``submit_ids`` is ``hex`` or ``decimal`` gets zeros before the number, up to
        ``asked_id_digits``, and capital letters

    Raises
    ------
    gateways.errors.Unsure
        There is no id, or none that can be asked about.

    References
    ----------
    SMPP 3.4, 4.8.1 and 5.2.23.
    """
    given = question.reference
    if given is None or given == unnamed(question.client_reference):
        raise Unsure("the carrier named no id for this text, and it can only be asked by that")
    if not _ID.fullmatch(given):
        raise Unsure(f"{given!r} is no id of an SMPP carrier: expected 1 to 64 octets")
    if profile.submit_ids == "text" or not _DIGITS.fullmatch(given):
        return given
    spelled = f"{int(given):X}" if profile.submit_ids == "hex" else given
    return spelled.zfill(profile.asked_id_digits)


def unnamed(client_reference: str) -> str:
    """What stands for the id of a text that a carrier took without naming one."""
    return f"unnamed-{client_reference}"


def fate_of(answer: Answer, question: Question, at: datetime) -> Receipt:
    """What a query_sm_resp says of the text.

    Parameters
    ----------
    answer : with status 0
    at : aware UTC instant of asking, for texts that have come to no end yet

    Raises
    ------
    gateways.errors.Unsure
        The carrier does not know the state, or names none that the standard has.

    References
    ----------
    SMPP 3.4, 4.8.2 and 5.2.28.
    """
    final_date, _zero, state_and_error = answer.rest.partition(b"\0")
    if len(state_and_error) < 2:
        raise Unsure("the carrier's answer ends too early: no state stands in it")
    state, error = state_and_error[:2]
    word = STATES.get(state, f"state {state}")
    if word == _UNKNOWN or state not in STATES:
        raise Unsure(f"the carrier cannot say what became of the text: {word}")
    return Receipt(
        question.reference,
        question.client_reference,
        ENDS.get(word, ReceiptState.UNDERWAY),
        _instant(final_date.decode("latin-1")) or at,
        f"{word} {error:03d}",
    )


def _instant(absolute: str) -> datetime | None:
    """An absolute time in UTC; None for anything else (SMPP 3.4, 7.1.1)."""
    found = _ABSOLUTE.fullmatch(absolute)
    if found is None:
        return None
    digits, quarters, sign = found.groups()
    ahead = timedelta(minutes=_QUARTER_MIN * int(f"{sign}{quarters}"))
    try:
        return datetime.strptime(digits, "%y%m%d%H%M%S").replace(tzinfo=UTC) - ahead
    except ValueError:
        return None  # a day or hour that no calendar has
