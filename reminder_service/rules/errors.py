"""What can go wrong in this room: a rulebook with faults, a plot's choice nobody knows."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RulebookFault:
    """One fault in a rulebook.

    Attributes
    ----------
    line : line of the file, from 1
    path : where in the rulebook, e.g. ``tasks[2].opens.from``; empty for the file as a whole
    expected : what would have been taken, in words
    got : what stands there, shortened, or ``nothing``
    """

    line: int
    path: str
    expected: str
    got: str

    def __str__(self) -> str:
        where = f"{self.path}: " if self.path else ""
        return f"line {self.line}: {where}expected {self.expected}, got {self.got}"


class RulebookError(ValueError):
    """A rulebook cannot be used; every fault is listed.

    Attributes
    ----------
    faults : all faults, by line
    """

    def __init__(self, faults: Sequence[RulebookFault]) -> None:
        super().__init__(tuple(faults))
        self.faults = tuple(faults)

    def __str__(self) -> str:
        count = len(self.faults)
        noun = "fault" if count == 1 else "faults"
        listed = "; ".join(map(str, self.faults))
        return f"the rulebook has {count} {noun}: {listed}; correct the file"


class NoRulebook(ValueError):
    """No rulebook of this name is shipped.

    Attributes
    ----------
    name : as given
    known : names of the shipped ones
    """

    def __init__(self, name: str, known: Sequence[str]) -> None:
        super().__init__(name, tuple(known))
        self.name = name
        self.known = tuple(known)

    def __str__(self) -> str:
        return f"rulebook is {self.name!r}, expected one of {', '.join(self.known)}: choose one"


class UnknownChoice(ValueError):
    """A plot's choice has a value that the rulebook does not know.

    Attributes
    ----------
    choice, got : the choice and its value
    known : what the rulebook allows
    """

    def __init__(self, choice: str, got: str, known: Sequence[str]) -> None:
        super().__init__(choice, got, tuple(known))
        self.choice = choice
        self.got = got
        self.known = tuple(known)

    def __str__(self) -> str:
        return (
            f"the plot's {self.choice} is {self.got!r}, expected one of {', '.join(self.known)}: "
            f"correct the plot's choice"
        )


class NaiveInstant(ValueError):
    """An instant came without its time zone.

    Attributes
    ----------
    field, got : name of the argument and the instant
    """

    def __init__(self, field: str, got: object) -> None:
        super().__init__(field, got)
        self.field = field
        self.got = got

    def __str__(self) -> str:
        return f"{self.field} is {self.got}, expected an instant with its time zone: give it in UTC"
