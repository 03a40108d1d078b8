"""One message as the HTTP request that a profile asks for."""

import json
from collections.abc import Callable, Mapping
from datetime import datetime
from urllib.parse import quote, urlencode

from pydantic import JsonValue
from requests import PreparedRequest, Request, RequestException

from gateways.errors import Refused
from gateways.gsm_letters import fits_gsm
from gateways.http.profile import Profile
from gateways.http.template import Scalar, filled, flat, placeholders
from gateways.http.times import written_time
from gateways.protocol import Outgoing

_AGENT = "reminder-service"


Prepare = Callable[[str, str, Mapping[str, bytes | str], bytes | None], PreparedRequest]
"""Makes a request of method, address, headers and body."""


def request_writer(profile: Profile) -> Callable[[Outgoing, datetime], PreparedRequest]:
    """What makes a request of a message and the aware UTC instant at which it goes out.

    It raises `gateways.errors.Refused` for a text that no request can hold.
    """
    prepared = preparer(profile)
    in_query, in_fields = (credentials_in(profile, place) for place in ("query", "field"))

    def written(message: Outgoing, now: datetime) -> PreparedRequest:
        """The request that hands one message over."""
        values = message_values(profile, message, now)
        fields = filled(profile.request.fields, values)
        headers = filled_headers(profile.request.headers, values)
        try:
            kind, query, body = parts_of(
                profile.request.format, {**table_of(fields), **in_fields}, in_query
            )
            address = filled_address(profile.request.address, values, query)
            return prepared(profile.request.method, address, {**headers, **kind}, body)
        except (UnicodeError, RequestException):
            raise Refused("the text holds letters that no request can hold") from None

    return written


def preparer(profile: Profile) -> Prepare:
    """What makes a request and puts our name, and the credentials of headers, to it."""
    in_headers = credentials_in(profile, "header")
    basic = [each for each in profile.credentials if each.place == "basic"]
    auth = (basic[0].user or "", basic[0].secret.get_secret_value()) if basic else None

    def prepared(
        method: str, address: str, headers: Mapping[str, bytes | str], body: bytes | None
    ) -> PreparedRequest:
        """The request, ready to be sent."""
        every = {"User-Agent": _AGENT, **headers, **in_headers}
        request = Request(method, address, headers=every, data=body).prepare()
        if auth is not None:
            request.prepare_auth((auth[0].encode(), auth[1].encode()))
        return request

    return prepared


def credentials_in(profile: Profile, place: str) -> dict[str, str]:
    """Names and values of the credentials that stand in the header, query or field."""
    return {
        each.name or "": each.prefix + each.secret.get_secret_value()
        for each in profile.credentials
        if each.place == place
    }


def message_values(profile: Profile, message: Outgoing, now: datetime) -> dict[str, Scalar]:
    """What the placeholders stand for in one message's request."""
    request = profile.request
    values: dict[str, Scalar] = {
        "to": message.to,
        "to_digits": message.to.removeprefix("+"),
        "body": message.body,
        "reference": message.reference,
        "sender": request.sender or "",
        "expires_at": written_time(message.expires_at, request.expires, now),
    }
    if request.coding is not None:
        fits = fits_gsm(message.body)
        values["coding"] = request.coding.gsm if fits else request.coding.unicode
    return values


def filled_headers(
    headers: Mapping[str, str], values: Mapping[str, Scalar]
) -> dict[str, bytes | str]:
    """Headers with their values in place, as bytes."""
    return {name: flat(filled(each, values)).encode() for name, each in headers.items()}


def filled_address(address: str, values: Mapping[str, JsonValue], query: Mapping[str, str]) -> str:
    """An address with its values in place, quoted, and parts of a query after it."""
    quoted = {
        name: quote(str(values[name]), safe="") for name in placeholders(address, tuple(values))
    }
    address = address.format_map(quoted)
    return f"{address}{'&' if '?' in address else '?'}{urlencode(query)}" if query else address


def table_of(fields: JsonValue) -> dict[str, JsonValue]:
    """The fields as a table, which the template of fields is."""
    return fields if isinstance(fields, dict) else {}


def parts_of(
    form: str, fields: Mapping[str, JsonValue], in_query: dict[str, str]
) -> tuple[dict[str, str], dict[str, str], bytes | None]:
    """Headers, query and body that hold the fields in the form json, form or query."""
    if form == "json":
        return {"Content-Type": "application/json"}, in_query, json.dumps(fields).encode()
    flattened = {name: flat(value) for name, value in fields.items()}
    if form == "form":
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        return kind, in_query, urlencode(flattened).encode()
    return {}, {**flattened, **in_query}, None
