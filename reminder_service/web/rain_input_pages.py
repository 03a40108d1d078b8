"""What goes into a ward's rain book by hand: files of daily rain, and the ward's first rain."""

import re
from datetime import date

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from reminder_service.records import ward_rains
from reminder_service.records.engine import reading
from reminder_service.records.views import Ward
from reminder_service.web.said import say
from reminder_service.web.walls import may_change, person, scope, services, today_in, ward_or_404
from reminder_service.web.wording import counted
from reminder_service.work import ward_rain
from reminder_service.work.rain_import import Fate, FilePreview, RowFate, import_file, preview_file
from reminder_service.work.rain_rows import BadRow

blueprint = Blueprint("rain_input", __name__, url_prefix="/wards/<int:ward_id>/rain")

ROWS_SHOWN = 80
"""Rows of a file that its preview shows; faulty and odd ones come first (setting)."""

FATE_WORDS = {
    Fate.NEW: "is kept",
    Fate.CHANGED: "is kept",
    Fate.KNOWN: "known",
    Fate.UNKNOWN: "unknown",
    Fate.FAULTY: "faulty",
}
"""What becomes of a row, as the page says it."""


@blueprint.get("/file")
def file(ward_id: int) -> str:
    """Ask for a file of daily rain."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
    return _file_page(here)


@blueprint.post("/file")
def take_file(ward_id: int) -> Answer | str:
    """Show what a file would come to, or take it."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
    text, name = file_given()
    take = request.form.get("take", "")
    try:
        if take not in ("whole", "good"):
            return _file_page(here, text, name, preview_file(services(), here, scope(), text, name))
        whole = take == "whole"
        found, kept = import_file(services(), here, scope(), text, name, person(), whole=whole)
    except BadRow as fault:
        say(f"Nothing was kept: {fault}.", failed=True)
        return _file_page(here)
    faulty = found.counts.get(Fate.FAULTY, 0)
    if whole and faulty:
        say(f"Nothing was kept: {counted(faulty, 'row is', 'rows are')} faulty.", failed=True)
        return _file_page(here, text, name, found)
    left = f" {counted(faulty, 'faulty row was', 'faulty rows were')} left out." if faulty else ""
    say(f"{counted(kept, 'amount', 'amounts')} kept from {name}.{left}")
    return redirect(url_for("rain.page", ward_id=ward_id))


@blueprint.get("/first")
def first(ward_id: int) -> str:
    """Show what declaring a first rain would come to, before anything is changed."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        starts_on = services().settings.season_start(today_in(here.zone))
        declared = ward_rains.declared(c, ward_id, starts_on)
    if not may_change():
        abort(403)
    on = _day_given(request.args.get("on", ""))
    taking_back = request.args.get("on") == "" and declared is not None
    fault = None if taking_back else _fault(here, on)
    found = ward_rain.preview(services(), here, on) if fault is None else None
    return render_template(
        "rain_first.html",
        ward=here,
        on=on,
        fault=fault,
        preview=found,
        declared=declared,
        starts_on=starts_on,
        today=today_in(here.zone),
    )


@blueprint.post("/first")
def declare(ward_id: int) -> Answer:
    """Declare the ward's first rain, or take it back."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
    on = _day_given(request.form.get("on", ""))
    if on is None and request.form.get("action") != "take back":
        say("Nothing was changed: give the day on which it rained.", failed=True)
    else:
        outcome = ward_rain.declare(services(), here, on, person())
        say(outcome.sentence, failed=not outcome.done)
    return redirect(url_for("rain.page", ward_id=ward_id))


def _fault(here: Ward, on: date | None) -> str | None:
    if on is None:
        return "Give the day on which it rained."
    return ward_rain.fault_of(services(), here, on)


def _file_page(here: Ward, text: str = "", name: str = "", found: FilePreview | None = None) -> str:
    rows = found.rows if found else ()
    faulty = [each for each in rows if each.fate is Fate.FAULTY]
    others = sorted((each for each in rows if each.fate is not Fate.FAULTY), key=_is_plain)
    return render_template(
        "rain_file.html",
        ward=here,
        text=text,
        name=name,
        found=found,
        shown=[*faulty, *others][:ROWS_SHOWN],
        kept=sum(each.new is not None for each in rows),
        faulty=len(faulty),
        fate_words=FATE_WORDS,
        may_change=may_change(),
    )


def _is_plain(each: RowFate) -> bool:
    """Whether nothing need be said of a row: those come last."""
    return not each.why


def file_given() -> tuple[str, str]:
    """Text and name of the file in the form: uploaded, or as a preview carried it."""
    uploaded = request.files.get("file")
    if uploaded is not None and uploaded.filename:
        raw = uploaded.read()
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = raw.decode("latin-1")  # older spreadsheets; digits are the same in both
        return text, _plain_name(uploaded.filename)
    return request.form.get("text", ""), _plain_name(request.form.get("name", ""))


def _plain_name(given: str) -> str:
    kept = re.sub(r"[^\w .-]", "", given.replace("\\", "/").rpartition("/")[2]).strip()
    return kept[:60] or "typed in"


def _day_given(written: str) -> date | None:
    try:
        return date.fromisoformat(written)
    except ValueError:
        return None
