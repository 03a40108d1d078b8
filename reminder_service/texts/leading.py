"""What a lead farmer who reports for others is asked and answered.

Every function answers one text of one segment; ``what`` is a fact's name or a task's title,
``language`` an ISO 639-1 code.
"""

from collections.abc import Sequence
from datetime import date

from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue
from reminder_service.texts.joining import shown_ward
from reminder_service.texts.wording import full_day

MOST_NAMED = 6
"""Letters and digits of plot numbers stand in one text for so many plots (setting)."""


def sure(what: str, on: date, count: int, *, ward: str, language: str = SOURCE_LANGUAGE) -> str:
    """Ask whether a report is meant for so many plots of a ward."""
    words = catalogue(language)
    text = words.ngettext(
        "{what}, {day}: for {count} plot of {ward} that has no day yet? Send 1 for yes.",
        "{what}, {day}: for {count} plots of {ward} that have no day yet? Send 1 for yes.",
        count,
    )
    day = full_day(on, language)
    return text.format(what=what, day=day, count=count, ward=shown_ward(ward))


def noted(
    what: str, on: date, plots: Sequence[str], *, called: str, language: str = SOURCE_LANGUAGE
) -> str:
    """Say what was noted for several plots; a few are named, of many the number."""
    words = catalogue(language)
    text = words.ngettext(
        "Thank you {name}. {what}, {day}, noted for {count} plot{named}. Wrong? Send NO.",
        "Thank you {name}. {what}, {day}, noted for {count} plots{named}. Wrong? Send NO.",
        len(plots),
    )
    named = f" ({', '.join(plots)})" if len(plots) <= MOST_NAMED else ""
    day = full_day(on, language)
    return text.format(name=called, what=what, day=day, count=len(plots), named=named)


def taken_back(what: str, on: date, count: int, *, language: str = SOURCE_LANGUAGE) -> str:
    """Say that a report on several plots was taken back after NO."""
    words = catalogue(language)
    text = words.ngettext(
        "Taken back: {what}, {day}, on {count} plot.",
        "Taken back: {what}, {day}, on {count} plots.",
        count,
    )
    return text.format(what=what, day=full_day(on, language), count=count)


def all_have_it(what: str, *, ward: str, language: str = SOURCE_LANGUAGE) -> str:
    """No plot of the ward is left without this report."""
    _ = catalogue(language).gettext
    text = _(
        "{what} is known for every plot of {ward}. To change one name it, like GERM 21 NOV FOR 3."
    )
    return text.format(what=what, ward=shown_ward(ward))


def none_fits(what: str, on: date, *, ward: str, language: str = SOURCE_LANGUAGE) -> str:
    """The day cannot be true on any of the plots that it was meant for."""
    _ = catalogue(language).gettext
    text = _("Not noted: {what}, {day}, does not fit on any plot of {ward}. Send the right day.")
    return text.format(what=what, day=full_day(on, language), ward=shown_ward(ward))


def one_at_a_time(*, language: str = SOURCE_LANGUAGE) -> str:
    """A text for a whole ward holds several reports."""
    _ = catalogue(language).gettext
    return _("For a whole ward send one report in one text, and nothing else in it.")


def not_lead(*, language: str = SOURCE_LANGUAGE) -> str:
    """Somebody who leads no ward reported for a whole one."""
    _ = catalogue(language).gettext
    return _(
        "Not noted: only the lead farmer of a ward reports for all of it. For your own plot send "
        "it like GERM 21 NOV."
    )


def which_ward(wards: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """A lead farmer of several wards named plots or a ward that could be in more than one."""
    _ = catalogue(language).gettext
    shown = ", ".join(shown_ward(ward) for ward in wards[:3])
    text = _("Not noted: you lead {wards}, and it is not clear where it was. Ask your coordinator.")
    return text.format(wards=shown)


def name_plots(*, language: str = SOURCE_LANGUAGE) -> str:
    """A lead farmer without a plot named none in a report."""
    _ = catalogue(language).gettext
    return _("For which plots? Send it again with their numbers, like GERM 21 NOV FOR 3 5 8.")
