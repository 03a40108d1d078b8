"""Daily rain is pulled from a source over HTTP, and goes on where it stopped; days ahead too.

Temperatures come in the same answers, where the source tells them.
"""

import logging
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from pydantic import JsonValue
from requests import PreparedRequest, Request

from gateways.http.answers import Reply, wait_s
from gateways.http.exchange import Exchange, NotSent, Unanswered
from gateways.http.request import filled_address
from gateways.http.template import filled, flat
from reminder_service.agronomy.rain_book import Observer
from reminder_service.agronomy.rain_days import DAY_MM_RANGE
from reminder_service.records import audit, farmers, rain, rain_ahead, weather
from reminder_service.records.engine import reading, writing
from reminder_service.records.rain import NewObservation
from reminder_service.records.views import Ward
from reminder_service.work.rain_answers import CutAnswer, SourceDays, days_of
from reminder_service.work.rain_profile import RainProfile, SourceWard
from reminder_service.work.services import Services

log = logging.getLogger(__name__)

AGAIN_DAYS = 7
"""Latest days kept that are asked for again, since sources mend them (setting)."""

AGAIN_STATUSES = frozenset({408, 425, 429, 500, 502, 503, 504})
"""Statuses after which the same request may fare better: RFC 9110, RFC 6585, RFC 8470."""

Put = Callable[[PreparedRequest], Reply]
Wait = Callable[[float], None]


class SourceFailed(Exception):
    """The source gave nothing usable this time; what was kept before stays."""


@dataclass(frozen=True, slots=True)
class Pulled:
    """What pulling one ward's rain came to.

    Attributes
    ----------
    ward : its name
    kept : amounts, and days of temperatures, that were new or had changed
    faults : as of `SourceDays`
    stopped : why it ended before the last day; empty if it did not
    """

    ward: str
    kept: int
    faults: tuple[str, ...]
    stopped: str = ""


def pull_rain(services: Services, wait: Wait = time.sleep) -> list[Pulled]:
    """Pull what each ward of the rain source lacks, up to yesterday, and what is expected.

    Parameters
    ----------
    services : the services; without a rain source nothing is done
    wait : waits some seconds between two tries

    Returns
    -------
    what came of each ward
    """
    profile = services.rain_source
    if profile is None:
        return []
    with reading(services.engine) as c:
        known = {ward.name.casefold(): ward for ward in farmers.wards(c)}
    exchange = Exchange(profile)
    try:
        found = [
            _pull_ward(services, profile, place, known.get(place.name.casefold()), exchange, wait)
            for place in profile.wards
        ]
    finally:
        exchange.close()
    for each in found:
        if each.stopped or each.faults:
            log.warning("rain source, %s: %s", each.ward, "; ".join([each.stopped, *each.faults]))
    return found


def _pull_ward(
    services: Services,
    profile: RainProfile,
    place: SourceWard,
    ward: Ward | None,
    put: Put,
    wait: Wait,
) -> Pulled:
    if ward is None:
        return Pulled(place.name, 0, (), "no ward has that name: put the profile right")
    kept = 0
    faults: tuple[str, ...] = ()
    try:
        for first, last in _spans(services, profile, ward):
            request = _request(profile, place, first, last)
            found = _asked(profile, put, wait, request, first, last)
            kept += _keep(services, profile, ward, found)
            faults = (*faults, *found.faults)
        if profile.days_ahead:
            faults = (*faults, *_look_ahead(services, profile, place, ward, put, wait))
    except SourceFailed as failed:
        return Pulled(ward.name, kept, faults, str(failed))
    return Pulled(ward.name, kept, faults)


def _look_ahead(
    services: Services,
    profile: RainProfile,
    place: SourceWard,
    ward: Ward,
    put: Put,
    wait: Wait,
) -> tuple[str, ...]:
    """Ask once a day for what the source expects from today on; answers the faulty rows."""
    today = services.clock().astimezone(ZoneInfo(ward.zone)).date()
    with reading(services.engine) as c:
        if rain_ahead.last_told_on(c, ward.id) == today:
            return ()
    last = today + timedelta(days=profile.days_ahead - 1)
    request = _request(profile, place, today, last)
    found = _asked(profile, put, wait, request, today, last)
    low, high = DAY_MM_RANGE
    told = {on: amount.mm for on, amount in found.amounts.items() if amount.mm is not None}
    possible = {on: mm for on, mm in told.items() if low <= mm <= high}
    with writing(services.engine) as c:
        rain_ahead.replace_rain_ahead(c, ward.id, possible, today)
    odd = (f"{told[on]:g} mm cannot fall on {on}" for on in sorted(told.keys() - possible.keys()))
    return (*found.faults, *odd)


def _spans(services: Services, profile: RainProfile, ward: Ward) -> Iterator[tuple[date, date]]:
    """Days to ask for, some at once, from a little before the last one kept up to yesterday."""
    today = services.clock().astimezone(ZoneInfo(ward.zone)).date()
    yesterday = today - timedelta(days=1)
    start = profile.first_day or services.settings.season_start(today)
    with reading(services.engine) as c:
        last_kept = rain.last_day_by(c, ward.id, Observer.SOURCE, profile.name)
    if last_kept is not None and last_kept >= yesterday:
        return
    if last_kept is not None:
        start = max(start, last_kept + timedelta(days=1 - AGAIN_DAYS))
    while start <= yesterday:
        end = min(start + timedelta(days=profile.days_at_once - 1), yesterday)
        yield start, end
        start = end + timedelta(days=1)


def _request(profile: RainProfile, place: SourceWard, first: date, last: date) -> PreparedRequest:
    days = {"from": f"{first:{profile.day_written}}", "to": f"{last:{profile.day_written}}"}
    values: dict[str, JsonValue] = {**place.values, **days}
    query = {name: flat(filled(part, values)) for name, part in profile.query.items()}
    headers = {"User-Agent": "reminder-service", **profile.headers}
    for each in profile.credentials:
        into = query if each.place == "query" else headers
        into[each.name] = each.prefix + each.secret.get_secret_value()
    return Request("GET", filled_address(profile.address, values, query), headers=headers).prepare()


def _asked(
    profile: RainProfile,
    put: Put,
    wait: Wait,
    request: PreparedRequest,
    first: date,
    last: date,
) -> SourceDays:
    """Put a request until it is answered in full, with growing waits between the tries."""
    retries = profile.retries
    usual_s = retries.first_wait_s
    why = ""
    for turn in range(retries.tries):
        pause_s = usual_s
        try:
            reply = put(request)
        except Unanswered as error:
            lost = "no connection" if isinstance(error, NotSent) else "the answer was lost or cut"
            why = f"{lost} ({error.reason.partition(': ')[2] or 'nothing more is known'})"
        else:
            if 200 <= reply.status < 300:
                try:
                    return days_of(profile.answer, reply.content, first, last)
                except CutAnswer as cut:
                    why = str(cut)
            elif reply.status in AGAIN_STATUSES:
                why = f"status {reply.status}"
                pause_s = wait_s(reply.retry_after, usual_s, datetime.now(UTC))
            else:
                raise SourceFailed(f"status {reply.status}: look at the profile's address and key")
        if pause_s > retries.longest_wait_s:
            raise SourceFailed(f"{why}: it asks to be left alone for {pause_s:.0f} s")
        if turn + 1 < retries.tries:
            wait(pause_s)
        usual_s = min(usual_s * 2, retries.longest_wait_s)
    raise SourceFailed(f"{why}, after {retries.tries} tries")


def _keep(services: Services, profile: RainProfile, ward: Ward, found: SourceDays) -> int:
    """Keep what is new or has changed, in one transaction."""
    now = services.clock()
    with writing(services.engine) as c:
        known = rain.standing_by(c, [ward.id], Observer.SOURCE, profile.name)
        new = [
            NewObservation(
                ward.id, None, on, amount.mm, amount.trace, Observer.SOURCE, profile.name
            )
            for on, amount in sorted(found.amounts.items())
            if amount.mm is not None and known.get((ward.id, None, on)) != (amount.mm, amount.trace)
        ]
        kept = rain.keep_observations(c, new, now)
        kept += weather.keep_temperatures(c, ward.id, found.air, profile.name, now)
        if kept:
            audit.note(
                c,
                at=now,
                who="rain source",
                what="rain pulled",
                subject=f"ward {ward.id}",
                after={"source": profile.name, "kept": kept, "faulty": len(found.faults)},
            )
    return kept
