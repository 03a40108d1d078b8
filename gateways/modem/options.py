"""How to reach a modem, read from a gateway's options."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from gateways.errors import BadOption

_NAME = "modem"


@dataclass(frozen=True, slots=True)
class ModemOptions:
    """How to reach the modem.

    Attributes
    ----------
    port : device file, best one below ``/dev/serial/by-id``
    record : a file that keeps what parts were sent and which PIN was tried
    baud : bits a second
    pin_file : holds the SIM's PIN; not needed if the SIM asks for none
    smsc : service centre's E.164 number; None leaves it to the SIM
    answer_s : wait for the carrier's answer to one part
    """

    port: str
    record: str
    baud: int = 115_200
    pin_file: Path | None = None
    smsc: str | None = None
    answer_s: float = 60.0


def modem_options(options: Mapping[str, str]) -> ModemOptions:
    """Check and convert the options.

    Parameters
    ----------
    options : ``port`` and ``record``, and perhaps ``baud``, ``pin_file``, ``smsc`` and
        ``answer_s``

    Raises
    ------
    BadOption
        One is unknown, missing or cannot be used.
    """
    known = ModemOptions.__slots__
    for option, value in options.items():
        if option not in known:
            raise BadOption(_NAME, option, value, f"one of {', '.join(known)}")
    smsc, pin_file = options.get("smsc"), options.get("pin_file")
    if smsc is not None and not (smsc.startswith("+") and smsc[1:].isdecimal()):
        raise BadOption(_NAME, "smsc", smsc, "an E.164 number with its plus sign")
    return ModemOptions(
        port=_given(options, "port", "the path of the modem's device file"),
        record=_given(options, "record", "the path of a file to write to"),
        baud=_number(options, "baud", "115200", 1_200, 4_000_000),
        pin_file=None if pin_file is None else Path(pin_file),
        smsc=smsc,
        answer_s=_number(options, "answer_s", "60", 1, 600),
    )


def _given(options: Mapping[str, str], option: str, expected: str) -> str:
    value = options.get(option, "")
    if not value:
        raise BadOption(_NAME, option, value, expected)
    return value


def _number(options: Mapping[str, str], option: str, default: str, least: int, most: int) -> int:
    value = options.get(option, default)
    if not (value.isdecimal() and least <= int(value) <= most):
        raise BadOption(_NAME, option, value, f"a whole number, {least} to {most}")
    return int(value)
