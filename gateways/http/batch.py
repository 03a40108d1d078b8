"""Several texts put to the carrier in one call, and one answer for each."""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from requests import PreparedRequest

from gateways.errors import Refused, TryLater, Unsure
from gateways.http.answers import Reply
from gateways.http.batch_answers import BatchReader
from gateways.http.batch_request import batch_writer
from gateways.http.profile import Profile
from gateways.http.profile_batch import Batch
from gateways.protocol import Answer, Outgoing


@dataclass(frozen=True, slots=True)
class _Call:
    """What came of one call.

    Attributes
    ----------
    answers : one for each text
    halve : whether it is put again in halves, since the carrier refused it for one of its texts
    held : what texts get that were to follow: the carrier takes nothing now
    """

    answers: Sequence[Answer]
    halve: bool = False
    held: TryLater | None = None


class BatchSender:
    """Hands texts over by the table ``[batch]`` of a profile.

    Parameters
    ----------
    profile, batch : the profile and its table
    exchange : sends a request; raises `gateways.errors.TryLater` or `gateways.errors.Unsure`
        if there is no answer
    now : the aware UTC instant
    """

    def __init__(
        self,
        profile: Profile,
        batch: Batch,
        exchange: Callable[[PreparedRequest], Reply],
        now: Callable[[], datetime],
    ) -> None:
        secrets = [each.secret.get_secret_value() for each in profile.credentials]
        self._batch = batch
        self._retry_s = profile.answer.retry_s
        self._write = batch_writer(profile, batch)
        self._read = BatchReader(batch, profile.answer, secrets)
        self._exchange = exchange
        self._now = now

    def send_many(self, messages: Sequence[Outgoing]) -> list[Answer]:
        """One answer for each message, in their order.

        There are several calls if one cannot hold all. After one that is throttled or in
        doubt as a whole no further call is made: the texts that are left are for later.
        """
        answers: dict[int, Answer] = {}
        held: TryLater | None = None
        calls = deque(self._calls(messages))
        while calls:
            places = calls.popleft()
            if held is not None:
                answers |= dict.fromkeys(places, held)
                continue
            call = self._put([messages[place] for place in places])
            if call.halve:
                half = len(places) // 2
                calls.extendleft((places[half:], places[:half]))
                continue
            answers |= dict(zip(places, call.answers, strict=True))
            held = call.held
        return [answers[place] for place in range(len(messages))]

    def _calls(self, messages: Sequence[Outgoing]) -> Iterator[list[int]]:
        """Places of the messages that go together: not above the size, none named as another."""
        calls: list[dict[str, int]] = []
        for place, message in enumerate(messages):
            key = self._read.key(message) or f"place {place}"
            fits = (each for each in calls if len(each) < self._batch.size and key not in each)
            call = next(fits, None)
            if call is None:
                calls.append(call := {})
            call[key] = place
        for call in calls:
            yield list(call.values())

    def _put(self, messages: Sequence[Outgoing]) -> _Call:
        now = self._now()
        try:
            reply = self._exchange(self._write(messages, now))
        except (TryLater, Unsure) as error:
            return self._held(error, len(messages))
        answers = self._read.of_each(reply, messages, now)
        if answers is not None:
            return _Call(answers)
        whole = self._read.of_whole(reply, messages, now)
        if isinstance(whole, Refused):
            halve = len(messages) > 1 and str(reply.status) in self._batch.halve
            return _Call([whole] * len(messages), halve)
        return self._held(whole, len(messages))

    def _held(self, whole: TryLater | Unsure, count: int) -> _Call:
        """A call that was not taken, and after which none is made."""
        held = whole
        if isinstance(held, Unsure):
            held = TryLater("not sent, since the call before it is in doubt", self._retry_s)
        return _Call([whole] * count, held=held)
