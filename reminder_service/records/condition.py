"""What the database says of its own condition and of work that was left lying."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, select, text

from reminder_service.kinds import NoticeState
from reminder_service.records.tables import inbound, notices, wards


@dataclass(frozen=True, slots=True)
class Left:
    """Rows that wait for something.

    Attributes
    ----------
    count : how many
    since : aware UTC instant from which the first of them waits; None if there is none
    """

    count: int
    since: datetime | None


def faults_of_file(c: Connection) -> list[str]:
    """What SQLite's quick look finds wrong with the file, at most three; reads all of it."""
    found = c.execute(text("PRAGMA quick_check(3)")).scalars()
    return [fault for fault in found if fault != "ok"]


def keeps_checksums(c: Connection) -> bool:
    """Whether PostgreSQL notices pages that the disk spoilt."""
    kept: str = c.execute(text("SHOW data_checksums")).scalar_one()
    return kept == "on"


def connections(c: Connection) -> tuple[int, int]:
    """How many connections PostgreSQL has open, and how many it lets ordinary users open."""
    most = text(
        "SELECT current_setting('max_connections')::int"
        " - current_setting('superuser_reserved_connections')::int"
    )
    used = text("SELECT count(*) FROM pg_stat_activity WHERE backend_type = 'client backend'")
    return c.execute(used).scalar_one(), c.execute(most).scalar_one()


def database_now(c: Connection) -> datetime:
    """PostgreSQL's clock, aware; of this moment, not of the transaction's beginning."""
    at: datetime = c.execute(text("SELECT clock_timestamp()")).scalar_one()
    return at


def zones(c: Connection) -> list[str]:
    """Time zones of the wards, each once, sorted."""
    return list(c.execute(select(wards.c.zone).distinct().order_by(wards.c.zone)).scalars())


def unworked(c: Connection) -> Left:
    """Texts that came in and were not worked. Index: ix_inbound_unhandled."""
    found = select(func.count(), func.min(inbound.c.received_at))
    return Left(*c.execute(found.where(inbound.c.handled_at.is_(None))).one())


def lapsed(c: Connection, before: datetime) -> Left:
    """Notices whose worker is gone and whose lease ran out before an instant.

    Index: ix_notices_state_send_at_id for the few that are claimed.
    """
    found = select(func.count(), func.min(notices.c.lease_until))
    is_claimed = notices.c.state == NoticeState.CLAIMED.value
    return Left(*c.execute(found.where(is_claimed, notices.c.lease_until < before)).one())


def doubtful(c: Connection) -> Left:
    """Notices in doubt. Index: ix_notices_state_send_at_id."""
    found = select(func.count(), func.min(notices.c.changed_at))
    return Left(*c.execute(found.where(notices.c.state == NoticeState.IN_DOUBT.value)).one())
