"""What goes wrong in a gateway: three answers of ``send``, and what stops one being made."""

from collections.abc import Sequence


class GatewayError(Exception):
    """Something went wrong in a gateway."""


class Refused(GatewayError):
    """The message will never be taken: do not try again."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class TryLater(GatewayError):
    """The message was not taken now: try again, not before ``after_s`` seconds."""

    def __init__(self, reason: str, after_s: float = 60.0) -> None:
        super().__init__(f"{reason}; try again in {after_s:.0f} s")
        self.reason = reason
        self.after_s = after_s


class Unsure(GatewayError):
    """Nobody knows whether the message was taken."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class SetupError(GatewayError):
    """A gateway cannot be made: the installation or its options must be mended first."""


class UnknownGateway(SetupError):
    """No installed package offers a gateway of that name."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        listed = ", ".join(known) or "none"
        super().__init__(
            f'gateway "{name}" is not installed: there are {listed}; '
            "choose one of them, or install the package that offers it"
        )
        self.name = name
        self.known = tuple(known)


class BadGateway(SetupError):
    """An installed gateway does not keep to the protocol, so it is not used."""

    def __init__(self, name: str, faults: Sequence[str]) -> None:
        super().__init__(
            f'gateway "{name}" cannot be used: {"; ".join(faults)}; '
            "see gateways/protocol.py, and mend or remove the package that offers it"
        )
        self.name = name
        self.faults = tuple(faults)


class BadOption(SetupError):
    """A gateway was given an option that it does not know or cannot use."""

    def __init__(self, gateway: str, option: str, value: str, expected: str) -> None:
        super().__init__(
            f'gateway "{gateway}": option {option}="{value}" cannot be used: expected {expected}'
        )
        self.gateway = gateway
        self.option = option
        self.value = value
        self.expected = expected


class CallbackError(GatewayError):
    """A call that claims to come from the carrier is not taken."""


class Forged(CallbackError):
    """The call's signature, token or time is wrong: answer 401 and keep nothing."""


class Unreadable(CallbackError):
    """Nothing can be made of the carrier's call: answer 400."""
