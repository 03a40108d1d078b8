"""Other programs are told of events: by a real server on loopback that checks every signature."""

from datetime import UTC, date, datetime, timedelta

import pytest
from flask import Flask
from http_carrier import HttpCarrier, Reply
from page_cast import NOW, OLMARA, SETIWE
from scripted_gateway import ScriptedGateway
from sqlalchemy import select
from standardwebhooks.webhooks import Webhook

from reminder_service.kinds import Kind, SeasonId
from reminder_service.records import people
from reminder_service.records.engine import reading, writing
from reminder_service.records.hooks import EVENTS, NOTICE_ENDED, REPORT_KEPT, take_call
from reminder_service.records.open_tables import hook_calls, hooks
from reminder_service.records.queue_sweep import expire
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.work import by_hand
from reminder_service.work import hooks as work
from reminder_service.work.services import Services

TAKES = [Reply()] * 40
"""A program that takes whatever it is told."""


@pytest.fixture
def services(cast, clock) -> Services:
    settings = Settings(
        secret_key="s" * 40,
        gateway="scripted",
        database_url="sqlite:///unused.sqlite3",
        hooks_to_private=True,
    )
    return Services(cast, settings, shipped_rulebook(), clock, {"scripted": ScriptedGateway()})


@pytest.fixture
def app(services) -> Flask:
    return create_app(services)


@pytest.fixture
def who(services):
    with reading(services.engine) as c:
        return people.person_by_id(c, 1)


def report(services, who):
    outcome = by_hand.report(services, SeasonId(1), who, Kind.PLANTED, date(2026, 11, 14))
    assert outcome.accepted, outcome.sentence


def rows(services):
    with reading(services.engine) as c:
        return c.execute(select(hook_calls).order_by(hook_calls.c.id)).all()


def told(services, who, program, events=EVENTS, ward_ids=None) -> str:
    url = f"http://127.0.0.1:{program.port}/told"
    return work.make_hook(services, who, url=url, events=events, ward_ids=ward_ids)


def test_the_published_vector_is_signed_alike():
    # The example of the scheme's own libraries: standard-webhooks, libraries/python tests.
    at = datetime.fromtimestamp(1614265330, UTC)
    secret, body = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", b'{"test": 2432232314}'
    made = work.signature(secret, "msg_p5jXN8AQM9LWM0D4loKWxJek", at, body)
    assert made == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_a_report_is_told_with_a_signature_that_others_accept(services, who, monkeypatch):
    with HttpCarrier(Reply(200)) as program:
        secret = told(services, who, program)
        report(services, who)
        assert work.tell_hooks(services) >= 1
        call = next(r for r in program.received if b"report.kept" in r.body)
    monkeypatch.setattr("standardwebhooks.webhooks.datetime", _Frozen)
    said = Webhook(secret).verify(call.body, {k.lower(): v for k, v in call.headers.items()})
    assert said["type"] == REPORT_KEPT and said["data"]["kind"] == "planted"
    assert b"Farmer" not in call.body and b"4477" not in call.body


class _Frozen:
    """The verifier's clock, at the service's time."""

    @staticmethod
    def now(tz=None):
        return NOW.astimezone(tz)

    @staticmethod
    def fromtimestamp(at, tz=None):
        return datetime.fromtimestamp(at, tz)


def test_what_is_rolled_back_is_not_told(services, who):
    with HttpCarrier(*TAKES) as program:
        told(services, who, program)
        before = NOW.date() - timedelta(days=400)
        assert not by_hand.report(services, SeasonId(1), who, Kind.PLANTED, before).accepted
        assert rows(services) == []


def test_another_wards_events_are_not_told(services, who):
    with HttpCarrier(*TAKES) as program:
        told(services, who, program, ward_ids=[SETIWE])
        report(services, who)
        assert rows(services) == []


def test_a_notice_that_expires_is_told_once(services, who, clock):
    with HttpCarrier(*TAKES) as program:
        told(services, who, program, events=[NOTICE_ENDED], ward_ids=[OLMARA])
        clock.now = NOW + timedelta(days=30)
        for _ in range(2):
            with writing(services.engine) as c:
                expire(c, clock.now)
        assert {row.about for row in rows(services)} == {"notice 1 expired", "notice 2 expired"}
        assert work.tell_hooks(services) == 2


def test_a_call_that_fails_is_repeated_under_the_same_id(services, who, clock):
    with HttpCarrier(Reply(500), Reply(200)) as program:
        told(services, who, program, events=[REPORT_KEPT])
        report(services, who)
        assert work.tell_hooks(services) == 0
        assert work.tell_hooks(services) == 0  # its wait is not over
        clock.now += timedelta(seconds=work.WAITS_S[0])
        assert work.tell_hooks(services) == 1
        ids = {r.headers["webhook-id"] for r in program.received}
        assert len(program.received) == 2 and len(ids) == 1


def test_after_a_day_a_call_is_given_up_and_the_page_says_so(services, who, clock, lead):
    with HttpCarrier(*[Reply(500)] * 20) as program:
        told(services, who, program, events=[REPORT_KEPT])
        report(services, who)
        for wait in (*work.WAITS_S, 0):
            work.tell_hooks(services)
            clock.now += timedelta(seconds=wait)
        tried = len(program.received)
    assert tried == len(work.WAITS_S) + 1
    assert timedelta(hours=20) < clock.now - NOW < timedelta(hours=28)
    assert [row.state for row in rows(services)] == ["given up"]
    assert "1 call given up" in lead.see("/programs")


def test_410_ends_it(services, who):
    with HttpCarrier(Reply(410)) as program:
        told(services, who, program, events=[REPORT_KEPT])
        report(services, who)
        work.tell_hooks(services)
    with reading(services.engine) as c:
        hook = c.execute(select(hooks)).one()
    assert "410" in hook.ended_because
    assert [row.state for row in rows(services)] == ["given up"]


def test_a_redirect_is_not_followed(services, who):
    with HttpCarrier(Reply(302, headers={"Location": "/elsewhere"})) as program:
        told(services, who, program, events=[REPORT_KEPT])
        report(services, who)
        assert work.tell_hooks(services) == 0
        assert [r.target for r in program.received] == ["/told"]


@pytest.mark.parametrize(
    "url",
    [
        "https://127.0.0.1:9/x",
        "https://localhost:9/x",
        "https://[::ffff:127.0.0.1]:9/x",
        "https://2130706433:9/x",
        "https://169.254.169.254/x",
    ],
)
def test_private_addresses_are_never_reached_unless_allowed(cast, clock, who, url):
    settings = Settings(secret_key="s" * 40, database_url="sqlite:///unused.sqlite3")
    services = Services(cast, settings, shipped_rulebook(), clock, {})
    work.make_hook(services, who, url=url, events=[REPORT_KEPT], ward_ids=None)
    report(services, who)
    assert work.tell_hooks(services) == 0
    assert "no connection" in rows(services)[0].last_answer


@pytest.mark.parametrize(
    "url", ["http://127.0.0.1/x", "file:///etc/passwd", "https://", "https://a:b@c.example/", "x"]
)
def test_addresses_that_are_none_are_refused(cast, clock, who, url):
    settings = Settings(secret_key="s" * 40, database_url="sqlite:///unused.sqlite3")
    services = Services(cast, settings, shipped_rulebook(), clock, {})
    with pytest.raises(work.BadAddress, match=r"allowed is https|cannot be read"):
        work.checked_address(services, url)


def test_two_workers_never_make_the_same_call(services, who):
    with HttpCarrier(*TAKES) as program:
        told(services, who, program, events=[REPORT_KEPT])
        report(services, who)
        with writing(services.engine) as c:
            hook_id = c.execute(select(hooks.c.id)).scalar_one()
            assert take_call(c, hook_id, NOW, work.LEASE) is not None
            assert take_call(c, hook_id, NOW, work.LEASE) is None
        assert work.tell_hooks(services) == 0
