"""Sides that do the same work in turns, so that a busy machine spoils none of them alone."""

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from time import perf_counter

from gateways.protocol import Outgoing
from reminder_service.bench.errors import WrongAnswers
from reminder_service.bench.result import Figure, Spread

SendAll = Callable[[Sequence[Outgoing]], list[str]]
"""Sends texts and answers their ids at the carrier, in the same order."""


@dataclass(frozen=True, slots=True)
class Side:
    """One way to hand texts over.

    Attributes
    ----------
    name : as tables show it
    opened : connects, and lets go of the connections in the end
    """

    name: str
    opened: Callable[[], AbstractContextManager[SendAll]]


@dataclass(frozen=True, slots=True)
class Work:
    """What every side of one part does in one run.

    Attributes
    ----------
    part : name of it, as tables show it
    warm_up : texts that open the connections, before anything is measured
    texts : that are measured
    ids : that the carrier gives to ``texts``, in the same order
    """

    part: str
    warm_up: Sequence[Outgoing]
    texts: Sequence[Outgoing]
    ids: Sequence[str]


def figures_by_turns(work: Work, sides: Sequence[Side], rounds: int) -> list[Figure]:
    """Texts a second of every side; each round has them in the other order.

    Raises
    ------
    WrongAnswers
        A side's ids are not those that the carrier gave.
    """
    rates: dict[str, list[float]] = {side.name: [] for side in sides}
    order = list(sides)
    for _round in range(rounds):
        for side in order:
            rates[side.name].append(texts_per_s(work, side))
        order.reverse()
    return [
        Figure(work.part, side.name, "texts/s", Spread(tuple(rates[side.name]))) for side in sides
    ]


def texts_per_s(work: Work, side: Side) -> float:
    """Texts that one side hands over in a second, the id of each being checked.

    Raises
    ------
    WrongAnswers
        An id is not the one that the carrier gave.
    """
    with side.opened() as send_all:
        send_all(work.warm_up)
        began_s = perf_counter()
        ids = send_all(work.texts)
        took_s = perf_counter() - began_s
    right = sum(got == expected for got, expected in zip(ids, work.ids, strict=False))
    if right != len(work.ids) or len(ids) != len(work.ids):
        raise WrongAnswers(f"{work.part}, {side.name}", len(work.ids) - right, len(work.ids))
    return len(work.texts) / took_s
