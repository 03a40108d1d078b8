"""A ward's place, soil and temperatures on its page, and what a plot has chosen on its own."""

import io
from datetime import date, timedelta
from operator import itemgetter

import pytest
from page_cast import AUDITOR, NOW, OLMARA, a_task
from sqlalchemy import insert, select, update

from reminder_service.agronomy.rain_book import Observer
from reminder_service.kinds import Kind
from reminder_service.records import tables as t
from reminder_service.records.rain import NewObservation, keep_observations
from reminder_service.records.weather_tables import temperatures, ward_places

# Nothing here depends on the engine: the statements run on both in test_weather_records.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

PAGE = "/wards/1/weather"
PLANTED = date(2026, 11, 4)


def rows(cast, table) -> list[dict]:
    with cast.connect() as c:
        return [dict(row) for row in c.execute(select(table)).mappings()]


def upload(coordinator, text: str):
    file = (io.BytesIO(text.encode()), "air.csv")
    return coordinator.send(PAGE, f"{PAGE}/temperatures", file=file).text


@pytest.fixture
def dressed(cast):
    """The dressing of plot 1 is open; it has not rained since planting."""
    with cast.begin() as c:
        a_task(c, 1, "top-dress-first", date(2026, 12, 5))
        planted = {"season_id": 1, "kind": Kind.PLANTED.value, "on": PLANTED, "sent_at": NOW}
        c.execute(insert(t.reports).values(planted))
        seen = [
            NewObservation(
                OLMARA, None, PLANTED + timedelta(n), 0.0, False, Observer.KEEPER, "phone 9"
            )
            for n in range(32)
        ]
        keep_observations(c, seen, NOW)
    return cast


def test_place_and_soil_are_kept_and_shown(cast, coordinator):
    coordinator.send(PAGE, f"{PAGE}/place", latitude="-15,5", soil="clay")
    assert rows(cast, ward_places) == [{"ward_id": OLMARA, "latitude_deg": -15.5, "soil": "clay"}]
    assert "usual amount counts on every day" not in coordinator.see(PAGE)
    coordinator.send(PAGE, f"{PAGE}/place", latitude="", soil="")
    assert rows(cast, ward_places) == [{"ward_id": OLMARA, "latitude_deg": None, "soil": None}]


@pytest.mark.parametrize(
    "form", [{"latitude": "91"}, {"latitude": "south"}, {"latitude": "nan"}, {"soil": "peat"}]
)
def test_an_impossible_place_changes_nothing(cast, coordinator, form):
    said = coordinator.send(PAGE, f"{PAGE}/place", **({"latitude": "", "soil": ""} | form)).text
    assert "Nothing was changed" in said and rows(cast, ward_places) == []


def test_a_file_of_temperatures_is_kept_and_a_later_one_corrects_it(cast, coordinator):
    assert "2 days kept" in upload(
        coordinator, "tmax,date,tmin\n29.5,2026-12-01,17\n28,2/12/2026,16\n,2026-12-03,15\n"
    )
    assert "1 day kept" in upload(
        coordinator, "date;tmin;tmax\n2026-12-01;17;30,5\n2/12/2026;16;28"
    )
    assert [
        (row["day"], row["tmax_c"])
        for row in sorted(rows(cast, temperatures), key=itemgetter("day"))
    ] == [
        (date(2026, 12, 1), 30.5),
        (date(2026, 12, 2), 28.0),
    ]
    assert "measured on 2 of" in coordinator.see(PAGE)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "first line must name"),
        ("date,mm\n2026-12-01,3", "first line must name"),
        ("date,tmin,tmax\n2026-12-01,30,20", "line 2"),
        ("date,tmin,tmax\n2026-12-01,warm,20", "no temperatures"),
        ("date,tmin,tmax\n2027-12-01,10,20", "still to come"),
        ("date,tmin,tmax\n2026-12-01,10,20\n2026-12-01,11,20", "twice"),
        ("date,tmin,tmax\n2026-12-01,10", "cells"),
    ],
    ids=["empty", "rain", "upside down", "a word", "to come", "twice", "too short"],
)
def test_a_faulty_file_keeps_nothing(cast, coordinator, text, told):
    said = upload(coordinator, text)
    assert "Nothing was kept" in said and told in said
    assert rows(cast, temperatures) == []


def test_another_wards_page_is_hidden_and_an_auditor_changes_nothing(cast, coordinator, visit):
    assert coordinator.client.get("/wards/2/weather").status_code == 404
    assert "<form class" not in visit(AUDITOR).see(PAGE)


def test_the_plot_page_says_what_evapotranspiration_rests_on(dressed, coordinator):
    before = "Water lost since planting is reckoned from the usual amount on 32 days."
    assert before in coordinator.see("/plots/1")
    coordinator.send(PAGE, f"{PAGE}/place", latitude="-15.5", soil="")
    upload(coordinator, "date,tmin,tmax\n2026-12-01,17,29\n2026-12-02,17,29\n")
    said = coordinator.see("/plots/1")
    assert "the day&#39;s temperatures on 2 days, the usual amount on 30 days" in said


def test_a_plots_soil_goes_before_its_wards_and_that_before_the_programmes(dressed, coordinator):
    assert "(loam)" in coordinator.see("/plots/1")
    coordinator.send(PAGE, f"{PAGE}/place", latitude="", soil="sand")
    assert "(sand)" in coordinator.see("/plots/1")
    with dressed.begin() as c:
        c.execute(update(t.seasons).values(choices={"soil": "clay"}))
    said = coordinator.see("/plots/1")
    assert "(clay)" in said and "soil: clay" in said


def test_choices_are_changed_with_an_audit_line_and_others_stay(cast, coordinator):
    (before,) = [row["choices"] for row in rows(cast, t.seasons) if row["id"] == 1]
    coordinator.send("/plots/1", "/plots/1/choices", soil="clay", maturity="long")
    (after,) = [row["choices"] for row in rows(cast, t.seasons) if row["id"] == 1]
    assert after == {**before, "soil": "clay", "maturity": "long"}
    assert [row["what"] for row in rows(cast, t.audit) if row["what"] == "choices"] == ["choices"]
    said = coordinator.send("/plots/1", "/plots/1/choices", soil="clay", maturity="long").text
    assert "Nothing was other than before" in said
    coordinator.send("/plots/1", "/plots/1/choices", soil="")
    (back,) = [row["choices"] for row in rows(cast, t.seasons) if row["id"] == 1]
    assert back == {**before, "maturity": "long"}


def test_a_choice_that_is_not_offered_is_refused(cast, coordinator):
    assert coordinator.send("/plots/1", "/plots/1/choices", soil="peat").status_code == 400
