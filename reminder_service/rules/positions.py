"""Where each key and value of a TOML text stands, so that a fault can name its line."""

import re
from collections.abc import Iterator

from reminder_service.rules.bounds import Place

SPACE = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
KEY_PART = re.compile(r"""[ \t]*(?:"((?:\\.|[^"\\])*)"|'([^']*)'|([A-Za-z0-9_-]+))[ \t]*""")
STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}(?!")'
    r"|'''.*?'{3,5}(?!')"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
BARE = re.compile(r"[^,\]}#\n]+")


class _Scanner:
    """Walks once over a TOML text that is known to be valid."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lengths: dict[Place, int] = {}

    def places(self) -> Iterator[tuple[Place, int]]:
        """Every place with the offset it starts at."""
        table: Place = ()
        self._skip()
        while self.at < len(self.text):
            start = self.at
            if self.text.startswith("[", self.at):
                many = self.text.startswith("[[", self.at)
                self.at += 2 if many else 1
                table = self._table(self._key(), many)
                self.at += 2 if many else 1
                if many:
                    yield table[:-1], start
                yield table, start
            else:
                yield from self._pair(table)
            self._skip()

    def _skip(self) -> None:
        match = SPACE.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _key(self) -> tuple[str, ...]:
        parts = []
        while match := KEY_PART.match(self.text, self.at):
            parts.append(next(part for part in match.groups() if part is not None))
            self.at = match.end()
            if not self.text.startswith(".", self.at):
                break
            self.at += 1
        return tuple(parts)

    def _table(self, key: tuple[str, ...], many: bool) -> Place:
        """Place of a table's header; a list of tables on the way means its last one."""
        place: Place = ()
        for part in key[:-1]:
            place = (*place, part)
            if place in self.lengths:
                place = (*place, self.lengths[place] - 1)
        place = (*place, key[-1])
        if many:
            self.lengths[place] = self.lengths.get(place, 0) + 1
            place = (*place, self.lengths[place] - 1)
        return place

    def _pair(self, table: Place) -> Iterator[tuple[Place, int]]:
        start = self.at
        place = (*table, *self._key())
        yield place, start
        self.at += 1  # the equals sign
        self._skip()
        yield from self._value(place)

    def _value(self, place: Place) -> Iterator[tuple[Place, int]]:
        if self.text.startswith("{", self.at):
            yield from self._members(place, "}")
        elif self.text.startswith("[", self.at):
            yield from self._members(place, "]")
        else:
            match = STRING.match(self.text, self.at) or BARE.match(self.text, self.at)
            self.at = match.end() if match else self.at + 1

    def _members(self, place: Place, end: str) -> Iterator[tuple[Place, int]]:
        self.at += 1
        self._skip()
        index = 0
        while not self.text.startswith(end, self.at):
            if end == "}":
                yield from self._pair(place)
            else:
                yield (*place, index), self.at
                yield from self._value((*place, index))
            index += 1
            self._skip()
            if self.text.startswith(",", self.at):
                self.at += 1
                self._skip()
        self.at += 1


def line_numbers(text: str) -> dict[Place, int]:
    r"""Line on which each key, table and list member of a TOML text starts.

    Parameters
    ----------
    text : valid TOML

    Returns
    -------
    lines from 1, by place

    References
    ----------
    TOML 1.0.0 (https://toml.io/en/v1.0.0).

    Examples
    --------
    >>> line_numbers('[a]\nb = [\n 1, {c = 2}]')[("a", "b", 1, "c")]
    3
    """
    lines: dict[Place, int] = {}
    line, counted_to = 1, 0
    for place, offset in _Scanner(text).places():
        line += text.count("\n", counted_to, offset)
        counted_to = offset
        lines.setdefault(place, line)
    return lines


def nearest_line(lines: dict[Place, int], place: Place) -> int:
    """Line of a place, or of the nearest place around it that stands in the text.

    Parameters
    ----------
    lines : from ``line_numbers``
    place : any place, also one that is missing

    Returns
    -------
    line, from 1
    """
    while place and place not in lines:
        place = place[:-1]
    return lines.get(place, 1)
