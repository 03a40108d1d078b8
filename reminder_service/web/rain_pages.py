"""A ward's rain book: the picture, the days, what does not fit, and everything as CSV."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from sqlalchemy import Connection
from werkzeug.wrappers import Response as Answer

from reminder_service.agronomy.onset_criteria import Criterion, criterion
from reminder_service.agronomy.rain_book import Flag, Observer, observation_flags, ward_rain
from reminder_service.kinds import MOVABLE, NoticeState
from reminder_service.records import rain, ward_rains
from reminder_service.records.engine import reading
from reminder_service.records.views import Ward
from reminder_service.web.csv_cells import csv_text
from reminder_service.web.rain_bars import rain_bars
from reminder_service.web.said import say
from reminder_service.web.walls import may_change, person, services, today_in, ward_or_404
from reminder_service.web.wording import counted
from reminder_service.work import gauges_by_hand
from reminder_service.work.false_starts import asked_plots
from reminder_service.work.season_rain import CRITERION, SeasonRain, season_rain

blueprint = Blueprint("rain", __name__, url_prefix="/wards/<int:ward_id>")

OBSERVER_WORDS: Mapping[Observer, str] = {
    Observer.KEEPER: "gauge keeper",
    Observer.FARMER: "farmers",
    Observer.FILE: "file",
    Observer.SOURCE: "rain source",
}
"""Whose amount counts, as the pages say it."""

FLAG_WORDS: Mapping[Flag, str] = {
    Flag.DUPLICATE: "said twice",
    Flag.REPLACED: "replaced by a later one",
    Flag.IMPOSSIBLE: "not believed",
    Flag.DISAGREES: "observers far apart",
    Flag.TRACE: "trace",
}
"""What is odd about an amount, as the pages say it."""

GOING_OUT = frozenset({*MOVABLE, NoticeState.CLAIMED})
"""States of a question that the farmer has not had yet."""

CSV_HEAD = ("date", "mm", "from", "flags", "ward", "plot")


@dataclass(frozen=True, slots=True)
class Stretch:
    """One row of the table: a day with rain or something odd, or days alike in a row.

    ``mm`` is None for unknown days; ``linked`` says whether the day has observations to look at.
    """

    first: date
    last: date
    mm: float | None
    observer: str
    odd: str
    linked: bool


@blueprint.get("/rain")
def page(ward_id: int) -> str:
    """Show a ward's rain in one season."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        starts_on, today = _season(here)
        plot, plot_id = _plot(c, ward_id)
        book = season_rain(c, ward_id, starts_on, today, plot_id)
        left = ward_rains.count_replans(c, ward_id)
        asked = asked_plots(c, here, starts_on)
    declared_on = book.declared.on if book.declared else None
    bars = rain_bars(
        book.first,
        book.last,
        book.rain,
        book.unknown,
        book.onset,
        today,
        declared_on,
        book.disbelieved,
    )
    return render_template(
        "rain.html",
        ward=here,
        today=today,
        book=book,
        bars=bars,
        stretches=stretches(book),
        plot=plot,
        declared=book.declared,
        rule=_rule_words(criterion(CRITERION)),
        season=starts_on,
        earlier=starts_on.replace(year=starts_on.year - 1),
        is_running=starts_on == services().settings.season_start(today),
        left=left,
        asked=asked,
        going_out=GOING_OUT,
        may_change=may_change(),
    )


@blueprint.get("/rain.csv")
def export(ward_id: int) -> Response:
    """Hand out every day of the season, unknown ones with an empty amount."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        starts_on, today = _season(here)
        plot, plot_id = _plot(c, ward_id)
        book = season_rain(c, ward_id, starts_on, today, plot_id)
    answer = Response(csv_text(_csv_rows(book, here, plot)), content_type="text/csv; charset=utf-8")
    name = f"rain-ward-{ward_id}-{starts_on}.csv"
    answer.headers.set("Content-Disposition", "attachment", filename=name)
    return answer


@blueprint.get("/rain/<day>")
def day(ward_id: int, day: str) -> str:
    """Show everything that was observed on one day."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        on = _day_or_404(day)
        lines = rain.observation_lines(c, ward_id, on)
    counting = [line.seen for line in lines if not line.left_out_at and not line.taken_back]
    return render_template(
        "rain_day.html",
        ward=here,
        on=on,
        lines=lines,
        flags=observation_flags(counting),
        counts=ward_rain(counting).get(on),
        flag_words=FLAG_WORDS,
        observer_words={**OBSERVER_WORDS, Observer.FARMER: "farmer's text"},
        may_change=may_change(),
    )


@blueprint.post("/rain/leave-out")
def leave_out(ward_id: int) -> Answer:
    """Leave one observation out, or count it again."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
    on = _day_or_404(request.form.get("day", ""))
    out = request.form.get("action") == "leave out"
    ids = [int(each) for each in request.form.getlist("id") if each.isdecimal()][:1000]
    if gauges_by_hand.leave_out(services(), here, ids, person(), out=out):
        say("Left out: it no longer counts." if out else "Counted again.")
    else:
        say("Nothing was changed: somebody has done that meanwhile.", failed=True)
    return redirect(url_for(".day", ward_id=ward_id, day=on.isoformat()))


@blueprint.post("/keepers")
def keepers(ward_id: int) -> Answer:
    """Make the farmer of a plot gauge keeper of the ward, or end it."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
    ending = request.form.get("farmer", "")
    if ending.isdecimal():
        ended = gauges_by_hand.end_keeper(services(), here, int(ending), person())
        say("No longer gauge keeper." if ended else "Nothing was changed.", failed=not ended)
    else:
        number = request.form.get("plot", "").strip()[:12]
        name = gauges_by_hand.add_keeper(services(), here, number, person())
        if name is None:
            say("Nothing was changed: give the number of a plot of this ward.", failed=True)
        else:
            say(f"{name} keeps the rain gauge of {here.name}: RAIN 23 from that phone is 23 mm.")
    return redirect(url_for("wards.ward", ward_id=ward_id))


def stretches(book: SeasonRain) -> list[Stretch]:
    """Rows of the table: each day with rain or something odd, and runs of days alike.

    Parameters
    ----------
    book : the season's rain
    """
    rows: list[Stretch] = []
    odd_days = {*book.disbelieved}
    day = book.first
    while day <= book.last:
        rows = _with(rows, _stretch(book, day, odd_days))
        day += timedelta(days=1)
    return rows


def _with(rows: list[Stretch], new: Stretch) -> list[Stretch]:
    """The rows and one more; days alike that nobody need look at are drawn together."""
    last = rows[-1] if rows else None
    quiet = not new.mm and not new.odd
    if last is None or not quiet or last.odd or last.mm != new.mm:
        return [*rows, new]
    rows[-1] = Stretch(last.first, new.last, last.mm, "", "", linked=False)
    return rows


def _stretch(book: SeasonRain, on: date, odd_days: set[date]) -> Stretch:
    known = book.rain.get(on)
    if known is None:
        odd = "the amount is not believed" if on in odd_days else ""
        return Stretch(on, on, None, "", odd, linked=on in odd_days)
    odd = ", ".join(FLAG_WORDS[flag] for flag in sorted(known.flags))
    return Stretch(on, on, known.mm, OBSERVER_WORDS[known.observer], odd, linked=True)


def _season(here: Ward) -> tuple[date, date]:
    """First day of the season asked for, the running one without a question, and today."""
    today = today_in(here.zone)
    asked = request.args.get("season")
    running = services().settings.season_start(today)
    if not asked:
        return running, today
    starts_on = services().settings.season_start(_day_or_404(asked))
    return starts_on if starts_on <= running else abort(404), today


def _plot(c: Connection, ward_id: int) -> tuple[str, int | None]:
    """The plot asked for, if one is: its number and id."""
    number = request.args.get("plot", "").strip().upper()[:12]
    if not number:
        return "", None
    return number, rain.plots_by_number(c, [ward_id]).get((ward_id, number)) or abort(404)


def _day_or_404(written: str) -> date:
    try:
        found = date.fromisoformat(written)
    except ValueError:
        abort(404)
    return found if 1900 <= found.year < 2200 else abort(404)


def _rule_words(rule: Criterion) -> str:
    more = "more than" if rule.wet_test == "more_than" else "at least"
    words = f"{more} {rule.wet_mm:g} mm within {counted(rule.within_days, 'day', 'days')}"
    if rule.reject_dry_days is None:
        return words
    return (
        f"{words}, and in the {rule.look_ahead_days} days after it no {rule.reject_dry_days} days "
        f"in a row under {rule.wet_day_mm:g} mm"
    )


def _csv_rows(book: SeasonRain, here: Ward, plot: str) -> Iterator[list[str | float]]:
    yield list(CSV_HEAD)
    on = book.first
    while on <= book.last:
        known = book.rain.get(on)
        if known is None:
            yield [on.isoformat(), "", "", "unknown", here.name, plot]
        else:
            flags = " ".join(sorted(known.flags))
            yield [on.isoformat(), known.mm, known.observer.value, flags, here.name, plot]
        on += timedelta(days=1)
