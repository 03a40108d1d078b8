"""The list of outside checks: what is compared with whose figures, by how many cases."""

import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

LIST = Path(__file__).with_suffix(".toml")


@dataclass(frozen=True)
class Check:
    """One subject held against somebody else.

    Attributes
    ----------
    subject : what is checked
    tests : ids of the tests that do so, without their cases
    cases : how many cases pytest makes of them
    compared : what is compared, how often, and how it came out
    source : whose figures or program
    """

    subject: str
    tests: tuple[str, ...]
    cases: int
    compared: str
    source: str


def outside_checks() -> list[Check]:
    """Every check, in the order of the list."""
    entries = tomllib.loads(LIST.read_text("utf-8"))["checks"]
    return [Check(**{**entry, "tests": tuple(entry["tests"])}) for entry in entries]


def printed(checks: list[Check]) -> str:
    """The list as people read it."""
    blocks = [
        f"{check.subject} ({check.cases} test {'case' if check.cases == 1 else 'cases'})\n"
        f"  compared: {check.compared}\n"
        f"  source:   {check.source}"
        for check in checks
    ]
    total = sum(check.cases for check in checks)
    return "\n".join([*blocks, f"{len(checks)} subjects, {total} test cases"])


if __name__ == "__main__":
    sys.stdout.write(printed(outside_checks()) + "\n")
