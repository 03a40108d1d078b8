"""Calls that read: wards, farmers, plots, seasons, tasks, reports, notices, rain, inputs."""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.records import open_views as views
from reminder_service.records import route_health
from reminder_service.records.input_views import planned_work
from reminder_service.records.queue_views import NoticeLine, Place, Wanted, notices_seen, queue_page
from reminder_service.records.route_views import Fate, Tries, tries_by_route
from reminder_service.records.views import wards_seen
from reminder_service.rules.inputs import WeekInputs, inputs_by_week
from reminder_service.web.interface import shapes
from reminder_service.web.interface.cursors import place_given, place_written
from reminder_service.web.interface.operations import Call, NoQuery, PageQuery, reads
from reminder_service.web.interface.problems import Problem
from reminder_service.web.route_cards import without_long_numbers
from reminder_service.web.wording import masked_phone
from reminder_service.work.program_keys import KeyScope

YEARS = range(1950, 2200)
"""Years in which anything can have happened here (setting)."""

Item = TypeVar("Item")


def page_of(
    call: Call,
    query: PageQuery,
    found: Callable[[tuple[Any, ...] | None, int], Sequence[Item]],
    key: Callable[[Item], tuple[Any, ...]],
) -> tuple[Sequence[Item], str | None]:
    """One page and the cursor of the next.

    Parameters
    ----------
    call : whose list it is
    query : which page
    found : reads so many items after a key, or from the beginning
    key : of an item

    Returns
    -------
    the items, and the cursor; None at the end
    """
    after = place_given(call, query.after)
    items = found(after, query.limit + 1)
    if len(items) <= query.limit:
        return items, None
    items = items[: query.limit]
    return items, place_written(call, key(items[-1]))


def _by_id(
    call: Call, query: PageQuery, found: Callable[[int, int], list[views.Row]]
) -> tuple[Sequence[views.Row], str | None]:
    return page_of(
        call,
        query,
        lambda after, limit: found(after[0] if after else 0, limit),
        lambda row: (row["id"],),
    )


@reads("/wards", KeyScope.WARDS_READ, PageQuery, shapes.WardPage)
def wards(c: Connection, call: Call, query: PageQuery) -> shapes.WardPage:
    """List the wards that the key sees."""
    rows, onward = _by_id(call, query, lambda a, n: views.wards_with(c, call.scope, a, n))
    return shapes.WardPage(items=[shapes.WardOut(**row) for row in rows], next=onward)


@reads("/farmers", KeyScope.FARMERS_READ, shapes.OfWard, shapes.FarmerPage)
def farmers(c: Connection, call: Call, query: shapes.OfWard) -> shapes.FarmerPage:
    """List farmers with their phones."""
    rows, onward = _by_id(
        call, query, lambda a, n: views.farmers_with(c, call.scope, query.ward, a, n)
    )
    items = []
    for row in rows:
        phones = [
            shapes.PhoneOut(
                number=_phone(call, each["number"]), stopped=each["stopped_at"] is not None
            )
            for each in row["phones"]
        ]
        items.append(shapes.FarmerOut(**row | {"phones": phones}))
    return shapes.FarmerPage(items=items, next=onward)


def _phone(call: Call, number: str) -> str:
    return number if call.may(KeyScope.PHONES_READ) else masked_phone(number)


@reads("/plots", KeyScope.PLOTS_READ, shapes.OfWard, shapes.PlotPage)
def plots(c: Connection, call: Call, query: shapes.OfWard) -> shapes.PlotPage:
    """List plots."""
    rows, onward = _by_id(
        call, query, lambda a, n: views.plots_with(c, call.scope, query.ward, a, n)
    )
    return shapes.PlotPage(items=[shapes.PlotOut(**row) for row in rows], next=onward)


@reads("/seasons", KeyScope.PLOTS_READ, shapes.OfPlot, shapes.SeasonPage)
def seasons(c: Connection, call: Call, query: shapes.OfPlot) -> shapes.SeasonPage:
    """List seasons of plots."""
    rows, onward = _by_id(
        call,
        query,
        lambda a, n: views.seasons_with(c, call.scope, query.ward, query.plot, a, n),
    )
    return shapes.SeasonPage(items=[shapes.SeasonOut(**row) for row in rows], next=onward)


@reads("/tasks", KeyScope.PLOTS_READ, shapes.OfSeason, shapes.TaskPage)
def tasks(c: Connection, call: Call, query: shapes.OfSeason) -> shapes.TaskPage:
    """List the dated tasks of seasons."""

    def found(after: tuple[Any, ...] | None, limit: int) -> list[views.Row]:
        """Tasks after one."""
        begin = (0, "", 0) if after is None else (after[0], after[1], after[2])
        return views.tasks_with(c, call.scope, query.ward, query.season, begin, limit)

    rows, onward = page_of(
        call, query, found, lambda row: (row["season_id"], row["name"], row["number"])
    )
    return shapes.TaskPage(items=[shapes.TaskOut(**row) for row in rows], next=onward)


@reads("/reports", KeyScope.REPORTS_READ, shapes.OfSeason, shapes.ReportPage)
def reports(c: Connection, call: Call, query: shapes.OfSeason) -> shapes.ReportPage:
    """List reports in the order in which they were kept."""
    rows, onward = _by_id(
        call,
        query,
        lambda a, n: views.reports_with(c, call.scope, query.ward, query.season, a, n),
    )
    items = [
        shapes.ReportOut(
            **row | {"by_text": row["inbound_id"] is not None, "replaced": bool(row["replaced"])}
        )
        for row in rows
    ]
    return shapes.ReportPage(items=items, next=onward)


@reads("/notices", KeyScope.NOTICES_READ, shapes.OfQueue, shapes.NoticePage)
def notices(c: Connection, call: Call, query: shapes.OfQueue) -> shapes.NoticePage:
    """List notices of the outbound queue by send time."""
    if query.day is not None and query.day.year not in YEARS:
        return shapes.NoticePage(items=[], next=None)
    states = None if query.state is None else (query.state,)
    wanted = Wanted(states=states, ward_id=query.ward, day=query.day)

    def found(after: tuple[Any, ...] | None, limit: int) -> list[NoticeLine]:
        """Notices after a place."""
        place = None if after is None else Place(datetime.fromisoformat(after[0]), after[1])
        return queue_page(c, call.scope, wanted, place, limit)

    lines, onward = page_of(call, query, found, lambda line: (line.send_at.isoformat(), line.id))
    return shapes.NoticePage(items=[_notice(call, line) for line in lines], next=onward)


@reads("/notices/{notice_id}", KeyScope.NOTICES_READ, NoQuery, shapes.NoticeOut)
def notice(c: Connection, call: Call, query: NoQuery) -> shapes.NoticeOut:
    """Show one notice."""
    return _notice(call, notice_or_problem(c, call))


def notice_or_problem(c: Connection, call: Call) -> NoticeLine:
    """The notice in the address, if the key sees it.

    Raises
    ------
    Problem
        There is none in the key's wards.
    """
    seen = notices_seen(c, [call.ids["notice_id"]], call.scope)
    if not seen:
        raise Problem(404, f"There is no notice {call.ids['notice_id']} in the wards of this key.")
    return seen[0]


def _notice(call: Call, line: NoticeLine) -> shapes.NoticeOut:
    return shapes.NoticeOut(
        id=line.id,
        state=line.state,
        reason=None if line.reason is None else without_long_numbers(line.reason),
        ward_id=line.ward_id,
        season_id=line.season_id,
        phone=_phone(call, line.phone_number),
        task=line.task,
        number=line.number,
        stage=line.stage,
        body=line.body,
        segments=line.segments,
        tries=line.tries,
        day=line.day,
        send_at=line.send_at,
        expires_at=line.expires_at,
        sent_at=line.sent_at,
    )


@reads("/rain-observations", KeyScope.RAIN_READ, shapes.OfRain, shapes.RainPage)
def rain_observations(c: Connection, call: Call, query: shapes.OfRain) -> shapes.RainPage:
    """List observations of rain in the order in which they came."""
    rows, onward = _by_id(
        call,
        query,
        lambda a, n: views.rain_with(c, call.scope, query.ward, query.since, a, n),
    )
    items = [shapes.RainOut(**row | {"left_out": row["left_out_at"] is not None}) for row in rows]
    return shapes.RainPage(items=items, next=onward)


@reads("/wards/{ward_id}/inputs", KeyScope.INPUTS_READ, NoQuery, shapes.InputsOut)
def inputs(c: Connection, call: Call, query: NoQuery) -> shapes.InputsOut:
    """Show what a ward needs, week by week."""
    ward_id = call.ids["ward_id"]
    zone = zone_or_problem(c, call)
    today = call.services.clock().astimezone(ZoneInfo(zone)).date()
    work = planned_work(c, {ward_id}, {zone: today})[ward_id]
    weeks = inputs_by_week(work, call.services.rulebook, today)
    return shapes.InputsOut(ward_id=ward_id, weeks=[_week(week) for week in weeks])


def zone_or_problem(c: Connection, call: Call) -> str:
    """Time zone of the ward in the address, if the key sees it.

    Raises
    ------
    Problem
        There is none among the key's wards.
    """
    ward_id = call.ids["ward_id"]
    zones = {ward.id: ward.zone for ward in wards_seen(c, call.scope)}
    if ward_id not in zones:
        raise Problem(404, f"There is no ward {ward_id} among those of this key.")
    return zones[ward_id]


def _week(week: WeekInputs) -> shapes.WeekOut:
    return shapes.WeekOut(
        week=week.label,
        monday=week.monday,
        first_needed_on=week.first_on,
        fertiliser_kg=dict(week.fertiliser_kg),
        bags_50kg=dict(week.bags),
        manure_kg=week.manure_kg,
        tea_litres=week.tea_l,
        labour_days=week.labour_days,
    )


@reads("/routes", KeyScope.ROUTES_READ, NoQuery, shapes.RoutesOut)
def routes(c: Connection, call: Call, query: NoQuery) -> shapes.RoutesOut:
    """Show how the routes of the whole programme fare."""
    now = call.services.clock()
    names = [route.name for route in call.services.routes]
    fares = route_health.healths(c, names)
    tries = tries_by_route(c, names, now)
    items = []
    for route in call.services.routes:
        fare = fares.get(route.name)
        items.append(
            shapes.RouteOut(
                name=route.name,
                gateway=route.gateway,
                failures_in_a_row=fare.failures if fare else 0,
                rests_until=fare.rests_until if fare else None,
                last_24_hours=_figures(tries[route.name].last_24_h),
                last_7_days=_figures(tries[route.name].all_days),
            )
        )
    return shapes.RoutesOut(items=items)


def _figures(tries: Tries) -> shapes.RouteFigures:
    return shapes.RouteFigures(
        tried=tries.tried,
        delivered=tries.fates[Fate.DELIVERED],
        undelivered=tries.fates[Fate.UNDELIVERED],
        refused=tries.fates[Fate.REFUSED],
        in_doubt=tries.fates[Fate.IN_DOUBT],
    )
