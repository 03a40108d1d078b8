"""The page of today: what goes out, what waits for a person, who is late, what rained."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from flask import Blueprint, render_template

from reminder_service.agronomy.rain_book import DayRain, ward_rain
from reminder_service.kinds import MOVABLE, NoticeState
from reminder_service.records import joining, today_views, unread
from reminder_service.records.engine import reading
from reminder_service.records.today_views import HourLoad
from reminder_service.records.views import Ward, wards_seen
from reminder_service.records.ward_views import NOT_ARRIVED
from reminder_service.web.hour_bars import HourBars, hour_bars
from reminder_service.web.walls import scope, services, today_in
from reminder_service.work.pace import carried_per_hour

blueprint = Blueprint("today", __name__)

LATE_SHOWN = 25
"""Late tasks on the page (setting)."""

RAIN_DAYS = 7
"""Days of rain on the page, today among them (setting)."""


@dataclass(frozen=True, slots=True)
class WardWeek:
    """A ward's rain of the last days; None where a day is unknown."""

    ward: Ward
    mm: tuple[float | None, ...]


@blueprint.get("/")
def page() -> str:
    """Show today in the wards that the person may see."""
    with reading(services().engine) as c:
        wards = wards_seen(c, scope())
        days = {"UTC": today_in("UTC")} | {ward.zone: today_in(ward.zone) for ward in wards}
        zone = wards[0].zone if wards else "UTC"
        today = days[zone]
        states = today_views.states_of_day(c, scope(), days)
        loads = today_views.load_by_hour(c, scope(), hours_of(today, zone))
        late = today_views.late_tasks(c, scope(), days, LATE_SHOWN + 1)
        last_week = [today - timedelta(days=back) for back in reversed(range(RAIN_DAYS))]
        ward_ids = {ward.id for ward in wards}
        seen = today_views.rain_by_ward(c, ward_ids, last_week[0], last_week[-1])
        joiners = joining.waiting_by_ward(c, scope())
        unread_texts = unread.waiting_count(c, scope())
    rain = {ward_id: ward_rain(found) for ward_id, found in seen.items()}
    return render_template(
        "today.html",
        today=today,
        days=days,
        zone=zone,
        wards=wards,
        gone=sum(states[state] for state in GONE),
        to_go=sum(states[state] for state in (*MOVABLE, NoticeState.CLAIMED)),
        failed=_failed(states),
        bars=_bars(loads),
        late=late[:LATE_SHOWN],
        more_late=len(late) > LATE_SHOWN,
        unread_texts=unread_texts,
        joiners=sum(joiners.values()),
        last_week=last_week,
        rain=rain_weeks(wards, rain, last_week),
    )


GONE = (NoticeState.HANDED_OVER, NoticeState.DELIVERED)
"""States of what has gone out, as far as anybody knows."""


def hours_of(day: date, zone: str) -> list[datetime]:
    """Instants that part a local day into its clock hours: 25 of them.

    Where the clock is put forward or back that day, an hour is empty or twice as long.

    Parameters
    ----------
    day : local day
    zone : IANA name

    Returns
    -------
    aware UTC instants in order
    """
    midnight = datetime.combine(day, time(), ZoneInfo(zone))
    edges = [(midnight + timedelta(hours=hour)).astimezone(UTC) for hour in range(25)]
    return sorted(edges)


def rain_weeks(
    wards: Sequence[Ward], rain: Mapping[int, Mapping[date, DayRain]], days: Sequence[date]
) -> list[WardWeek]:
    """Each ward's rain on some days, in the order of the wards."""
    return [
        WardWeek(
            ward,
            tuple(
                found.mm if (found := rain.get(ward.id, {}).get(day)) is not None else None
                for day in days
            ),
        )
        for ward in wards
    ]


def _failed(states: Counter[NoticeState]) -> int:
    return sum(states[state] for state in NOT_ARRIVED)


def _bars(loads: Sequence[HourLoad]) -> HourBars | None:
    """Only the sending hours, and what lies outside them if there is any."""
    settings = services().settings
    opens, closes = settings.sending_opens, settings.sending_closes
    busy = [hour for hour, load in enumerate(loads) if load.to_go + load.gone]
    first = min([opens.hour, *busy])
    last = max([closes.hour - (closes.minute == 0), *busy])
    minutes = (closes.hour - opens.hour) * 60 + closes.minute - opens.minute
    carried = carried_per_hour(services().routes, minutes)
    return hour_bars(loads[first : last + 1], first, carried)
