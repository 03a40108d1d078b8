"""Who waits to join: letting them in or not; and who is lead farmer of a ward."""

from collections.abc import Callable

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from reminder_service.kinds import SeasonId
from reminder_service.records.engine import reading
from reminder_service.records.people import Person
from reminder_service.web.said import say
from reminder_service.web.walls import person, season_or_404, services
from reminder_service.work import newcomers
from reminder_service.work.leads_by_hand import set_lead
from reminder_service.work.services import Services

blueprint = Blueprint("joining", __name__, url_prefix="/plots")

WAITING_SHOWN = 50
"""People waiting to join that a ward's page lists at once (setting)."""

Decide = Callable[[Services, SeasonId, Person], bool]


@blueprint.post("/<int:season_id>/approve")
def approve(season_id: int) -> Response:
    """Let a farmer in who joined by text."""
    return _decided(season_id, newcomers.approve, "{name} is in: reminders are planned.")


@blueprint.post("/<int:season_id>/decline")
def decline(season_id: int) -> Response:
    """Do not let a farmer in who joined by text."""
    return _decided(season_id, newcomers.decline, "{name} is not let in, and is told so.")


@blueprint.post("/<int:season_id>/lead")
def lead(season_id: int) -> Response:
    """Make the farmer lead farmer of the ward, or end it."""
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
    wanted = request.form.get("lead") == "yes"
    say(set_lead(services(), season.season_id, person(), lead=wanted))
    return redirect(url_for("plots.page", season_id=season_id))


def _decided(season_id: int, decide: Decide, sentence: str) -> Response:
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
    if decide(services(), season.season_id, person()):
        say(sentence.format(name=season.farmer_name))
    else:
        say("Nothing was changed: somebody has decided this meanwhile.", failed=True)
    return redirect(url_for("wards.ward", ward_id=season.ward.id))
