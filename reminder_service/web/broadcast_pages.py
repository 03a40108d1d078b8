"""Writing to many farmers at once: whom, what it comes to, what went out, what came back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from secrets import token_urlsafe

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from reminder_service.kinds import MOVABLE, Kind
from reminder_service.records import broadcasts
from reminder_service.records.broadcasts import Chosen
from reminder_service.records.engine import reading
from reminder_service.records.tables import Role
from reminder_service.records.views import Ward, wards_seen
from reminder_service.texts.words import shipped_languages
from reminder_service.web.budget_words import money_words
from reminder_service.web.said import say
from reminder_service.web.text_pages import language_name
from reminder_service.web.walls import may_change, person, scope, services, today_in
from reminder_service.web.wording import counted, kind_words
from reminder_service.work import broadcasting
from reminder_service.work.routes import routes_file

blueprint = Blueprint("broadcasts", __name__, url_prefix="/write")

SHOWN = 20
"""Texts to many listed on the page (setting)."""

ANSWERS_SHOWN = 200
"""Answers listed under one (setting)."""

WITHOUT = (Kind.FIRST_RAIN, Kind.PLANTED, Kind.GERMINATED, Kind.TASSELLED, Kind.HARVESTED)
"""Reports that farmers may be chosen for who have not made them."""

LONGEST = 480
"""Most letters of one language's words; more never fits its segments."""


@dataclass(frozen=True, slots=True)
class Form:
    """What the form holds."""

    token: str
    chosen: Chosen
    bodies: Mapping[str, str]


@blueprint.get("")
def page() -> str:
    """Show the empty form, and what was sent lately."""
    return _page(Form(token_urlsafe(16), Chosen(()), {}), [])


@blueprint.post("/preview")
def preview() -> ResponseReturnValue:
    """Show what the text would come to; nothing is queued."""
    wards, days = _wards()
    form = _form_given(wards)
    faults = broadcasting.faults(form.bodies)
    if not form.chosen.ward_ids:
        faults.append("No ward is ticked: tick at least one.")
    if faults:
        return _page(form, faults), 400
    found = broadcasting.preview(services(), scope(), form.chosen, form.bodies, days)
    zone = wards[0].zone
    return render_template(
        "write_preview.html",
        form=form,
        found=found,
        zone=zone,
        whom=_whom(form.chosen, wards),
        costs=_cost_words(found.costs()),
        language_name=language_name,
    )


@blueprint.post("/change")
def change() -> str:
    """Show the form again as it was filled in."""
    wards, _ = _wards()
    return _page(_form_given(wards), [])


@blueprint.post("/send")
def send() -> Response:
    """Queue the text, after the preview; a form sent twice is queued once."""
    wards, days = _wards()
    form = _form_given(wards)
    if broadcasting.faults(form.bodies) or not form.chosen.ward_ids:
        abort(400)
    sent = broadcasting.send(
        services(), scope(), person(), form.token, form.chosen, form.bodies, days
    )
    if sent is None:
        text = (
            "Nothing was queued: this form was sent before, or nobody is reached. What was sent "
            "stands below."
        )
        say(text, failed=True)
        return redirect(url_for(".page"))
    return redirect(url_for(".one", broadcast_id=sent))


@blueprint.get("/<int:broadcast_id>")
def one(broadcast_id: int) -> str:
    """Show one text to many: its states, and what came back."""
    with reading(services().engine) as c:
        found = broadcasts.broadcast_seen(c, broadcast_id, _whose()) or abort(404)
        notices = broadcasts.notices_of_broadcast(c, broadcast_id)
        answers = broadcasts.came_back(c, found, scope(), ANSWERS_SHOWN + 1)
        wards = wards_seen(c, scope())
    states = broadcasts.states_of(notices)
    return render_template(
        "write_one.html",
        found=found,
        states=states,
        unsent=sum(states[state] for state in MOVABLE),
        answers=answers[:ANSWERS_SHOWN],
        more=len(answers) > ANSWERS_SHOWN,
        zone=wards[0].zone if wards else "UTC",
        whom=_whom(_chosen_then(found.chosen), wards),
        language_name=language_name,
        may_change=may_change(),
    )


@blueprint.post("/<int:broadcast_id>/withdraw")
def withdraw(broadcast_id: int) -> Response:
    """Take back what has not gone out."""
    with reading(services().engine) as c:
        if broadcasts.broadcast_seen(c, broadcast_id, _whose()) is None:
            abort(404)
    taken = broadcasting.withdraw_rest(services(), broadcast_id, person())
    say(f"Withdrew {counted(taken, 'text', 'texts')} that had not gone out.")
    return redirect(url_for(".one", broadcast_id=broadcast_id))


def _page(form: Form, faults: list[str]) -> str:
    with reading(services().engine) as c:
        wards = wards_seen(c, scope())
        lately = broadcasts.broadcasts_seen(c, _whose(), SHOWN)
    return render_template(
        "write.html",
        form=form,
        faults=faults,
        wards=wards,
        lately=lately,
        languages=[(code, language_name(code)) for code in shipped_languages()],
        tasks=[(task.name, task.title) for task in services().rulebook.tasks],
        without=WITHOUT,
        zone=wards[0].zone if wards else "UTC",
        longest=LONGEST,
        may_change=may_change(),
    )


def _whose() -> int | None:
    """Coordinators see what they wrote themselves, the others all of it."""
    return person().id if person().role == Role.COORDINATOR else None


def _wards() -> tuple[list[Ward], dict[str, date]]:
    with reading(services().engine) as c:
        wards = wards_seen(c, scope())
    return wards, {ward.zone: today_in(ward.zone) for ward in wards}


def _form_given(wards: list[Ward]) -> Form:
    """The form as it was sent; 404 for another's ward, 400 for what is none of the choices."""
    texts = request.form.getlist("ward")
    if not all(text.isascii() and text.isdigit() and len(text) < 19 for text in texts):
        abort(400)
    ward_ids = tuple(sorted({int(text) for text in texts}))
    if not set(ward_ids) <= {ward.id for ward in wards}:
        abort(404)
    late = request.form.get("late", "")
    if late and late not in {task.name for task in services().rulebook.tasks}:
        abort(400)
    without = request.form.get("without", "")
    if without and without not in WITHOUT:
        abort(400)
    bodies = {
        code: " ".join(request.form.get(f"body-{code}", "").split())[:LONGEST]
        for code in shipped_languages()
    }
    token = request.form.get("token", "")[:64] or abort(400)
    chosen = Chosen(ward_ids, late, Kind(without) if without else None)
    return Form(token, chosen, bodies)


def _chosen_then(kept: Mapping[str, object]) -> Chosen:
    wards = kept.get("wards")
    without = kept.get("without")
    return Chosen(
        tuple(int(ward) for ward in wards) if isinstance(wards, list) else (),
        str(kept.get("late task") or ""),
        Kind(str(without)) if without else None,
    )


def _whom(chosen: Chosen, wards: list[Ward]) -> str:
    names = [ward.name for ward in wards if ward.id in chosen.ward_ids]
    said = f"Farmers of {', '.join(names)}"
    if chosen.late_task:
        titles = {task.name: task.title for task in services().rulebook.tasks}
        task = titles.get(chosen.late_task, chosen.late_task)
        said += f", late with: {task.lower()}"
    if chosen.without is not None:
        said += f", without a report of: {kind_words(chosen.without)}"
    return f"{said}."


def _cost_words(costs: Mapping[str, int]) -> list[tuple[str, str]]:
    """What all texts cost by each route; empty where no route has a price."""
    budget = routes_file(services().settings).budget
    if budget is None or not any(costs.values()):
        return []
    return [(route, money_words(cost, budget.currency)) for route, cost in sorted(costs.items())]
