"""What joining by text comes to: the farmer, the plot, its season, and who lets them in."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.kinds import SeasonId, Stage
from reminder_service.records import audit, farmers, joining, plans
from reminder_service.records.engine import writing
from reminder_service.records.errors import AlreadyThere
from reminder_service.records.farmers import SeasonForPlanning
from reminder_service.records.people import Person
from reminder_service.records.plans import NewNotice
from reminder_service.records.types import Decision
from reminder_service.texts import joining as words
from reminder_service.texts.letters import economical
from reminder_service.texts.segments import segments
from reminder_service.texts.wording import called
from reminder_service.work.hours import next_allowed
from reminder_service.work.joining_steps import Scene
from reminder_service.work.replan import replan, sending_hours
from reminder_service.work.services import Services

NUMBER_TRIES = 20
"""Times to ask for the next plot number when others join in the same moment (setting)."""

CHOICES = ("maturity", "top-dressing")
"""Choices of a plot that joining asks for."""

NEWS_LIFE = timedelta(days=7)
"""How long it is worth telling a farmer that they were let in (setting)."""


def stations(answers: Mapping[str, Any]) -> int:
    """Planting stations of a plot, from what was answered: counted, or by its size and spacing."""
    counted = answers.get("stations")
    return int(counted) if counted else max(1, round(answers["ha"] * answers["per_ha"]))


def settle(here: Scene) -> dict[str, Any]:
    """Write what was answered: a new farmer, plot and season, or those of before put right.

    Parameters
    ----------
    here : the summary's scene, with every question answered

    Returns
    -------
    the answers, with the ids and the plot number that they came to
    """
    talk, kept = here.talk, dict(here.answers)
    farmer_id, is_new = _farmer(here)
    stays = (kept.get("farmer_id"), kept.get("placed")) == (farmer_id, kept["ward_id"])
    choices = {name: kept[name] for name in CHOICES if name in kept}
    if stays:
        joining.change_plot(
            talk.c, kept["plot_id"], stations=stations(kept), stations_per_ha=kept["per_ha"]
        )
        joining.change_choices(talk.c, SeasonId(kept["season_id"]), choices)
    else:
        _close(here)
        kept |= _placed(here, farmer_id, choices)
    kept |= {"farmer_id": farmer_id, "is_new": is_new, "placed": kept["ward_id"]}
    replan(talk.c, SeasonId(kept["season_id"]), talk.rulebook, talk.settings, talk.now)
    return kept


def give_up(here: Scene) -> None:
    """Undo what joining came to so far, after consent was taken back."""
    _close(here)
    if here.answers.get("is_new"):
        farmer_id = int(here.answers["farmer_id"])
        joining.decide(here.talk.c, farmer_id, Decision.DECLINED, None, here.talk.now)


def waits(here: Scene) -> bool:
    """Whether a coordinator must still let the farmer in."""
    found = joining.newcomer(here.talk.c, int(here.answers["farmer_id"]))
    return found is not None and found.decision is Decision.WAITING


def _close(here: Scene) -> None:
    season_id = here.answers.get("season_id")
    if season_id is not None:
        joining.close_season(here.talk.c, SeasonId(season_id), here.talk.now)


def _farmer(here: Scene) -> tuple[int, bool]:
    """Find or add the farmer; True if this joining added them.

    Whoever gives the name of a farmer of the same phone and ward adds a plot of theirs.
    """
    talk, kept = here.talk, here.answers
    name, ward_id = str(kept["name"]), int(kept["ward_id"])
    if kept.get("is_new"):
        farmer_id = int(kept["farmer_id"])
        joining.change_farmer(talk.c, farmer_id, name=name, ward_id=ward_id, language=here.language)
        return farmer_id, True
    for plot in talk.plots:
        if (plot.farmer_name.casefold(), plot.ward_id) == (name.casefold(), ward_id):
            return plot.farmer_id, False
    farmer_id = farmers.add_farmer(
        talk.c,
        ward_id=ward_id,
        name=name,
        language=here.language,
        numbers=[talk.phone.number],
        at=talk.now,
    )
    at_once = talk.settings.joining == "open"
    joining.add_newcomer(
        talk.c,
        farmer_id=farmer_id,
        phone_id=talk.phone.id,
        consent_id=int(kept["consent_id"]),
        decision=Decision.APPROVED if at_once else Decision.WAITING,
        at=talk.now,
    )
    return farmer_id, True


def _placed(here: Scene, farmer_id: int, choices: Mapping[str, str]) -> dict[str, Any]:
    """Add the plot under the ward's next number, and open its season."""
    talk, kept = here.talk, here.answers
    plot_id, number = _numbered(here, farmer_id)
    zone = next(ward.zone for ward in here.wards if ward.id == kept["ward_id"])
    starts_on = talk.settings.season_start(talk.now.astimezone(ZoneInfo(zone)).date())
    season_id = farmers.open_season(
        talk.c,
        plot_id=plot_id,
        label=f"{starts_on.year}/{(starts_on.year + 1) % 100:02d}",
        starts_on=starts_on,
        rulebook=talk.rulebook.label,
        choices=choices,
    )
    return {"plot_id": plot_id, "number": number, "season_id": season_id}


def _numbered(here: Scene, farmer_id: int) -> tuple[int, str]:
    """Add the plot; where somebody took its number in the same moment, the next one is tried."""
    c, kept = here.talk.c, here.answers
    for _try in range(NUMBER_TRIES):
        number = joining.next_plot_number(c, int(kept["ward_id"]))
        try:
            plot_id = farmers.add_plot(
                c,
                farmer_id=farmer_id,
                ward_id=int(kept["ward_id"]),
                number=number,
                stations=stations(kept),
                stations_per_ha=int(kept["per_ha"]),
            )
        except AlreadyThere:
            continue
        return plot_id, number
    raise AlreadyThere("plot", number)


def approve(services: Services, season_id: SeasonId, person: Person) -> bool:
    """Let the farmer of a season in: plan their reminders and tell them.

    Returns
    -------
    False if that was decided already, or the farmer did not join by text

    Raises
    ------
    NotFound
        There is no such season.
    """
    return _decided(services, season_id, person, Decision.APPROVED)


def decline(services: Services, season_id: SeasonId, person: Person) -> bool:
    """Do not let the farmer of a season in: close it and tell them.

    Returns
    -------
    False if that was decided already, or the farmer did not join by text

    Raises
    ------
    NotFound
        There is no such season.
    """
    return _decided(services, season_id, person, Decision.DECLINED)


def _decided(services: Services, season_id: SeasonId, person: Person, decision: Decision) -> bool:
    now = services.clock()
    with writing(services.engine) as c:
        farmer_id = farmers.season(c, season_id).farmer_id
        if not joining.decide(c, farmer_id, decision, person.id, now):
            return False
        audit.note(
            c,
            at=now,
            who=person.login,
            what="let in" if decision is Decision.APPROVED else "not let in",
            subject=f"farmer {farmer_id}",
            before={"decision": Decision.WAITING.value},
            after={"decision": decision.value},
        )
        for plot in farmers.open_plots_of_farmers(c, [farmer_id]):
            if decision is Decision.DECLINED:
                joining.close_season(c, plot.season_id, now)
            replan(c, plot.season_id, services.rulebook, services.settings, now)
        season = farmers.season(c, season_id)
        for phone in season.phones:
            joining.forget_joining(c, phone.id)
        _tell(c, services, season, decision, now)
    return True


def _tell(
    c: Connection,
    services: Services,
    season: SeasonForPlanning,
    decision: Decision,
    now: datetime,
) -> None:
    """Queue what was decided, unless the farmer has said stop meanwhile."""
    if any(phone.stopped_at is not None for phone in season.phones):
        return
    language = season.language
    if decision is Decision.APPROVED:
        text = words.welcome(called(season.farmer_name), season.plot_number, language=language)
    else:
        text = words.not_let_in(services.settings.programme, language=language)
    body = economical(text, language).body
    send_at = next_allowed(now, sending_hours(services.settings, season.zone))
    notice = NewNotice(
        key=f"joined/{season.farmer_id}",
        phone_id=season.phones[0].id,
        farmer_id=season.farmer_id,
        ward_id=season.ward_id,
        season_id=None,
        inbound_id=None,
        task="joining",
        number=1,
        stage=Stage.GETTING_READY,
        opens_on=None,
        due_on=None,
        closes_on=None,
        body=body,
        segments=segments(body).segments,
        importance=1,
        day=send_at.astimezone(ZoneInfo(season.zone)).date(),
        send_at=send_at,
        expires_at=send_at + NEWS_LIFE,
    )
    plans.insert_notices(c, [notice], now)
