"""What is asked and answered while somebody joins by text: one short step a text.

Every function answers one text of one segment; ``language`` is an ISO 639-1 code.
"""

from collections.abc import Iterator, Sequence

from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue
from reminder_service.texts.segments import segments

LONGEST_WARD = 20
"""Letters of a ward's name that texts show (setting)."""

MOST_CHOICES = 9
"""Choices that one digit can pick from."""


def consent(programme: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Ask for consent: what is kept, what for, that it can end, that one may say no."""
    _ = catalogue(language).gettext
    text = _(
        "{programme} keeps your name, number, ward, plot and texts for field reminders. "
        "STOP ends it any time. You may say no. Send YES or NO."
    )
    return text.format(programme=programme)


def no_consent(*, language: str = SOURCE_LANGUAGE) -> str:
    """Consent was not given, or taken back while joining."""
    _ = catalogue(language).gettext
    return _("All right, you do not join and get no reminders. To join later send JOIN.")


def name(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask for the farmer's name."""
    _ = catalogue(language).gettext
    return _("What is your name? Send first name and family name.")


def ward(called: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Ask for the ward's name; ``called`` is what the farmer is called."""
    _ = catalogue(language).gettext
    return _("{name}, in which ward is your plot? Send the name of the ward.").format(name=called)


def ward_sure(ward: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Ask whether a ward spelled nearly like this is meant."""
    _ = catalogue(language).gettext
    text = _("Do you mean the ward {ward}? Send YES. If you mean another one send NO.")
    return text.format(ward=shown_ward(ward))


def ward_choice(wards: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> str:
    """Offer wards by number: as many of them as one segment holds, at most nine."""
    return list(_ward_choices(wards, language))[-1]


def wards_offered(wards: Sequence[str], *, language: str = SOURCE_LANGUAGE) -> int:
    """How many of some wards `ward_choice` offers."""
    return len(list(_ward_choices(wards, language)))


def _ward_choices(wards: Sequence[str], language: str) -> Iterator[str]:
    """Texts that offer one ward more each time, while they take one segment."""
    _ = catalogue(language).gettext
    text = _("Which ward? {wards}. Send its number.")
    for most in range(1, min(len(wards), MOST_CHOICES) + 1):
        offered = [f"{n} {shown_ward(ward)}" for n, ward in enumerate(wards[:most], 1)]
        written = text.format(wards=", ".join(offered))
        if most > 1 and segments(written).segments > 1:
            return
        yield written


def size(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask how the plot's size will be given: stations, hectares or sides."""
    _ = catalogue(language).gettext
    return _(
        "How big is the plot? 1 I know the number of planting stations, 2 I know the hectares, "
        "3 I know its length and width. Send the number."
    )


def stations(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask for the number of planting stations."""
    _ = catalogue(language).gettext
    return _("How many planting stations has the plot? Send the number, like 5600.")


def hectares(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask for the plot's hectares."""
    _ = catalogue(language).gettext
    return _("How many hectares has the plot? Send the number, like 0.25.")


def sides(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask for the plot's length and width in metres."""
    _ = catalogue(language).gettext
    return _(
        "How long and how wide is the plot in metres? A big step is about one metre. "
        "Send it like 50x20."
    )


def spacing(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask how far planting stations are apart: two usual spacings, not known, or their own."""
    _ = catalogue(language).gettext
    return _(
        "How far apart are rows, and stations in a row, in cm? 1 75x60, 2 90x60, "
        "3 I do not know. Send the number, or your own like 80x50."
    )


def variety(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask for the maturity class of the seed."""
    _ = catalogue(language).gettext
    return _(
        "How long does your seed take to ripen? 1 short, 2 medium, 3 long, 4 I do not know. "
        "Send the number."
    )


def dressing(*, language: str = SOURCE_LANGUAGE) -> str:
    """Ask what the plot is top-dressed with."""
    _ = catalogue(language).gettext
    return _(
        "What do you top-dress with? 1 mineral fertiliser, 2 manure tea, 3 both. Send the number."
    )


def summary(
    *,
    called: str,
    plot: str,
    ward: str,
    stations: int,
    maturity: str | None,
    dressing: str | None,
    language: str = SOURCE_LANGUAGE,
) -> str:
    """Say back what was answered, with the plot's number.

    Parameters
    ----------
    called : what the farmer is called
    plot : the number that the system gave
    ward : its name
    stations : planting stations
    maturity : ``short``, ``medium`` or ``long``; None if the rulebook does not ask
    dressing : ``mineral``, ``manure-tea`` or ``both``; None if the rulebook does not ask
    language : ISO 639-1 code
    """
    _ = catalogue(language).gettext
    choices = {
        "short": _("short variety"),
        "medium": _("medium variety"),
        "long": _("long variety"),
        "mineral": _("mineral fertiliser"),
        "manure-tea": _("manure tea"),
        "both": _("fertiliser and manure tea"),
    }
    told = [choices[value] for value in (maturity, dressing) if value is not None]
    words = catalogue(language)
    number = words.ngettext("{number} station", "{number} stations", stations)
    facts = ", ".join([number.format(number=stations), *told])
    text = _("{name}, your plot is number {plot} in {ward}: {facts}. Wrong? Send NO.")
    return text.format(name=called, plot=plot, ward=shown_ward(ward), facts=facts)


def waiting(called: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Say that a coordinator must let the farmer in first."""
    _ = catalogue(language).gettext
    text = _("Thank you {name}. Your coordinator looks at it first; then we text you.")
    return text.format(name=called)


def welcome(called: str, plot: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Say that the farmer gets reminders now, and what to report first."""
    _ = catalogue(language).gettext
    text = _(
        "Welcome {name}. When the first good rain falls on plot {plot}, send its day "
        "like RAIN 12 NOV. Then we remind you of each task. To end: STOP."
    )
    return text.format(name=called, plot=plot)


def not_let_in(programme: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Say that the coordinator did not let the farmer in."""
    _ = catalogue(language).gettext
    text = _("{programme}: your coordinator has not added you. Please ask your lead farmer.")
    return text.format(programme=programme)


def many_plots(*, language: str = SOURCE_LANGUAGE) -> str:
    """A phone that has many plots already adds no more by text."""
    _ = catalogue(language).gettext
    return _("Your phone has many plots already. Ask your coordinator to add another one.")


def again(question: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Ask once more after an answer that nobody can read; ``question`` is what was asked."""
    _ = catalogue(language).gettext
    return _("Sorry, not understood. {question}").format(question=question)


def beyond(low: str, high: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """A size lies outside what is taken; ``low`` and ``high`` are the bounds as numbers."""
    _ = catalogue(language).gettext
    text = _("We can take a size from {low} to {high} here. Look at it again and send it anew.")
    return text.format(low=low, high=high)


def shown_ward(name: str) -> str:
    """As much of a ward's name as texts have room for."""
    return name[:LONGEST_WARD].rstrip()
