"""False starts in the records, and the migration that lets reports be of the new kinds."""

from datetime import UTC, date, datetime

import pytest
from alembic import command
from sqlalchemy import insert, select, text
from sqlalchemy.exc import IntegrityError

from reminder_service.kinds import Kind
from reminder_service.records import engine as databases
from reminder_service.records import false_starts
from reminder_service.records import tables as t
from reminder_service.records.engine import make_engine, reading, upgrade, writing
from reminder_service.records.rain_tables import rain_observations

AT = datetime(2026, 11, 21, 6, 0, tzinfo=UTC)
SEASON = date(2026, 10, 1)
RUN = (date(2026, 11, 10), date(2026, 11, 12), date(2026, 11, 20))


def a_report(c, id_: int, kind: str, replaces_id: int | None = None) -> None:
    c.execute(
        insert(t.reports).values(
            id=id_, season_id=1, kind=kind, on=SEASON, sent_at=AT, replaces_id=replaces_id
        )
    )


def a_season(c) -> None:
    c.execute(insert(t.wards).values(id=1, name="Olmara", zone="Africa/Lusaka"))
    c.execute(insert(t.farmers).values(id=1, ward_id=1, name="Amina", language="en", created_at=AT))
    c.execute(
        insert(t.plots).values(
            id=1, farmer_id=1, ward_id=1, number="1", stations=220, stations_per_ha=22_222
        )
    )
    c.execute(
        insert(t.seasons).values(
            id=1, plot_id=1, label="2026/27", starts_on=SEASON, rulebook="r 1", choices={}
        )
    )


@pytest.fixture
def before(database_url):
    """A database of the release before, with reports that others point to."""
    engine = make_engine(database_url)
    with writing(engine) as c:
        config = databases._alembic_config()
        config.attributes["connection"] = c
        command.upgrade(config, "0007")
    with writing(engine) as c:
        a_season(c)
        a_report(c, 1, "rain")
        a_report(c, 2, "rain", replaces_id=1)
        c.execute(
            insert(rain_observations).values(
                ward_id=1, plot_id=1, day=SEASON, mm=3.0, trace=False, observer="farmer",
                by="phone 1", kept_at=AT, report_id=2,
            )
        )  # fmt: skip
    yield engine
    engine.dispose()


def test_the_migration_keeps_every_row_and_lets_the_new_kinds_in(before):
    upgrade(before)
    with writing(before) as c:
        for id_, kind in enumerate((Kind.REPLANTED, Kind.SURVIVED, Kind.LOST), 3):
            a_report(c, id_, kind.value)
    with reading(before) as c:
        kept = c.execute(select(t.reports.c.id, t.reports.c.replaces_id).order_by(t.reports.c.id))
        assert [tuple(row) for row in kept] == [(1, None), (2, 1), (3, None), (4, None), (5, None)]
        assert c.execute(select(rain_observations.c.report_id)).scalars().all() == [2]
        if before.dialect.name == "sqlite":
            assert c.execute(text("PRAGMA integrity_check")).scalar_one() == "ok"
            assert c.execute(text("PRAGMA foreign_key_check")).all() == []


def test_the_migrated_check_still_refuses_other_kinds(before):
    upgrade(before)
    with pytest.raises(IntegrityError), writing(before) as c:
        a_report(c, 9, "sold")


@pytest.fixture
def ward(engine):
    with writing(engine) as c:
        a_season(c)
    return engine


def noted(engine, *runs: tuple[date, date, date]) -> bool:
    with writing(engine) as c:
        return false_starts.note_starts(c, 1, SEASON, runs, AT)


def known(engine) -> list[tuple[int, date, date]]:
    with reading(engine) as c:
        return [(each.id, each.on, each.dry_until) for each in false_starts.starts_of(c, 1, SEASON)]


def test_a_run_that_grows_is_the_same_false_start(ward):
    assert noted(ward, RUN)
    assert noted(ward, (*RUN[:2], date(2026, 11, 25)))
    assert known(ward) == [(1, RUN[0], date(2026, 11, 25))]


def test_noting_the_same_changes_nothing(ward):
    noted(ward, RUN)
    assert not noted(ward, RUN)


def test_one_that_is_denied_comes_back_under_its_own_id(ward):
    noted(ward, RUN)
    assert noted(ward) and known(ward) == []
    with reading(ward) as c:
        assert [each.id for each in false_starts.starts_ever(c, 1, SEASON)] == [1]
    assert noted(ward, (date(2026, 11, 11), *RUN[1:]))
    assert known(ward) == [(1, date(2026, 11, 11), RUN[2])]


def test_another_run_is_another_false_start(ward):
    second = (date(2026, 11, 25), date(2026, 11, 27), date(2026, 12, 5))
    noted(ward, RUN)
    assert noted(ward, RUN, second)
    assert [id_ for id_, *_ in known(ward)] == [1, 2]
