"""Checks of the machine and its files: secret, routes, disk, clock, zones."""

import shutil
import stat
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlalchemy import Connection

from gateways.errors import GatewayError
from gateways.registry import make_gateway
from reminder_service.records import condition, ticks
from reminder_service.session_secret import FILE_NAME, SHORTEST
from reminder_service.setting_values import sqlite_file
from reminder_service.settings import Settings
from reminder_service.work.doctor_types import Check, bad, ok, warn
from reminder_service.work.routes import BadRoutes, Route, routes_file

CLOCK_BORNE_S, CLOCK_BAD_S = 2, 60
"""Seconds that two clocks may differ: without a word, and at all (setting)."""

DISK_BAD_SHARE = 5
"""The disk is bad at this part of what is low: a fifth (setting)."""


def secret(settings: Settings) -> Check:
    """Whether the secret that signs sessions can be read, by the service alone."""
    name, database = "secret", sqlite_file(settings.database_url)
    if settings.secret_key is not None:
        return ok(name, "REMINDER_SECRET_KEY is set")
    if database is None:
        return bad(name, "there is none", "set REMINDER_SECRET_KEY_FILE")
    path = database.parent / FILE_NAME
    if not path.exists():
        return ok(name, f"the first start makes the file {path}")
    try:
        length = len(path.read_text("ascii").strip())
    except (OSError, UnicodeDecodeError) as fault:
        todo = f"let the service's user alone own and read {path}"
        return bad(name, f"{path} cannot be read ({type(fault).__name__})", todo)
    if length < SHORTEST:
        return bad(name, f"{path} is too short", "remove it, and the next start makes a new one")
    if path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        return bad(name, f"others may read {path}", f"chmod 600 {path}, then make a new secret")
    return ok(name, f"it is read from {path}")


def routes(settings: Settings) -> list[Check]:
    """Whether the routes can be read and each gateway be made; no carrier is called."""
    try:
        found = routes_file(settings).routes
    except BadRoutes as fault:
        return [bad("routes", str(fault), "mend the file that REMINDER_ROUTES names")]
    told = ", ".join(route.name for route in found)
    return [ok("routes", f"{len(found)} can be used: {told}"), *map(_gateway, found)]


def _gateway(route: Route) -> Check:
    name = f"route {route.name}"
    try:
        made = make_gateway(route.gateway, route.options)
    except (GatewayError, OSError) as fault:
        todo = "mend the route's options, its profile, or a secret's file that they name"
        return bad(name, str(fault), todo)
    made.close()
    return ok(name, f"its gateway {route.gateway} can be made")


def disk(settings: Settings) -> Check:
    """Whether there is room where the records lie; for PostgreSQL, where the service runs."""
    database = sqlite_file(settings.database_url)
    folder = Path.cwd() if database is None else database.absolute().parent
    while not folder.exists():
        folder = folder.parent
    free_mb = shutil.disk_usage(folder).free // 1_000_000
    found = f"{free_mb} MB are free at {folder}"
    todo = "make room: older logs and backups first; a full disk stops every report"
    if free_mb < settings.disk_low_mb // DISK_BAD_SHARE:
        return bad("disk", found, todo)
    if free_mb < settings.disk_low_mb:
        return warn("disk", f"{found}, under {settings.disk_low_mb}", todo)
    return ok("disk", found)


def clock(c: Connection, now: Callable[[], datetime]) -> Check:
    """Whether the machine's clock fits the database's, and lies after the last tick."""
    name, todo = "clock", "set the clock by NTP (timedatectl set-ntp true), then start again"
    latest = max((tick.started_at for tick in ticks.ticks(c)), default=None)
    at = now()
    if latest is not None and (latest - at).total_seconds() > CLOCK_BAD_S:
        return bad(name, f"the last tick was at {latest:%Y-%m-%d %H:%M} UTC, still to come", todo)
    if c.dialect.name != "postgresql":
        return ok(name, f"it is {at:%Y-%m-%d %H:%M} UTC")
    apart_s = abs((condition.database_now(c) - now()).total_seconds())
    found = f"this machine and the database are {apart_s:.1f} s apart"
    if apart_s > CLOCK_BAD_S:
        return bad(name, found, todo)
    if apart_s > CLOCK_BORNE_S:
        return warn(name, found, todo)
    return ok(name, found)


def zone_data(c: Connection) -> Check:
    """Whether the zones of all wards are known here."""
    unknown = []
    found = condition.zones(c)
    for zone in found:
        try:
            ZoneInfo(zone)
        except (ZoneInfoNotFoundError, ValueError):
            unknown.append(zone)
    if unknown:
        todo = "install the package tzdata, or mend the ward"
        return bad("zones", f"unknown here: {', '.join(unknown)}", todo)
    return ok("zones", f"known: {', '.join(found) or 'no ward yet'}")
