"""Texts that nobody could read: one touch says what each means, or that nothing is to be done."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from babel import Locale
from flask import Blueprint, abort, redirect, render_template, request, url_for
from pydantic import ValidationError
from werkzeug.wrappers import Response

from reminder_service.kinds import REPORTS, Kind, SeasonId
from reminder_service.records import unread
from reminder_service.records.engine import reading
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.records.types import Settlement
from reminder_service.records.unread import MadeReport, WaitingText
from reminder_service.texts.reading_types import Said, said_from, said_value
from reminder_service.texts.reports import LOOKED_AT, MOST_RAIN_MM, MOST_SEEDLINGS
from reminder_service.web.said import Undo, say
from reminder_service.web.walls import (
    here,
    local_path,
    may_change,
    now,
    number_given,
    person,
    scope,
    services,
    today_in,
)
from reminder_service.web.wording import day_words, kind_words, titles_of
from reminder_service.work import correcting, offering
from reminder_service.work.correcting import Corrected, TextReport
from reminder_service.work.offering import Meant, Offer

blueprint = Blueprint("unread", __name__, url_prefix="/unread")

TEXTS_A_PAGE = 20
"""Texts on one page; each brings its buttons and a form, and the page stays light (setting)."""

SETTLED_FOR = timedelta(days=1)
"""How long a settled text can be put back from the page (setting)."""

SETTLED_SHOWN = 10
"""Settled texts shown at most (setting)."""

LISTED_PLOTS = 12
"""Of more plots, as on a lead farmer's phone, the number is written, not chosen (setting)."""

LONG_TEXT = 400
"""Characters above which a text is folded (setting)."""

BYTES_SHOWN = 48
"""Bytes shown of what is no text (setting)."""

NOT_READ = "Nothing was taken: "
"""How every refusal of the form begins."""


@dataclass(frozen=True, slots=True)
class Line:
    """One text on the page.

    Attributes
    ----------
    body : the text as it can be shown
    raw : its first bytes, for what is no text
    buttons : words and value of each likely reading
    """

    offer: Offer
    body: str
    raw: str
    buttons: list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class SettledLine:
    """One text that somebody has settled lately: what became of it, in words."""

    text: WaitingText
    body: str
    became: str


@blueprint.get("")
def page() -> str:
    """List the texts that wait, newest first, each with what it is likely to mean."""
    with reading(services().engine) as c:
        texts = unread.waiting_page(c, scope(), number_given("before"), TEXTS_A_PAGE + 1)
        more, texts = len(texts) > TEXTS_A_PAGE, texts[:TEXTS_A_PAGE]
        lines = [_line(offer) for offer in offering.offers(c, services(), texts, scope())]
        settled = unread.settled_texts(c, scope(), now() - SETTLED_FOR, SETTLED_SHOWN)
        made = unread.reports_of_texts(c, [text.id for text in settled])
        strange = offering.strange_words(c, services(), scope())
    return render_template(
        "unread.html",
        lines=lines,
        more=texts[-1].id if more else None,
        settled=[_settled_line(text, made) for text in settled],
        strange=strange,
        language_name=_language_name,
        kinds=REPORTS,
        tasks=[task.name for task in services().rulebook.tasks],
        listed_plots=LISTED_PLOTS,
        long_text=LONG_TEXT,
        today_in=today_in,
        made_words=_made_words,
        may_change=may_change(),
        back=here(),
    )


@blueprint.post("/<int:text_id>/read")
def read(text_id: int) -> Response:
    """Take what a text means: by one touch, or from the form."""
    with reading(services().engine) as c:
        text = unread.waiting_text(c, text_id, scope()) or abort(404)
        phone_ids = [] if text.phone_id is None else [text.phone_id]
        users = unread.users_of_phones(c, phone_ids)
        plots = unread.plots_of_users(c, users, scope()).get(text.phone_id or 0, [])
    touched = request.form.get("meant")
    meant = _meant_given(touched, plots) if touched else _form_given(plots)
    if isinstance(meant, str):
        say(f"{NOT_READ}{meant}", failed=True)
    else:
        _tell(text_id, correcting.correct(services(), text_id, person(), meant))
    return _back()


@blueprint.post("/<int:text_id>/aside")
def aside(text_id: int) -> Response:
    """Set a text aside: nothing is to be done."""
    _seen_or_404(text_id)
    _tell(text_id, correcting.set_aside(services(), text_id, person()))
    return _back()


@blueprint.post("/<int:text_id>/back")
def put_back(text_id: int) -> Response:
    """Let a settled text wait again, its reports taken back."""
    _seen_or_404(text_id)
    outcome = correcting.put_back(services(), text_id, person())
    say(outcome.sentence, failed=not outcome.done, more=outcome.changes)
    return _back()


def _seen_or_404(text_id: int) -> None:
    with reading(services().engine) as c:
        if unread.waiting_text(c, text_id, scope()) is None:
            abort(404)


def _tell(text_id: int, outcome: Corrected) -> None:
    path = url_for(".put_back", text_id=text_id)
    undo = Undo("let it wait again", [], _back_path(), path) if outcome.done else None
    say(outcome.sentence, failed=not outcome.done, more=outcome.changes, undo=undo)


def _back_path() -> str:
    return local_path(request.form.get("back"), url_for(".page"))


def _back() -> Response:
    return redirect(_back_path())


def _line(offer: Offer) -> Line:
    body = offering.shown(offer.text.body)
    is_text = offer.text.body == body.encode()
    raw = "" if is_text else offer.text.body[:BYTES_SHOWN].hex(" ")
    shared = len({plot.farmer_id for plot in offer.plots}) > 1
    numbers = {
        plot.season_id: f"{plot.plot_number}, {plot.farmer_name}" if shared else plot.plot_number
        for plot in offer.plots
    }
    title = titles_of(services().rulebook)
    buttons = [(meant_words(meant, numbers, title), _value(meant)) for meant in offer.meant]
    return Line(offer, body, raw, buttons)


def meant_words(
    meant: Meant, numbers: dict[SeasonId, str], title: Callable[[str, int], str]
) -> str:
    """One reading as its button says it.

    Parameters
    ----------
    meant : the reports, each with its plot
    numbers : plot of each season, as the button names it
    title : writer of a task's name

    Returns
    -------
    words such as ``Germinated, Sat 21 Nov, plot 3``
    """
    said = [f"{_said_words(each.said, title)}, plot {numbers[each.season_id]}" for each in meant]
    words = "; ".join(said)
    return words[:1].upper() + words[1:]


def _said_words(said: Said, title: Callable[[str, int], str]) -> str:
    what = kind_words(said.kind)
    if said.task:
        what = f"done: {title(said.task, said.number or 0)}"
    elif said.mm is not None:
        what = f"{what} {said.mm:g} mm"
    elif said.counts:
        what = f"{what} {' '.join(map(str, said.counts))}"
    elif said.damaged is not None:
        what = f"{what} {said.damaged} of {LOOKED_AT}"
    return f"{what}, {day_words(said.on)}" if said.on else what


def _value(meant: Meant) -> str:
    return json.dumps(
        [said_value(each.said) | {"season": each.season_id} for each in meant], default=str
    )


def _made_words(made: MadeReport) -> str:
    report = made.report
    said = Said(report.kind, report.on, task=report.task, number=report.number)
    return f"{_said_words(said, titles_of(services().rulebook))}, plot {made.plot_number}"


def _settled_line(text: WaitingText, made: Sequence[MadeReport]) -> SettledLine:
    became = "nothing to do"
    if text.settled_as is Settlement.REPORTED:
        own = [_made_words(each) for each in made if each.text_id == text.id]
        became = f"read as {'; '.join(own)}" if own else "read as known already, or taken back"
    return SettledLine(text, offering.shown(text.body), became)


def _language_name(code: str) -> str:
    return str(Locale("en").languages.get(code, code))


def _meant_given(written: str, plots: Sequence[PlotOnPhone]) -> list[TextReport]:
    """The reading that a button carries; 400 if it is none, 404 for a plot out of reach."""
    known = {plot.season_id for plot in plots}
    try:
        values = json.loads(written)
        meant = [TextReport(SeasonId(value.pop("season")), said_from(value)) for value in values]
    except (AttributeError, KeyError, TypeError, ValueError, ValidationError):
        abort(400)
    if not all(each.season_id in known for each in meant):
        abort(404)
    return meant if meant and all(_fits(each.said) for each in meant) else abort(400)


def _fits(said: Said) -> bool:
    """Whether a report has all that its kind needs, within bounds."""
    if said.kind not in REPORTS or said.on is None:
        return False
    if said.kind is Kind.DONE:
        return said.task in services().rulebook.by_name
    if said.kind is Kind.RAIN or said.mm is not None:
        return said.mm is not None and 0 <= said.mm <= MOST_RAIN_MM
    if said.kind is Kind.COUNT:
        return bool(said.counts) and all(0 <= seen <= MOST_SEEDLINGS for seen in said.counts)
    if said.kind is Kind.BORER_COUNT:
        return said.damaged is not None and 0 <= said.damaged <= LOOKED_AT
    return True


def _form_given(plots: Sequence[PlotOnPhone]) -> list[TextReport] | str:
    """What the form says, or what is wrong with it; 400 if a part is none of its choices."""
    if request.form.get("kind") not in REPORTS:
        abort(400)
    kind = Kind(request.form["kind"])
    try:
        on = date.fromisoformat(request.form.get("on", ""))
    except ValueError:
        return "give the day."
    plot = _plot_given(plots)
    if isinstance(plot, str):
        return plot
    said = _measured(Said(kind, on, on_given=True), request.form.get("how_much", "").strip())
    if kind is Kind.DONE:
        said = replace(said, task=request.form.get("task") or None)
    return [TextReport(plot.season_id, said)] if _fits(said) else _missing(kind)


def _plot_given(plots: Sequence[PlotOnPhone]) -> PlotOnPhone | str:
    written = request.form.get("plot", "").strip()
    season = request.form.get("season", "")
    if season:
        found = [plot for plot in plots if str(plot.season_id) == season]
        return found[0] if found else abort(404)
    named = [plot for plot in plots if plot.plot_number == written.upper()]
    if len(named) == 1:
        return named[0]
    return f"this phone cannot report for one plot {written!r}." if written else "give the plot."


def _measured(said: Said, written: str) -> Said:
    """The report with what was measured; left as it is where nothing fitting was written."""
    numbers = written.replace(",", " ").split()
    try:
        if said.kind in (Kind.RAIN, Kind.FIRST_RAIN) and written:
            return replace(said, mm=float(written.replace(",", ".")))
        if said.kind is Kind.COUNT:
            return replace(said, counts=tuple(map(int, numbers)))
        if said.kind is Kind.BORER_COUNT and len(numbers) == 1:
            return replace(said, damaged=int(numbers[0]))
    except ValueError:
        return replace(said, mm=-1.0, counts=(), damaged=None)
    return said


def _missing(kind: Kind) -> str:
    return {
        Kind.DONE: "choose the task that was done.",
        Kind.COUNT: f"write the seedlings of each station, 0 to {MOST_SEEDLINGS}, like 2 1 0 3.",
        Kind.BORER_COUNT: f"write how many of {LOOKED_AT} plants had funnel damage.",
    }.get(kind, f"write the rain in mm, 0 to {MOST_RAIN_MM:g}, like 12.")
