"""Every text that a farmer may read in one language: what it takes on the air, what is wrong."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from string import Formatter

from babel.messages.catalog import Catalog

from reminder_service.rules.needs import CupNeed
from reminder_service.rules.rulebook import Rulebook, TaskRule
from reminder_service.texts.catalogues import (
    SOURCE_LANGUAGE,
    SourceText,
    catalogue,
    catalogue_languages,
    own_texts,
    shipped_catalogue,
)
from reminder_service.texts.letters import economical
from reminder_service.texts.samples import NAME, PLOT, Sample, longest_day, reply_samples
from reminder_service.texts.segments import SegmentCount, segments
from reminder_service.texts.soil import longest_hint, short_dressing
from reminder_service.texts.wording import fill, with_caution

MOST_QUESTION = 1
"""Segments that a question may take."""

LONGEST_AMOUNT = "5500 l"
"""The amount that takes most letters: tea for a plot of a quarter hectare."""

LONGEST_NUMBER = 10
"""The round that takes most letters."""


@dataclass(frozen=True, slots=True)
class Wording:
    """One text with what it takes on the air.

    Attributes
    ----------
    what : what it is for
    body : as it is sent, with the longest real values
    count : of the body
    saved : segments saved by replacing costly letters
    most : segments that it may take
    original : as it was before costly letters were replaced
    """

    what: str
    body: str
    count: SegmentCount
    saved: int
    most: int
    original: str


def rulebook_texts(rulebook: Rulebook) -> Iterator[SourceText]:
    """The English texts of a rulebook that farmers may read.

    Parameters
    ----------
    rulebook : the programme's
    """
    for task in rulebook.tasks:
        for what, text in task.written.items():
            yield SourceText(text, None, f"{rulebook.head.name}: {task.name}, {what}")
    for rule in rulebook.estimates:
        if rule.question is not None:
            yield SourceText(rule.question, None, f"{rulebook.head.name}: question, {rule.fact}")
    if rulebook.after_false_start is not None:
        asked = rulebook.after_false_start.question
        yield SourceText(asked, None, f"{rulebook.head.name}: question, after a false start")


def all_texts(rulebooks: Sequence[Rulebook]) -> list[SourceText]:
    """All English texts once, each where it first stands.

    Parameters
    ----------
    rulebooks : whose texts are wanted beside the replies
    """
    found: dict[str, SourceText] = {}
    own = [each for rulebook in rulebooks for each in rulebook_texts(rulebook)]
    for each in [*own_texts(), *own]:
        found.setdefault(each.text, each)
    return list(found.values())


def wordings(rulebook: Rulebook, language: str) -> list[Wording]:
    """Every text of a rulebook and every reply in a language, as it is sent.

    Parameters
    ----------
    rulebook : the programme's
    language : ISO 639-1 code

    Returns
    -------
    the rulebook's texts, then the replies
    """
    _ = catalogue(language).gettext
    title = max((_(task.title) for task in rulebook.tasks), key=len)
    cautions = [_(task.caution) for task in rulebook.tasks if task.caution and task.chemical]
    replies = reply_samples(title, max(cautions, key=len, default=""), language)
    counted = [_counted(each, language) for each in replies]
    return [*rulebook_wordings(rulebook, language), *counted]


def rulebook_wordings(rulebook: Rulebook, language: str) -> Iterator[Wording]:
    """Every text of a rulebook in a language, as it is sent.

    Parameters
    ----------
    rulebook : the programme's
    language : ISO 639-1 code

    Yields
    ------
    the texts of its tasks by stage, then its questions, in the order of the file
    """
    _ = catalogue(language).gettext
    for task in rulebook.tasks:
        for each in _reminders(task, language):
            yield _counted(each, language)
    for rule in rulebook.estimates:
        if rule.question is not None:
            body = _filled(_(rule.question), language)
            yield _counted(Sample(f"question, {rule.fact}", body, MOST_QUESTION), language)
    if rulebook.after_false_start is not None:
        asked = _filled(_(rulebook.after_false_start.question), language)
        yield _counted(Sample("question, after a false start", asked, MOST_QUESTION), language)


def _reminders(task: TaskRule, language: str) -> Iterator[Sample]:
    _ = catalogue(language).gettext
    caution = _(task.caution) if task.caution else ""
    for stage, text in task.wordings.items():
        body = with_caution(_filled(_(text), language), caution)
        yield Sample(f"{task.name}, {stage}", body, task.most_segments)
    if isinstance(task.need, CupNeed):
        told = with_caution(_filled(short_dressing(language), language), longest_hint(language))
        yield Sample(f"{task.name}, soil", with_caution(told, caution), task.most_segments)


def _filled(template: str, language: str) -> str:
    on = longest_day(language)
    days = {"opens": on, "due": on, "closes": on, "on": on}
    return fill(
        template, about=days, near=on, language=language,
        name=NAME, plot=PLOT, number=LONGEST_NUMBER, amount=LONGEST_AMOUNT, **days,
    )  # fmt: skip


def _counted(sample: Sample, language: str) -> Wording:
    sent = economical(sample.body, language)
    count = segments(sent.body)
    return Wording(sample.what, sent.body, count, sent.saved, sample.most, sample.body)


def faults(rulebook: Rulebook, language: str) -> list[str]:
    """What is wrong with a language's texts, one sentence each.

    Parameters
    ----------
    rulebook : the programme's
    language : ISO 639-1 code

    Returns
    -------
    texts without a translation (they are sent in English), placeholders that differ, and texts
    that take too many segments
    """
    found = []
    if language != SOURCE_LANGUAGE:
        known = shipped_catalogue(language)
        found = [fault for text in all_texts([rulebook]) for fault in _faults_of(text, known)]
    if found:
        return found
    return [
        f"{each.what}: takes {each.count.segments} segments ({each.count.encoding}, "
        f"{each.count.units} units), expected at most {each.most}: shorten it: {each.body}"
        for each in wordings(rulebook, language)
        if each.count.segments > each.most
    ]


def _faults_of(source: SourceText, known: Catalog) -> Iterator[str]:
    message = known.get(source.text)
    forms = message.string if message is not None else None
    written = (forms,) if isinstance(forms, str) else tuple(forms or ())
    if not written or not all(written):
        yield f"{source.where}: not translated, so it is sent in English: {source.text}"
        return
    wanted = _names(source.text) | _names(source.plural or source.text)
    for form in written:
        try:
            named = _names(form)
        except ValueError as fault:
            yield f"{source.where}: braces do not pair ({fault}): {form}"
            continue
        # A form for one may leave its number out, where the words say it.
        if not named <= wanted or (len(written) == 1 and named != wanted):
            listed = ", ".join(sorted(wanted)) or "none"
            yield f"{source.where}: expected the placeholders {listed}: {form}"


def _names(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def renewed_catalogue(rulebooks: Sequence[Rulebook], language: str) -> Catalog:
    """A language's catalogue with every English text of today, for translators to work on.

    Translations are kept; those of texts that are gone move to the end of the file, and what is
    new stands empty.

    Parameters
    ----------
    rulebooks : whose texts are wanted beside the replies
    language : ISO 639-1 code
    """
    wanted = Catalog(locale=language, fuzzy=False, charset="utf-8")
    for each in all_texts(rulebooks):
        text = each.text if each.plural is None else (each.text, each.plural)
        wanted.add(text, auto_comments=[each.where])
    known = shipped_catalogue(language) if language in catalogue_languages() else Catalog(language)
    known.update(wanted, no_fuzzy_matching=True)
    return known


def drafts(language: str) -> int:
    """How many texts of a language no speaker has read yet.

    Parameters
    ----------
    language : ISO 639-1 code
    """
    if language == SOURCE_LANGUAGE:
        return 0
    return sum(1 for each in shipped_catalogue(language) if each.id and each.fuzzy)
