"""Logging in and out: argon2 hashes, rising waits, sessions that a person can end everywhere."""

from datetime import datetime, timedelta
from functools import cache
from secrets import token_urlsafe

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from flask import Blueprint, Flask, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue
from flask_login import LoginManager, login_user, logout_user
from werkzeug.wrappers import Response

from reminder_service.records import factors, people
from reminder_service.records.engine import reading, writing
from reminder_service.records.people import Person
from reminder_service.web.walls import local_path, now, services
from reminder_service.work.second_factor import take_code

blueprint = Blueprint("login", __name__)

IDLE_END = timedelta(hours=12)
"""A session that nobody used for so long is over (setting)."""

FREE_TRIES = 4
"""Wrong passwords in a row before waits begin (setting)."""

FIRST_WAIT = timedelta(seconds=30)
"""First wait; each further wrong password doubles it (setting)."""

LONGEST_WAIT = timedelta(minutes=15)
"""Waits grow no longer (setting)."""

REFUSED = (
    "That login and password do not fit together. After several wrong tries a login must wait "
    "up to 15 minutes. If you have forgotten your password, ask your programme lead for a new one."
)
"""The one answer to an unknown login, a wrong password and a login that must wait."""


CODE_REFUSED = (
    "That code does not fit, or was used before. After several wrong ones a login must wait up to "
    "15 minutes. If phone and recovery codes are lost, ask your programme lead."
)
"""The one answer to a wrong code, a used one and a login that must wait."""

HALF = "half"
"""Where the session says who gave a password and still owes a code."""

CODE_TIME = timedelta(minutes=5)
"""How long after the password a code may be given (setting)."""


class Account:
    """A person as the login session knows them."""

    is_authenticated = True
    is_anonymous = False

    def __init__(self, person: Person) -> None:
        self.person = person

    @property
    def is_active(self) -> bool:
        """Whether the person may log in at all."""
        return self.person.active

    def get_id(self) -> str:
        """Id and session key: a new key ends every session of the person."""
        return f"{self.person.id}.{self.person.session_key}"


def wait_after(failed: int) -> timedelta:
    """How long a login must wait after so many wrong passwords in a row.

    Examples
    --------
    >>> [str(wait_after(failed)) for failed in (4, 5, 6, 7, 40)]
    ['0:00:00', '0:00:30', '0:01:00', '0:02:00', '0:15:00']
    """
    if failed <= FREE_TRIES:
        return timedelta(0)
    doublings = min(failed - FREE_TRIES - 1, 10)
    return min(FIRST_WAIT * (1 << doublings), LONGEST_WAIT)


def account_named(session_id: str) -> Account | None:
    """Account of a login session; None if it has ended or the person is gone.

    Parameters
    ----------
    session_id : what `Account.get_id` answered at login
    """
    number, _, key = session_id.partition(".")
    if not number.isdigit():
        return None
    with reading(services().engine) as c:
        person = people.person_by_id(c, int(number))
    if person is None or not person.active or person.session_key != key:
        return None
    return Account(person)


def install_login(app: Flask) -> None:
    """Give an app its login pages and its way to know who asks."""
    manager = LoginManager()
    manager.user_loader(account_named)
    manager.init_app(app)
    app.register_blueprint(blueprint)


@cache
def _hash_of_nobody() -> str:
    """A hash that no password fits, so that an unknown login takes as long as a known one."""
    return PasswordHasher().hash("no one has this password")


def password_fits(password_hash: str, password: str) -> bool:
    """Whether a password is the one that was hashed; a damaged hash fits none."""
    try:
        return PasswordHasher().verify(password_hash, password)
    except (VerificationError, InvalidHashError):
        return False


def checked_person(login: str, password: str, at: datetime) -> Person | None:
    """The person whom login and password belong to; None if they do not or must wait.

    Every try is noted. A login that must wait is refused even with the right password, and
    takes as long to refuse.

    Parameters
    ----------
    login, password : as typed
    at : aware UTC instant
    """
    engine = services().engine
    with reading(engine) as c:
        person = people.person_by_login(c, login)
    fits = password_fits(person.password_hash if person else _hash_of_nobody(), password)
    if person is None or (person.locked_until is not None and person.locked_until > at):
        return None
    fits = fits and person.active
    # The right password alone sets no count back, else each would buy new tries at codes.
    if not (fits and gives_codes(person)):
        note_try(person, fits, at)
    return person if fits else None


def gives_codes(person: Person) -> bool:
    """Whether a person gives a one-time code after their password."""
    with reading(services().engine) as c:
        return factors.is_confirmed(c, person.id)


def note_try(person: Person, fits: bool, at: datetime) -> None:
    """Note one try to log in, and how long the next must wait."""
    wait = timedelta(0) if fits else wait_after(person.failed_logins + 1)
    with writing(services().engine) as c:
        people.note_login(c, person.id, fits, at + wait if wait else None)


@blueprint.get("/login")
def page() -> str:
    """Show the login form."""
    return render_template("login.html", next=request.args.get("next", ""), login="")


@blueprint.post("/login")
def enter() -> Response | tuple[str, int]:
    """Log in; what stood in the session before is dropped."""
    login = request.form.get("login", "").strip()
    wanted = request.form.get("next", "")
    person = checked_person(login, request.form.get("password", ""), now())
    if person is None:
        return render_template("login.html", next=wanted, login=login, refused=REFUSED), 401
    session.clear()
    if gives_codes(person):
        session[HALF] = [person.id, person.session_key, now().isoformat(), wanted]
        return redirect(url_for("login.code"))
    return _logged_in(person, wanted)


def _logged_in(person: Person, wanted: str) -> Response:
    session.clear()
    session.permanent = True
    login_user(Account(person))
    return redirect(local_path(wanted, url_for("today.page")))


def _half_in() -> tuple[Person, str] | None:
    """Who gave their password a moment ago, and where they wanted to go."""
    person_id, key, at, wanted = session.get(HALF) or (0, "", "", "")
    if not person_id or now() - datetime.fromisoformat(at) > CODE_TIME:
        return None
    with reading(services().engine) as c:
        person = people.person_by_id(c, person_id)
    if person is None or not person.active or person.session_key != key:
        return None
    return person, wanted


@blueprint.get("/login/code")
def code() -> ResponseReturnValue:
    """Ask for a one-time code after the password."""
    if _half_in() is None:
        return redirect(url_for("login.page"))
    return render_template("code.html")


@blueprint.post("/login/code")
def enter_code() -> ResponseReturnValue:
    """Log in, if the code is right; wrong ones count and wait like wrong passwords."""
    half = _half_in()
    if half is None:
        return redirect(url_for("login.page"))
    person, wanted = half
    if person.locked_until is not None and person.locked_until > now():
        return render_template("code.html", refused=CODE_REFUSED), 401
    fits = take_code(services(), person.id, request.form.get("code", ""))
    note_try(person, fits, now())
    if not fits:
        return render_template("code.html", refused=CODE_REFUSED), 401
    return _logged_in(person, wanted)


def new_session_key() -> str:
    """A key that ends every session with another one."""
    return token_urlsafe()


@blueprint.post("/logout")
def leave() -> Response:
    """Log out and drop the session."""
    logout_user()
    session.clear()
    return redirect(url_for("login.page"))
