"""Whether a call is the carrier's: a signature over it, or a token that both know."""

import base64
import hmac
from collections.abc import Callable
from urllib.parse import parse_qsl

from gateways.errors import Forged
from gateways.http.profile_callbacks import Check, webhook_key
from gateways.protocol import Callback

TOLERANCE_S = 300
"""Most that a signed time and ours may differ: Standard Webhooks' libraries take 5 minutes."""

MOST_QUERY_PARTS = 100
"""Parts of a query or form that are read (setting)."""


def checker(check: Check) -> Callable[[Callback], None]:
    """What raises `gateways.errors.Forged` for a call that is not the carrier's."""
    secrets = [each.get_secret_value() for each in check.secrets]
    if check.scheme == "standard-webhooks":
        keys = [webhook_key(each) for each in secrets]
        return lambda callback: _check_webhook(callback, keys)
    if check.scheme == "hmac-sha256":
        return lambda callback: _check_body(callback, check, [each.encode() for each in secrets])
    return lambda callback: _check_token(callback, check, secrets)


def _check_webhook(callback: Callback, keys: list[bytes]) -> None:
    """Check the open scheme of Standard Webhooks, version v1."""
    message_id, sent_at, signatures = (
        callback.headers.get(f"webhook-{name}", "") for name in ("id", "timestamp", "signature")
    )
    if not message_id or not signatures or not (sent_at.isascii() and sent_at.isdecimal()):
        raise Forged("a webhook header is missing or no time")
    if abs(callback.received_at.timestamp() - float(sent_at)) > TOLERANCE_S:
        raise Forged(f"signed more than {TOLERANCE_S} s before or after it came")
    signed = f"{message_id}.{sent_at}.".encode() + callback.body
    expected = [b"v1," + base64.b64encode(hmac.digest(key, signed, "sha256")) for key in keys]
    if not _any_equal(signatures.split(" "), expected):
        raise Forged("the signature is of another key or another body")


def _check_body(callback: Callback, check: Check, keys: list[bytes]) -> None:
    given = callback.headers.get((check.header or "").lower(), "").strip()
    expected = [
        check.prefix.encode() + hmac.digest(key, callback.body, "sha256").hex().encode()
        for key in keys
    ]
    digits = given.removeprefix(check.prefix).lower()
    if not given.startswith(check.prefix) or not _any_equal([check.prefix + digits], expected):
        raise Forged(f"header {check.header} holds no signature of this body by our key")


def _check_token(callback: Callback, check: Check, tokens: list[str]) -> None:
    if check.header is not None:
        given = [callback.headers.get(check.header.lower(), "")]
    else:
        given = [value for name, value in _query(callback.query) if name == check.query]
    if not _any_equal(given, [(check.prefix + token).encode() for token in tokens]):
        raise Forged(f"{check.header or check.query} holds no token of ours")


def _query(query: str) -> list[tuple[str, str]]:
    try:
        return parse_qsl(query, max_num_fields=MOST_QUERY_PARTS)
    except ValueError as error:
        raise Forged("the query cannot be read") from error


def _any_equal(given: list[str], expected: list[bytes]) -> bool:
    """Whether one is among the expected; how long that takes does not tell how nearly."""
    raw = [each.encode("utf-8", "surrogateescape") for each in given]
    return any([hmac.compare_digest(one, other) for one in raw for other in expected])
