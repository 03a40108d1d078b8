"""Bodies older than the programme keeps them are emptied; rows and counts stay."""

from datetime import timedelta

import pytest
from season_cast import a_programme, local
from sqlalchemy import text, update

from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.work import retention
from reminder_service.work.retention import keep_retention
from reminder_service.work.ticks import tick


def played(engine, **settings):
    """A season's beginning, with texts and notices in and out."""
    programme = a_programme(engine, local("2026-11-12"), **settings)
    programme.plot("1")
    programme.text("RAIN 12 NOV")
    programme.at("2026-11-22").text("GERM 21/11")
    return programme.at("2026-12-20", "17:00")


def bodies(programme, table: str) -> list:
    rows = sorted(programme.rows(table), key=lambda row: row["id"])
    return [row["body"] for row in rows]


def later(programme, days: int):
    programme.clock.now += timedelta(days=days)
    return programme


class TestTexts:
    def test_old_ones_are_emptied_and_young_ones_stay(self, engine):
        programme = later(played(engine, keep_inbound_days=60, keep_notice_days=0), 28)
        assert keep_retention(programme.services) == (1, 0)
        assert bodies(programme, "inbound") == [b"", b"GERM 21/11"]
        assert [row["read_as"] for row in programme.rows("inbound", body=b"")] == [None]

    def test_reports_made_of_them_stay(self, engine):
        programme = played(engine, keep_inbound_days=60)
        before = programme.rows("reports")
        keep_retention(later(programme, 400).services)
        assert programme.rows("reports") == before != []

    def test_one_that_was_not_worked_yet_stays(self, engine):
        programme = played(engine, keep_inbound_days=60)
        with writing(engine) as c:
            c.execute(update(t.inbound).where(t.inbound.c.id == 1).values(handled_at=None))
        keep_retention(later(programme, 400).services)
        assert bodies(programme, "inbound") == [b"RAIN 12 NOV", b""]


class TestNotices:
    def test_those_that_are_done_are_emptied(self, engine):
        programme = played(engine, keep_notice_days=60)
        done = [row for row in programme.rows() if row["state"] in ("handed over", "delivered")]
        assert done
        texts, notices = keep_retention(later(programme, 900).services)

        kept = {row["id"]: row["body"] for row in programme.rows()}
        assert all(kept[row["id"]] == "" for row in done)
        assert notices >= len(done) and texts == 2

    def test_those_still_to_go_out_keep_their_words(self, engine):
        programme = played(engine, keep_notice_days=1)
        with writing(engine) as c:
            old = programme.clock() - timedelta(days=300)
            c.execute(
                update(t.notices)
                .where(t.notices.c.state == "planned")
                .values(state="held", send_at=old)
            )
        keep_retention(programme.services)
        held = programme.rows(state="held")
        assert held and all(row["body"] for row in held)


def test_zero_days_keep_all_for_ever(engine):
    programme = later(played(engine, keep_inbound_days=0, keep_notice_days=0), 30_000)
    assert keep_retention(programme.services) == (0, 0)


def test_two_years_are_kept_unless_said_otherwise(engine):
    programme = played(engine)
    assert keep_retention(later(programme, 680).services) == (0, 0)
    texts, _ = keep_retention(later(programme, 60).services)
    assert texts == 2


def test_many_go_batch_by_batch(engine, monkeypatch):
    monkeypatch.setattr(retention, "BATCH", 1)
    programme = later(played(engine, keep_inbound_days=60), 400)
    assert keep_retention(programme.services)[0] == 2


def test_the_tick_does_it(engine):
    programme = later(played(engine, keep_inbound_days=60), 400)
    tick(programme.services, "retention")
    assert bodies(programme, "inbound") == [b"", b""]
    assert programme.rows("ticks", name="retention")[0]["error"] is None


@pytest.mark.parametrize("table", ["inbound", "notices"])
def test_the_oldest_full_row_is_found_by_its_index(engine, table):
    programme = played(engine)
    column = {"inbound": "received_at", "notices": "send_at"}[table]
    asked = f"SELECT id FROM {table} WHERE length(body) > 0 AND {column} < '2030-01-01' ORDER BY {column} LIMIT 10"  # noqa: E501
    with programme.services.engine.connect() as c:
        if engine.dialect.name == "postgresql":
            c.execute(text("SET enable_seqscan = off"))
            c.execute(text("SET enable_sort = off"))
            plan = c.execute(text(f"EXPLAIN {asked}")).scalars().all()
        else:
            plan = [row[3] for row in c.execute(text(f"EXPLAIN QUERY PLAN {asked}"))]
    assert f"ix_{table}_full" in " ".join(plan)
