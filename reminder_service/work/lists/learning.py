"""Judging stretches of rows, one after the other, each knowing what the ones before have said."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection

from reminder_service.records import list_rows
from reminder_service.records.engine import reading
from reminder_service.records.list_lookups import known_of
from reminder_service.records.list_rows import Judged, ListRow
from reminder_service.records.lists import ListJob
from reminder_service.work.lists.cells import Said, row_said
from reminder_service.work.lists.judging import Earlier, judged
from reminder_service.work.lists.reading import Setting, asked_of
from reminder_service.work.services import Services

AT_ONCE = 500
"""Rows that are looked up together (setting)."""

_Key = tuple[str, int, datetime, int]

_KEPT: dict[_Key, Earlier] = {}
"""What this process learnt last: of which database and list, from when on, up to which row."""


def judged_rows(
    c: Connection,
    setting: Setting,
    job: ListJob,
    rows: Sequence[ListRow],
    earlier: Earlier,
    *,
    places: bool = False,
) -> list[Judged]:
    """Judge some rows that follow each other.

    Parameters
    ----------
    c : connection
    setting : what the list is read by
    job : the list
    rows : the rows as they came
    earlier : what the rows before have said; it learns of these
    places : whether their places among a farmer's rows without plot number stay as counted
    """
    said: list[Said] = [row_said(setting.reader, row.row, row.cells) for row in rows]
    known = known_of(c, asked_of(said, setting.seasons), setting.scope)
    return [
        judged(each, known, earlier, job.language, row.place if places else None)
        for each, row in zip(said, rows, strict=True)
    ]


def keep(services: Services, job: ListJob, began_at: datetime, row: int, earlier: Earlier) -> None:
    """Keep what was learnt up to a row, for the next turn of this process.

    Parameters
    ----------
    services : whose database
    job : which list
    began_at : aware UTC instant at which its judging began
    row : the last one that was judged
    earlier : what was learnt
    """
    forget()
    _KEPT[str(services.engine.url), job.id, began_at, row] = earlier


def forget() -> None:
    """Forget what was learnt last."""
    _KEPT.clear()


def learnt(services: Services, setting: Setting, job: ListJob) -> Earlier:
    """What the rows judged before have said: as it was kept, or learnt once more after a crash.

    Parameters
    ----------
    services : the services
    setting : what the list is read by
    job : the list and how far it has come
    """
    earlier = Earlier()
    if job.judged_at is None or not job.position:
        return earlier
    kept = _KEPT.get((str(services.engine.url), job.id, job.judged_at, job.position))
    if kept is not None:
        return kept
    after = 0
    while after < job.position:
        with reading(services.engine) as c:
            rows = list_rows.rows_after(c, job.id, after, AT_ONCE)
            before = [row for row in rows if row.row <= job.position]
            judged_rows(c, setting, job, before, earlier)
        after = rows[-1].row
    return earlier
