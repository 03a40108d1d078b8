"""What one check answers."""

from dataclasses import dataclass
from typing import Literal

State = Literal["ok", "warn", "bad"]


@dataclass(frozen=True, slots=True)
class Check:
    """One check.

    Attributes
    ----------
    name : of what was looked at
    state : ``ok``; ``warn`` may go wrong soon; ``bad`` keeps reminders from going out or is unsafe
    found : what was found
    todo : what to do; empty if nothing
    """

    name: str
    state: State
    found: str
    todo: str = ""


def ok(name: str, found: str) -> Check:
    """A check that finds nothing wrong."""
    return Check(name, "ok", found)


def warn(name: str, found: str, todo: str) -> Check:
    """A check that finds what may go wrong soon."""
    return Check(name, "warn", found, todo)


def bad(name: str, found: str, todo: str) -> Check:
    """A check that finds what keeps reminders from going out, or is unsafe."""
    return Check(name, "bad", found, todo)
