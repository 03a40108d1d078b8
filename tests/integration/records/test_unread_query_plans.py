"""Reading the texts that wait walks an index, however many texts have come."""

from datetime import timedelta

import pytest
from records_cast import NOW, a_person, a_season, new_notice, statements
from sqlalchemy import insert

from reminder_service.records import farmers, plans, unread
from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.records.types import Settlement, Waits
from reminder_service.records.unread import PhoneUser

USER = PhoneUser(1, 1, "Farmer 1", "en", 1, "Olmara", "Africa/Lusaka")

HOT = {
    "a page": (lambda c: unread.waiting_page(c, {1}, 1_990, 20), "ix_waiting_texts_open"),
    "a page of all wards": (
        lambda c: unread.waiting_page(c, None, None, 20),
        "ix_waiting_texts_open",
    ),
    "settled lately": (
        lambda c: unread.settled_texts(c, {1}, NOW, 10),
        "ix_waiting_texts_settled_at",
    ),
    "asked back": (lambda c: unread.asked_back_of(c, 1, 1_990, NOW), "ix_inbound_phone_id_id"),
    "reports of texts": (lambda c: unread.reports_of_texts(c, [1, 2]), "ix_reports_inbound_id"),
    "reports after": (lambda c: unread.reports_after(c, [1], 10), "ix_inbound_phone_id_id"),
    "users": (lambda c: unread.users_of_phones(c, [1, 2]), "ix_farmer_phones_phone_id"),
    "plots": (lambda c: unread.plots_of_users(c, [USER], {1}), "ix_plots_farmer_id"),
    "told since": (lambda c: unread.told_since(c, 1, NOW), "ix_notices_inbound_id"),
    "settle": (
        lambda c: unread.settle_text(c, 2_000, Settlement.ANSWERED, None, NOW),
        "ix_waiting_texts_open",
    ),
    "reopen": (lambda c: unread.reopen_text_of(c, 1), "pk_reports"),
}

BY_KEY = {"settle", "reopen"}
"""Statements on one row, which SQLite finds by the table's own number."""

SQLITE_KEYS = "INTEGER PRIMARY KEY"
"""What SQLite calls that."""


@pytest.fixture
def full(engine):
    """Two thousand texts, of which a few hundred waited and the last ten still do."""
    with writing(engine) as c:
        seasons = [farmers.season(c, a_season(c, number)) for number in range(1, 41)]
        person_id = a_person(c)
        text = {"gateway": "console", "sender": "", "body": b"x", "received_at": NOW}
        texts = [
            text
            | {
                "message_id": str(n),
                "phone_id": n % 40 + 1,
                "sent_at": NOW - timedelta(minutes=2_000 - n),
            }
            for n in range(1, 2_001)
        ]
        c.execute(insert(t.inbound), texts)
        for n in range(1_500, 2_001):
            unread.keep_waiting(c, n, Waits.ASKED_BACK if n % 2 else Waits.UNREAD)
            if n <= 1_990:
                unread.settle_text(
                    c, n, Settlement.SET_ASIDE, person_id, NOW - timedelta(minutes=2_000 - n)
                )
        reported = {"kind": "planted", "on": NOW.date(), "sent_at": NOW}
        notices = [new_notice(seasons[n % 40], f"reply/{n}", inbound_id=n) for n in range(1, 2_001)]
        plans.insert_notices(c, notices, NOW)
        made = [reported | {"inbound_id": n, "season_id": n % 40 + 1} for n in range(1, 2_000)]
        c.execute(insert(t.reports), made)
    with writing(engine) as c:
        c.exec_driver_sql("ANALYZE")
        yield c


def explained(c, said: str, values) -> str:
    if c.dialect.name == "sqlite":
        return "\n".join(
            step.detail for step in c.exec_driver_sql(f"EXPLAIN QUERY PLAN {said}", values)
        )
    # Few rows fit into one page, which is read faster than any index: take that way away.
    c.exec_driver_sql("SET LOCAL enable_seqscan = off")
    return "\n".join(c.exec_driver_sql(f"EXPLAIN {said}", values).scalars())


def test_each_statement_relies_on_the_index_it_names(engine, full):
    missed = {}
    for name, (act, index) in HOT.items():
        with statements(engine) as seen:
            act(full)
        plan = "\n".join(explained(full, said, values) for said, values in list(seen))
        by_key = engine.dialect.name == "sqlite" and SQLITE_KEYS in plan
        if (index not in plan and not (by_key and name in BY_KEY)) or reads_through(plan):
            missed[name] = plan
    assert missed == {}


def reads_through(plan: str) -> bool:
    """Whether one of the tables that grow is read from end to end."""
    steps = {step.strip() for step in plan.splitlines()}
    scanned = {f"SCAN {table}" for table in ("inbound", "reports", "waiting_texts", "notices")}
    return bool(steps & scanned) or "Seq Scan on" in plan
