"""Several messages as the one HTTP request that a profile asks for."""

import json
from collections.abc import Callable, Sequence
from datetime import datetime

from pydantic import JsonValue
from requests import PreparedRequest

from gateways.http.profile import Profile
from gateways.http.profile_batch import Batch
from gateways.http.request import (
    credentials_in,
    filled_address,
    filled_headers,
    message_values,
    preparer,
)
from gateways.http.template import Scalar, filled
from gateways.protocol import Outgoing


def batch_writer(
    profile: Profile, batch: Batch
) -> Callable[[Sequence[Outgoing], datetime], PreparedRequest]:
    """What makes a request of several messages and the aware UTC instant at which it goes out."""
    prepared = preparer(profile)
    shared: dict[str, Scalar] = {"sender": profile.request.sender or ""}
    headers = profile.request.headers if batch.headers is None else batch.headers
    every_header = {**filled_headers(headers, shared), "Content-Type": "application/json"}
    address = filled_address(
        batch.address or profile.request.address, {}, credentials_in(profile, "query")
    )
    beside: dict[str, JsonValue] = {
        **{name: filled(each, shared) for name, each in batch.fields.items()},
        **credentials_in(profile, "field"),
    }
    path = [] if batch.messages is None else batch.messages.split(".")

    def written(messages: Sequence[Outgoing], now: datetime) -> PreparedRequest:
        """The request that hands the messages over."""
        listed: list[JsonValue] = [
            filled(dict(batch.each), message_values(profile, each, now)) for each in messages
        ]
        body = json.dumps(_placed(beside, path, listed)).encode()
        return prepared(batch.method, address, every_header, body)

    return written


def _placed(fields: JsonValue, path: Sequence[str], listed: list[JsonValue]) -> JsonValue:
    """The fields with the list at its path; tables on the way are made."""
    if not path:
        return listed
    table = fields if isinstance(fields, dict) else {}
    return {**table, path[0]: _placed(table.get(path[0]), path[1:], listed)}
