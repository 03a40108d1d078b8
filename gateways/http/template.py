"""Templates of a request: texts, lists and tables with placeholders such as ``{to}``."""

import re
from collections.abc import Iterator, Mapping, Sequence
from string import Formatter

from pydantic import JsonValue

Scalar = str | int | float | bool

PLACEHOLDERS = ("to", "to_digits", "body", "reference", "sender", "expires_at", "coding")
"""What the template of a text's request may name."""

_ALONE = re.compile(r"\{(\w+)\}")


def placeholders(template: JsonValue, known: Sequence[str] = PLACEHOLDERS) -> Iterator[str]:
    """Every placeholder that a template names, in order.

    Parameters
    ----------
    template : a text, or lists and tables of such
    known : what it may name

    Raises
    ------
    ValueError
        A brace is not closed, or it holds something that is not known.

    Examples
    --------
    >>> list(placeholders({"to": ["{to}"], "text": "{body} {{ok}}"}))
    ['to', 'body']
    """
    if isinstance(template, dict):
        for part in template.values():
            yield from placeholders(part, known)
    elif isinstance(template, list):
        for part in template:
            yield from placeholders(part, known)
    elif isinstance(template, str):
        for _, name, form, conversion in Formatter().parse(template):
            if name is None:
                continue
            if name not in known or form or conversion:
                listed = ", ".join(f"{{{each}}}" for each in known)
                raise ValueError(f"{{{name}}} is no placeholder: there are {listed}")
            yield name


def filled(template: JsonValue, values: Mapping[str, JsonValue]) -> JsonValue:
    """The template with its values in place; a placeholder alone keeps the kind of its value.

    Examples
    --------
    >>> filled({"text": "Plot: {body}", "type": "{coding}"}, {"body": "thin", "coding": 0})
    {'text': 'Plot: thin', 'type': 0}
    """
    if isinstance(template, dict):
        return {name: filled(part, values) for name, part in template.items()}
    if isinstance(template, list):
        return [filled(part, values) for part in template]
    if not isinstance(template, str):
        return template
    alone = _ALONE.fullmatch(template)
    return values[alone[1]] if alone else template.format_map(values)


def flat(template: JsonValue) -> str:
    """One value as a form or a query writes it.

    Examples
    --------
    >>> flat(True), flat(8)
    ('true', '8')
    """
    return str(template).lower() if isinstance(template, bool) else str(template)
