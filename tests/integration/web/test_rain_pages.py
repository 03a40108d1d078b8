"""The rain book's pages: picture, days, files, first rain, gauge keepers, and their walls."""

import io
import re
from datetime import date, timedelta

import pytest
from page_cast import AUDITOR, NOW, OLMARA, SETIWE, token_in
from sqlalchemy import insert, select

from reminder_service.records import tables as t
from reminder_service.records.rain_tables import (
    gauge_keepers,
    rain_observations,
    ward_first_rains,
)

# Nothing here depends on the engine: the use cases are tested on both.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

PAGE, FILE, FIRST = "/wards/1/rain", "/wards/1/rain/file", "/wards/1/rain/first"
WET = {date(2026, 10, 15): 26.0, date(2026, 11, 12): 24.0, date(2026, 11, 20): 9.0}


def observed(c, on: date, mm: float, ward_id: int = OLMARA, by: str = "gauge.csv", **fields):
    known = {"observer": "file", "trace": False, "kept_at": NOW}
    row = {**known, "ward_id": ward_id, "day": on, "mm": mm, "by": by, **fields}
    c.execute(insert(rain_observations).values(row))


@pytest.fixture
def book(cast):
    """Olmara from 1 October to 5 December but for 20 to 24 October; a false start, an onset."""
    with cast.begin() as c:
        on = date(2026, 10, 1)
        while on < NOW.date():
            if not date(2026, 10, 20) <= on <= date(2026, 10, 24):
                mm = WET.get(on, 3.0 if on > date(2026, 11, 12) else 0.0)
                observed(c, on, mm)
            on += timedelta(days=1)
    return cast


def rows(engine, table) -> list:
    with engine.connect() as c:
        return list(c.execute(select(table)))


def send_file(visitor, body: str | bytes, name: str = "gauge 2.csv", **form):
    raw = body.encode() if isinstance(body, str) else body
    token = token_in(visitor.see(FILE))
    data = {"csrf_token": token, "file": (io.BytesIO(raw), name), **form}
    return visitor.client.post(
        FILE, data=data, content_type="multipart/form-data", follow_redirects=True
    )


def take(visitor, body: str, name: str, how: str):
    return visitor.send(FILE, FILE, text=body, name=name, take=how)


def test_an_empty_book_says_what_to_do(coordinator):
    page = coordinator.see(PAGE)
    assert "Nobody has observed rain here" in page and "RAIN 23MM" in page
    assert "not dry" in page and "<svg" not in page
    assert FILE in page


def test_the_ward_leads_to_its_rain_book(coordinator):
    assert f'href="{PAGE}"' in coordinator.see("/wards/1")


def test_the_picture_has_bars_marks_and_hatched_gaps_with_words(book, coordinator):
    page = coordinator.see(PAGE)
    assert page.count('class="rain rain"') >= 3
    assert 'class="rain unknown"' in page and 'fill="url(#hatch)"' in page
    assert "onset Thu 12 Nov" in page and "false start Thu 15 Oct" in page
    words = re.search(r'<desc id="rain-words">([^<]+)</desc>', page)[1]
    assert "5 days are unknown" in words and "onset Thu 12 Nov" in words


def test_the_table_names_days_and_draws_quiet_ones_together(book, coordinator):
    page = coordinator.see(PAGE)
    assert "Tue 20 Oct to Sat 24 Oct" in page and "unknown" in page
    assert "Thu 1 Oct to Wed 14 Oct" in page and "26.0 mm" in page


def test_a_provisional_onset_is_not_called_confirmed(cast, coordinator):
    with cast.begin() as c:
        for n in range(12):
            observed(c, date(2026, 11, 24) + timedelta(days=n), 22.0 if n == 8 else 0.0)
    page = coordinator.see(PAGE)
    assert "provisional" in page and "onset Wed 2 Dec, provisional" in page
    assert "onset Wed 2 Dec, confirmed" not in page


def test_an_onset_nobody_reported_is_listed(book, coordinator):
    with book.begin() as c:
        c.execute(t.reports.delete())
    page = coordinator.see(PAGE)
    assert "nobody reported a first rain within a week" in page


def test_a_first_rain_that_the_book_denies_is_listed_and_stands(cast, coordinator):
    with cast.begin() as c:
        for n in range(30):
            observed(c, date(2026, 11, 1) + timedelta(days=n), 0.0)
    page = coordinator.see(PAGE)
    assert "first rain Thu 12 Nov is not borne out" in page and "The report stands" in page
    assert [row.on for row in rows(cast, t.reports) if row.kind == "first-rain"] == [
        date(2026, 11, 12)
    ]


def test_a_first_rain_that_the_book_bears_out_is_not(book, coordinator):
    assert "Does not fit together" not in coordinator.see(PAGE)


def test_an_impossible_amount_is_kept_flagged_and_unknown(cast, coordinator):
    with cast.begin() as c:
        observed(c, date(2026, 12, 1), 460.0)
    page = coordinator.see(PAGE)
    assert "amount not believed Tue 1 Dec" in page and "460 mm" not in page
    day = coordinator.see(f"{PAGE}/2026-12-01")
    assert "460 mm" in day and "not believed" in day and "Nothing counts" in day


def test_a_day_shows_everything_that_was_observed(book, coordinator):
    with book.begin() as c:
        observed(c, date(2026, 11, 12), 2.0, observer="farmer", by="phone 1", plot_id=1)
    page = coordinator.see(f"{PAGE}/2026-11-12")
    assert "24 mm" in page and "plot P001, Farmer 001" in page and "far apart" in page


def test_an_observation_is_left_out_and_counted_again(book, coordinator):
    id_ = next(row.id for row in rows(book, rain_observations) if row.day == date(2026, 10, 15))
    path, day = "/wards/1/rain/leave-out", f"{PAGE}/2026-10-15"
    form = {"id": id_, "day": "2026-10-15"}
    answer = coordinator.send(day, path, action="leave out", **form)
    assert "Left out" in answer.text and "Nothing counts" in answer.text
    assert "false start" not in coordinator.see(PAGE)
    answer = coordinator.send(day, path, action="count again", **form)
    assert "Counted again" in answer.text and "counts <strong>26 mm" in answer.text
    noted = [row.what for row in rows(book, t.audit)]
    assert noted == ["rain left out", "rain counted again"]


def test_an_observation_of_another_ward_is_not_touched(book, coordinator):
    with book.begin() as c:
        observed(c, date(2026, 11, 12), 5.0, ward_id=SETIWE)
    id_ = next(row.id for row in rows(book, rain_observations) if row.ward_id == SETIWE)
    form = {"id": id_, "day": "2026-11-12", "action": "leave out"}
    answer = coordinator.send(f"{PAGE}/2026-11-12", "/wards/1/rain/leave-out", **form)
    assert "Nothing was changed" in answer.text
    assert all(row.left_out_at is None for row in rows(book, rain_observations))


def test_one_plots_rain_can_be_asked_for(book, coordinator):
    with book.begin() as c:
        observed(c, date(2026, 11, 12), 11.0, observer="farmer", by="phone 1", plot_id=1)
    page = coordinator.see(f"{PAGE}?plot=p001")
    assert "plot P001" in page and "11.0 mm" in page
    assert coordinator.client.get(f"{PAGE}?plot=P003").status_code == 404


def test_the_csv_names_every_day_and_leaves_unknown_ones_empty(book, coordinator):
    answer = coordinator.client.get("/wards/1/rain.csv")
    lines = answer.text.splitlines()
    assert lines[0] == "date,mm,from,flags,ward,plot"
    assert "2026-10-15,26.0,file,,Olmara," in lines
    assert "2026-10-21,,,unknown,Olmara," in lines
    assert len(lines) == 67
    assert "attachment" in answer.headers["Content-Disposition"]


def test_the_csv_can_be_imported_again_and_says_nothing_new(book, coordinator):
    text = coordinator.client.get("/wards/1/rain.csv").text
    answer = send_file(coordinator, text, "gauge.csv")
    assert "0 amounts to keep, 0 faulty" in answer.text


def test_a_ward_named_like_a_formula_is_no_formula_in_the_csv(book, coordinator):
    with book.begin() as c:
        c.execute(t.wards.update().where(t.wards.c.id == OLMARA).values(name="=1+1"))
    assert ",'=1+1," in coordinator.client.get("/wards/1/rain.csv").text


@pytest.mark.parametrize("season", ["2025-10-01", "2026-03-01"])
def test_seasons_gone_by_can_be_looked_at(book, coordinator, season):
    page = coordinator.see(f"{PAGE}?season={season}")
    assert "Nobody has observed rain" in page and "running season" in page


@pytest.mark.parametrize("asked", ["season=2027-10-01", "season=soon"])
def test_a_season_that_is_none_is_not_found(coordinator, asked):
    assert coordinator.client.get(f"{PAGE}?{asked}").status_code == 404


@pytest.mark.parametrize("day", ["soon", "2026-13-01", "9999-99-99"])
def test_a_day_that_is_none_is_not_found(coordinator, day):
    assert coordinator.client.get(f"{PAGE}/{day}").status_code == 404


GOOD = "mm,date\n12.5,2026-11-12\nT,13/11/2026\n,2026-11-14\n"
BAD = f"{GOOD}wet,2026-11-15\n3,2026-12-07\n"


def test_a_file_is_looked_at_before_anything_is_kept(cast, coordinator):
    answer = send_file(coordinator, GOOD)
    assert "3 rows; 2 amounts to keep, 0 faulty" in answer.text
    assert "the day stays unknown" in answer.text
    assert rows(cast, rain_observations) == []


def test_a_file_is_kept_after_looking(cast, coordinator):
    answer = take(coordinator, GOOD, "gauge.csv", "whole")
    assert "2 amounts kept from gauge.csv" in answer.text
    kept = rows(cast, rain_observations)
    assert [(row.day.day, row.mm, row.trace, row.by) for row in kept] == [
        (12, 12.5, False, "gauge.csv"),
        (13, 0.0, True, "gauge.csv"),
    ]
    assert {row.person_id for row in kept} == {2}


def test_faulty_rows_are_named_first_with_their_line(coordinator):
    page = send_file(coordinator, BAD).text
    assert page.index("Line 5") < page.index("Line 2")
    assert "wet is no amount" in page and "that day is still to come" in page


def test_nothing_is_kept_of_a_faulty_file_that_must_be_whole(cast, coordinator):
    answer = take(coordinator, BAD, "gauge.csv", "whole")
    assert "Nothing was kept: 2 rows are faulty" in answer.text
    assert rows(cast, rain_observations) == []


def test_the_good_rows_of_a_faulty_file_are_kept_by_choice(cast, coordinator):
    answer = take(coordinator, BAD, "gauge.csv", "good")
    assert "2 faulty rows were left out" in answer.text
    assert len(rows(cast, rain_observations)) == 2


def test_the_same_file_again_keeps_nothing_and_a_mended_one_replaces(cast, coordinator):
    take(coordinator, GOOD, "gauge.csv", "whole")
    assert "0 amounts kept" in take(coordinator, GOOD, "gauge.csv", "whole").text
    mended = GOOD.replace("12.5", "15.5")
    page = send_file(coordinator, mended, "gauge.csv").text
    assert "takes the place of 12.5 mm" in page
    take(coordinator, mended, "gauge.csv", "whole")
    assert "counts <strong>15.5 mm" in coordinator.see(f"{PAGE}/2026-11-12")


def test_rows_may_name_plots_and_wards_but_only_ones_own(cast, coordinator):
    text = "ward,plot,date,mm\nolmara,p002,2026-11-12,8\nSetiwe,,2026-11-12,9\n,P003,2026-11-12,7\n"
    page = send_file(coordinator, text).text
    assert "1 amount to keep, 2 faulty" in page
    assert "no ward of yours is named Setiwe" in page and "Olmara has no plot P003" in page
    take(coordinator, text, "x.csv", "good")
    assert [(row.ward_id, row.plot_id) for row in rows(cast, rain_observations)] == [(1, 2)]


def test_a_lead_may_import_for_every_ward(cast, lead):
    take(lead, "ward,date,mm\nSetiwe,2026-11-12,9\n", "x.csv", "whole")
    assert [row.ward_id for row in rows(cast, rain_observations)] == [SETIWE]


@pytest.mark.parametrize(
    "body", [b"", b"\x00\x01", b"colour\nred\n"], ids=["empty", "binary", "other columns"]
)
def test_what_is_no_rain_file_is_said_so(cast, coordinator, body):
    assert "Nothing was kept: " in send_file(coordinator, body).text
    assert rows(cast, rain_observations) == []


def test_the_first_rain_is_previewed_declared_and_taken_back(cast, coordinator):
    page = coordinator.see(f"{FIRST}?on=2026-11-14")
    assert "Of 2 open plots" in page and "1 plot has a first rain of its own" in page
    assert rows(cast, ward_first_rains) == []
    answer = coordinator.send(f"{FIRST}?on=2026-11-14", FIRST, on="2026-11-14")
    assert "Sat 14 Nov 2026 is the first rain of Olmara. 2 plots were re-planned." in answer.text
    assert "Declared for the ward: <strong>Sat 14 Nov</strong>, by tembi" in answer.text
    assert "Take back the first rain of Olmara?" in coordinator.see(f"{FIRST}?on=")
    answer = coordinator.send(f"{FIRST}?on=", FIRST, on="", action="take back")
    assert "No day is any longer the first rain" in answer.text
    assert [row.on for row in rows(cast, ward_first_rains)] == [date(2026, 11, 14), None]


def test_a_plot_says_that_its_first_rain_is_the_wards(cast, coordinator):
    coordinator.send(f"{FIRST}?on=2026-11-14", FIRST, on="2026-11-14")
    page = coordinator.see("/plots/2")
    assert "First rain Sat 14 Nov was declared for the whole ward" in page
    assert "first rain 14 Nov</text>" in page
    assert "was declared for the whole ward" not in coordinator.see("/plots/1")


@pytest.mark.parametrize(
    "on, why",
    [("2026-12-07", "still to come"), ("2026-09-01", "season starts"), ("soon", "Give the day")],
)
def test_a_day_that_cannot_be_the_first_rain_is_refused(cast, coordinator, on, why):
    assert why in coordinator.see(f"{FIRST}?on={on}")
    answer = coordinator.send(PAGE, FIRST, on=on)
    assert "Nothing was changed" in answer.text
    assert rows(cast, ward_first_rains) == []


def test_a_gauge_keeper_is_made_and_ended_on_the_wards_page(cast, coordinator):
    answer = coordinator.send("/wards/1", "/wards/1/keepers", plot="p002")
    assert "Farmer 002 keeps the rain gauge of Olmara" in answer.text
    assert [tuple(row) for row in rows(cast, gauge_keepers)] == [(2, OLMARA)]
    answer = coordinator.send("/wards/1", "/wards/1/keepers", farmer="2")
    assert "No longer gauge keeper" in answer.text and rows(cast, gauge_keepers) == []
    assert [row.what for row in rows(cast, t.audit)] == ["gauge keeper", "gauge keeper"]


@pytest.mark.parametrize("number", ["P003", "", "9"], ids=["another ward's", "empty", "unknown"])
def test_nobody_is_made_keeper_by_a_number_that_is_no_plot_here(cast, coordinator, number):
    answer = coordinator.send("/wards/1", "/wards/1/keepers", plot=number)
    assert "Nothing was changed" in answer.text and rows(cast, gauge_keepers) == []


def test_an_auditor_reads_the_book_and_is_offered_nothing_to_change(book, visit):
    auditor = visit(AUDITOR)
    page = auditor.see(PAGE)
    assert "26.0 mm" in page and "See what would move" not in page
    assert "Leave it out" not in auditor.see(f"{PAGE}/2026-10-15")
    assert "Make gauge keeper" not in auditor.see("/wards/1")
    assert auditor.client.get(f"{FIRST}?on=2026-11-14").status_code == 403


def test_a_long_season_stays_light(cast, coordinator, clock):
    clock.now = NOW.replace(year=2027, month=9, day=29)
    with cast.begin() as c:
        for n in range(363):
            observed(c, date(2026, 10, 1) + timedelta(days=n), float(n % 7))
    assert len(coordinator.see(PAGE).encode()) < 100_000


def test_names_are_written_as_text(book, coordinator):
    with book.begin() as c:
        c.execute(t.farmers.update().values(name="<script>x</script>"))
        observed(c, date(2026, 11, 12), 2.0, observer="farmer", by="phone 1", plot_id=1)
    assert "<script>x" not in coordinator.see(f"{PAGE}/2026-11-12")
