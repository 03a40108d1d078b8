"""How what is written back is put into words: days, names of facts, and templates filled in."""

import string
from collections.abc import Collection
from datetime import date, timedelta

from babel.dates import format_date

from reminder_service.kinds import Kind
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue
from reminder_service.texts.errors import WordingError
from reminder_service.texts.segments import is_gsm

NAMES_YEAR = timedelta(days=300)
"""A day further than this from the day of reference is written with its year (setting)."""

LONGEST_ECHO = 20
"""Characters of what a farmer wrote that are shown back (setting)."""


LONGEST_CALLED = 10
"""Letters of a farmer's name that texts show (setting)."""


def called(name: str) -> str:
    """What a farmer is called in texts: the first name, or as much of it as there is room for.

    Parameters
    ----------
    name : the farmer's, as it stands on the list

    Examples
    --------
    >>> called("Amina Dule"), called("Nokukhanyani Mwale")
    ('Amina Dule', 'Nokukhanya')
    """
    shown = name if len(name) <= LONGEST_CALLED else name.split()[0]
    return shown[:LONGEST_CALLED]


def day(
    on: date, about: bool = False, *, near: date | None = None, language: str = SOURCE_LANGUAGE
) -> str:
    """Day with its weekday, as a farmer reads it.

    Parameters
    ----------
    on : local day
    about : it is an estimate, and is said to be one
    near : day of reference; the year is written for days far from it
    language : ISO 639-1 code

    Returns
    -------
    the words

    Examples
    --------
    >>> day(date(2026, 12, 5))
    'Sat 5 Dec'
    >>> day(date(2026, 12, 5), about=True, near=date(2025, 11, 1))
    'about Sat 5 Dec 2026'
    """
    far = near is not None and abs(on - near) > NAMES_YEAR
    written = full_day(on, language) if far else format_date(on, "EEE d MMM", locale=language)
    _ = catalogue(language).gettext
    return _("about {day}").format(day=written) if about else str(written)


def full_day(on: date, language: str = SOURCE_LANGUAGE) -> str:
    """Day with its weekday and year, as it is echoed back so that a mistake shows.

    Parameters
    ----------
    on : local day
    language : ISO 639-1 code

    Returns
    -------
    the words

    Examples
    --------
    >>> full_day(date(2026, 11, 12))
    'Thu 12 Nov 2026'
    """
    return str(format_date(on, "EEE d MMM y", locale=language))


def fill(
    template: str,
    *,
    about: Collection[str] = (),
    near: date | None = None,
    language: str = SOURCE_LANGUAGE,
    **values: str | int | date,
) -> str:
    """Rulebook template with its placeholders filled in; days are written with their weekday.

    Only plain placeholders are allowed, such as ``{name}``: no attributes, indexes or formats.

    Parameters
    ----------
    template : e.g. ``{name}, thin plot {plot} by {closes}.``
    about : names of the days that are estimates
    near : day of reference for the year
    language : ISO 639-1 code
    values : what each placeholder stands for

    Returns
    -------
    the text

    Raises
    ------
    WordingError
        The template is broken, or names a placeholder that has no value.

    Examples
    --------
    >>> fill("{name}, thin by {closes}.", name="Amina", closes=date(2026, 12, 12))
    'Amina, thin by Sat 12 Dec.'
    """
    faults = [name for name in placeholders(template, values) if name not in values]
    if faults:
        raise WordingError(template, f"{{{faults[0]}}}", values)
    written = {
        name: day(value, name in about, near=near, language=language)
        if isinstance(value, date)
        else value
        for name, value in values.items()
    }
    return filled(template, **written)


def filled(template: str, **values: object) -> str:
    """Template with its values put in, and one full stop where a value's own dot meets another.

    Parameters
    ----------
    template : its placeholders are plain, such as ``{name}``
    values : what each placeholder stands for

    Returns
    -------
    the text

    Examples
    --------
    >>> filled("{opens} a {closes}.", opens="5 dez.", closes="12 dez.")
    '5 dez. a 12 dez.'
    """
    for name, value in values.items():
        if str(value).endswith("."):
            template = template.replace(f"{{{name}}}.", f"{{{name}}}")
    return template.format_map(values)


def placeholders(template: str, allowed: Collection[str]) -> list[str]:
    """Placeholders of a template, in order.

    Parameters
    ----------
    template : text with placeholders in braces
    allowed : names that the fault message lists

    Returns
    -------
    their names

    Raises
    ------
    WordingError
        The braces do not match, or a placeholder has a format or conversion.

    Examples
    --------
    >>> placeholders("{name}, thin plot {plot}.", ())
    ['name', 'plot']
    """
    try:
        fields = [field for field in string.Formatter().parse(template) if field[1] is not None]
    except ValueError as fault:
        raise WordingError(template, f"unmatched braces ({fault})", allowed) from fault
    for _text, name, spec, conversion in fields:
        if spec or conversion:
            raise WordingError(template, f"a format beside {{{name}}}", allowed)
    return [str(name) for _text, name, _spec, _conversion in fields]


def with_caution(text: str, caution: str) -> str:
    """Text with its caution at the end, once.

    Parameters
    ----------
    text : what is to be done
    caution : the caution, or an empty string

    Returns
    -------
    both

    Examples
    --------
    >>> with_caution("Dress.", "Wash your hands.")
    'Dress. Wash your hands.'
    """
    if not caution or caution in text:
        return text
    return f"{text} {caution}" if text.endswith((".", "?", "!")) else f"{text}. {caution}"


def echo(written: str) -> str:
    """What a farmer wrote, short and in letters that cost no more than others.

    Parameters
    ----------
    written : any text

    Returns
    -------
    at most 20 characters of the GSM alphabet

    Examples
    --------
    >>> echo("31/02 \N{LATIN SMALL LETTER W WITH CIRCUMFLEX}")
    '31/02 ?'
    """
    kept = "".join(char if is_gsm(char) and char.isprintable() else "?" for char in written)
    return kept[:LONGEST_ECHO]


def fact_name(kind: Kind, language: str = SOURCE_LANGUAGE) -> str:
    """Name of a kind of report, as it begins a sentence.

    Parameters
    ----------
    kind : one of ``kinds.REPORTS``
    language : ISO 639-1 code

    Returns
    -------
    the name
    """
    _ = catalogue(language).gettext
    names = {
        Kind.FIRST_RAIN: _("First rain"),
        Kind.RAIN: _("Rain"),
        Kind.PLANTED: _("Planting"),
        Kind.GERMINATED: _("Germination"),
        Kind.TASSELLED: _("Tassels"),
        Kind.HARVESTED: _("Harvest"),
        Kind.DONE: _("Task done"),
        Kind.COUNT: _("Stand count"),
        Kind.BORER_COUNT: _("Funnel damage"),
        Kind.REPLANTED: _("Replanting"),
        Kind.SURVIVED: _("Maize survived"),
        Kind.LOST: _("Maize lost"),
    }
    return names[kind]


def round_of(title: str, number: int, language: str = SOURCE_LANGUAGE) -> str:
    """Title of a task with its round, where that is above 1.

    Examples
    --------
    >>> round_of("Weeding", 1), round_of("Weeding", 2)
    ('Weeding', 'Weeding, round 2')
    """
    _ = catalogue(language).gettext
    return _("{title}, round {number}").format(title=title, number=number) if number > 1 else title


def task_day_name(title: str, which: str, language: str = SOURCE_LANGUAGE) -> str:
    """Name of a task's day that another is counted from.

    Parameters
    ----------
    title : of the task, in the language
    which : ``opens``, ``due``, ``closes`` or ``done``
    language : ISO 639-1 code

    Returns
    -------
    the name
    """
    _ = catalogue(language).gettext
    names = {
        "opens": _("{title} (first day)"),
        "due": _("{title} (best day)"),
        "closes": _("{title} (last day)"),
        "done": _("{title} (done)"),
    }
    return names[which].format(title=title)


def example(kind: Kind, language: str = SOURCE_LANGUAGE) -> str:
    """How a report is written, with a day as an example.

    Parameters
    ----------
    kind : one of ``kinds.REPORTS``
    language : ISO 639-1 code

    Returns
    -------
    a text that ``reading.read`` understands
    """
    _ = catalogue(language).gettext
    examples = {
        Kind.FIRST_RAIN: _("RAIN 12 NOV"),
        Kind.RAIN: _("RAIN 23MM"),
        Kind.PLANTED: _("PLANTED 14 NOV"),
        Kind.GERMINATED: _("GERM 21 NOV"),
        Kind.TASSELLED: _("TASSEL 20 JAN"),
        Kind.HARVESTED: _("HARVEST 3 APR"),
        Kind.DONE: _("DONE THIN 5 DEC"),
        Kind.COUNT: _("COUNT 2 1 0 3 2"),
        Kind.BORER_COUNT: _("BORER 12"),
        Kind.REPLANTED: _("REPLANTED 2 DEC"),
        Kind.SURVIVED: _("SURVIVED"),
        Kind.LOST: _("MAIZE LOST"),
    }
    return examples[kind]
