"""How much a bench does."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Scale:
    """What a bench is asked for.

    Attributes
    ----------
    messages : that each side hands over in a round
    rounds : in each of which every side has one turn
    """

    messages: int
    rounds: int
