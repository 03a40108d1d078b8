"""A gateway whose answers a test writes down beforehand."""

from collections import deque
from collections.abc import Iterable

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Abilities, Outgoing, Taken

NO_PROMISES = Abilities(client_reference=False, receipts=False, inbound=False)


class ScriptedGateway:
    """Gives the answers it was told, in order; after the last it takes everything.

    ``offered`` holds each message handed to it, whatever it answered.
    """

    def __init__(
        self,
        answers: Iterable[Taken | Refused | TryLater | Unsure] = (),
        abilities: Abilities = NO_PROMISES,
        name: str = "scripted",
    ) -> None:
        self.name = name
        self.abilities = abilities
        self.offered: list[Outgoing] = []
        self.closed = False
        self._answers = deque(answers)

    def send(self, message: Outgoing) -> Taken:
        """Answer or raise the next of the script."""
        self.offered.append(message)
        try:
            answer = self._answers.popleft()
        except IndexError:
            return Taken(f"scripted-{len(self.offered)}")
        if isinstance(answer, Taken):
            return answer
        raise answer

    def close(self) -> None:
        """Note that it was closed."""
        self.closed = True
