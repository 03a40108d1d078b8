"""How to reach a chat server, read from a gateway's options."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from ipaddress import ip_address
from pathlib import Path

from gateways.errors import BadOption

_NAME = "chat"
_NEEDED = {
    "jid": "an account as name@server",
    "password_file": "the path of a file that holds the account's password",
    "domain": "the server at which the farmers' phones have their accounts",
}
_KNOWN = (*_NEEDED, "host", "port", "ca_file", "allow_plain", "answer_s")


@dataclass(frozen=True, slots=True)
class ChatOptions:
    """How to reach the server.

    Attributes
    ----------
    jid : our account
    password : never shown
    domain : a phone +4477… is reached at 4477…@domain
    host, port : the server's address; without a host it is looked up by the account's domain
    ca_file : certificates to trust instead of the system's
    allow_plain : go without TLS, to this machine alone
    answer_s : wait for the server to be reached, and for its answer to one message
    """

    jid: str
    password: str = field(repr=False)
    domain: str
    host: str | None = None
    port: int = 5222
    ca_file: str | None = None
    allow_plain: bool = False
    answer_s: float = 30.0


def chat_options(options: Mapping[str, str]) -> ChatOptions:
    """Check and convert the options.

    Parameters
    ----------
    options : ``jid``, ``password_file`` and ``domain``, and perhaps ``host``, ``port``,
        ``ca_file``, ``allow_plain`` and ``answer_s``

    Raises
    ------
    BadOption
        One is unknown, missing or cannot be used.
    """
    for option, value in options.items():
        if option not in _KNOWN:
            raise BadOption(_NAME, option, value, f"one of {', '.join(_KNOWN)}")
    for option, expected in _NEEDED.items():
        if not options.get(option):
            raise BadOption(_NAME, option, "", expected)
    name, at, server = options["jid"].partition("@")
    if not (name and at and server and "/" not in server):
        raise BadOption(_NAME, "jid", options["jid"], _NEEDED["jid"])
    ca_file = options.get("ca_file")
    if ca_file is not None and not Path(ca_file).is_file():
        raise BadOption(_NAME, "ca_file", ca_file, "a file of certificates (PEM)")
    host = options.get("host")
    return ChatOptions(
        jid=options["jid"],
        password=_password(options["password_file"]),
        domain=options["domain"],
        host=host,
        port=_number(options, "port", "5222", 1, 65_535),
        ca_file=ca_file,
        allow_plain=_allow_plain(options.get("allow_plain", "false"), host),
        answer_s=_number(options, "answer_s", "30", 1, 600),
    )


def _password(path: str) -> str:
    try:
        password = Path(path).read_text("utf-8").strip("\r\n")
    except (OSError, ValueError) as error:
        raise BadOption(
            _NAME, "password_file", path, f"a readable file ({type(error).__name__})"
        ) from None
    if not password:
        raise BadOption(_NAME, "password_file", path, "a file that is not empty")
    return password


def _allow_plain(value: str, host: str | None) -> bool:
    if value not in ("true", "false"):
        raise BadOption(_NAME, "allow_plain", value, "true or false")
    if value == "true" and not _is_this_machine(host):
        raise BadOption(
            _NAME, "allow_plain", value, "false, unless host is this machine, as 127.0.0.1"
        )
    return value == "true"


def _is_this_machine(host: str | None) -> bool:
    try:
        return host is not None and ip_address(host).is_loopback
    except ValueError:
        return False


def _number(options: Mapping[str, str], option: str, default: str, least: int, most: int) -> int:
    value = options.get(option, default)
    if not (value.isdecimal() and least <= int(value) <= most):
        raise BadOption(_NAME, option, value, f"a whole number, {least} to {most}")
    return int(value)
