"""What is written back when a text was taken or a question answered.

Every function answers one text of at most two segments; ``language`` is an ISO 639-1 code. Days
of reports are echoed with weekday and year, so that a mistake shows.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from reminder_service.kinds import DATED_FACTS, Kind
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue
from reminder_service.texts.wording import (
    day,
    fact_name,
    filled,
    full_day,
    round_of,
    with_caution,
)

MOST_NEXT = 3
"""Tasks that one answer to NEXT names (setting)."""

MOST_STATIONS = 40
"""Stations that are answered one by one; of more only the rule is said (setting)."""


@dataclass(frozen=True, slots=True)
class NextTask:
    """One coming task, as an answer to NEXT names it.

    Attributes
    ----------
    title : the rulebook's title
    opens, closes : local days
    about : the days are estimates
    """

    title: str
    opens: date
    closes: date
    about: bool = False


def noted(kind: Kind, on: date, *, name: str, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """A dated fact was noted: kind and local day, farmer's name, plot."""
    _ = catalogue(language).gettext
    text = _(
        "Thank you {name}. {fact} on plot {plot}: {day}. Wrong? Send it again with the right day."
    )
    fact, written = fact_name(kind, language), full_day(on, language)
    return text.format(name=name, fact=fact, plot=plot, day=written)


def corrected(
    kind: Kind, was: date, on: date, *, name: str, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """A fact noted before has another day now."""
    _ = catalogue(language).gettext
    text = _("Thank you {name}. {fact} on plot {plot} is now {day}, not {was}. Wrong? Send NO.")
    return text.format(
        name=name,
        fact=fact_name(kind, language),
        plot=plot,
        day=full_day(on, language),
        was=full_day(was, language),
    )


def known_already(
    what: str, on: date, *, name: str, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """The same report with the same day stands already; ``what`` is its fact or task title."""
    _ = catalogue(language).gettext
    text = _("Thank you {name}, we have it already. Plot {plot}, {what}: {day}.")
    return text.format(name=name, what=what, plot=plot, day=full_day(on, language))


def done_noted(
    title: str,
    on: date,
    *,
    name: str,
    plot: str,
    number: int = 1,
    was: date | None = None,
    language: str = SOURCE_LANGUAGE,
) -> str:
    """A task was noted as done on a local day; a round above 1 is named, a corrected day too."""
    _ = catalogue(language).gettext
    named = round_of(title, number, language)
    written = full_day(on, language)
    if was is not None:
        written = _("{day}, not {was}").format(day=written, was=full_day(was, language))
    text = _("Thank you {name}. Done on plot {plot}: {title}, {day}. Wrong? Send NO.")
    return text.format(name=name, title=named, plot=plot, day=written)


def taken_back(what: str, on: date, *, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """The last report was taken back after NO; ``what`` is its fact or task title."""
    _ = catalogue(language).gettext
    text = _("Taken back: plot {plot}, {what}, {day}. Send it again with the right day.")
    return text.format(what=what, plot=plot, day=full_day(on, language))


def amount_noted(
    mm: float, on: date, *, name: str, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """An amount of rain in mm was noted for a local day."""
    _ = catalogue(language).gettext
    text = _("Thank you {name}. Rain on plot {plot}: {mm} mm on {day}. Wrong? Send NO.")
    return text.format(name=name, plot=plot, mm=f"{mm:g}", day=full_day(on, language))


def count_noted(
    counts: Sequence[int],
    leave: Sequence[int],
    *,
    name: str,
    plot: str,
    poor_percent: int | None = None,
    language: str = SOURCE_LANGUAGE,
) -> str:
    """A stand count was noted: seedlings counted, and plants to leave, station by station.

    ``poor_percent`` is how full the stand is, said only where it is too poor.
    """
    words = catalogue(language)
    _ = words.gettext
    number = len(counts)
    text = words.ngettext(
        "Thank you {name}. Plot {plot}: {number} station counted.",
        "Thank you {name}. Plot {plot}: {number} stations counted.",
        number,
    ).format(name=name, plot=plot, number=number)
    pulled = sum(counts) - sum(leave)
    if not pulled:
        rest = _("Nothing to pull.")  # not within the f-string, where no catalogue would find it
        return " ".join([text, rest, *_poor(poor_percent, language)])
    if number > MOST_STATIONS:
        rule = _("Leave at most {most} plants at a station.").format(most=max(leave))
    else:
        rule = _("Leave in the same order: {leave}.").format(leave=" ".join(map(str, leave)))
    last = words.ngettext(
        "Pull {number} plant with its roots.", "Pull {number} plants with their roots.", pulled
    ).format(number=pulled)
    return " ".join([text, rule, last, *_poor(poor_percent, language)])


def _poor(percent: int | None, language: str) -> list[str]:
    """One sentence on a stand that is too poor; none on any other."""
    if percent is None:
        return []
    _ = catalogue(language).gettext
    text = _("Poor stand, {percent} of 100: ask your adviser if planting again pays. Fill no gaps.")
    return [text.format(percent=percent)]


def borers_few(
    damaged: int, threshold: int, *, name: str, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """Damaged plants of 100 do not pass the threshold: nothing is used."""
    _ = catalogue(language).gettext
    text = _(
        "Thank you {name}. Plot {plot}: {damaged} of 100 plants damaged, not above {threshold}. "
        "Use nothing now. Look again in a week."
    )
    return text.format(name=name, plot=plot, damaged=damaged, threshold=threshold)


def borers_many(
    damaged: int,
    threshold: int,
    caution: str,
    *,
    name: str,
    plot: str,
    language: str = SOURCE_LANGUAGE,
) -> str:
    """Damaged plants of 100 pass the threshold: to the adviser and the label, with the caution."""
    _ = catalogue(language).gettext
    text = _(
        "{name}, plot {plot}: {damaged} of 100 plants damaged, above {threshold}. Ask your adviser "
        "before you use anything: only a product registered for maize."
    ).format(name=name, plot=plot, damaged=damaged, threshold=threshold)
    return with_caution(text, caution)


def borers_early(
    damaged: int, opens: date, *, name: str, plot: str, language: str = SOURCE_LANGUAGE
) -> str:
    """Funnels were looked into before the borer can be there: nothing is used."""
    _ = catalogue(language).gettext
    text = _(
        "Thank you {name}. Plot {plot}: {damaged} of 100 damaged. Too early for stalk borer: "
        "use nothing, look again from {day}. Ask your adviser."
    )
    return text.format(name=name, plot=plot, damaged=damaged, day=day(opens, language=language))


def borers_late(damaged: int, *, name: str, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """Funnels were looked into past tasselling: nothing reaches the larvae any more."""
    _ = catalogue(language).gettext
    text = _(
        "Thank you {name}. Plot {plot}: {damaged} of 100 damaged. Too late for granules: larvae "
        "are in the stems. Use nothing. Lay stalks flat at harvest."
    )
    return text.format(name=name, plot=plot, damaged=damaged)


def other_pest(*, language: str = SOURCE_LANGUAGE) -> str:
    """What was described may be fall armyworm: nothing is used before the adviser has seen it."""
    _ = catalogue(language).gettext
    return _(
        "This may be fall armyworm, not stalk borer. Use nothing before your adviser has seen a "
        "damaged plant or a photo of it. We pass your text on."
    )


def larvae_inside(*, language: str = SOURCE_LANGUAGE) -> str:
    """Dead hearts or holes in stems were described: nothing reaches the larvae any more."""
    _ = catalogue(language).gettext
    return _(
        "Dead hearts or holes in stems: larvae are inside, granules do not reach them. Use "
        "nothing. Ask your adviser. We pass your text on."
    )


def next_tasks(
    tasks: Sequence[NextTask],
    *,
    plot: str,
    near: date | None = None,
    language: str = SOURCE_LANGUAGE,
) -> str:
    """Name the first three coming tasks, or say that there are none."""
    _ = catalogue(language).gettext
    if not tasks:
        return _("Plot {plot}: nothing to do now. We text you before the next task.").format(
            plot=plot
        )
    line = _("{title}: {opens} to {closes}.")
    lines = [
        filled(
            line,
            title=task.title,
            opens=day(task.opens, task.about, near=near, language=language),
            closes=day(task.closes, near=near, language=language),
        )
        for task in tasks[:MOST_NEXT]
    ]
    return _("Next on plot {plot}. {tasks}").format(plot=plot, tasks=" ".join(lines))


@dataclass(frozen=True, slots=True)
class ShortReason:
    """What decided a task's first day, as an answer to WHY names it.

    Attributes
    ----------
    anchor : what was counted from, in the farmer's language
    since : its local day
    days : days after it; below 0 for before
    estimated : nobody reported that day
    """

    anchor: str
    since: date
    days: int
    estimated: bool


def why(
    task: NextTask,
    reason: ShortReason,
    *,
    plot: str,
    near: date | None = None,
    language: str = SOURCE_LANGUAGE,
) -> str:
    """Say why a task has its days: what its first day was counted from."""
    words = catalogue(language)
    _ = words.gettext
    days = abs(reason.days)
    if not days:
        text = _("Plot {plot}, {title}: {opens} to {closes}: from {anchor}, {since}.")
    elif reason.days > 0:
        text = words.ngettext(
            "Plot {plot}, {title}: {opens} to {closes}: {days} day after {anchor}, {since}.",
            "Plot {plot}, {title}: {opens} to {closes}: {days} days after {anchor}, {since}.",
            days,
        )
    else:
        text = words.ngettext(
            "Plot {plot}, {title}: {opens} to {closes}: {days} day before {anchor}, {since}.",
            "Plot {plot}, {title}: {opens} to {closes}: {days} days before {anchor}, {since}.",
            days,
        )
    return filled(
        text,
        plot=plot,
        title=task.title,
        opens=day(task.opens, task.about, near=near, language=language),
        closes=day(task.closes, near=near, language=language),
        days=days,
        anchor=reason.anchor,
        since=day(reason.since, reason.estimated, near=near, language=language),
    )


def plot_known(facts: Mapping[Kind, date], *, plot: str, language: str = SOURCE_LANGUAGE) -> str:
    """Answer PLOT: the facts known of the plot's season with their local days."""
    _ = catalogue(language).gettext
    if not facts:
        text = _(
            "Plot {plot}: nothing known yet. Send the day of the first rain, like RAIN 12 NOV."
        )
        return text.format(plot=plot)
    known = [
        f"{fact_name(kind, language)} {full_day(facts[kind], language)}"
        for kind in DATED_FACTS
        if kind in facts
    ]
    return _("Plot {plot}: {facts}.").format(plot=plot, facts=", ".join(known))


def help_text(programme: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Say who sends, how to report, how to stop."""
    _ = catalogue(language).gettext
    text = _(
        "{programme} texts you your field tasks. Report: RAIN 12 NOV, PLANTED 14 NOV, "
        "GERM 21 NOV, DONE THIN. Ask: NEXT, WHY THIN. To end: STOP."
    )
    return text.format(programme=programme)


def stopped(programme: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Confirm a stop; nothing else goes out after it."""
    _ = catalogue(language).gettext
    text = _("You get no more texts from {programme}. To come back send START.")
    return text.format(programme=programme)


def started(programme: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Confirm that texts go out again."""
    _ = catalogue(language).gettext
    text = _("You get texts from {programme} again. For your next task send NEXT. To stop: STOP.")
    return text.format(programme=programme)


def language_set(language_name: str, *, language: str = SOURCE_LANGUAGE) -> str:
    """Confirm the language written in from now on; ``language_name`` is its name."""
    _ = catalogue(language).gettext
    text = _("From now on we write to you in {language}. For your next task send NEXT.")
    return text.format(language=language_name)
