"""The SIM's PIN: given once from its file, never a second time after it was refused."""

from pathlib import Path

from gateways.errors import GatewayError
from gateways.modem.at import Failed, Line
from gateways.modem.record import ModemRecord


class SimLocked(GatewayError):
    """A person must do something before the SIM can be used."""


def unlock(line: Line, pin_file: Path | None, record: ModemRecord) -> None:
    """Give the PIN if the SIM asks for it.

    A SIM locks itself after three wrong PINs, so what was tried is on record before it is given:
    a service that is restarted again and again does not lock it either.

    Raises
    ------
    SimLocked
        The PIN was refused, is missing, or the SIM asks for something else.
    """
    asked = _asked(line)
    if asked == "READY":
        return
    if asked != "SIM PIN":
        raise SimLocked(f"the SIM asks for {asked}: put it into a phone and unlock it there")
    if pin_file is None:
        raise SimLocked("the SIM asks for its PIN: name a file that holds it with option pin_file")
    pin, version = _pin(pin_file)
    if record.pin_was_tried(version):
        raise SimLocked(
            f"the PIN in {pin_file} was given once and not accepted: it is not given again, since "
            "three wrong ones lock the SIM; write the right one into the file"
        )
    record.note_pin(version)
    try:
        line.command(f'AT+CPIN="{pin}"', secret=True)
    except Failed as error:
        raise SimLocked(
            f"the SIM refused the PIN in {pin_file} ({error}): write the right one into the file"
        ) from error
    record.clear_pin(version)


def _asked(line: Line) -> str:
    for answer in line.command("AT+CPIN?"):
        if answer.startswith("+CPIN:"):
            return answer.removeprefix("+CPIN:").strip()
    raise SimLocked("the modem does not say whether its SIM asks for a PIN: is there one in it?")


def _pin(pin_file: Path) -> tuple[str, str]:
    """The PIN, and what tells this version of its file from a later one."""
    try:
        pin = pin_file.read_text("ascii").strip()
        version = f"{pin_file.resolve()} {pin_file.stat().st_mtime_ns}"
    except (OSError, ValueError) as error:
        raise SimLocked(f"the PIN cannot be read from {pin_file}: {type(error).__name__}") from None
    if not (pin.isdecimal() and 4 <= len(pin) <= 8):
        raise SimLocked(f"{pin_file} does not hold a PIN: expected 4 to 8 digits and nothing else")
    return pin, version
