"""What the tests of the pages are played by: people, plots, texts, and a browser without script."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from argon2 import PasswordHasher
from flask.testing import FlaskClient
from sqlalchemy import Engine, event, insert

from reminder_service.records import tables as t

NOW = datetime(2026, 12, 6, 9, 0, tzinfo=UTC)
PASSWORD = "stations of maize"
CHEAP_HASH = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(PASSWORD)

OLMARA, SETIWE = 1, 2
LEAD, COORDINATOR, AUDITOR = "ruva", "tembi", "odala"


class SetClock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


def a_person(id_: int, login: str, role: t.Role) -> dict:
    return {
        "id": id_,
        "login": login,
        "name": login.title(),
        "password_hash": CHEAP_HASH,
        "role": role.value,
        "session_key": f"key-{login}",
        "active": True,
    }


def a_plot(c, id_: int, ward_id: int, farmer: str = "") -> None:
    """Write a farmer with one phone, one plot and an open season, all of one id."""
    name = farmer or f"Farmer {id_:03}"
    known = {"id": id_, "ward_id": ward_id}
    c.execute(insert(t.farmers).values(**known, name=name, language="en", created_at=NOW))
    c.execute(insert(t.phones).values(id=id_, number=f"+447700900{id_:03}"))
    c.execute(insert(t.farmer_phones).values(farmer_id=id_, phone_id=id_))
    c.execute(
        insert(t.plots).values(
            **known, farmer_id=id_, number=f"P{id_:03}", stations=220, stations_per_ha=22_222
        )
    )
    c.execute(
        insert(t.seasons).values(
            id=id_,
            plot_id=id_,
            label="2026/27",
            starts_on=date(2026, 10, 1),
            rulebook="maize-hand-hoe 1",
            choices={"top-dressing": "mineral"},
        )
    )


def a_task(c, season_id: int, name: str, opens: date, number: int = 1, **fields) -> None:
    known = {
        "basis": "reported",
        "estimated": [],
        "because": "14 days after germination on 21 November",
        "importance": 2,
    }
    c.execute(
        insert(t.tasks).values(
            season_id=season_id,
            name=name,
            number=number,
            opens_on=opens,
            due_on=opens + timedelta(days=3),
            closes_on=opens + timedelta(days=7),
            **(known | fields),
        )
    )


def a_notice(c, id_: int, season_id: int, ward_id: int, state: str = "planned", **fields) -> None:
    at = fields.pop("send_at", NOW + timedelta(hours=id_))
    known = {
        "key": f"{season_id}/thin/1/{id_}",
        "phone_id": season_id,
        "farmer_id": season_id,
        "task": "thin",
        "number": 1,
        "stage": "opens",
        "opens_on": date(2026, 12, 5),
        "due_on": date(2026, 12, 8),
        "closes_on": date(2026, 12, 12),
        "body": f"Thin your plot to two plants a station. Text number {id_}.",
        "segments": 1,
        "importance": 2,
        "day": at.date(),
        "send_at": at,
        "expires_at": at + timedelta(days=3),
        "created_at": NOW,
        "changed_at": NOW,
    }
    c.execute(
        insert(t.notices).values(
            id=id_, season_id=season_id, ward_id=ward_id, state=state, **(known | fields)
        )
    )


def an_inbound(c, id_: int, phone_id: int, body: bytes, **fields) -> None:
    known = {"sender": f"+447700900{phone_id:03}", "sent_at": NOW, "received_at": NOW}
    c.execute(
        insert(t.inbound).values(
            id=id_,
            gateway="console",
            message_id=str(id_),
            body=body,
            phone_id=phone_id,
            handled_at=NOW,
            **(known | fields),
        )
    )
    if (fields.get("read_as") or {}).get("unread"):
        c.execute(insert(t.waiting_texts).values(inbound_id=id_, why="unread"))


def token_in(page: str) -> str:
    """CSRF token of the first form on a page."""
    found = re.search(r'name="csrf_token" value="([^"]+)"', page)
    assert found is not None, "the page holds no form"
    return found[1]


@dataclass
class Visitor:
    """A browser without script: follows links, fills in forms with their tokens."""

    client: FlaskClient

    def see(self, path: str) -> str:
        answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        return answer.text

    def send(self, page: str, path: str, **form):
        """Send a form found on ``page`` to ``path``."""
        token = token_in(self.see(page))
        return self.client.post(path, data={"csrf_token": token, **form}, follow_redirects=True)


@contextmanager
def statements(engine: Engine) -> Iterator[list[tuple[str, object]]]:
    """Every statement that goes to the database meanwhile, with its values."""
    seen: list[tuple[str, object]] = []

    def note(conn, cursor, statement, parameters, *rest) -> None:
        if not statement.startswith("BEGIN"):
            seen.append((statement, parameters))

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(engine, "before_cursor_execute", note)
