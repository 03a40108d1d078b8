"""A person's own second factor: set up, confirmed by a first code, and ended."""

import segno
from flask import Blueprint, Response, redirect, render_template, request
from flask.typing import ResponseReturnValue
from flask_login import login_user
from markupsafe import Markup

from reminder_service.records import factors, people
from reminder_service.records.engine import reading, writing
from reminder_service.web.login import Account, new_session_key
from reminder_service.web.said import say
from reminder_service.web.walls import must_have_factor, person, services, shown_once
from reminder_service.work import second_factor

blueprint = Blueprint("factor", __name__, url_prefix="/second-factor")

WRONG = "That code does not fit. Wait for the next one, and see that the phone's clock is right."


@blueprint.get("")
def page() -> str:
    """Show whether the person logs in with codes, and what to do next."""
    return _page()


def _page(codes: list[str] | None = None) -> str:
    with reading(services().engine) as c:
        confirmed = factors.is_confirmed(c, person().id)
        left = factors.recovery_codes_left(c, person().id)
    waiting = None if confirmed else second_factor.enrolment(services(), person())
    return render_template(
        "factor.html",
        confirmed=confirmed,
        left=left,
        waiting=waiting,
        picture=picture(waiting.address) if waiting else "",
        codes=codes,
        must=must_have_factor(person()),
    )


def picture(address: str) -> Markup:
    """A code that phones read, as an inline picture without style or script.

    Parameters
    ----------
    address : what it says
    """
    made = segno.make(address, error="m")
    drawn = made.svg_inline(scale=5, border=4, dark="#000", light="#fff", omitsize=False)
    return Markup(drawn)  # noqa: S704 - drawn by the library from squares alone


@blueprint.post("/begin")
def begin() -> ResponseReturnValue:
    """Make a new secret and show it."""
    if not second_factor.begin(services(), person()):
        say("You log in with codes already: end that first.", failed=True)
    return redirect("/second-factor")


@blueprint.post("/confirm")
def confirm() -> ResponseReturnValue:
    """Let the second factor count, once a first code is right."""
    codes = second_factor.confirm(services(), person(), request.form.get("code", ""))
    if codes is None:
        say(WRONG, failed=True)
        return redirect("/second-factor")
    _end_other_sessions()
    return shown_once(_page(codes))


@blueprint.post("/end")
def end() -> Response | ResponseReturnValue:
    """Let the person log in without codes, if they can give one more."""
    if second_factor.take_code(services(), person().id, request.form.get("code", "")):
        second_factor.end(services(), person().id, person().login)
        _end_other_sessions()
        say("You log in without codes from now on.")
    else:
        say(WRONG, failed=True)
    return redirect("/second-factor")


def _end_other_sessions() -> None:
    key = new_session_key()
    with writing(services().engine) as c:
        people.set_session_key(c, person().id, key)
    with reading(services().engine) as c:
        again = people.person_by_id(c, person().id)
    if again is not None:
        login_user(Account(again))
