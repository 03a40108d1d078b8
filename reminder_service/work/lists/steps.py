"""The steps of a list: its rows are kept, judged, written and planned, some hundred at a time.

Each piece is a transaction of its own that also notes how far the list has come; whoever goes on
after a crash begins there. A list whose rows go in all or none is written in one transaction,
by statements that each take all rows at once, so that the write lock is short; its new plots are
planned afterwards, piece by piece, as those of any list are.
"""

import logging
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import islice
from time import sleep
from typing import Any, TypeVar
from uuid import uuid4

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from reminder_service.records import audit, list_rows, list_writing, lists
from reminder_service.records.engine import reading, writing
from reminder_service.records.list_rows import TouchedSeason
from reminder_service.records.list_tables import Fate, ListState
from reminder_service.records.list_writing import Stretch
from reminder_service.records.lists import ListJob
from reminder_service.work.lists import learning
from reminder_service.work.lists.errors import UnusableFile
from reminder_service.work.lists.files import FileForm, file_rows
from reminder_service.work.lists.judging import Earlier
from reminder_service.work.lists.learning import judged_rows
from reminder_service.work.lists.reading import Setting, setting_of
from reminder_service.work.replan import replan
from reminder_service.work.services import Services

log = logging.getLogger(__name__)

CHUNK = 500
"""Rows of one transaction (setting)."""

PLANNED_AT_ONCE = 25
"""Seasons planned in one transaction: each takes some milliseconds of the write lock (setting)."""

READ_AT_ONCE = 10
"""Transactions of reading that are one piece of work (setting)."""

REST_S = 0.11
"""Seconds between two pieces that write: whoever else waits for SQLite's lock looks every tenth of
a second whether it is free, and finds it so (setting)."""

PIECES_A_TICK = 40
"""Pieces of work after which a tick ends, so that the service can be stopped (setting)."""

IDLE_LIFE, ENDED_LIFE = timedelta(days=7), timedelta(days=30)
"""How long a list waits for its person, and how long faulty rows can be fetched (setting)."""

Item = TypeVar("Item")


class _Lost(Exception):
    """The list was stopped, or another worker has taken it over."""


class _Touched(Exception):
    """Somebody else has brought a farmer or plot that the list speaks of too."""


@dataclass(frozen=True, slots=True)
class _Turn:
    """One worker's hold on one list."""

    services: Services
    import_id: int
    claim: str

    def move(self, c: Connection, during: ListState, **values: Any) -> None:
        """Note how far it is, and keep the hold; raises `_Lost` without it."""
        now = self.services.clock()
        lease = now + timedelta(seconds=self.services.settings.lease_s)
        values = {"lease_until": lease, **values}
        if not lists.move_list(c, self.import_id, self.claim, during, now, **values):
            raise _Lost

    def job(self, c: Connection) -> ListJob:
        """The list as it is now."""
        found = lists.list_job(c, self.import_id)
        if found is None:
            raise _Lost
        return found


def work_lists(services: Services) -> int:
    """Go on with the lists that wait for a worker, the oldest first.

    Returns
    -------
    pieces of work done
    """
    now = services.clock()
    with reading(services.engine) as c:
        old = lists.lists_to_forget(c, idle_since=now - IDLE_LIFE, ended_before=now - ENDED_LIFE)
    for import_id in old:
        with writing(services.engine) as c:
            lists.forget_list(c, import_id, now)
    done = 0
    while done < PIECES_A_TICK:
        with reading(services.engine) as c:
            next_id = lists.next_at_work(c, services.clock())
        if next_id is None:
            break
        done += max(1, go_on(services, next_id, PIECES_A_TICK - done))
    return done


def go_on(services: Services, import_id: int, most: int | None = None) -> int:
    """Go on with one list until it ends, waits for its person, or has had its share.

    Parameters
    ----------
    services : the services
    import_id : which list
    most : pieces of work at most; None for as many as there are

    Returns
    -------
    pieces of work done; 0 if another worker has it or there is nothing to do
    """
    claim, now = uuid4().hex, services.clock()
    lease = now + timedelta(seconds=services.settings.lease_s)
    with writing(services.engine) as c:
        if not lists.claim_list(c, import_id, claim, now, lease):
            return 0
    turn = _Turn(services, import_id, claim)
    done = 0
    try:
        for _piece in islice(_pieces(turn), most):
            done += 1
    except _Lost:
        return done
    except UnusableFile as fault:
        with writing(services.engine) as c:
            lists.stop_list(c, import_id, services.clock(), str(fault))
        return done
    except IntegrityError:
        # On PostgreSQL somebody took a plot number in the same moment; the piece is done again.
        log.warning("list %d met a row of somebody else and goes on anew", import_id)
    with writing(services.engine) as c:
        lists.let_go(c, import_id, claim)
    return done


def _pieces(turn: _Turn) -> Iterator[None]:
    """Every piece of work that is left, each done when it is asked for."""
    steps = {
        ListState.READING: _read,
        ListState.JUDGING: _judge,
        ListState.WRITING: _write,
        ListState.PLANNING: _plan,
    }
    while True:
        with reading(turn.services.engine) as c:
            job = turn.job(c)
            setting = setting_of(c, turn.services, job)
        step = steps.get(job.state)
        if step is None:
            return
        yield from step(turn, job, setting)


def _chunks(items: Iterable[Item], size: int) -> Iterator[list[Item]]:
    rest = iter(items)
    while chunk := list(islice(rest, size)):
        yield chunk


def _read(turn: _Turn, job: ListJob, setting: Setting) -> Iterator[None]:
    """Keep the rows of the file as they came; the file goes when all are kept."""
    with reading(turn.services.engine) as c:
        data = lists.list_file(c, job.id)
    after = max(job.position, job.headings_row)
    rows = (row for row in file_rows(data, FileForm(**job.form)) if row.number > after)
    kept = job.total or 0
    for number, chunk in enumerate(_chunks(rows, CHUNK), start=1):
        kept += len(chunk)
        with writing(turn.services.engine) as c:
            turn.move(c, ListState.READING, position=chunk[-1].number, total=kept)
            list_rows.keep_rows(c, job.id, [(row.number, row.cells) for row in chunk])
        if number % READ_AT_ONCE == 0:  # whoever goes on must go through the file from the top
            yield
    if not kept:
        raise UnusableFile("has no row below its headings", "write the farmers below them")
    with writing(turn.services.engine) as c:
        turn.move(
            c, ListState.READING, state=ListState.JUDGING.value, position=0, total=kept, file=None
        )


def _judge(turn: _Turn, job: ListJob, setting: Setting) -> Iterator[None]:
    """Say what would become of each row; nothing is written into the register."""
    services = turn.services
    began_at = services.clock() if job.judged_at is None or not job.position else job.judged_at
    earlier = learning.learnt(services, setting, job)
    after = job.position
    while True:
        with reading(services.engine) as c:
            rows = list_rows.rows_after(c, job.id, after, CHUNK)
            found = judged_rows(c, setting, job, rows, earlier)
        if not rows:
            break
        after = rows[-1].row
        with writing(services.engine) as c:
            turn.move(
                c,
                ListState.JUDGING,
                position=after,
                judged_at=began_at,
                highest={str(ward): number for ward, number in earlier.highest.items()},
            )
            list_rows.keep_judged(c, job.id, found)
        learning.keep(services, job, began_at, after, earlier)
        yield
    learning.forget()
    with writing(services.engine) as c:
        turn.move(c, ListState.JUDGING, state=_after_judging(c, job).value, position=0)


def _after_judging(c: Connection, job: ListJob) -> ListState:
    """Back to writing, if its person had said so and nothing stands against it."""
    if job.vouched_at is None or not job.whole or Fate.FAULT in list_rows.fates(c, job.id):
        return ListState.READY
    return ListState.WRITING


def _write(turn: _Turn, job: ListJob, setting: Setting) -> Iterator[None]:
    if job.whole:
        yield from _write_whole(turn, job, setting)
        return
    after = job.position
    while True:
        with writing(turn.services.engine) as c:
            turn.move(c, ListState.WRITING)
            rows = list_rows.rows_after(c, job.id, after, CHUNK)
            if not rows:
                _written(turn, c, job, setting)
                break
            after = rows[-1].row
            turn.move(c, ListState.WRITING, position=after)
            # What a row comes to is found anew: others may have written since it was judged.
            good = [row for row in rows if row.fate is not Fate.FAULT]
            if good:
                list_rows.keep_judged(
                    c, job.id, judged_rows(c, setting, job, good, Earlier(), places=True)
                )
            list_writing.write_rows(c, _stretch(turn, job, setting, rows[0].row, after))
        sleep(REST_S)
        yield


def _write_whole(turn: _Turn, job: ListJob, setting: Setting) -> Iterator[None]:
    """Write all rows at once, or judge them anew if they no longer stand as they were judged."""
    since = job.judged_at or job.created_at
    try:
        with writing(turn.services.engine) as c:
            turn.move(c, ListState.WRITING)
            if list_writing.touched_since(c, job.id, since):
                raise _Touched
            list_writing.write_rows(c, _stretch(turn, job, setting, 0, LAST_ROW))
            _written(turn, c, job, setting)
    except (IntegrityError, _Touched):
        with writing(turn.services.engine) as c:
            turn.move(
                c,
                ListState.WRITING,
                state=ListState.JUDGING.value,
                position=0,
                judged_at=None,
            )
    yield


LAST_ROW = 2**31 - 1


def _stretch(turn: _Turn, job: ListJob, setting: Setting, first: int, last: int) -> Stretch:
    return Stretch(
        job.id,
        first,
        last,
        turn.services.clock(),
        setting.who,
        turn.services.rulebook.label,
        setting.seasons,
        {int(ward): number for ward, number in job.highest.items()},
    )


def _written(turn: _Turn, c: Connection, job: ListJob, setting: Setting) -> None:
    """All rows are in: note it on the audit log and go on to planning."""
    counts = {fate.value: count for fate, count in list_rows.fates(c, job.id).items()}
    turn.move(c, ListState.WRITING, state=ListState.PLANNING.value, position=0, counts=counts)
    audit.note(
        c,
        at=turn.services.clock(),
        who=setting.who,
        what="list",
        subject=f"list {job.id}",
        after={"file": job.file_name, "rows": job.total, **counts},
    )


def _plan(turn: _Turn, job: ListJob, setting: Setting) -> Iterator[None]:
    """Plan every season that was opened or changed; then only the faulty rows are kept.

    New seasons of one ward and the same choices know the same, so that where planning one of them
    comes to nothing, which is so before the first rain, the others are only marked as planned.
    """
    services, after = turn.services, job.position
    quiet: set[str] = set()
    while True:
        with writing(services.engine) as c:
            turn.move(c, ListState.PLANNING, position=after)
            found = list_rows.seasons_after(c, job.id, after, CHUNK)
            if not found:
                break
            after = _planned(c, services, found, quiet)
            turn.move(c, ListState.PLANNING, position=after)
        sleep(REST_S)
        yield
    with writing(services.engine) as c:
        turn.move(
            c,
            ListState.PLANNING,
            state=ListState.DONE.value,
            ended_at=services.clock(),
            sample=[],
        )
        list_rows.forget_rows(c, job.id, faulty_too=False)


def _planned(
    c: Connection, services: Services, rows: Sequence[TouchedSeason], quiet: set[str]
) -> int:
    """Plan the seasons of some rows, as many as one transaction may; answers the last row done."""
    now, left, last = services.clock(), PLANNED_AT_ONCE, rows[0].row
    nothing_to_plan = []
    for row in rows:
        if row.is_new and row.knows in quiet:
            nothing_to_plan.append(row.season_id)
        elif left:
            left -= 1
            done = replan(c, row.season_id, services.rulebook, services.settings, now)
            comes_to_nothing = not (done.plan.tasks or done.plan.estimates or done.inserted)
            if row.is_new and comes_to_nothing:
                quiet.add(row.knows)
        else:
            break
        last = row.row
    list_rows.mark_all_planned(c, nothing_to_plan, services.rulebook.label, now)
    return last
