"""The SMPP gateway: one carrier over one SMPP 3.4 link."""

import re
import time
from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import NoReturn

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import (
    Abilities,
    Answer,
    Event,
    NotKnown,
    Outgoing,
    Question,
    Receipt,
    Taken,
)
from gateways.smpp.asking import asked_id, fate_of, unnamed
from gateways.smpp.inbox import Inbox
from gateways.smpp.link import Link, Underway, status_words
from gateways.smpp.profile import SmppProfile, smpp_profile
from gateways.smpp.receipts import plain_id
from gateways.smpp.text import absolute_time, submit_fields
from gateways.smpp.wire import Answer as Said

_QUEUE_FULL, _THROTTLED = 0x14, 0x58
_LATER = {0x04, 0x08, 0x45, _QUEUE_FULL, _THROTTLED, 0x64, 0xFE, 0xFF}
"""Not bound for that, system error, submit failed, temporary error, delivery failure, unknown
error: answers that say nothing against the message itself (SMPP 3.4, 5.1.3)."""
_INTERNATIONAL, _E164_PLAN = 1, 1
_CLOSE_S = 10.0
_NUMBER = re.compile(r"\+[0-9]{3,15}")


class SmppGateway:
    """Sends, and brings receipts and texts in, over one transceiver bind.

    It connects at the first message or at ``listen``, keeps the link alive, and binds again
    after it was lost. Threads that send at once share the link, up to the window's size.

    A long text in parts is taken when all of its parts are; the receipt is asked for the last
    part alone, and its id is the message's.

    Attributes
    ----------
    abilities : one call takes as many texts as the window is wide
    """

    name = "smpp"

    def __init__(self, profile: SmppProfile) -> None:
        self.abilities = Abilities(
            client_reference=False,
            receipts=True,
            inbound=True,
            batch=profile.window,
            asking=profile.asking,
        )
        self._profile = profile
        self._inbox = Inbox(profile.receipt_ids)
        self._link = Link(profile, self._inbox)
        sender_ton, sender_npi = profile.sender_type
        self._sender: dict[str, int | str | bytes] = {
            "source_addr_ton": sender_ton,
            "source_addr_npi": sender_npi,
            "source_addr": profile.sender.removeprefix("+"),
        }
        self._fixed = self._sender | {
            "dest_addr_ton": _INTERNATIONAL,
            "dest_addr_npi": _E164_PLAN,
        }

    @classmethod
    def from_options(cls, options: Mapping[str, str]) -> "SmppGateway":
        """Make one; the carrier is called later.

        Parameters
        ----------
        options : see `gateways.smpp.profile.smpp_profile`

        Raises
        ------
        BadOption
            There are faults in the options or the profile: all of them.
        """
        return cls(smpp_profile(options))

    @property
    def trouble(self) -> str | None:
        """Why nothing can be sent at present, or None."""
        return self._link.trouble

    def send(self, message: Outgoing) -> Taken:
        """Send one text, part by part.

        Raises
        ------
        Refused
            The carrier will never take it.
        TryLater
            There is no link, or the carrier said not now. Parts that went out before are sent
            again then: a phone shows them once, when all are there.
        Unsure
            The link was lost, or no answer came in time.
        """
        (answer,) = self.send_many([message])
        if isinstance(answer, Taken):
            return answer
        raise answer

    def send_many(self, messages: Sequence[Outgoing]) -> Sequence[Answer]:
        """Send several, all first parts before any answer is waited for, then all second ones.

        It is as `send` for each: a text's next part goes out once the one before was taken.
        """
        began_s = time.monotonic()
        answers: dict[int, Answer] = {}
        sendings = {
            place: self._sending(message, began_s) for place, message in enumerate(messages)
        }
        while sendings:
            for place, sending in list(sendings.items()):
                try:
                    next(sending)
                except StopIteration as ended:
                    answers[place] = ended.value
                except (Refused, TryLater, Unsure) as error:
                    answers[place] = error
                else:
                    continue
                del sendings[place]
        return [answers[place] for place in range(len(messages))]

    def ask(self, question: Question) -> Receipt | NotKnown:
        """Ask by query_sm, which names a text by the carrier's id and our sender.

        Raises
        ------
        TryLater
            There is no link, no answer in time, or the carrier said not now.
        Unsure
            There is no id to ask by, or the carrier cannot say.

        References
        ----------
        SMPP 3.4, 4.8.
        """
        if not self._profile.asking:
            raise Unsure("the profile does not say asking: its carrier cannot be asked")
        answer = self._fate(asked_id(question, self._profile))
        asked_at = datetime.now(UTC)
        age_s = (asked_at - question.sent_at).total_seconds()
        if answer.status in self._profile.unknown_codes and age_s <= self._profile.unknown_until_s:
            return NotKnown()
        if answer.status != 0:
            raise self._later(answer.status) or Unsure(status_words(answer.status))
        return fate_of(answer, question, asked_at)

    def listen(self, on_event: Callable[[Event], None]) -> None:
        """Bring in texts and receipts on threads of its own; see `gateways.protocol.Listening`."""
        self._inbox.start(on_event)
        self._link.start()

    def close(self) -> None:
        """Unbind and end the threads; a message under way ends as `Unsure`."""
        self._inbox.stop(_CLOSE_S)
        self._link.close()

    def _sending(self, message: Outgoing, began_s: float) -> Generator[None, None, Taken]:
        """Send one text, and pause while the answer to a part is under way.

        Parameters
        ----------
        began_s : since when the call waits for places in the window: all its texts together
        """
        if not _NUMBER.fullmatch(message.to):
            raise Refused(f'"{message.to}" is not an E.164 number with its plus sign')
        parts = submit_fields(message.body, self._profile.long_texts, message.reference)
        message_id = ""
        for number, part in enumerate(parts, start=1):
            enter_by_s = began_s + number * self._profile.answer_s
            underway = self._begin(message, part, enter_by_s, last=number == len(parts))
            yield
            message_id = self._finish(underway)
        # Some carriers name no id: nothing can be matched by it then, but it was taken.
        return Taken(message_id or unnamed(message.reference))

    def _begin(
        self,
        message: Outgoing,
        part: Mapping[str, int | bytes],
        enter_by_s: float,
        *,
        last: bool,
    ) -> Underway:
        fields: dict[str, int | str | bytes] = {
            **self._fixed,
            **part,
            "destination_addr": message.to.removeprefix("+"),
            "validity_period": absolute_time(message.expires_at),
            "registered_delivery": int(last),
        }
        return self._link.begin(
            lambda wire: wire.submit_sm(**fields), message.reference if last else None, enter_by_s
        )

    def _finish(self, underway: Underway) -> str:
        """The id of a part that the carrier took."""
        answer = self._link.finish(underway)
        if answer.status != 0:
            self._decline(answer.status)
        return plain_id(answer.message_id, self._profile.submit_ids)

    def _fate(self, message_id: str) -> Said:
        """The answer to one query_sm, with one wait for a place in the window and for itself."""
        ends_s = time.monotonic() + self._profile.answer_s
        fields = {"message_id": message_id, **self._sender}
        underway = self._link.begin(lambda wire: wire.spell("query_sm", **fields), None, ends_s)
        try:
            return self._link.finish(replace(underway, answer_by_s=ends_s))
        except Unsure as error:
            # Asking changes nothing at the carrier, so it may be asked once more.
            raise TryLater(error.reason, self._profile.reconnect_s) from error

    def _decline(self, status: int) -> NoReturn:
        raise self._later(status) or Refused(status_words(status))

    def _later(self, status: int) -> TryLater | None:
        """The status as an error, if it says not now."""
        if status == _THROTTLED:
            return TryLater(status_words(status), self._profile.throttled_s)
        if status in _LATER or status in self._profile.later_codes:
            return TryLater(status_words(status))
        return None
