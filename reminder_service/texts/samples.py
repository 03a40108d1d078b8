"""Every reply filled in with the longest real values, to see what it takes on the air."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from reminder_service.kinds import DATED_FACTS, Kind
from reminder_service.texts import joining, leading, refusals, replanting, replies
from reminder_service.texts.catalogues import SOURCE_LANGUAGE
from reminder_service.texts.wording import LONGEST_CALLED, day, fact_name

NAME = "Nokukhanya"[:LONGEST_CALLED]
PLOT = "FIELD6"
WARD = "Birikao ya Mashariki"
"""An invented ward with as long a name as texts show."""

PROGRAMME = "Tandaluwe maize programme"
"""An invented programme, with as long a name as the settings allow but five letters."""

MANY_PLOTS = tuple(f"{PLOT}{number}" for number in range(12))


LANGUAGES = ("English EN", "Chichewa NY", "Portuguese PT", "Swahili SW")


@dataclass(frozen=True, slots=True)
class Sample:
    """One text as a farmer may read it.

    Attributes
    ----------
    what : what it is for
    body : with the longest real values
    most : segments that it may take
    """

    what: str
    body: str
    most: int


def longest_day(language: str, *, about: bool = True) -> date:
    """The local day of 2026 that takes most letters in a language.

    Parameters
    ----------
    language : ISO 639-1 code
    about : whether it is an estimate
    """
    days = [date(2026, month, number) for month in range(1, 13) for number in range(20, 27)]
    return max(days, key=lambda on: len(day(on, about, language=language)))


def reply_samples(title: str, caution: str, language: str = SOURCE_LANGUAGE) -> Iterator[Sample]:
    """All replies in one language.

    Parameters
    ----------
    title : the longest title of a task, in the language
    caution : the longest caution, in the language
    language : ISO 639-1 code

    Yields
    ------
    a text each, with the segments it may take
    """
    for shown in (_short, _of_joining, _of_leading):
        yield from (Sample(what, body, 1) for what, body in shown(title, language).items())
    for what, body in _long(title, caution, language).items():
        yield Sample(what, body, 2)


def _short(title: str, language: str) -> dict[str, str]:
    on = longest_day(language, about=False)
    who = {"name": NAME, "plot": PLOT, "language": language}
    plot = {"plot": PLOT, "language": language}
    known = {"language": language}
    longest_fact = max(DATED_FACTS, key=lambda kind: len(fact_name(kind, language)))
    anchor = fact_name(longest_fact, language)
    task = replies.NextTask(title, on, on, about=True)
    return {
        "a date noted": replies.noted(longest_fact, on, **who),
        "a date corrected": replies.corrected(longest_fact, on, on, **who),
        "known already": replies.known_already(title, on, **who),
        "a task noted": replies.done_noted(
            title, on, name=NAME, plot=PLOT, number=4, language=language
        ),
        "taken back": replies.taken_back(title, on, **plot),
        "rain noted": replies.amount_noted(123.5, on, **who),
        "few borers": replies.borers_few(5, 10, **who),
        "borers, too early": replies.borers_early(100, on, **who),
        "borers, too late": replies.borers_late(100, **who),
        "another pest": replies.other_pest(**known),
        "larvae inside": replies.larvae_inside(**known),
        "replanted": replanting.replanted(on, **who),
        "survived": replanting.survived(**who),
        "lost": replanting.lost(**who),
        "which plot survived": replanting.which_plot([PLOT] * replanting.MOST_LISTED, **known),
        "nothing next": replies.next_tasks([], plot=PLOT, language=language),
        "why": replies.why(
            task, replies.ShortReason(anchor, on, 14, estimated=True), plot=PLOT, language=language
        ),
        "nothing known": replies.plot_known({}, **plot),
        "help": replies.help_text(PROGRAMME, **known),
        "stopped": replies.stopped(PROGRAMME, **known),
        "started": replies.started(PROGRAMME, **known),
        "still to come": refusals.still_to_come(title, on, **plot),
        "before the season": refusals.before_season(title, on, on, **plot),
        "no clear day": refusals.bad_date("32/12 and a lot of words after it", **known),
        "unread": refusals.unread(**known),
        "unknown phone": refusals.unknown_phone(PROGRAMME, **known),
        "unknown phone, may join": refusals.unknown_phone_may_join(PROGRAMME, **known),
        "language set": replies.language_set("Portuguese", **known),
        "which language": refusals.which_language(LANGUAGES, **known),
        "no such task": refusals.no_such_task(title, number=4, **plot),
        "day or amount": refusals.rain_day_or_amount(on, 12.0, **known),
        "nothing to take back": refusals.nothing_to_take_back(**known),
        "nothing asked": refusals.nothing_asked(**known),
    }


def _of_joining(_title: str, language: str) -> dict[str, str]:
    known = {"language": language}
    asked = {
        "join: name": joining.name(**known),
        "join: size": joining.size(**known),
        "join: stations": joining.stations(**known),
        "join: hectares": joining.hectares(**known),
        "join: sides": joining.sides(**known),
        "join: spacing": joining.spacing(**known),
        "join: variety": joining.variety(**known),
        "join: top-dressing": joining.dressing(**known),
    }
    again = {f"{what}, again": joining.again(text, **known) for what, text in asked.items()}
    summaries = [
        joining.summary(
            called=NAME,
            plot=PLOT,
            ward=WARD,
            stations=200_000,
            maturity=maturity,
            dressing=dressing,
            language=language,
        )
        for maturity in ("short", "medium", "long")
        for dressing in ("mineral", "manure-tea", "both")
    ]
    others = {
        "join: consent": joining.consent(PROGRAMME, **known),
        "join: no consent": joining.no_consent(**known),
        "join: ward": joining.ward(NAME, **known),
        "join: ward, sure": joining.ward_sure(WARD, **known),
        "join: ward, choice": joining.ward_choice([WARD] * 9, **known),
        "join: summary": max(summaries, key=len),
        "join: waiting": joining.waiting(NAME, **known),
        "join: welcome": joining.welcome(NAME, PLOT, **known),
        "join: not let in": joining.not_let_in(PROGRAMME, **known),
        "join: many plots": joining.many_plots(**known),
        "join: beyond bounds": joining.beyond("0.005 ha", "200000 ha", **known),
    }
    return asked | again | others


def _of_leading(title: str, language: str) -> dict[str, str]:
    on = longest_day(language, about=False)
    known = {"language": language}
    ward = {"ward": WARD, "language": language}
    return {
        "lead: sure": leading.sure(title, on, 120, **ward),
        "lead: noted, named": leading.noted(
            title, on, [PLOT] * leading.MOST_NAMED, called=NAME, **known
        ),
        "lead: noted, counted": leading.noted(title, on, [PLOT] * 120, called=NAME, **known),
        "lead: taken back": leading.taken_back(title, on, 120, **known),
        "lead: all have it": leading.all_have_it(title, **ward),
        "lead: none fits": leading.none_fits(title, on, **ward),
        "lead: one at a time": leading.one_at_a_time(**known),
        "lead: not lead": leading.not_lead(**known),
        "lead: which ward": leading.which_ward([WARD] * 9, **known),
        "lead: name plots": leading.name_plots(**known),
    }


def _long(title: str, caution: str, language: str) -> dict[str, str]:
    on = longest_day(language, about=False)
    who = {"name": NAME, "plot": PLOT, "language": language}
    plot = {"plot": PLOT, "language": language}
    known = {"language": language}
    longest_fact = max(DATED_FACTS, key=lambda kind: len(fact_name(kind, language)))
    task = replies.NextTask(title, on, on, about=True)
    return {
        "a task corrected": replies.done_noted(
            title, on, name=NAME, plot=PLOT, number=4, was=on, language=language
        ),
        "next tasks": replies.next_tasks([task] * replies.MOST_NEXT, plot=PLOT, language=language),
        "all that is known": replies.plot_known(dict.fromkeys(DATED_FACTS, on), **plot),
        "a stand count": _stand(40, language),
        "a poor stand": _stand(40, language, poor_percent=66),
        "a long stand count": _stand(90, language),
        "a long poor stand": _stand(90, language, poor_percent=66),
        "many borers": replies.borers_many(12, 10, caution, **who),
        "does not fit": refusals.contradiction(longest_fact, on, longest_fact, on, **plot),
        "too early": refusals.too_early(title, on, on, **plot),
        "which plot": refusals.which_plot(MANY_PLOTS, **known),
        "unknown plot": refusals.unknown_plot("9", MANY_PLOTS, **known),
        "which task": refusals.which_task([title[:20]] * 11, **known),
        "which one": refusals.which_one(
            [f"{title}, {fact_name(Kind.RAIN, language)}"] * 2, **known
        ),
    }


def _stand(stations: int, language: str, poor_percent: int | None = None) -> str:
    """Answer to a count of three seedlings at each station."""
    counts, leave = [3] * stations, [2] * stations
    return replies.count_noted(
        counts, leave, name=NAME, plot=PLOT, poor_percent=poor_percent, language=language
    )
