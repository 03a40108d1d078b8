"""What is written back when a text was not taken, or is asked back.

Every function answers one text of at most two segments that says what is wrong and how to write
it; ``language`` is an ISO 639-1 code. Nothing was changed when one of these goes out.
"""

from collections.abc import Sequence
from datetime import date

from reminder_service.kinds import Kind
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue
from reminder_service.texts.wording import (
    echo,
    example,
    fact_name,
    full_day,
    round_of,
)

MOST_LISTED = 8
"""Plots or tasks that one text lists (setting)."""


def still_to_come(what: str, on: date, *, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """The day lies in the future; ``what`` is the fact or task title."""
    _ = catalogue(language).gettext
    text = _(
        "Not noted: plot {plot}, {what}, {day}. That day is still to come. "
        "Send it again with the right day."
    )
    return text.format(what=what, plot=plot, day=full_day(on, language))


def before_season(
    what: str, on: date, season_starts: date, *, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """The day lies before the season's first day."""
    _ = catalogue(language).gettext
    text = _(
        "Not noted: plot {plot}, {what}, {day}. The season starts {starts}. "
        "Send it again with the right day."
    )
    starts = full_day(season_starts, language)
    return text.format(what=what, plot=plot, day=full_day(on, language), starts=starts)


def contradiction(
    kind: Kind, on: date, other: Kind, other_on: date, *, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """The day does not fit another fact that is known."""
    _ = catalogue(language).gettext
    text = _(
        "Not noted: plot {plot}, {what}, {day}. It does not fit {other}, {other_day}. "
        "Send the right day of one of them, like {example}."
    )
    return text.format(
        plot=plot,
        what=fact_name(kind, language),
        day=full_day(on, language),
        other=fact_name(other, language),
        other_day=full_day(other_on, language),
        example=example(kind, language),
    )


def too_early(
    title: str, on: date, opens: date, *, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """A task was reported done long before it opens."""
    _ = catalogue(language).gettext
    text = _(
        "Not noted: plot {plot}, {title} done {day}. It starts {opens}. "
        "Did you mean another task or day? Send it again, like {example}."
    )
    return text.format(
        plot=plot,
        title=title,
        day=full_day(on, language),
        opens=full_day(opens, language),
        example=example(Kind.DONE, language),
    )


def bad_date(written: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """The day could not be told; shows what was written and how to write it."""
    _ = catalogue(language).gettext
    text = _(
        'Not noted: no clear day in "{written}". '
        "Write day, then month, like RAIN 12 NOV or GERM 21/11."
    )
    return text.format(written=echo(written))


def unread(*, language: str = SOURCE_LANGUAGE) -> str:
    """Nothing in the text was understood, or it was empty or no text."""
    _ = catalogue(language).gettext
    return _(
        "Sorry, we could not read your text. Write it like RAIN 12 NOV, GERM 21 NOV or DONE THIN. "
        "For more send HELP."
    )


def unknown_phone(programme: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """The number belongs to nobody on the list."""
    _ = catalogue(language).gettext
    text = _(
        "{programme}: this number is not on our list. "
        "Ask your lead farmer or coordinator to add it."
    )
    return text.format(programme=programme)


def unknown_phone_may_join(programme: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """The number belongs to nobody on the list, but its user may join by text."""
    _ = catalogue(language).gettext
    text = _(
        "{programme}: this number is not on our list. To join send JOIN. To hear no more: STOP."
    )
    return text.format(programme=programme)


def which_language(languages: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """Name the languages that can be asked for, each as its name and code."""
    _ = catalogue(language).gettext
    text = _("We can write in {languages}. Send LANGUAGE and the two letters, like LANGUAGE EN.")
    return text.format(languages=", ".join(languages))


def which_plot(plots: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """Several plots belong to the phone and the text names none."""
    _ = catalogue(language).gettext
    text = _("Which plot? You have {plots}. Send it again with the plot, like {example}.")
    return text.format(plots=listed(plots, language=language), example=_with_plot(plots, language))


def unknown_plot(written: str, plots: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """The text names a plot that the phone does not have; ``plots`` are those it has."""
    _ = catalogue(language).gettext
    text = _("Not noted: plot {written} is not yours. You have {plots}. Send it like {example}.")
    return text.format(
        written=echo(written),
        plots=listed(plots, language=language),
        example=_with_plot(plots, language),
    )


def which_task(words: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """The text says done but names no known task; ``words`` are one name for each task."""
    _ = catalogue(language).gettext
    text = _("Which task is done? Send it like {example}. Tasks: {words}.")
    return text.format(example=example(Kind.DONE, language), words=listed(words, language=language))


def no_such_task(
    title: str, *, plot: str, number: int | None = None, language: str = SOURCE_LANGUAGE
) -> str:
    """The plot's plan has no such task, or not that round of it."""
    _ = catalogue(language).gettext
    title = round_of(title, number or 1, language)
    text = _("Not noted: plot {plot} has no task {title} now. For its tasks send NEXT.")
    return text.format(plot=plot, title=title)


def rain_day_or_amount(on: date, mm: float, *, language: str = SOURCE_LANGUAGE) -> str:
    """A bare number after rain: choice 1 is the day, choice 2 the amount in mm."""
    _ = catalogue(language).gettext
    text = _(
        "Day or amount? Send 1 for first rain on {day}, 2 for {mm} mm of rain. "
        "Next time write RAIN 12 NOV for the day, RAIN 12MM for the amount."
    )
    return text.format(day=full_day(on, language), mm=f"{mm:g}")


def which_one(choices: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """Several readings are possible; each is named with its number."""
    _ = catalogue(language).gettext
    numbered = [f"{number}: {choice}." for number, choice in enumerate(choices, 1)]
    return _("Which one? {choices} Send its number.").format(choices=" ".join(numbered))


def nothing_to_take_back(*, language: str = SOURCE_LANGUAGE) -> str:
    """NO was sent, but there is no recent report to take back."""
    _ = catalogue(language).gettext
    return _(
        "There is no report of yours to take back. To change a day send it again, like GERM 21 NOV."
    )


def nothing_asked(*, language: str = SOURCE_LANGUAGE) -> str:
    """YES or a number was sent, but nothing was asked."""
    _ = catalogue(language).gettext
    return _("We had no open question for you. For your next task send NEXT, for more HELP.")


def listed(names: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """Names in a row, at most eight of them, and how many more there are."""
    words = catalogue(language)
    shown = ", ".join(names[:MOST_LISTED])
    more = len(names) - MOST_LISTED
    if more <= 0:
        return shown
    text = words.ngettext("{names} and {more} more", "{names} and {more} more", more)
    return text.format(names=shown, more=more)


def _with_plot(plots: Sequence[str], language: str) -> str:
    _ = catalogue(language).gettext
    return _("GERM 21 NOV PLOT {plot}").format(plot=plots[0].upper() if plots else "3")
