"""What the carriers of the bad day share: what befalls a text, the ledger, questions of the test.

A carrier runs in a process of its own. It prints its port, then answers one line of JSON to each
question that comes on its standard input, and ends when that is closed.
"""

import asyncio
import json
import random
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass

WELL = "well"
THROTTLED = "throttled"
SILENT, SILENT_TAKEN = "silent", "silent, taken"
GARBAGE, GARBAGE_TAKEN = "garbage", "garbage, taken"
DROPPED, DROPPED_TAKEN = "dropped unread", "dropped, taken"
CUT = "cut in mid-answer, taken"

BAD = {
    THROTTLED: 0.20,
    SILENT: 0.025,
    SILENT_TAKEN: 0.025,
    GARBAGE: 0.01,
    GARBAGE_TAKEN: 0.01,
    DROPPED: 0.01,
    DROPPED_TAKEN: 0.01,
    CUT: 0.01,
}
"""Share of the tries that each befalls; a fifth throttled, 5 % time-outs, 2 % garbage."""


class Whims:
    """Decides what befalls each try, and counts it."""

    def __init__(self, seed: int, shares: Mapping[str, float]) -> None:
        self.rng = random.Random(seed)
        self.counts: Counter[str] = Counter()
        self._fates = [*shares, WELL]
        self._weights = [*shares.values(), 1 - sum(shares.values())]

    def fate(self) -> str:
        (fate,) = self.rng.choices(self._fates, self._weights)
        self.counts[fate] += 1
        return fate


@dataclass
class Text:
    """One text that the carrier took.

    Attributes
    ----------
    id, reference : the carrier's id of it, and ours
    seen : how often it came; it is counted, and reaches its phone, once
    altered : whether the same reference came with another text
    final : what its receipts say in the end; None if there are none
    """

    id: str
    reference: str
    to: str
    body: str
    seen: int = 0
    altered: bool = False
    final: str | None = None


class Ledger:
    """Every text that the carrier took; one with a reference seen before is the same text."""

    def __init__(self) -> None:
        self.texts: dict[str, Text] = {}

    def take(self, reference: str, to: str, body: str) -> Text:
        text = self.texts.get(reference)
        if text is None:
            text = Text(f"c-{len(self.texts) + 1}", reference, to, body)
            self.texts[reference] = text
        text.seen += 1
        text.altered |= (text.to, text.body) != (to, body)
        return text

    def rows(self) -> list[dict]:
        return [asdict(text) for text in self.texts.values()]


async def answer_questions(questions: Mapping[str, Callable[[], object]]) -> None:
    loop = asyncio.get_running_loop()
    while line := await loop.run_in_executor(None, sys.stdin.readline):
        print(json.dumps(questions[line.strip()]()), flush=True)
