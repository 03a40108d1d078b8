"""Joining by text: consent first, then one short question a text, each answer in its step."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from reminder_service.kinds import REPORTS, Kind
from reminder_service.records import farmers, joining
from reminder_service.records.joining import Joining
from reminder_service.settings import Settings
from reminder_service.texts import joining as ask
from reminder_service.texts import refusals, replies
from reminder_service.texts.catalogues import SOURCE_LANGUAGE
from reminder_service.texts.reading_types import Reading
from reminder_service.texts.wording import called
from reminder_service.work import newcomers
from reminder_service.work.joining_steps import Onward, Scene, Step, question, scene, understood
from reminder_service.work.languages import is_written, language_list
from reminder_service.work.talk import JOINING_LIFE, Answer, Talk

MOST_PLOTS = 12
"""Plots that one phone may serve before it joins with another one (setting)."""

ELSEWHERE = frozenset({*REPORTS, Kind.NEXT, Kind.WHY, Kind.PLOT})
"""Kinds that are no answer to a step: a phone that has plots goes on with them meanwhile."""


def may_join(settings: Settings) -> bool:
    """Whether anybody may join by text."""
    return settings.joining != "closed"


def begin(talk: Talk) -> Answer:
    """Begin anew, whatever was answered before: ask for consent.

    It is asked in the language that the text is written in, or else the phone's own.

    Parameters
    ----------
    talk : the text that asks to join; the programme takes people by text

    Returns
    -------
    the question, or why nobody can join
    """
    foreign = talk.written_in != SOURCE_LANGUAGE and is_written(talk.written_in)
    language = talk.written_in if foreign else talk.language
    joining.forget_joinings(talk.c, talk.now - JOINING_LIFE)
    if len(talk.plots) >= MOST_PLOTS:
        return Answer(ask.many_plots(language=language), language=language)
    here = scene(talk, Step.CONSENT, {"language": language, "path": []})
    if not here.wards:
        return Answer(refusals.unknown_phone(talk.settings.programme, language=language))
    return replace(_asked(here), must_reply=True)


def go_on(talk: Talk, going: Joining, reading: Reading, body: str) -> Answer | None:
    """Take an answer to the step that was asked last.

    Parameters
    ----------
    talk : the text being worked
    going : how far its sender has come
    reading : what the text was read as
    body : the text itself

    Returns
    -------
    the next question; None for a text that has nothing to do with joining
    """
    here = scene(talk, Step(going.step), going.answers)
    kinds = {said.kind for said in reading.said}
    if Kind.HELP in kinds:
        text = replies.help_text(talk.settings.programme, language=here.language)
        return Answer(text, language=here.language)
    if Kind.LANGUAGE in kinds:
        return _in_language(here, reading.said[0].language)
    if here.step is Step.SUMMARY:
        return _after_summary(here, kinds)
    if here.step is Step.CONSENT:
        return _consent(here, kinds)
    if Kind.NO in kinds:
        return _back(here)
    if talk.plots and (kinds & ELSEWHERE or reading.ask or reading.bad_date):
        return None
    found = understood(here, body, reading)
    if isinstance(found, str):
        return Answer(found, _noted(here), language=here.language)
    return _onward(here, found)


def _asked(here: Scene) -> Answer:
    """Keep where somebody stands and ask the step's question, whose words consent keeps too."""
    text = question(here)
    answers = dict(here.answers)
    if here.step is Step.CONSENT:
        answers["wording"] = text
    _keep(here, answers)
    return Answer(text, _noted(here), language=here.language)


def _keep(here: Scene, answers: Mapping[str, Any]) -> None:
    talk = here.talk
    joining.keep_joining(talk.c, talk.phone.id, Joining(here.step, dict(answers)), talk.now)


def _noted(here: Scene) -> list[dict[str, object]]:
    """What the page shows of a step: its name alone, never what was answered."""
    return [{"kind": Kind.JOIN.value, "on": None, "step": here.step.value}]


def _in_language(here: Scene, language: str | None) -> Answer:
    if language is None or not is_written(language):
        return Answer(language_list(here.language), language=here.language)
    answers = {**here.answers, "language": language}
    other = replace(here, language=language, answers=answers)
    if here.step is not Step.SUMMARY:
        return _asked(other)
    newcomers.settle(other)
    return _summed_up(other)


def _consent(here: Scene, kinds: set[Kind]) -> Answer:
    """Keep the answer with the exact question; without a yes nothing else is asked or kept."""
    talk = here.talk
    if Kind.YES not in kinds and Kind.NO not in kinds:
        return Answer(str(here.answers["wording"]), _noted(here), language=here.language)
    given = Kind.YES in kinds
    consent_id = joining.add_consent(
        talk.c,
        phone_id=talk.phone.id,
        given=given,
        language=here.language,
        wording=str(here.answers["wording"]),
        inbound_id=talk.row.id,
        at=min(talk.row.sent_at, talk.now),
    )
    if given:
        farmers.start_phone(talk.c, talk.phone.id)
        return replace(
            _onward(here, Onward(Step.NAME, {"consent_id": consent_id})), must_reply=True
        )
    newcomers.give_up(here)
    joining.forget_joining(talk.c, talk.phone.id)
    text = ask.no_consent(language=here.language)
    return Answer(text, _noted(here), language=here.language, must_reply=True)


def _onward(here: Scene, found: Onward) -> Answer:
    path = [*here.answers["path"], here.step.value]
    answers = {**here.answers, **found.learnt, "path": path}
    there = replace(here, step=found.step, answers=answers)
    if there.step is not Step.SUMMARY:
        return _asked(there)
    return _summed_up(replace(there, answers=newcomers.settle(there)))


def _back(here: Scene) -> Answer:
    """Ask the question before once more."""
    *path, last = here.answers["path"]
    return _asked(replace(here, step=Step(last), answers={**here.answers, "path": path}))


def _summed_up(here: Scene) -> Answer:
    _keep(here, here.answers)
    kept = here.answers
    ward = next(ward for ward in here.wards if ward.id == kept["ward_id"])
    text = ask.summary(
        called=called(kept["name"]),
        plot=kept["number"],
        ward=ward.name,
        stations=newcomers.stations(kept),
        maturity=kept.get("maturity"),
        dressing=kept.get("top-dressing"),
        language=here.language,
    )
    return Answer(
        text,
        _noted(here),
        farmer_id=kept["farmer_id"],
        ward_id=ward.id,
        language=here.language,
    )


def _after_summary(here: Scene, kinds: set[Kind]) -> Answer | None:
    """NO goes back and YES ends it; whoever reports has joined, and goes on as anybody does."""
    talk = here.talk
    if Kind.NO in kinds:
        return _back(here)
    if kinds & {Kind.YES, *REPORTS}:
        joining.forget_joining(talk.c, talk.phone.id)
    if Kind.YES not in kinds:
        return None
    name = called(here.answers["name"])
    if newcomers.waits(here):
        text = ask.waiting(name, language=here.language)
    else:
        text = ask.welcome(name, here.answers["number"], language=here.language)
    return Answer(text, _noted(here), language=here.language)
