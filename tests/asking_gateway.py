"""A scripted gateway whose carrier can be asked, and keeps events until they are fetched."""

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import replace

from scripted_gateway import NO_PROMISES, ScriptedGateway

from gateways.errors import TryLater, Unsure
from gateways.protocol import Abilities, Event, NotKnown, Outgoing, Question, Receipt, Taken

ASKED = replace(NO_PROMISES, asking=True)

Said = Receipt | NotKnown | TryLater | Unsure | Exception


class AskingGateway(ScriptedGateway):
    """Gives the answers it was told about texts; after the last it has no answer now.

    ``questions`` holds each question; ``meanwhile`` is called before each answer, ``on_send``
    before each text is taken.
    """

    def __init__(
        self,
        answers: Iterable = (),
        said: Iterable[Said] = (),
        abilities: Abilities = ASKED,
        meanwhile: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(answers, abilities, "asking")
        self.said = deque(said)
        self.questions: list[Question] = []
        self.meanwhile = meanwhile
        self.on_send: Callable[[], None] = lambda: None

    def send(self, message: Outgoing) -> Taken:
        """Let ``on_send`` happen, then answer as the script says."""
        self.on_send()
        return super().send(message)

    def ask(self, question: Question) -> Receipt | NotKnown:
        """Answer or raise the next of what it was told."""
        self.questions.append(question)
        self.meanwhile()
        answer = self.said.popleft() if self.said else TryLater("the office is closed", 1)
        if isinstance(answer, Exception):
            raise answer
        return answer


class PolledGateway(ScriptedGateway):
    """Keeps events until they are fetched; raises what it was told to instead."""

    def __init__(self, waiting: Iterable[Event | Exception] = (), name: str = "polled") -> None:
        super().__init__((), replace(NO_PROMISES, receipts=True, polled=True), name)
        self.waiting = deque(waiting)

    def poll(self, on_event: Callable[[Event], None]) -> int:
        """Bring everything that waits; an event is let go when it is kept."""
        count = 0
        while self.waiting:
            if isinstance(self.waiting[0], Exception):
                raise self.waiting.popleft()
            on_event(self.waiting[0])
            self.waiting.popleft()
            count += 1
        return count
