"""The three answers a gateway gives when it did not take a message."""


class GatewayError(Exception):
    """The gateway did not take the message."""


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
