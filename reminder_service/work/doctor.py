"""Whether a set-up is well: each check says what was found and what to do about it.

Nothing is changed: tables are not brought up to date, no secret is made, no carrier is called.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from reminder_service.errors import BadSettings
from reminder_service.records import condition
from reminder_service.records.engine import (
    is_current,
    known_revisions,
    make_engine,
    reading,
    revision_of,
)
from reminder_service.records.errors import WrongEngine
from reminder_service.setting_values import sqlite_file
from reminder_service.settings import Settings, load_settings
from reminder_service.work.doctor_machine import clock, disk, routes, secret, zone_data
from reminder_service.work.doctor_types import Check, bad, ok, warn
from reminder_service.work.doctor_work import inbound, leases, queue, resting, tick_runs

FEW_FREE = 20
"""Free connections under which PostgreSQL may refuse a process that starts (setting): one pool."""


def examined(now: Callable[[], datetime]) -> list[Check]:
    """Every check, in the order in which a fault should be mended.

    What needs the database is left out while it is away or its tables are not ours.

    Parameters
    ----------
    now : the machine's clock, aware UTC
    """
    try:
        settings = load_settings()
    except BadSettings as fault:
        todo = "change these variables; the README lists what is allowed"
        return [bad("settings", str(fault), todo)]
    done = [ok("settings", "every variable is known and allowed")]
    done += [secret(settings), *routes(settings), disk(settings)]
    with _opened(settings) as (check, engine):
        done.append(check)
        if engine is None:
            return done
        try:
            done += _of_database(engine, settings, now)
        except SQLAlchemyError as fault:
            todo = "see its log; if its file is damaged, restore the last good backup"
            done.append(bad("records", f"they cannot be read: {_first_line(fault)}", todo))
    return done


def _first_line(fault: SQLAlchemyError) -> str:
    return str(fault).partition("\n")[0]


@contextmanager
def _opened(settings: Settings) -> Iterator[tuple[Check, Engine | None]]:
    """The database if it answers, and the check that says so; no new file is made."""
    name, file = "database", sqlite_file(settings.database_url)
    if file is not None and not file.is_file():
        todo = "start the service once, which makes it, or restore a backup"
        yield bad(name, f"there is no file {file}", todo), None
        return
    engine = make_engine(settings.database_url)
    try:
        with reading(engine) as c:
            c.exec_driver_sql("SELECT 1")
    except WrongEngine as fault:
        yield bad(name, str(fault), "restore the last good backup into a new database"), None
    except SQLAlchemyError as fault:
        told = _first_line(fault)
        yield (
            bad(name, f"it does not answer: {told}", "start it, and check REMINDER_DATABASE_URL"),
            None,
        )
    else:
        yield ok(name, f"{engine.dialect.name} answers"), engine
    finally:
        engine.dispose()


def _of_database(engine: Engine, settings: Settings, now: Callable[[], datetime]) -> list[Check]:
    done = [_soundness(engine)]
    if done[0].state == "bad":
        return done  # whatever else a damaged file says may be wrong
    tables = _tables(engine)
    done.append(tables)
    with reading(engine) as c:
        if engine.dialect.name == "postgresql":
            done.append(_connections(*condition.connections(c)))
        if tables.state != "ok":
            return done
        done += [clock(c, now), zone_data(c), *resting(c, settings, now())]
        done += [queue(c, now()), *tick_runs(c, settings, now()), inbound(c, now())]
        done.append(leases(c, settings, now()))
    return done


def _tables(engine: Engine) -> Check:
    with reading(engine) as c:
        at = revision_of(c)
    if is_current(engine):
        return ok("tables", f"they stand at migration {at}, that of this release")
    if at is not None and at not in known_revisions():
        return bad("tables", f"a later release made them ({at})", "install that release")
    found = "there are none" if at is None else f"they stand at migration {at}"
    todo = "start `reminder-service serve`, which brings them up to date; back up first"
    return bad("tables", f"{found}, not at that of this release", todo)


def _soundness(engine: Engine) -> Check:
    name = "soundness"
    with reading(engine) as c:
        if engine.dialect.name == "postgresql":
            if condition.keeps_checksums(c):
                return ok(name, "PostgreSQL keeps checksums of its pages")
            todo = "stop the server and run pg_checksums --enable when there is time"
            return warn(name, "PostgreSQL keeps no checksums of its pages", todo)
        faults = condition.faults_of_file(c)
    if faults:
        todo = "stop the service, keep this file, restore the last good backup"
        return bad(name, "; ".join(faults), todo)
    return ok(name, "the quick check of the file finds nothing")


def _connections(used: int, most: int) -> Check:
    found = f"{used} of {most} connections are open"
    if most - used < FEW_FREE:
        todo = "raise max_connections of the server, or run fewer processes (20 each at a peak)"
        state = bad if most <= used else warn
        return state("connections", found, todo)
    return ok("connections", found)
