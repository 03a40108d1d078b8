"""Reading what a carrier writes: strict JSON, values by dotted path, values as words."""

import json
import re
from collections.abc import Sequence

from pydantic import JsonValue


class NoJson(ValueError):
    """The bytes are no JSON that means one thing only."""


def json_value(raw: bytes) -> JsonValue:
    """What JSON text says; a name that stands twice in one object says nothing.

    Parameters
    ----------
    raw : UTF-8, perhaps after a byte order mark

    Raises
    ------
    NoJson
        It is cut, of another character set, nested beyond reading, or a name stands twice.

    References
    ----------
    RFC 8259, section 4: the names within an object should be unique.

    Examples
    --------
    >>> json_value(b'{"id": 7}')
    {'id': 7}
    """
    try:
        value: JsonValue = json.loads(raw.decode("utf-8-sig"), object_pairs_hook=_object)
    except (ValueError, RecursionError) as error:
        raise NoJson("no JSON that can be read") from error
    return value


def value_at(value: JsonValue, path: str) -> JsonValue:
    """The value at a dotted path, as ``messages.0.id``; None if nothing stands there.

    Examples
    --------
    >>> value_at({"messages": [{"id": "a1"}]}, "messages.0.id")
    'a1'
    """
    for part in path.split("."):
        if isinstance(value, dict):
            value = value.get(part)
        elif isinstance(value, list):
            value = value[int(part)] if part.isdecimal() and int(part) < len(value) else None
        else:
            return None
    return value


def word(value: JsonValue) -> str | None:
    """One value as a word; None for nothing, an empty text, a list or an object.

    Examples
    --------
    >>> word(0), word(True), word(" ")
    ('0', 'true', None)
    """
    if value is None or isinstance(value, list | dict):
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value).strip() or None


def word_found(text: str, pattern: str) -> str | None:
    """What the one group of a pattern finds in a text, as a word.

    Examples
    --------
    >>> word_found("<id>a1</id>", "<id>([^<]+)</id>")
    'a1'
    """
    found = re.search(pattern, text)
    return None if found is None else word(found[1])


def list_at(value: JsonValue, path: str | None) -> list[JsonValue] | None:
    """The list at a dotted path, or without a path; None if there is none.

    A name with null is an empty list: many carriers write it so.

    Examples
    --------
    >>> list_at({"texts": None}, "texts"), list_at({}, "texts"), list_at([7], None)
    ([], None, [7])
    """
    found = value if path is None else value_at(value, path)
    if isinstance(found, list):
        return found
    before, _, name = (path or "").rpartition(".")
    beside = value_at(value, before) if before else value
    is_null = found is None and isinstance(beside, dict) and name in beside
    return [] if is_null else None


def _object(pairs: Sequence[tuple[str, JsonValue]]) -> dict[str, JsonValue]:
    read = dict(pairs)
    if len(read) < len(pairs):
        raise NoJson("a name stands twice")
    return read
