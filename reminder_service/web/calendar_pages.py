"""Secret links to calendars: made and ended beside a ward or plot, fetched by calendar programs."""

from flask import (
    Blueprint,
    Response,
    abort,
    redirect,
    render_template,
    request,
    url_for,
)
from flask.typing import ResponseReturnValue

from reminder_service.records import calendars as records
from reminder_service.records.engine import reading
from reminder_service.web.said import say
from reminder_service.web.walls import (
    form_number,
    may_change,
    person,
    season_or_404,
    services,
    shown_once,
    ward_or_404,
)
from reminder_service.web.wording import titles_of
from reminder_service.work import calendars

blueprint = Blueprint("calendars", __name__)
feeds = Blueprint("feeds", __name__)


@blueprint.get("/wards/<int:ward_id>/calendar")
def of_ward(ward_id: int) -> str:
    """List the links to a ward's calendar."""
    with reading(services().engine) as c:
        name = ward_or_404(c, ward_id).name
        links = records.links_of(c, ward_id=ward_id)
    return _page(name, links, url_for("wards.ward", ward_id=ward_id))


@blueprint.post("/wards/<int:ward_id>/calendar")
def change_of_ward(ward_id: int) -> ResponseReturnValue:
    """Make a link to a ward's calendar, or end one."""
    with reading(services().engine) as c:
        name = ward_or_404(c, ward_id).name
    if request.form.get("end"):
        _say(calendars.end_link(services(), form_number("end"), person(), ward_id=ward_id))
        return redirect(url_for(".of_ward", ward_id=ward_id))
    secret = calendars.make_link(services(), person(), ward_id=ward_id)
    with reading(services().engine) as c:
        links = records.links_of(c, ward_id=ward_id)
    link = url_for("feeds.ward", ward_id=ward_id, key=secret, _external=True)
    return shown_once(_page(name, links, url_for("wards.ward", ward_id=ward_id), link))


@blueprint.get("/plots/<int:season_id>/calendar")
def of_plot(season_id: int) -> str:
    """List the links to a plot's calendar."""
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
        links = records.links_of(c, plot_id=season.plot_id)
    return _page(f"plot {season.plot_number}", links, url_for("plots.page", season_id=season_id))


@blueprint.post("/plots/<int:season_id>/calendar")
def change_of_plot(season_id: int) -> ResponseReturnValue:
    """Make a link to a plot's calendar, or end one."""
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
    if request.form.get("end"):
        _say(calendars.end_link(services(), form_number("end"), person(), plot_id=season.plot_id))
        return redirect(url_for(".of_plot", season_id=season_id))
    secret = calendars.make_link(services(), person(), plot_id=season.plot_id)
    with reading(services().engine) as c:
        links = records.links_of(c, plot_id=season.plot_id)
    link = url_for("feeds.plot", plot_id=season.plot_id, key=secret, _external=True)
    back = url_for("plots.page", season_id=season_id)
    return shown_once(_page(f"plot {season.plot_number}", links, back, link))


def _page(name: str, links: list[records.CalendarLink], back: str, made: str = "") -> str:
    return render_template(
        "calendar.html", name=name, links=links, back=back, made=made, may_change=may_change()
    )


def _say(ended: bool) -> None:
    say("The link shows nothing any more." if ended else "Nothing was changed.", failed=not ended)


@feeds.get("/calendar/ward/<int:ward_id>.ics")
def ward(ward_id: int) -> Response:
    """Hand out a ward's calendar to whoever has a link."""
    link = _link()
    return _calendar(link) if link.ward_id == ward_id else abort(404)


@feeds.get("/calendar/plot/<int:plot_id>.ics")
def plot(plot_id: int) -> Response:
    """Hand out a plot's calendar to whoever has a link."""
    link = _link()
    return _calendar(link) if link.plot_id == plot_id else abort(404)


def _link() -> records.CalendarLink:
    return calendars.link_shown(services(), request.args.get("key", "")) or abort(404)


def _calendar(link: records.CalendarLink) -> Response:
    made = calendars.calendar_of(services(), link, titles_of(services().rulebook))
    answer = Response(made, content_type="text/calendar; charset=utf-8")
    answer.headers.set("Content-Disposition", "inline", filename="tasks.ics")
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.add_etag()
    answer.make_conditional(request)
    return answer
