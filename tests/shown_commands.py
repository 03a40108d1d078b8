"""The commands that a text shows its reader: runs of capitals, with the numbers among them."""

import re

COMMAND = re.compile(r"\b[A-ZÀ-Ý]{2,}(?: (?:[A-ZÀ-Ý]{2,}|\d+(?:/\d+)?(?:MM)?(?![\w/])))*")

PLACEHOLDERS = {"{number}": "2", "{plot}": "3"}


def commands_in(text: str) -> list[str]:
    """Commands of a text or of a template, in order."""
    for name, value in PLACEHOLDERS.items():
        text = text.replace(name, value)
    return COMMAND.findall(text)
