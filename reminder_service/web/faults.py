"""Pages for what goes wrong: what happened, and what to do now."""

from flask import Flask, Response, current_app, render_template, request
from flask_wtf.csrf import CSRFError
from sqlalchemy.exc import OperationalError
from werkzeug.exceptions import HTTPException

from reminder_service.records.errors import NotFound
from reminder_service.web.interface.problems import of_http

WHAT_NOW = {
    400: (
        "That request could not be understood",
        "Go back, load the page again and repeat what you did. If you had followed a link, it may "
        "be cut off.",
    ),
    403: (
        "You may look at this, but not change it",
        "Ask your programme lead if you should be able to.",
    ),
    404: (
        "There is no such page here for you",
        "The address may be mistyped, or what it names lies in a ward that is not yours. Start "
        "again from your wards.",
    ),
    405: ("This address takes no such request", "Go back and use the buttons on the page."),
    413: ("That was too much to send at once", "Go back and send a shorter text or fewer rows."),
    500: (
        "Something went wrong on our side",
        "Nothing of what you just sent was half done: it is all kept or all dropped. Wait a minute "
        "and try again; if it happens again, tell whoever looks after this service the time.",
    ),
    503: (
        "The records cannot be reached",
        "Reminders already taken by the carrier still go out. Wait a minute and try again; if it "
        "lasts, tell whoever looks after this service.",
    ),
}
"""Heading of each error page, and what to do now."""


def install_faults(app: Flask) -> None:
    """Give an app its error pages."""
    app.register_error_handler(HTTPException, error_page)
    app.register_error_handler(CSRFError, form_too_old)
    app.register_error_handler(OperationalError, records_away)
    app.register_error_handler(NotFound, gone)


def error_page(error: HTTPException) -> tuple[str, int] | HTTPException | Response:
    """Say what went wrong and what to do, without asking the database who is asking."""
    code = error.code or 500
    if code < 400:
        return error  # a redirect that werkzeug raises
    if request.path.startswith("/api/"):
        return of_http(error)
    heading, advice = WHAT_NOW.get(code, WHAT_NOW[400 if code < 500 else 500])
    return render_template("error.html", heading=heading, advice=advice, code=code), code


def form_too_old(error: CSRFError) -> tuple[str, int]:
    """Say that the form no longer belongs to this session."""
    heading = "This form has grown too old"
    advice = (
        "You were logged out or logged in anew since the page was loaded, so nothing was changed. "
        "Load the page again and repeat what you did."
    )
    return render_template("error.html", heading=heading, advice=advice, code=400), 400


def gone(error: NotFound) -> tuple[str, int]:
    """Say that a row went, or moved on, between looking and acting."""
    heading, advice = WHAT_NOW[404]
    return render_template("error.html", heading=heading, advice=advice, code=404), 404


def records_away(error: OperationalError) -> tuple[str, int]:
    """Say that the database did not answer; the log says why."""
    current_app.logger.exception("the database failed", exc_info=error)
    heading, advice = WHAT_NOW[503]
    return render_template("error.html", heading=heading, advice=advice, code=503), 503
