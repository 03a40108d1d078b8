"""Load a rulebook from the text of its file, with all faults reported at once."""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from reminder_service.rules.bounds import ANCHOR_PATTERN, SETTING_PATTERN, Place
from reminder_service.rules.consistency import Inconsistency, inconsistencies
from reminder_service.rules.dead_ends import dead_ends
from reminder_service.rules.errors import RulebookError, RulebookFault
from reminder_service.rules.positions import line_numbers, nearest_line
from reminder_service.rules.rulebook import (
    NAME_PATTERN,
    SETTING_NAME_PATTERN,
    WORDS_PATTERN,
    Rulebook,
)

SHOWN = 60
"""Letters of a wrong value that a fault shows (setting)."""

NOTHING = "nothing"
"""What a fault got where a key is missing."""

EXPECTED = {
    "missing": "a value",
    "extra_forbidden": "no such key",
    "string_too_short": "a text",
}
"""Our words where the validator's own would not help; by its type of error."""

PATTERN_WORDS = {
    ANCHOR_PATTERN: "a fact, or a task and its opens, due, closes or done, like thin.done",
    NAME_PATTERN: "small letters and digits, with hyphens between",
    SETTING_PATTERN: "a number of days, or a setting's name",
    SETTING_NAME_PATTERN: "small letters and digits, with underscores between",
    WORDS_PATTERN: "words in small letters",
}
"""What each pattern asks for."""


def load_rulebook(text: str) -> Rulebook:
    """Rulebook from the text of its file.

    Parameters
    ----------
    text : TOML

    Returns
    -------
    the rulebook

    Raises
    ------
    RulebookError
        The text is no TOML, or the rulebook has faults: all of them, by line.

    References
    ----------
    TOML 1.0.0 (https://toml.io/en/v1.0.0).
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RulebookError([_syntax_fault(str(error), text)]) from error
    lines = line_numbers(text)
    try:
        rulebook = Rulebook.model_validate(data)
    except ValidationError as error:
        raise _error(lines, _shape_faults(error)) from error
    wrong = [*inconsistencies(rulebook), *dead_ends(rulebook)]
    if wrong:
        raise _error(lines, wrong)
    return rulebook


def _error(lines: dict[Place, int], found: list[Inconsistency]) -> RulebookError:
    faults = [
        RulebookFault(nearest_line(lines, each.at), _path(each.at), each.expected, each.got)
        for each in found
    ]
    return RulebookError(sorted(faults, key=lambda fault: (fault.line, fault.path)))


def _syntax_fault(message: str, text: str) -> RulebookFault:
    """Turn the parser's message, which ends in the place, into a fault."""
    place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", message)
    if place is None:
        return RulebookFault(1, "", "valid TOML", message)
    line = int(place[1]) if place[1] else text.count("\n") + 1
    reason = message[: place.start()]
    return RulebookFault(line, "", "valid TOML", reason[:1].lower() + reason[1:])


def _shape_faults(error: ValidationError) -> list[Inconsistency]:
    """Put the validator's errors into our words."""
    details = error.errors(include_url=False)
    places = [detail["loc"] for detail in details]
    # The validator leaves faulty members out before it counts a list: that is no second fault.
    return [
        _shape(detail)
        for detail in details
        if detail["type"] != "too_short"
        or not any(place[: len(detail["loc"])] == detail["loc"] != place for place in places)
    ]


def _shape(detail: ErrorDetails) -> Inconsistency:
    at = tuple(_keys(detail["loc"]))
    message = re.sub(r"^(Input|String|Value) should (be )?", "", detail["msg"])
    context = detail.get("ctx", {})
    expected = EXPECTED.get(detail["type"], message)
    if detail["type"] == "too_short":
        expected = f"at least {context['min_length']} of them"
    elif detail["type"] == "string_pattern_mismatch":
        expected = PATTERN_WORDS[context["pattern"]]
    got = NOTHING if detail["type"] == "missing" else _shown(detail["input"])
    if detail["type"] == "extra_forbidden":
        got = str(at[-1])
    return Inconsistency(at, expected, got)


def _keys(place: tuple[str | int, ...]) -> Iterator[str | int]:
    """Drop from a place what the validator adds: forms of a bound, branches, ``[key]``."""
    for part in place:
        if isinstance(part, int) or not re.search(r"[<(\[]|^(int|str|constrained-str)$", part):
            yield part


def _shown(given: Any) -> str:
    if isinstance(given, dict):
        return "a table" if given else "an empty table"
    if isinstance(given, list | tuple):
        return "a list" if given else "an empty list"
    if isinstance(given, bool):
        return str(given).lower()
    shown = repr(given)
    return shown if len(shown) <= SHOWN else f"{shown[: SHOWN - 1]}…"


def _path(place: Place) -> str:
    parts = (f"[{part}]" if isinstance(part, int) else f".{part}" for part in place)
    return "".join(parts).removeprefix(".")
