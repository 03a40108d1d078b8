"""The pages put together: one Flask app around the services."""

import hashlib
from pathlib import Path

from flask import Flask, Response, current_app, jsonify, request, url_for
from flask_wtf.csrf import CSRFProtect
from sqlalchemy.exc import OperationalError

from reminder_service.kinds import MOVABLE, NoticeState
from reminder_service.records import ticks
from reminder_service.records.engine import reading
from reminder_service.session_secret import session_secret
from reminder_service.web import (
    broadcast_pages,
    calendar_pages,
    carrier_calls,
    factor_pages,
    figure_pages,
    input_pages,
    joining_pages,
    list_pages,
    login,
    metrics_page,
    plot_pages,
    practice_pages,
    program_pages,
    queue_pages,
    rain_input_pages,
    rain_pages,
    route_pages,
    task_list_pages,
    text_pages,
    today_pages,
    unread_pages,
    walls,
    ward_pages,
    weather_pages,
    wording,
)
from reminder_service.web.budget_words import money_words
from reminder_service.web.faults import install_faults
from reminder_service.web.interface.serving import install_interface
from reminder_service.web.requests_seen import install_requests
from reminder_service.web.said import said
from reminder_service.work.services import Services

LARGEST_REQUEST = 256 * 1024
"""Bytes of the largest form that is taken (setting)."""

CONTENT_POLICY = (
    "default-src 'self'; script-src 'none'; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)


def create_app(services: Services) -> Flask:
    """Make the pages around some services.

    Parameters
    ----------
    services : database, settings, rulebook, clock and gateways

    Returns
    -------
    the app, ready to be served
    """
    app = Flask(__name__)
    app.config.update(
        SECRET_KEY=session_secret(services.settings),
        SESSION_COOKIE_NAME="reminders",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_SECURE=services.settings.secure_cookies,
        PERMANENT_SESSION_LIFETIME=login.IDLE_END,
        WTF_CSRF_TIME_LIMIT=None,  # a form lives as long as its session
        MAX_CONTENT_LENGTH=LARGEST_REQUEST,
        MAX_FORM_MEMORY_SIZE=LARGEST_REQUEST,
        SEND_FILE_MAX_AGE_DEFAULT=86_400,
    )
    app.extensions[walls.EXTENSION] = services
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    install_requests(app)
    app.before_request(list_pages.take_larger_files)  # before anything reads the form
    csrf = CSRFProtect(app)
    login.install_login(app)
    app.before_request(walls.guard)
    for pages in (
        today_pages,
        figure_pages,
        broadcast_pages,
        task_list_pages,
        ward_pages,
        input_pages,
        rain_pages,
        rain_input_pages,
        weather_pages,
        queue_pages,
        plot_pages,
        joining_pages,
        practice_pages,
        unread_pages,
        route_pages,
        text_pages,
        list_pages,
        program_pages,
        calendar_pages,
        factor_pages,
    ):
        app.register_blueprint(pages.blueprint)
    for calls in (carrier_calls, metrics_page):
        app.register_blueprint(calls.blueprint)
    app.register_blueprint(calendar_pages.feeds)
    csrf.exempt(carrier_calls.blueprint)
    csrf.exempt(install_interface(app, services.settings))
    _install_words(app, services)
    install_faults(app)
    app.after_request(with_safe_headers)
    app.add_url_rule("/health", view_func=health)
    return app


def _install_words(app: Flask, services: Services) -> None:
    """What every template may use."""
    titles = wording.titles_of(services.rulebook)
    app.jinja_env.filters.update(
        day=wording.day_words,
        day_year=wording.day_words_year,
        masked=wording.masked_phone,
        local=wording.local_words,
        kind=wording.kind_words,
        state=wording.state_words,
        settled=wording.settled_words,
        price=money_words,
    )
    style = Path(app.static_folder or "", "page.css").read_bytes()
    version = hashlib.sha256(style).hexdigest()[:8]
    app.jinja_env.globals.update(
        task_title=titles,
        counted=wording.counted,
        said=said,
        movable=MOVABLE,
        can_again=queue_pages.CAN_AGAIN,
        held=NoticeState.HELD,
        style=lambda: url_for("static", filename="page.css", v=version),
    )


def with_safe_headers(response: Response) -> Response:
    """Keep browsers from framing pages, guessing types, running foreign code or storing pages."""
    headers = response.headers
    headers.setdefault("Content-Security-Policy", CONTENT_POLICY)
    headers.setdefault("X-Content-Type-Options", "nosniff")
    headers.setdefault("Referrer-Policy", "same-origin")
    headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
    if current_app.config["SESSION_COOKIE_SECURE"]:
        headers.setdefault("Strict-Transport-Security", "max-age=31536000")
    if request.endpoint != "static":
        headers.setdefault("Cache-Control", "private, no-cache")
    return response


def health() -> tuple[Response, int]:
    """Whether the database answers, and when each repeating piece of work last ran."""
    services = walls.services()
    try:
        with reading(services.engine) as c:
            found = ticks.ticks(c)
    except OperationalError:
        current_app.logger.exception("the database failed")
        return jsonify(database=False, ticks={}), 503
    last = {
        tick.name: {
            "started_at": tick.started_at.isoformat(),
            "ended_at": tick.ended_at.isoformat() if tick.ended_at else None,
            "failed": tick.error is not None,
        }
        for tick in found
    }
    return jsonify(database=True, ticks=last), 200
