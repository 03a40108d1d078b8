"""A person says what a text means, or that nothing is to be done; and takes either back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.kinds import SeasonId, Stage
from reminder_service.records import audit, farmers, plans, queue_by_hand, unread
from reminder_service.records.engine import writing
from reminder_service.records.farmers import SeasonForPlanning
from reminder_service.records.people import Person
from reminder_service.records.plans import NewNotice
from reminder_service.records.reports import KeptReport
from reminder_service.records.types import Settlement
from reminder_service.records.unread import WaitingText
from reminder_service.rules.rulebook import Rulebook
from reminder_service.texts import replies
from reminder_service.texts.letters import economical
from reminder_service.texts.reading_types import Said
from reminder_service.texts.segments import segments
from reminder_service.texts.wording import called
from reminder_service.work.by_hand import AGAIN_LIFE
from reminder_service.work.explaining import Addressee, for_coordinator, reply_to, what_of
from reminder_service.work.hours import next_allowed
from reminder_service.work.replan import sending_hours
from reminder_service.work.reporting import Refused, ReportGiven, take_back, take_report
from reminder_service.work.services import Services

TOO_LATE = "Nothing was changed: somebody has settled this text meanwhile."
"""Told to the second of two people who touch the same text."""


@dataclass(frozen=True, slots=True)
class TextReport:
    """One report that a person reads from a text.

    Attributes
    ----------
    season_id : of the plot that it is about
    said : the report, with its local day
    """

    season_id: SeasonId
    said: Said


@dataclass(frozen=True, slots=True)
class Corrected:
    """What became of a correction, or of taking one back.

    Attributes
    ----------
    done : whether anything was changed
    sentence : what to tell the person
    changes : one sentence a change to the plan
    """

    done: bool
    sentence: str
    changes: list[str] = field(default_factory=list)


def correct(
    services: Services, inbound_id: int, person: Person, meant: Sequence[TextReport]
) -> Corrected:
    """Take the reports that a person reads from a text, all of them or none.

    They count as the farmer's, made by this text and entered by this person. The farmer is told
    what was understood, in the farmer's language and the sending hours, so that a mistake shows;
    a phone that has stopped is told nothing.

    Parameters
    ----------
    services : the services
    inbound_id : a text that waits; the person may see it and the plots
    person : who reads it
    meant : one report or more, each with its day

    Returns
    -------
    what became of it
    """
    now = services.clock()
    with writing(services.engine) as c:
        text = unread.waiting_text(c, inbound_id, None)
        undo = c.begin_nested()
        settled = unread.settle_text(c, inbound_id, Settlement.REPORTED, person.id, now)
        if text is None or not settled:
            undo.rollback()
            return Corrected(False, TOO_LATE)
        seasons = _locked(c, {each.season_id for each in meant})
        sentences, told, changes = [], [], []
        for each in meant:
            season = seasons[each.season_id]
            given = _given(each.said, text, person, now)
            outcome = take_report(c, services.rulebook, services.settings, season, now, given)
            sentences.append(for_coordinator(outcome, services.rulebook))
            if isinstance(outcome, Refused):
                undo.rollback()
                return Corrected(False, sentences[-1])
            to = Addressee(called(season.farmer_name), season.plot_number, season.language)
            told.append(reply_to(outcome, services.rulebook, to))
            changes += outcome.changes
        undo.commit()
        first = seasons[meant[0].season_id]
        tells = _tell(c, services, text, first, "correction", " ".join(told))
        after = {"reports": [_plain(each) for each in meant]}
        _note(c, now, person, "read text", inbound_id, after)
    heard = (
        f"{first.farmer_name} is told." if tells else "The phone has stopped: nobody is told of it."
    )
    return Corrected(True, " ".join([*sentences, heard]), changes)


def set_aside(services: Services, inbound_id: int, person: Person) -> Corrected:
    """Note that nothing is to be done about a text: a greeting, thanks, nothing of ours.

    Parameters
    ----------
    services : the services
    inbound_id : a text that waits; the person may see it
    person : who says so

    Returns
    -------
    what became of it
    """
    now = services.clock()
    with writing(services.engine) as c:
        if not unread.settle_text(c, inbound_id, Settlement.SET_ASIDE, person.id, now):
            return Corrected(False, TOO_LATE)
        _note(c, now, person, "set text aside", inbound_id, None)
    return Corrected(True, "Set aside: nothing is to be done about that text.")


def put_back(services: Services, inbound_id: int, person: Person) -> Corrected:
    """Let a settled text wait again; the reports made of it are taken back, as NO does.

    What the farmer was told is withdrawn; if it may have gone out, the farmer is told that it was
    taken back.

    Parameters
    ----------
    services : the services
    inbound_id : a text that a person settled; this person may see it
    person : who takes it back

    Returns
    -------
    what became of it
    """
    now = services.clock()
    with writing(services.engine) as c:
        text = unread.waiting_text(c, inbound_id, None)
        if text is None or text.settled_at is None or not unread.reopen_text(c, inbound_id):
            return Corrected(False, "Nothing was changed: that text waits already.")
        made = [each.report for each in unread.reports_of_texts(c, [inbound_id])]
        seasons = _locked(c, {report.season_id for report in made})
        changes: list[str] = []
        for report in made:
            changes += take_back(c, services.rulebook, services.settings, report, now)
        left = _withdrawn(c, inbound_id, person, since=text.settled_at, now=now)
        if left and made:
            first = seasons[made[0].season_id]
            told = [
                _taken_back(each, seasons[each.season_id], services.rulebook, now) for each in made
            ]
            _tell(c, services, text, first, "taken back", " ".join(told))
        after = {"was": text.settled_as, "reports taken back": [report.id for report in made]}
        _note(c, now, person, "put text back", inbound_id, after)
    return Corrected(True, "Taken back: the text waits again.", changes)


def _locked(c: Connection, season_ids: set[SeasonId]) -> dict[SeasonId, SeasonForPlanning]:
    """The seasons, locked in one order, so that two people never wait for each other."""
    return {season_id: farmers.lock_season(c, season_id) for season_id in sorted(season_ids)}


def _given(said: Said, text: WaitingText, person: Person, now: datetime) -> ReportGiven:
    on = said.on or now.date()
    return ReportGiven(
        said.kind,
        on,
        now,
        said.task,
        said.number,
        said.mm,
        said.counts,
        said.damaged,
        inbound_id=text.id,
        person_id=person.id,
        observer="" if text.phone_id is None else f"phone {text.phone_id}",
    )


def _plain(each: TextReport) -> dict[str, object]:
    said = each.said
    on = said.on.isoformat() if said.on else None
    plain = {"kind": said.kind.value, "on": on, "season": each.season_id, "task": said.task}
    measured = {"mm": said.mm, "counts": list(said.counts) or None, "damaged": said.damaged}
    found = plain | {"number": said.number} | measured
    return {name: value for name, value in found.items() if value is not None}


def _taken_back(
    report: KeptReport, season: SeasonForPlanning, rulebook: Rulebook, now: datetime
) -> str:
    given = ReportGiven(report.kind, report.on, now, report.task, report.number)
    what = what_of(given, rulebook, season.language)
    return replies.taken_back(what, report.on, plot=season.plot_number, language=season.language)


def _tell(
    c: Connection,
    services: Services,
    text: WaitingText,
    season: SeasonForPlanning,
    what: str,
    body: str,
) -> bool:
    """Queue a text to the phone that wrote; False if it has stopped."""
    if text.phone_id is None or farmers.has_stopped(c, text.phone_id):
        return False
    now = services.clock()
    send_at = next_allowed(now, sending_hours(services.settings, season.zone))
    written = economical(body, season.language).body
    notice = NewNotice(
        key=f"{what}/{text.id}/{now.isoformat()}",
        phone_id=text.phone_id,
        farmer_id=season.farmer_id,
        ward_id=season.ward_id,
        season_id=None,
        inbound_id=text.id,
        task="reply",
        number=1,
        stage=Stage.REPLY,
        opens_on=None,
        due_on=None,
        closes_on=None,
        body=written,
        segments=segments(written).segments,
        importance=1,
        day=_local_day(send_at, season.zone),
        send_at=send_at,
        expires_at=send_at + AGAIN_LIFE,
    )
    plans.insert_notices(c, [notice], now)
    return True


def _local_day(at: datetime, zone: str) -> date:
    return at.astimezone(ZoneInfo(zone)).date()


def _withdrawn(
    c: Connection, inbound_id: int, person: Person, *, since: datetime, now: datetime
) -> bool:
    """Withdraw what the farmer was to be told since; whether any of it may have gone out."""
    told = unread.told_since(c, inbound_id, since)
    withdrawn = queue_by_hand.withdraw_by_hand(c, told, person.id, now)
    return len(withdrawn) < len(told)


def _note(
    c: Connection,
    at: datetime,
    person: Person,
    what: str,
    inbound_id: int,
    after: Mapping[str, object] | None,
) -> None:
    subject = f"inbound {inbound_id}"
    audit.note(c, at=at, who=person.login, what=what, subject=subject, after=after)
