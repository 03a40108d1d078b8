"""Texts: every text of a language as it stands on a phone, with what it takes and costs."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from babel import Locale
from flask import Blueprint, abort, render_template, request

from reminder_service.rules.rulebook import Rulebook
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue_languages
from reminder_service.texts.drafts import holds_draft
from reminder_service.texts.letters import Economical, costly_letters, economical
from reminder_service.texts.segments import cut
from reminder_service.web.budget_words import money_words
from reminder_service.web.walls import services
from reminder_service.web.wording import counted
from reminder_service.work.prices import Price, prices, savings
from reminder_service.work.services import Services
from reminder_service.work.wordings import Wording, drafts, faults, wordings

blueprint = Blueprint("texts", __name__)

ALPHABETS = {"gsm-7": "GSM 7-bit", "ucs-2": "UCS-2"}
"""Each alphabet as the page says it."""

CALLED = {"ny": "Chichewa"}
"""Languages whose name in CLDR is not the one used where the programme works."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One text on the page.

    Attributes
    ----------
    what : what it is for
    screens : what each segment holds
    facts : what it takes, one short phrase each
    costs : what it costs by the routes, one phrase each
    notes : what a coordinator should know of it, one sentence each
    too_long : it takes more segments than it may
    """

    what: str
    screens: tuple[str, ...]
    facts: tuple[str, ...]
    costs: tuple[str, ...]
    notes: tuple[str, ...]
    too_long: bool = False


@blueprint.get("/texts")
def page() -> str:
    """Every text of the rulebook and every reply in a language; and any text tried by hand."""
    known = (SOURCE_LANGUAGE, *catalogue_languages())
    language = request.args.get("language", SOURCE_LANGUAGE)
    if language not in known:
        abort(404)
    # A browser sends a form's line ends as two letters; a phone's text has one.
    tried = request.args.get("body", "").replace("\r\n", "\n")
    rulebook = services().rulebook
    return render_template(
        "text_screens.html",
        languages=[(code, language_name(code)) for code in known],
        language=language,
        named=language_name(language),
        tried=tried,
        shown=tried_text(services(), tried, language) if tried else None,
        groups=list(text_groups(services(), language)),
        drafts=drafts(language),
        faults=len(faults(rulebook, language)),
        priced=any(route.segment_cost for route in services().routes),
    )


def language_name(code: str) -> str:
    """English name of a language.

    Parameters
    ----------
    code : ISO 639-1 code

    Examples
    --------
    >>> language_name("sw"), language_name("ny")
    ('Swahili', 'Chichewa')
    """
    return CALLED.get(code) or str(Locale.parse(code).english_name)


def tried_text(services: Services, body: str, language: str) -> Shown:
    """A text that somebody typed, as it would be sent.

    Parameters
    ----------
    services : routes and gateways
    body : what was typed
    language : ISO 639-1 code, whose letters may be replaced
    """
    return _shown(services, "Your text", body, language)


def text_groups(services: Services, language: str) -> Iterator[tuple[str, list[Shown]]]:
    """Every text of the rulebook and every reply, under headings.

    Parameters
    ----------
    services : rulebook, routes and gateways
    language : ISO 639-1 code

    Yields
    ------
    a heading with its texts
    """
    # Several rules may ask the same question.
    found = dict.fromkeys(wordings(services.rulebook, language))
    for heading, group in groupby(found, key=lambda each: _heading(services.rulebook, each)):
        yield heading, [_written(services, each, language) for each in group]


def _heading(rulebook: Rulebook, text: Wording) -> str:
    of = text.what.partition(", ")[0]
    if of in rulebook.by_name:
        return rulebook.by_name[of].title
    return "Questions" if of == "question" else "Replies"


def _written(services: Services, text: Wording, language: str) -> Shown:
    what = text.what.rpartition(", ")[2].replace("-", " ")
    too_long = text.count.segments > text.most
    is_draft = holds_draft(text.original, language)
    notes = ["Draft: no speaker has read it yet."] if is_draft else []
    if too_long:
        most = counted(text.most, "segment", "segments")
        notes.append(f"Too long: at most {most} with the longest values.")
    return _shown(services, what, text.original, language, notes, too_long)


def _shown(
    services: Services,
    what: str,
    body: str,
    language: str,
    notes: Sequence[str] = (),
    too_long: bool = False,
) -> Shown:
    sent = economical(body, language)
    found = cut(sent.body)
    facts = (
        counted(found.count.segments, "segment", "segments"),
        f"{counted(found.left, 'letter', 'letters')} left",
        ALPHABETS[found.count.encoding],
    )
    now = prices(services, sent.body)
    told = [*notes, *(_saving(services, body, sent, now) if sent.saved else ())]
    costly = costly_letters(sent.body)
    if costly:
        told.append(f"Not in the cheap alphabet: {' '.join(map(_visible, costly))}")
    costs = tuple(_costs(services, now, found.count.segments))
    return Shown(what, found.parts, facts, costs, tuple(told), too_long)


def _visible(letter: str) -> str:
    """A letter, or its code where it cannot be seen."""
    return letter if letter.isprintable() and not letter.isspace() else f"U+{ord(letter):04X}"


def _saving(services: Services, body: str, sent: Economical, now: Sequence[Price]) -> Iterator[str]:
    money = [each for each in savings(prices(services, body), now) if each.cost > 0]
    by_route = "".join(f", {_money(services, each.cost)} by {each.route}" for each in money)
    saved = counted(sent.saved, "segment", "segments")
    yield f"Cheaper letters for {' '.join(sent.replaced)} save {saved}{by_route}."


def _costs(services: Services, found: Iterable[Price], usual: int) -> Iterator[str]:
    """What a text costs, the routes of one price together; nothing of a free one of usual count."""
    alike: dict[tuple[int, int], list[str]] = {}
    for each in found:
        alike.setdefault((each.segments, each.cost), []).append(each.route)
    for (count, cost), routes in alike.items():
        if not cost and count == usual:
            continue
        segments = "" if count == usual else f"{counted(count, 'segment', 'segments')}, "
        yield f"{segments}{_money(services, cost)} by {', '.join(routes)}"


def _money(services: Services, amount: int) -> str:
    currency = services.budget.currency if services.budget else ""
    return money_words(amount, currency).strip()
