"""False starts of a ward's rains, and the farmers who were asked whether their stand survived."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, insert, select, update

from reminder_service.kinds import NoticeState, SeasonId, Stage
from reminder_service.records import tables as t
from reminder_service.records.rain_tables import false_starts as f
from reminder_service.records.views import season_is_open
from reminder_service.rules.false_starts import QUESTION_ABOUT, DryStart


@dataclass(frozen=True, slots=True)
class Asked:
    """One plot that was asked whether its stand survived, or is about to be.

    Attributes
    ----------
    start_id : the false start that it was asked about
    state : of the question
    sent_at : aware UTC instant it went out; None if it has not
    """

    season_id: SeasonId
    plot_number: str
    farmer_name: str
    start_id: int
    state: NoticeState
    sent_at: datetime | None


def starts_of(c: Connection, ward_id: int, season_starts_on: date) -> list[DryStart]:
    """False starts that the rain book has now, by id.

    Index: ix_false_starts_ward_id_season_starts_on.
    """
    return [_start(row) for row in _rows(c, ward_id, season_starts_on) if row.gone_at is None]


def starts_ever(c: Connection, ward_id: int, season_starts_on: date) -> list[DryStart]:
    """All false starts, with those that later observations denied, by id.

    Index: ix_false_starts_ward_id_season_starts_on.
    """
    return [_start(row) for row in _rows(c, ward_id, season_starts_on)]


def note_starts(
    c: Connection,
    ward_id: int,
    season_starts_on: date,
    found: Sequence[tuple[date, date, date]],
    at: datetime,
) -> bool:
    """Let the records say what the rain book says now.

    One that overlaps a known one, from its rain to the end of its dry run, is that one, so that
    nobody is asked twice. Index: ix_false_starts_ward_id_season_starts_on.

    Parameters
    ----------
    c : connection of a write transaction
    ward_id, season_starts_on : which ward and season
    found : rain day, first and last dry day of each false start, earliest first
    at : aware UTC instant

    Returns
    -------
    whether anything changed
    """
    c.execute(select(t.wards.c.id).where(t.wards.c.id == ward_id).with_for_update())
    left = _rows(c, ward_id, season_starts_on)
    changed = False
    for on, dry_from, dry_until in found:
        same = next((row for row in left if row.on <= dry_until and on <= row.dry_until), None)
        days = {"on": on, "dry_from": dry_from, "dry_until": dry_until}
        if same is None:
            whose = {"ward_id": ward_id, "season_starts_on": season_starts_on, "noticed_at": at}
            c.execute(insert(f).values(**days, **whose))
            changed = True
            continue
        left.remove(same)
        if same.gone_at is not None or (same.on, same.dry_from, same.dry_until) != (
            *days.values(),
        ):
            c.execute(update(f).where(f.c.id == same.id).values(**days, gone_at=None))
            changed = True
    denied = [row.id for row in left if row.gone_at is None]
    if denied:
        c.execute(update(f).where(f.c.id.in_(denied)).values(gone_at=at))
    return changed or bool(denied)


def asked_in_ward(c: Connection, ward_id: int, since: datetime) -> list[Asked]:
    """Open plots of a ward whose farmer was asked, or is about to be, by plot number.

    Index: ix_notices_ward_id_send_at_id from an instant on, then primary keys.

    Parameters
    ----------
    c : connection
    ward_id : which ward
    since : aware UTC instant; earlier questions are left out
    """
    return _asked(c, t.notices.c.ward_id == ward_id, t.notices.c.send_at >= since)


def asked_on_phone(c: Connection, phone_id: int, since: datetime) -> list[Asked]:
    """Open plots that a phone was asked about, by plot number.

    Index: ix_notices_phone_id_send_at_id from an instant on, then primary keys.

    Parameters
    ----------
    c : connection
    phone_id : which phone
    since : aware UTC instant; earlier questions are left out
    """
    sent = t.notices.c.sent_at.is_not(None)
    return _asked(c, t.notices.c.phone_id == phone_id, t.notices.c.send_at >= since, sent)


def _asked(c: Connection, *conditions: ColumnElement[bool]) -> list[Asked]:
    rows = c.execute(
        select(
            t.seasons.c.id,
            t.plots.c.number,
            t.farmers.c.name,
            t.notices.c.number,
            t.notices.c.state,
            t.notices.c.sent_at,
        )
        .select_from(
            t.notices.join(t.seasons, t.notices.c.season_id == t.seasons.c.id)
            .join(t.plots, t.seasons.c.plot_id == t.plots.c.id)
            .join(t.farmers, t.plots.c.farmer_id == t.farmers.c.id)
        )
        .where(
            t.notices.c.task == QUESTION_ABOUT,
            t.notices.c.stage == Stage.QUESTION.value,
            season_is_open(),
            *conditions,
        )
        .order_by(t.plots.c.number, t.notices.c.id)
    )
    return [
        Asked(SeasonId(season_id), plot, name, start_id, NoticeState(state), sent_at)
        for season_id, plot, name, start_id, state, sent_at in rows
    ]


def _rows(c: Connection, ward_id: int, season_starts_on: date) -> list[Row[Any]]:
    of_season = (f.c.ward_id == ward_id, f.c.season_starts_on == season_starts_on)
    return list(c.execute(select(f).where(*of_season).order_by(f.c.id)))


def _start(row: Row[Any]) -> DryStart:
    return DryStart(row.id, row.on, row.dry_from, row.dry_until)
