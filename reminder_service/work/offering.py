"""What a person is offered for each text that waits: whose it is, and what it is likely to mean."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.kinds import DATED_FACTS, Kind, SeasonId
from reminder_service.records import unread, views
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.records.types import Settlement
from reminder_service.records.unread import MadeReport, PhoneUser, WaitingText
from reminder_service.records.views import Scope
from reminder_service.texts.likely import Choice, likely_readings, unknown_words
from reminder_service.texts.words import WordList, shipped_languages, word_list
from reminder_service.work.correcting import TextReport
from reminder_service.work.services import Services

MOST_OFFERS = 4
"""Readings offered for one text (setting)."""

MOST_EXPECTED = 2
"""Facts offered for a text that names a day alone (setting)."""

MOST_SINCE = 3
"""Later reports shown beside a text (setting)."""

TAUGHT_BY = timedelta(days=90)
"""How far back words that we did not know are looked for (setting)."""

MOST_LESSONS = 500
"""Latest corrected texts that are looked through for such words (setting)."""

MOST_WORDS = 30
"""Words shown at most (setting)."""

Meant = tuple[TextReport, ...]
"""One reading, with the plots that it is about."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One text that waits, and what a person can make of it.

    Attributes
    ----------
    users : farmers on the phone whom the person may see
    others : whether the phone serves farmers of other wards too
    plots : those of the person's wards that the phone may report for
    meant : the likeliest readings, the likeliest first
    since : later reports of these plots from this phone
    sent_on : local day of sending
    zone : of the farmer's ward; UTC for a phone of nobody
    """

    text: WaitingText
    users: tuple[PhoneUser, ...]
    others: bool
    plots: tuple[PlotOnPhone, ...]
    meant: tuple[Meant, ...]
    since: tuple[MadeReport, ...]
    sent_on: date
    zone: str


@dataclass(frozen=True, slots=True)
class StrangeWord:
    """A word that we did not know, in texts that a person has read for us.

    Attributes
    ----------
    language : of the farmer who wrote it
    count : texts it stood in
    kinds : what those texts were read as, the most frequent first
    """

    word: str
    language: str
    count: int
    kinds: tuple[Kind, ...]


def offers(
    c: Connection, services: Services, texts: Sequence[WaitingText], scope: Scope
) -> list[Offer]:
    """What a person is offered for some texts.

    Parameters
    ----------
    c : connection
    services : for the rulebook and the clock
    texts : texts that wait, inside the scope
    scope : wards the person may see

    Returns
    -------
    one offer a text, in the order given
    """
    phone_ids = {text.phone_id for text in texts if text.phone_id is not None}
    users = unread.users_of_phones(c, phone_ids)
    plots = unread.plots_of_users(c, users, scope)
    known = _known(c, [some for some in plots.values() if len(some) <= MOST_OFFERS])
    later = unread.reports_after(c, phone_ids, min((text.id for text in texts), default=0))
    found = []
    for text in texts:
        on_phone = [user for user in users if user.phone_id == text.phone_id]
        seen = tuple(user for user in on_phone if scope is None or user.ward_id in scope)
        zone = seen[0].zone if seen else "UTC"
        sent_on = min(text.sent_at, services.clock()).astimezone(ZoneInfo(zone)).date()
        theirs = tuple(plots.get(text.phone_id or 0, ()))
        season_ids = {plot.season_id for plot in theirs}
        since = [
            made
            for made in later
            if made.phone_id == text.phone_id
            and made.text_id > text.id
            and made.report.season_id in season_ids
        ]
        offer = Offer(
            text,
            seen,
            len(seen) < len(on_phone),
            theirs,
            (),
            tuple(since[:MOST_SINCE]),
            sent_on,
            zone,
        )
        found.append(replace(offer, meant=_meant(offer, services, known)))
    return found


def shown(body: bytes) -> str:
    """A body as it can be shown: what is no text stands as a mark.

    Parameters
    ----------
    body : the bytes as they came
    """
    return body.decode("utf-8", "replace").replace("\x00", "\N{REPLACEMENT CHARACTER}")


def strange_words(
    c: Connection, services: Services, scope: Scope, most: int = MOST_WORDS
) -> list[StrangeWord]:
    """Words of corrected texts that the word lists do not know yet, the most frequent first.

    A word leaves the list once it stands in its language's word list.

    Parameters
    ----------
    c : connection
    services : for the rulebook and the clock
    scope : wards the person may see
    most : words answered

    Returns
    -------
    the words of the last 90 days
    """
    texts = unread.settled_texts(c, scope, services.clock() - TAUGHT_BY, MOST_LESSONS)
    read = [text for text in texts if text.settled_as is Settlement.REPORTED]
    spoken = _languages(c, read)
    kinds: dict[int, list[Kind]] = {}
    for made in unread.reports_of_texts(c, [text.id for text in read]):
        kinds.setdefault(made.text_id, []).append(made.report.kind)
    tasks = _task_words(services)
    meant: dict[tuple[str, str], Counter[Kind]] = {}
    texts_with: Counter[tuple[str, str]] = Counter()
    for text in read:
        language = spoken.get(text.phone_id or 0, "en")
        for word in unknown_words(_plain_text(text.body), _words(language), tasks):
            texts_with[language, word] += 1
            meant.setdefault((language, word), Counter()).update(kinds.get(text.id, ()))
    ranked = sorted(texts_with.items(), key=lambda item: (-item[1], item[0]))[:most]
    return [
        StrangeWord(word, language, count, _by_count(meant[language, word]))
        for (language, word), count in ranked
    ]


def _languages(c: Connection, texts: Sequence[WaitingText]) -> dict[int, str]:
    phone_ids = {text.phone_id for text in texts if text.phone_id is not None}
    users = unread.users_of_phones(c, phone_ids)
    return {user.phone_id: user.language for user in reversed(users)}


def _by_count(kinds: Counter[Kind]) -> tuple[Kind, ...]:
    return tuple(kind for kind, _ in kinds.most_common())


def _words(language: str) -> WordList:
    return word_list(language if language in shipped_languages() else "en")


def _task_words(services: Services) -> dict[str, tuple[str, ...]]:
    return {task.name: tuple(task.words) for task in services.rulebook.tasks}


def _plain_text(body: bytes) -> str:
    """What can be read of a body, without what is no text."""
    return "".join(
        char if char.isprintable() else " "
        for char in shown(body)
        if char != "\N{REPLACEMENT CHARACTER}"
    )


def _known(
    c: Connection, plots: Sequence[Sequence[PlotOnPhone]]
) -> Mapping[SeasonId, frozenset[Kind]]:
    """Facts that are known of some plots; only those few, to offer the next one."""
    season_ids = sorted({plot.season_id for some in plots for plot in some})
    reports = views.reports_by_season(c, season_ids)
    return {
        season_id: frozenset(
            line.kind for line in reports[season_id] if line.on is not None and not line.replaced
        )
        for season_id in season_ids
    }


def _meant(
    offer: Offer, services: Services, known: Mapping[SeasonId, frozenset[Kind]]
) -> tuple[Meant, ...]:
    if not offer.plots:
        return ()
    told = [known.get(plot.season_id) for plot in offer.plots]
    expected = [
        kind
        for kind in DATED_FACTS
        if any(facts is not None and kind not in facts for facts in told)
    ]
    spoken = [user.language for user in offer.users]
    lists = [_words(language) for language in dict.fromkeys([*spoken, *shipped_languages()])]
    choices = likely_readings(
        _plain_text(offer.text.body),
        offer.sent_on,
        list({words.language: words for words in lists}.values()),
        _task_words(services),
        expected[:MOST_EXPECTED],
    )
    found = dict.fromkeys(meant for choice in choices for meant in _on_plots(choice, offer))
    return tuple(found)[:MOST_OFFERS]


def _on_plots(choice: Choice, offer: Offer) -> Iterator[Meant]:
    """A reading on the plots that it names; on each plot in turn where it names none of ours."""
    named = {name for said in choice for name in said.plots}
    numbers = {plot.plot_number for plot in offer.plots}
    if named and named <= numbers and all(said.plots for said in choice):
        yield tuple(
            TextReport(plot.season_id, replace(said, plots=(), on_given=True))
            for said in choice
            for plot in offer.plots
            if plot.plot_number in said.plots
        )
        return
    own = {user.farmer_id for user in offer.users}
    among = offer.plots
    if len(among) > MOST_OFFERS:
        among = tuple(plot for plot in among if plot.farmer_id in own)
    for plot in among[:MOST_OFFERS]:
        yield tuple(
            TextReport(plot.season_id, replace(said, plots=(), on_given=True)) for said in choice
        )
