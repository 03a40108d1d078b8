"""Where a ward lies, its soil, and its daily temperatures: what the soil water is reckoned by."""

from datetime import timedelta

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from reminder_service.agronomy.evapotranspiration import LATITUDE_RANGE
from reminder_service.agronomy.soils import SOILS
from reminder_service.records import weather
from reminder_service.records.engine import reading
from reminder_service.records.weather import WardPlace
from reminder_service.web.rain_input_pages import file_given
from reminder_service.web.said import say
from reminder_service.web.walls import may_change, person, services, today_in, ward_or_404
from reminder_service.web.wording import counted
from reminder_service.work.normals import ward_normals
from reminder_service.work.rain_rows import BadRow
from reminder_service.work.temperature_import import import_temperatures, place_ward

blueprint = Blueprint("weather", __name__, url_prefix="/wards/<int:ward_id>/weather")


LATEST_DAYS = 10
"""Days up to today whose temperatures are listed (setting)."""


@blueprint.get("")
def page(ward_id: int) -> str:
    """Show what is known of a ward's place, soil and temperatures."""
    settings = services().settings
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        today = today_in(here.zone)
        starts_on = settings.season_start(today)
        place = weather.ward_place(c, ward_id)
        air = weather.daily_temperatures(c, ward_id, starts_on, today)
    days = (today - starts_on).days + 1
    return render_template(
        "weather.html",
        ward=here,
        today=today,
        starts_on=starts_on,
        days=days,
        place=place,
        measured=len(air),
        last_on=max(air, default=None),
        latest=[
            (on, air[on])
            for on in (today - timedelta(days=n) for n in range(LATEST_DAYS))
            if on in air
        ],
        months=len(ward_normals(settings, here.name)),
        usual_mm=settings.usual_et0_mm,
        usual_soil=settings.soil,
        soils=tuple(SOILS),
        latitudes=LATITUDE_RANGE,
        may_change=may_change(),
    )


@blueprint.post("/place")
def place(ward_id: int) -> Response:
    """Say where the ward lies, and the soil of plots that name none."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
    low, high = LATITUDE_RANGE
    written, soil = request.form.get("latitude", "").strip(), request.form.get("soil", "")
    try:
        latitude = float(written.replace(",", ".")) if written else None
    except ValueError:
        latitude = high + 1
    if (latitude is not None and not low <= latitude <= high) or (soil and soil not in SOILS):
        wanted = f"give degrees from {low:g} to {high:g}, south below zero"
        say(f"Nothing was changed: {wanted}.", failed=True)
    else:
        place_ward(services(), here, WardPlace(latitude, soil or None), person())
        say("Noted. Soil and reminders go by it from now on.")
    return redirect(url_for(".page", ward_id=ward_id))


@blueprint.post("/temperatures")
def temperatures(ward_id: int) -> Response:
    """Take a file of daily temperatures."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
    text, name = file_given()
    try:
        kept, faults = import_temperatures(services(), here, text, name, person())
    except BadRow as fault:
        kept, faults = 0, [str(fault)]
    if faults:
        say(f"Nothing was kept: {'; '.join(faults)}.", failed=True)
    else:
        say(f"Temperatures of {counted(kept, 'day', 'days')} kept from {name}.")
    return redirect(url_for(".page", ward_id=ward_id))
