"""What a carrier's answer to a call of several texts means: one answer for each text."""

import json
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from pydantic import JsonValue

from gateways.errors import Refused, TryLater, Unsure
from gateways.http.answers import Reply, finder, hidden_parts, taken_by
from gateways.http.fields import NoJson, json_value, value_at
from gateways.http.profile_answers import Answer as Reading
from gateways.http.profile_batch import Batch, answer_of_one
from gateways.protocol import Answer, Outgoing, Taken

NotTaken = Refused | TryLater | Unsure
"""What a call answers that is not taken as a whole."""


@dataclass(frozen=True, slots=True)
class _Part:
    """What the answer says of one text; ``key`` tells whose it is, where answers have one."""

    key: str | None
    content: bytes


class BatchReader:
    """Tells the answers of one call apart, by order or by what each names."""

    def __init__(self, batch: Batch, whole: Reading, secrets: Sequence[str]) -> None:
        self._places = batch.answer
        self._whole = whole
        self._one = answer_of_one(batch.answer, whole)
        self._secrets = secrets

    def key(self, message: Outgoing) -> str | None:
        """What an answer names a message by; None if by its place alone."""
        if self._places.match == "order":
            return None
        return self._plain(message.reference if self._places.match == "reference" else message.to)

    def of_each(
        self, reply: Reply, messages: Sequence[Outgoing], now: datetime
    ) -> list[Answer] | None:
        """One answer for each message, in their order; None if the reply names none of them.

        A message whose answer is missing, or there twice, is `gateways.errors.Unsure`.
        """
        parts = list(self._parts(reply.content))
        if self._places.match != "order" and self._places.key is None:
            # Names of a table that stands in the body beside others: those are no answers.
            known = {self.key(each) for each in messages}
            parts = [each for each in parts if each.key in known]
        if not parts:
            return None
        if self._places.match == "order":
            if len(parts) != len(messages):
                said = f"status {reply.status}: {len(parts)} answers to {len(messages)} texts"
                return [Unsure(said) for _ in messages]
            return [
                self._read(reply, part, message, now)
                for part, message in zip(parts, messages, strict=True)
            ]
        found: dict[str | None, list[_Part]] = {}
        for part in parts:
            found.setdefault(part.key, []).append(part)
        return [self._found(reply, found.get(self.key(each), []), each, now) for each in messages]

    def of_whole(self, reply: Reply, messages: Sequence[Outgoing], now: datetime) -> NotTaken:
        """What a reply that names no message means for them all, by the table [answer]."""
        hidden = hidden_parts(messages, self._secrets)
        answer = outcome(lambda: taken_by(self._whole, reply, "", now, hidden))
        if isinstance(answer, Taken):
            return Unsure(f"status {reply.status}: it names none of the texts")
        return answer

    def _found(
        self, reply: Reply, parts: Sequence[_Part], message: Outgoing, now: datetime
    ) -> Answer:
        if len(parts) == 1:
            return self._read(reply, parts[0], message, now)
        told = f"{len(parts)} answers name this text" if parts else "no answer names this text"
        return Unsure(f"status {reply.status}: {told}")

    def _read(self, reply: Reply, part: _Part, message: Outgoing, now: datetime) -> Answer:
        code = finder(self._one, part.content)(self._one.code)
        own = replace(reply, content=part.content)
        if code in self._one.codes.taken:
            # One text is taken though the call as a whole has another status.
            own = replace(own, status=200)
        hidden = hidden_parts([message], self._secrets)
        return outcome(lambda: taken_by(self._one, own, message.reference, now, hidden))

    def _parts(self, content: bytes) -> Iterator[_Part]:
        """The answers in a body, each with what it names; none if there is no list of them."""
        places = self._places
        if places.format == "text":
            text = content.decode("utf-8", "replace")
            for found in re.finditer(places.answers or "", text):
                yield self._part((found[1] or "").encode())
            return
        try:
            read = json_value(content)
        except NoJson:
            return
        listed = read if places.answers is None else value_at(read, places.answers)
        if isinstance(listed, list):
            if places.match == "order" or places.key is not None:
                for each in listed:
                    yield self._part(_written(each))
        elif isinstance(listed, dict) and places.match != "order" and places.key is None:
            for name, each in listed.items():
                yield _Part(self._plain(name), _written(each))

    def _part(self, content: bytes) -> _Part:
        named = finder(self._one, content)(self._places.key)
        return _Part(None if named is None else self._plain(named), content)

    def _plain(self, name: str) -> str:
        """A reference as it is; a number as its digits, without a plus sign or 00 before it."""
        if self._places.match == "reference":
            return name
        return re.sub(r"[^0-9]", "", name).removeprefix("00")


def outcome(send: Callable[[], Taken]) -> Answer:
    """What a call answers or raises of the gateway's errors."""
    try:
        return send()
    except (Refused, TryLater, Unsure) as error:
        return error


def _written(value: JsonValue) -> bytes:
    """One text's part of an answer; a bare word is a list of one, so that it has a place: 0."""
    try:
        return json.dumps(value if isinstance(value, dict | list) else [value]).encode()
    except RecursionError:
        return b""  # what is nested beyond writing is read as what is nested beyond reading
