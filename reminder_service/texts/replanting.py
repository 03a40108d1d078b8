"""What is written back about a stand after dry days: it survived, was lost, or was replanted.

``language`` is an ISO 639-1 code. The question itself stands in the rulebook.
"""

from collections.abc import Sequence
from datetime import date

from reminder_service.kinds import Kind
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue
from reminder_service.texts.wording import example, full_day

MOST_LISTED = 4
"""Plots that one text lists (setting)."""


def replanted(on: date, *, name: str, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """A plot was replanted on a local day: its clock starts anew."""
    _ = catalogue(language).gettext
    text = _(
        "Thank you {name}. Replanting on plot {plot}: {day}. All tasks are counted anew from it. "
        "Wrong? Send NO."
    )
    return text.format(name=name, plot=plot, day=full_day(on, language))


def survived(*, name: str, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """The stand survived: the plan stays as it is."""
    _ = catalogue(language).gettext
    text = _("Thank you {name}. Plot {plot}: the maize survived, your tasks stay. Wrong? Send NO.")
    return text.format(name=name, plot=plot)


def lost(*, name: str, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """The stand is lost and not yet replanted."""
    _ = catalogue(language).gettext
    text = _(
        "Sorry {name}. Noted: maize on plot {plot} is lost. When you plant again send {example}. "
        "It survived after all? Send SURVIVED."
    )
    return text.format(name=name, plot=plot, example=example(Kind.REPLANTED, language))


def which_plot(plots: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """Several plots were asked about, and the answer names none."""
    _ = catalogue(language).gettext
    text = _("Which plot, {plots}? Send SURVIVED PLOT {plot} or REPLANTED PLOT {plot} 2 DEC.")
    return text.format(plots=", ".join(plots[:MOST_LISTED]), plot=plots[0])
