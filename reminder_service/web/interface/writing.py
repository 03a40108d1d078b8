"""Calls that write, by the same functions as the pages: reports, notices, rain."""

from zoneinfo import ZoneInfo

from reminder_service.kinds import Kind, NoticeState
from reminder_service.records import open_views
from reminder_service.records.engine import reading
from reminder_service.records.rain import plots_by_number
from reminder_service.web.interface import shapes
from reminder_service.web.interface.operations import Call, writes
from reminder_service.web.interface.problems import FieldFault, Problem
from reminder_service.web.interface.reading import (
    YEARS,
    notice_or_problem,
    zone_or_problem,
)
from reminder_service.web.queue_pages import can_again
from reminder_service.work import by_hand
from reminder_service.work.program_keys import KeyScope
from reminder_service.work.rain_by_program import Reading, keep_readings


@writes("/plots/{plot_id}/reports", KeyScope.REPORTS_WRITE, shapes.ReportIn, shapes.ReportKept, 201)
def report(call: Call, body: shapes.ReportIn) -> shapes.ReportKept:
    """Report what happened on a plot in its open season; the same fact again corrects it."""
    with reading(call.services.engine) as c:
        found = open_views.open_season_of_plot(c, call.ids["plot_id"], call.scope)
    if found is None:
        plot_id = call.ids["plot_id"]
        detail = f"There is no plot {plot_id} with an open season in the wards of this key."
        raise Problem(404, detail)
    given = body.root
    done = given if isinstance(given, shapes.DoneIn) else None
    outcome = by_hand.report(
        call.services,
        found,
        call.asking.person,
        Kind(given.kind),
        given.on,
        done.task if done else None,
        done.number if done else None,
    )
    if not outcome.accepted:
        raise Problem(409, outcome.sentence, [_fault(given)])
    with reading(call.services.engine) as c:
        last = open_views.standing_report(c, found, given.kind, given.on)
    if last is None:
        raise Problem(409, "Another report took the place of this one at the same moment.")
    return shapes.ReportKept(id=last, sentence=outcome.sentence, changes=outcome.changes)


def _fault(given: shapes.FactIn | shapes.DoneIn) -> FieldFault:
    return FieldFault(
        field="body.on",
        value=given.on.isoformat(),
        expected="a day and a task that agree with the season and its other reports",
    )


def _changed(call: Call, changed: list[int], verb: str, state: NoticeState) -> shapes.NoticeNow:
    """Answer the new state, or why there is none."""
    if not changed:
        with reading(call.services.engine) as c:
            now = notice_or_problem(c, call).state
        raise Problem(409, f"The notice is {now}: nobody can {verb} it now.")
    return shapes.NoticeNow(id=changed[0], state=state)


def _seen(call: Call) -> list[int]:
    with reading(call.services.engine) as c:
        return [notice_or_problem(c, call).id]


@writes("/notices/{notice_id}/hold", KeyScope.NOTICES_WRITE, shapes.NothingIn, shapes.NoticeNow)
def hold(call: Call, body: shapes.NothingIn) -> shapes.NoticeNow:
    """Keep a notice from going out until it is released."""
    held = by_hand.hold(call.services, _seen(call), call.asking.person)
    return _changed(call, held, "hold", NoticeState.HELD)


@writes("/notices/{notice_id}/release", KeyScope.NOTICES_WRITE, shapes.NothingIn, shapes.NoticeNow)
def release(call: Call, body: shapes.NothingIn) -> shapes.NoticeNow:
    """Let a held notice go out."""
    released = by_hand.release(call.services, _seen(call), call.asking.person)
    return _changed(call, released, "release", NoticeState.PLANNED)


@writes(
    "/notices/{notice_id}/again", KeyScope.NOTICES_WRITE, shapes.NothingIn, shapes.NoticeNow, 201
)
def again(call: Call, body: shapes.NothingIn) -> shapes.NoticeNow:
    """Queue the words of a notice that has left the queue once more, as a new notice."""
    with reading(call.services.engine) as c:
        line = notice_or_problem(c, call)
    if not can_again(line):
        detail = (
            f"The notice is {line.state}, or its phone has stopped: only what has left the queue "
            "and is not in doubt can go again."
        )
        raise Problem(409, detail)
    new_id = by_hand.send_again(call.services, line.id, call.asking.person)
    return shapes.NoticeNow(id=new_id, state=NoticeState.PLANNED)


@writes(
    "/wards/{ward_id}/rain-observations",
    KeyScope.RAIN_WRITE,
    shapes.RainIn,
    shapes.RainKept,
    201,
)
def keep_rain(call: Call, body: shapes.RainIn) -> shapes.RainKept:
    """Put readings of rain into a ward's rain book; what came before stays on record."""
    ward_id = call.ids["ward_id"]
    with reading(call.services.engine) as c:
        zone = zone_or_problem(c, call)
        plots = plots_by_number(c, [ward_id])
    today = call.services.clock().astimezone(ZoneInfo(zone)).date()
    faults, readings = [], []
    for place, each in enumerate(body.readings):
        field = f"body.readings.{place}"
        if each.on.year not in YEARS or each.on > today:
            expected = f"a day from {YEARS[0]}-01-01 to {today}"
            faults.append(
                FieldFault(field=f"{field}.on", value=each.on.isoformat(), expected=expected)
            )
        plot_id = plots.get((ward_id, each.plot.strip().upper())) if each.plot else None
        if each.plot and plot_id is None:
            expected = "the number of a plot of this ward"
            faults.append(FieldFault(field=f"{field}.plot", value=each.plot, expected=expected))
        readings.append(Reading(each.on, each.mm, each.trace, plot_id))
    if faults:
        raise Problem(409, "Nothing was kept: see which readings do not fit.", faults)
    return shapes.RainKept(kept=keep_readings(call.services, ward_id, call.asking, readings))
