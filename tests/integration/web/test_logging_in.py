"""Logging in and out, waits after wrong passwords, and how sessions end."""

from datetime import timedelta

import pytest
from freezegun import freeze_time
from page_cast import COORDINATOR, NOW, PASSWORD, Visitor, token_in
from sqlalchemy import select, update

from reminder_service.records import tables
from reminder_service.web.login import FREE_TRIES, REFUSED, wait_after

# Nothing here depends on the engine: one is enough, and fast.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


@pytest.fixture
def stranger(app) -> Visitor:
    return Visitor(app.test_client())


def try_login(visitor: Visitor, password: str, login: str = COORDINATOR, **form):
    return visitor.send("/login", "/login", login=login, password=password, **form)


def change_person(engine, **values) -> None:
    with engine.begin() as c:
        c.execute(update(tables.people).where(tables.people.c.id == 2).values(**values))


@pytest.mark.parametrize(
    ("login", "password"),
    [
        pytest.param("nobody", PASSWORD, id="unknown login"),
        pytest.param(COORDINATOR, "wrong", id="wrong password"),
        pytest.param("", "", id="nothing"),
        pytest.param(COORDINATOR, "\x00", id="a control letter"),
        pytest.param("' OR 1=1 --", PASSWORD, id="a piece of SQL"),
    ],
)
def test_whatever_does_not_fit_gets_one_and_the_same_answer(stranger, login, password):
    answer = try_login(stranger, password, login)
    assert answer.status_code == 401
    assert REFUSED in answer.text
    assert "Olmara" not in answer.text


def test_waits_rise_with_wrong_passwords(stranger, cast, clock):
    for _ in range(FREE_TRIES + 1):
        assert try_login(stranger, "wrong").status_code == 401
    assert try_login(stranger, PASSWORD).status_code == 401  # right, but it must wait
    clock.now = NOW + wait_after(FREE_TRIES + 1) + timedelta(seconds=1)
    assert try_login(stranger, PASSWORD).status_code == 200
    with cast.connect() as c:
        row = c.execute(select(tables.people).where(tables.people.c.id == 2)).one()
    assert (row.failed_logins, row.locked_until) == (0, None)


def test_a_person_put_out_of_use_cannot_log_in(stranger, cast):
    change_person(cast, active=False)
    assert try_login(stranger, PASSWORD).status_code == 401


def test_a_damaged_hash_lets_nobody_in(stranger, cast):
    change_person(cast, password_hash="plain text")
    assert try_login(stranger, PASSWORD).status_code == 401


@pytest.mark.parametrize(
    "change", [{"session_key": "another"}, {"active": False}], ids=["new key", "out of use"]
)
def test_changing_a_person_ends_their_sessions(coordinator, cast, change):
    change_person(cast, **change)
    answer = coordinator.client.get("/")
    assert answer.status_code == 302 and answer.location.startswith("/login")


def test_a_session_unused_for_twelve_hours_is_over(app, visit):
    with freeze_time(NOW) as frozen:
        visitor = visit(COORDINATOR)
        frozen.tick(timedelta(hours=11))
        assert visitor.client.get("/").status_code == 200
        frozen.tick(timedelta(hours=11))  # the visit in between counts
        assert visitor.client.get("/").status_code == 200
        frozen.tick(timedelta(hours=12, minutes=1))
        assert visitor.client.get("/").status_code == 302


def test_login_drops_what_stood_in_the_session_before(app):
    client = app.test_client()
    with client.session_transaction() as before:
        before["planted"] = "by somebody else"
    assert try_login(Visitor(client), PASSWORD).status_code == 200
    with client.session_transaction() as after:
        assert "planted" not in after


def test_logging_out_ends_the_session(coordinator):
    coordinator.send("/", "/logout")
    assert coordinator.client.get("/").status_code == 302


@pytest.mark.parametrize(
    ("wanted", "goes_to"),
    [
        pytest.param("/queue?state=held", "/queue?state=held", id="a page of ours"),
        pytest.param("https://elsewhere.example/", "/", id="another site"),
        pytest.param("//elsewhere.example/", "/", id="another site without scheme"),
        pytest.param("/\\elsewhere.example", "/", id="another site by backslash"),
        pytest.param("/\t/elsewhere.example", "/", id="another site by tab"),
        pytest.param("", "/", id="nothing"),
    ],
)
def test_login_leads_back_to_our_own_pages_only(app, wanted, goes_to):
    client = app.test_client()
    form = {"csrf_token": token_in(client.get("/login").text), "next": wanted}
    answer = client.post("/login", data=form | {"login": COORDINATOR, "password": PASSWORD})
    assert answer.location == goes_to


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(app):
    cookie = app.test_client().get("/login").headers["Set-Cookie"]
    assert "HttpOnly" in cookie and "SameSite=Lax" in cookie


def test_secure_cookies_follow_the_setting(app):
    app.config["SESSION_COOKIE_SECURE"] = True
    answer = app.test_client().get("/login", base_url="https://localhost")
    assert "Secure" in answer.headers["Set-Cookie"]
    assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"
