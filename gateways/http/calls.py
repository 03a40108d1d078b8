"""Requests that hand no text over, as a profile has them."""

from collections.abc import Callable, Mapping

from pydantic import JsonValue
from requests import PreparedRequest, RequestException

from gateways.http.exchange import NotSent
from gateways.http.profile import Profile
from gateways.http.profile_calls import Call
from gateways.http.request import (
    credentials_in,
    filled_address,
    filled_headers,
    parts_of,
    preparer,
    table_of,
)
from gateways.http.template import filled, flat, placeholders

Values = Mapping[str, JsonValue]
"""What the placeholders of a call stand for."""

Writer = Callable[[Values], PreparedRequest]
"""Makes a request of the values of its placeholders."""


class Several(list[JsonValue]):
    """Values of one placeholder: a list where it stands alone in JSON, else joined by commas."""

    def __str__(self) -> str:
        """All of them, joined."""
        return ",".join(map(flat, self))


def call_writer(call: Call, profile: Profile) -> Writer:
    """What makes the requests of one kind.

    Fields that name a placeholder without a value are left out. It raises
    `gateways.http.exchange.NotSent` for values that no request can hold.
    """
    prepared = preparer(profile)
    in_query, in_fields = (credentials_in(profile, place) for place in ("query", "field"))
    headers = filled_headers(call.headers, {})

    def written(values: Values) -> PreparedRequest:
        """The request, ready to be sent."""
        fields = {
            name: field
            for name, field in call.fields.items()
            if set(placeholders(field, call.known)) <= values.keys()
        }
        try:
            kind, query, body = parts_of(
                call.format, {**table_of(filled(fields, values)), **in_fields}, in_query
            )
            address = filled_address(call.address, values, query)
            return prepared(call.method, address, {**headers, **kind}, body)
        except (UnicodeError, RequestException):
            raise NotSent("a number, id or cursor fits no request") from None

    return written
