"""What the tests of the records are played by: one ward, farmers, seasons, notices."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta

from sqlalchemy import Engine, event, select

from reminder_service.kinds import NoticeState, PhoneNumber, Stage
from reminder_service.records import farmers, people, plans
from reminder_service.records import tables as t
from reminder_service.records.plans import NewNotice
from reminder_service.records.tables import Role

NOW = datetime(2026, 12, 6, 9, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
LEASE = timedelta(minutes=2)


def phone_number(last: int) -> PhoneNumber:
    return PhoneNumber(f"+447700900{last:03}")


def a_season(c, number: int = 1, phones: tuple[int, ...] | None = None, **plot):
    """Season on a plot of its own, of a farmer of its own, in the ward Olmara."""
    known = {ward.name: ward.id for ward in farmers.wards(c)}
    ward_id = known.get("Olmara") or farmers.add_ward(c, "Olmara", "Africa/Lusaka")
    farmer_id = farmers.add_farmer(
        c,
        ward_id=ward_id,
        name=f"Farmer {number}",
        language="en",
        numbers=[phone_number(last) for last in phones or (number,)],
        at=NOW,
    )
    plot_id = farmers.add_plot(
        c,
        farmer_id=farmer_id,
        ward_id=ward_id,
        number=f"P{number}",
        stations=220,
        stations_per_ha=22_222,
        **plot,
    )
    return another_season(c, plot_id)


def another_season(c, plot_id: int, label: str = "2026/27", starts_on: date = date(2026, 10, 1)):
    return farmers.open_season(
        c,
        plot_id=plot_id,
        label=label,
        starts_on=starts_on,
        rulebook="maize-hand-hoe 1",
        choices={"top-dressing": "mineral"},
    )


def new_notice(season, key: str = "thin/1/opens", **fields) -> NewNotice:
    """A reminder to thin, due an hour ago and good for two days."""
    known = {
        "key": f"{season.season_id}/{key}",
        "phone_id": season.phones[0].id,
        "farmer_id": season.farmer_id,
        "ward_id": season.ward_id,
        "season_id": season.season_id,
        "inbound_id": None,
        "task": "thin",
        "number": 1,
        "stage": Stage.OPENS,
        "opens_on": date(2026, 12, 5),
        "due_on": date(2026, 12, 8),
        "closes_on": date(2026, 12, 12),
        "body": "Thin your plot to two plants a station.",
        "segments": 1,
        "importance": 2,
        "day": date(2026, 12, 6),
        "send_at": NOW - HOUR,
        "expires_at": NOW + 48 * HOUR,
    }
    return NewNotice(**known | fields)


def queued(c, season, *keys: str, **fields) -> list[int]:
    """Ids of notices put in the queue, in the order of their keys."""
    plans.insert_notices(c, [new_notice(season, key, **fields) for key in keys], NOW)
    rows = {row.key: row.id for row in plans.notices_of_season(c, season.season_id)}
    return [rows[f"{season.season_id}/{key}"] for key in keys]


def a_person(c, login: str = "tembi") -> int:
    return people.add_person(
        c,
        login=login,
        name=login.title(),
        password_hash="$argon2id$none",
        role=Role.COORDINATOR,
        ward_ids=[],
    )


def row_of(c, notice_id: int):
    """One row of the queue as it stands."""
    return c.execute(select(t.notices).where(t.notices.c.id == notice_id)).one()


def states(c, ids) -> list[NoticeState]:
    return [NoticeState(row_of(c, id_).state) for id_ in ids]


@contextmanager
def statements(engine: Engine) -> Iterator[list[tuple[str, object]]]:
    """Every statement that goes to the database meanwhile, with its values."""
    seen: list[tuple[str, object]] = []

    def note(conn, cursor, statement, parameters, *rest) -> None:
        seen.append((statement, parameters))

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(engine, "before_cursor_execute", note)
