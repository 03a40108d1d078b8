"""Answer one text: act on what it says, all of it or nothing, and word the reply."""

from collections.abc import Sequence
from dataclasses import replace

from reminder_service.kinds import REPORTS, Kind
from reminder_service.records import farmers, inbound, joining, plans, reports
from reminder_service.texts import refusals, replanting, replies
from reminder_service.texts.pests import PestSign, pest_sign
from reminder_service.texts.reading import decode
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.reading_types import Reading, Said, said_from
from reminder_service.texts.wording import fact_name, full_day
from reminder_service.work import joining as joining_by_text
from reminder_service.work import leading, undoing
from reminder_service.work.asked import answer_to
from reminder_service.work.explaining import title_of
from reminder_service.work.false_starts import open_questions
from reminder_service.work.languages import change_language
from reminder_service.work.replan import replan
from reminder_service.work.reporting import change_sentences
from reminder_service.work.talk import CONTEXT_LIFE, Answer, Talk
from reminder_service.work.telling import reported, understood
from reminder_service.work.whose import farmers_named, with_numbers


def answer(talk: Talk) -> Answer:
    """Act on a text and say what goes back.

    STOP is obeyed before anything else, whoever sends it. A phone that has stopped is answered
    only when it stops, starts or joins; what it reports is still taken.

    Parameters
    ----------
    talk : the text and what is known of its sender

    Returns
    -------
    what it came to
    """
    body = decode(talk.row.body)
    reading = Reading(unread=True)
    if body is not None:
        reading, written_in = _reading(talk, body)
        talk = replace(talk, written_in=written_in)
    answered = _answer(talk, reading, body or "")
    answered = replace(answered, understood=answered.understood or understood(reading.said))
    if talk.served and answered.farmer_id is None:
        first = talk.served[0]
        answered = replace(answered, farmer_id=first.farmer_id, ward_id=first.ward_id)
    if talk.phone.stopped_at is not None and not answered.must_reply:
        answered = replace(answered, reply=None)
    return answered


def _answer(talk: Talk, reading: Reading, body: str) -> Answer:
    kinds = {said.kind for said in reading.said}
    may_join = joining_by_text.may_join(talk.settings)
    if Kind.STOP in kinds:
        return _stop(talk)
    if Kind.START in kinds:
        return _start(talk)
    if Kind.JOIN in kinds and may_join:
        return joining_by_text.begin(talk)
    if talk.joining is not None and may_join and not _answers_question(talk, kinds):
        joined = joining_by_text.go_on(talk, talk.joining, reading, body)
        if joined is not None:
            return joined
    if not talk.served:
        return Answer(_unknown_phone(talk), language=talk.language)
    if Kind.LANGUAGE in kinds:
        meant = farmers_named(talk, body) or {each.farmer_id for each in talk.served}
        return change_language(talk, reading.said[0].language, meant)
    acted = _of_pest(talk, reading, body) or _act(talk, reading)
    return replace(acted, language=talk.language)


def _reading(talk: Talk, body: str) -> tuple[Reading, str]:
    """What a text says, and its language; first names of farmers stand for their plots."""
    numbered = with_numbers(talk, body) if talk.plots else body
    reading, written_in = _read(talk, numbered)
    again = reading.unread and numbered != body
    return _read(talk, body) if again else (reading, written_in)


def _read(talk: Talk, body: str) -> tuple[Reading, str]:
    spoken = dict.fromkeys([talk.language, *(each.language for each in talk.served)])
    return read_in(body, talk.today, list(spoken), talk.task_words, bool(talk.gauge_wards))


def _answers_question(talk: Talk, kinds: set[Kind]) -> bool:
    """Whether a number or a yes answers a question about a report, not a step of joining."""
    return bool(kinds & {Kind.CHOICE, Kind.YES}) and bool(_asked_last(talk))


def _unknown_phone(talk: Talk) -> str:
    programme, language = talk.settings.programme, talk.language
    if joining_by_text.may_join(talk.settings):
        return refusals.unknown_phone_may_join(programme, language=language)
    return refusals.unknown_phone(programme, language=language)


def _stop(talk: Talk) -> Answer:
    joining.forget_joining(talk.c, talk.phone.id)
    newly = farmers.stop_phone(talk.c, talk.phone.id, talk.now)
    plans.withdraw_for_phone(talk.c, talk.phone.id, "the farmer said stop", talk.now)
    changes = _replanned(talk)
    reply = replies.stopped(talk.settings.programme, language=talk.language) if newly else None
    return Answer(reply, changes=changes, must_reply=newly, language=talk.language)


def _start(talk: Talk) -> Answer:
    farmers.start_phone(talk.c, talk.phone.id)
    if not talk.served:
        return Answer(_unknown_phone(talk), language=talk.language)
    changes = _replanned(talk)
    reply = replies.started(talk.settings.programme, language=talk.language)
    return Answer(reply, changes=changes, must_reply=True, language=talk.language)


def _replanned(talk: Talk) -> list[str]:
    """Re-plan every season of the phone, so that its notices go or come back."""
    changes = []
    for plot in talk.plots:
        done = replan(talk.c, plot.season_id, talk.rulebook, talk.settings, talk.now)
        changes += change_sentences(done, talk.rulebook)
    return changes


def _act(talk: Talk, reading: Reading) -> Answer:
    language = talk.language
    if reading.bad_date is not None:
        return Answer(refusals.bad_date(reading.bad_date.written, language=language), unread=True)
    if reading.ask:
        return _ask(talk, reading.ask)
    if reading.unread or not reading.said:
        return Answer(refusals.unread(language=language), unread=True)
    said = reading.said
    if said[0].kind in (Kind.CHOICE, Kind.YES):
        return _pick(talk, said[0])
    if said[0].kind is Kind.NO:
        return _stand_lost(talk) or undoing.take_back_last(talk)
    if any(each.whole_ward for each in said):
        return leading.ask_whole_ward(talk, said)
    return _speak(talk, said)


def _of_pest(talk: Talk, reading: Reading, body: str) -> Answer | None:
    """Answer to a text that is no report but says what was seen; it waits for a person still."""
    unclear = reading.unread or reading.bad_date is not None
    of_borer = any(said.kind is Kind.BORER_COUNT for said in (*reading.said, *reading.ask))
    sign = pest_sign(body) if unclear or of_borer else None
    if sign is None:
        return None
    told = replies.other_pest if sign is PestSign.ARMYWORM else replies.larvae_inside
    return Answer(told(language=talk.language), unread=True)


def _ask(talk: Talk, choices: Sequence[Said]) -> Answer:
    if choices[0].whole_ward:
        return leading.ask_whole_ward(talk, choices)
    language = talk.language
    days = [said.on for said in choices if said.kind is Kind.FIRST_RAIN and said.on]
    amounts = [said.mm for said in choices if said.mm is not None]
    if days and amounts:
        reply = refusals.rain_day_or_amount(days[0], amounts[0], language=language)
    else:
        named = [_choice(talk, each) for each in choices]
        reply = refusals.which_one(named, language=language)
    return Answer(reply, ask=understood(choices))


def _choice(talk: Talk, said: Said) -> str:
    """One choice in words: its task's title or its fact, with the day where it names one."""
    language = talk.language
    what = (
        title_of(said.task, talk.rulebook, language)
        if said.task
        else fact_name(said.kind, language)
    )
    return f"{what}, {full_day(said.on, language)}" if said.on else what


def _asked_last(talk: Talk) -> list[Said]:
    """The choices that our answer to the phone's last text offered, within a day."""
    since = talk.now - CONTEXT_LIFE
    asked = inbound.last_asked(talk.c, talk.phone.id, before_id=talk.row.id, since=since)
    return [said_from(each) for each in asked]


def _pick(talk: Talk, picked: Said) -> Answer:
    """Do what a lone number or a yes picks; a number that was not offered is asked once more."""
    asked = _asked_last(talk)
    if not asked:
        survived = _of_stand(talk, Kind.SURVIVED) if picked.kind is Kind.YES else None
        return survived or Answer(refusals.nothing_asked(language=talk.language))
    number = picked.number or 1
    if not 1 <= number <= len(asked):
        return _ask(talk, asked)
    chosen = asked[number - 1]
    return leading.report_whole_ward(talk, chosen) if chosen.whole_ward else _speak(talk, [chosen])


def _stand_lost(talk: Talk) -> Answer | None:
    """Take NO as the answer to our question, unless the phone has reported something since."""
    asked_at = [each.asked.sent_at for each in open_questions(talk) if each.asked.sent_at]
    since = max([talk.now - CONTEXT_LIFE, *asked_at])
    if not asked_at or reports.last_from_phone(talk.c, talk.phone.id, since=since):
        return None
    return _of_stand(talk, Kind.LOST)


def _of_stand(talk: Talk, kind: Kind) -> Answer | None:
    """Note what became of the stand that we asked about; of several it is asked back which."""
    asked = list(dict.fromkeys(each.asked.plot_number for each in open_questions(talk)))
    if len(asked) > 1:
        return Answer(replanting.which_plot(asked, language=talk.language))
    return _speak(talk, [Said(kind, talk.today, plots=(asked[0],))]) if asked else None


def _speak(talk: Talk, said: Sequence[Said]) -> Answer:
    """Take the reports, all or none of them, then answer the questions."""
    reports_in_it = [each for each in said if each.kind in REPORTS]
    taken = reported(talk, reports_in_it) if reports_in_it else Answer(None)
    if reports_in_it and not taken.understood:
        return taken  # one of them was refused, so nothing was kept
    texts = [taken.reply, *(answer_to(talk, each) for each in said if each.kind not in REPORTS)]
    return replace(taken, reply=" ".join(text for text in texts if text) or None)
