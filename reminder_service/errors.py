"""The root of our errors, and what is wrong with the settings."""

from collections.abc import Sequence
from dataclasses import dataclass


class ReminderError(Exception):
    """The service cannot do what was asked; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class SettingFault:
    """One fault in the settings.

    Attributes
    ----------
    variable : name in the environment
    value : as given, ``***`` if it may be a secret, empty if none was given
    expected : what is allowed
    """

    variable: str
    value: str
    expected: str

    def __str__(self) -> str:
        given = f'="{self.value}"' if self.value else ""
        return f"{self.variable}{given}: {self.expected}"


class BadSettings(ReminderError):
    """The settings cannot be used, so the service does not start; names every fault."""

    def __init__(self, faults: Sequence[SettingFault]) -> None:
        super().__init__("; ".join(map(str, faults)))
        self.faults = tuple(faults)
