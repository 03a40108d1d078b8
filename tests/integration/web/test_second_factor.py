"""A second factor from setting it up to losing the phone."""

import re
from datetime import timedelta

import pyotp
import pytest
from page_cast import COORDINATOR, LEAD, NOW, PASSWORD, Visitor, token_in
from scripted_gateway import ScriptedGateway
from sqlalchemy import select

from reminder_service.records import tables as t
from reminder_service.records.open_tables import recovery_codes, second_factors
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.web.login import CODE_TIME, FREE_TRIES, wait_after
from reminder_service.work import second_factor
from reminder_service.work.services import Services

pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


class Phone:
    """A phone with a program for one-time codes."""

    def __init__(self, secret: str, clock) -> None:
        self._totp = pyotp.TOTP(secret)
        self._clock = clock

    @property
    def code(self) -> str:
        return self._totp.at(self._clock.now)


def set_up(visitor: Visitor, clock) -> tuple[Phone, list[str]]:
    shown = visitor.send("/second-factor", "/second-factor/begin").text
    phone = Phone(re.search(r'<code class="words">(\w{32})</code>', shown)[1], clock)
    done = visitor.send("/second-factor", "/second-factor/confirm", code=phone.code)
    assert done.headers["Cache-Control"] == "no-store"
    return phone, re.findall(r"<code>([A-Z2-7-]{19})</code>", done.text)


@pytest.fixture
def enrolled(coordinator, clock):
    """The coordinator's phone and recovery codes, a minute after setting up."""
    found = set_up(coordinator, clock)
    clock.now += timedelta(minutes=1)
    return found


@pytest.fixture
def stranger(app) -> Visitor:
    return Visitor(app.test_client())


def password(visitor: Visitor, login: str = COORDINATOR):
    return visitor.send("/login", "/login", login=login, password=PASSWORD)


def give(visitor: Visitor, code: str):
    return visitor.send("/login/code", "/login/code", code=code)


def is_in(visitor: Visitor) -> bool:
    return visitor.client.get("/").status_code == 200


def test_setting_up_shows_a_picture_and_makes_recovery_codes(coordinator, clock, cast):
    shown = coordinator.send("/second-factor", "/second-factor/begin").text
    assert "<svg" in shown and "style=" not in shown and "<script" not in shown
    _, codes = set_up_again = set_up(coordinator, clock)
    assert len(set(codes)) == second_factor.RECOVERY_CODES and set_up_again
    with cast.connect() as c:
        kept = str(
            c.execute(select(recovery_codes)).all() + c.execute(select(second_factors)).all()
        )
    assert not any(code in kept or code.replace("-", "") in kept for code in codes)


def test_a_wrong_first_code_sets_nothing_up(coordinator, stranger):
    coordinator.send("/second-factor", "/second-factor/begin")
    coordinator.send("/second-factor", "/second-factor/confirm", code="000000")
    password(stranger)
    assert is_in(stranger)


def test_setting_up_ends_other_sessions_and_keeps_this_one(visit, clock):
    other, own = visit(COORDINATOR), visit(COORDINATOR)
    set_up(own, clock)
    assert is_in(own) and not is_in(other)


def test_the_password_alone_opens_nothing(enrolled, stranger):
    answer = password(stranger)
    assert answer.request.path == "/login/code" and not is_in(stranger)
    assert stranger.client.get("/queue").location.startswith("/login")


def test_password_and_code_open_the_pages(enrolled, stranger):
    phone, _ = enrolled
    password(stranger)
    assert give(stranger, phone.code).request.path == "/" and is_in(stranger)


def test_a_code_is_taken_once(enrolled, app):
    phone, _ = enrolled
    first, second = Visitor(app.test_client()), Visitor(app.test_client())
    for visitor in (first, second):
        password(visitor)
        give(visitor, phone.code)
    assert is_in(first) and not is_in(second)


def test_a_recovery_code_is_taken_once(enrolled, app, cast):
    _, codes = enrolled
    first, second = Visitor(app.test_client()), Visitor(app.test_client())
    for visitor in (first, second):
        password(visitor)
        give(visitor, codes[0].lower().replace("-", " "))
    assert is_in(first) and not is_in(second)
    with cast.connect() as c:
        done = c.execute(select(t.audit.c.what)).scalars().all()
    assert done.count("use recovery code") == 1


def test_wrong_codes_must_wait_and_the_password_sets_no_count_back(enrolled, stranger, clock):
    phone, _ = enrolled
    for _ in range(FREE_TRIES + 1):
        password(stranger)
        assert give(stranger, "000000").status_code == 401
    assert password(stranger).status_code == 401
    clock.now += wait_after(FREE_TRIES + 1) + timedelta(seconds=1)
    password(stranger)
    assert give(stranger, phone.code).status_code == 200 and is_in(stranger)


def test_while_it_waits_even_the_right_code_is_refused(enrolled, stranger, clock):
    phone, _ = enrolled
    password(stranger)
    token = token_in(stranger.see("/login/code"))
    for _ in range(FREE_TRIES + 1):
        stranger.client.post("/login/code", data={"csrf_token": token, "code": "000000"})
    form = {"csrf_token": token, "code": phone.code}
    assert stranger.client.post("/login/code", data=form).status_code == 401
    assert not is_in(stranger)


def test_a_password_given_long_ago_counts_no_more(enrolled, stranger, clock):
    password(stranger)
    clock.now += CODE_TIME + timedelta(seconds=1)
    assert stranger.client.get("/login/code").location == "/login"


def test_ending_it_needs_a_code(enrolled, coordinator, clock, stranger):
    phone, _ = enrolled
    coordinator.send("/second-factor", "/second-factor/end", code="000000")
    assert "To log in without codes again" in coordinator.see("/second-factor")
    clock.now += timedelta(minutes=1)
    coordinator.send("/second-factor", "/second-factor/end", code=phone.code)
    password(stranger)
    assert is_in(stranger) and is_in(coordinator)


def test_where_leads_must_have_one_their_pages_wait_for_it(cast, clock):
    settings = Settings(
        secret_key="s" * 40,
        gateway="scripted",
        database_url="sqlite:///unused.sqlite3",
        second_factor="leads",
    )
    gateways = {"scripted": ScriptedGateway()}
    app = create_app(Services(cast, settings, shipped_rulebook(), clock, gateways))
    lead, coordinator = Visitor(app.test_client()), Visitor(app.test_client())
    password(lead, LEAD)
    password(coordinator)
    assert lead.client.get("/queue").location == "/second-factor" and is_in(coordinator)
    set_up(lead, clock)
    assert is_in(lead)
    assert clock.now == NOW
