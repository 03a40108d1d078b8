"""A season's figures and the printed sheets, on both engines, read by a parser of its own."""

import csv
import io
from datetime import date

import pytest
from page_cast import NOW, OLMARA, SETIWE, a_notice, a_task, an_inbound
from pypdf import PdfReader
from sqlalchemy import delete, insert, update

from reminder_service.kinds import Kind
from reminder_service.records import season_figures as records
from reminder_service.records import tables as t
from reminder_service.records.season_figures import Group, Timeliness
from reminder_service.web.on_time_bars import on_time_bars

SEASON = date(2026, 10, 1)
DAYS = {"Africa/Lusaka": date(2026, 12, 6), "Africa/Nairobi": date(2026, 12, 6)}


@pytest.fixture
def worked(cast):
    """Olmara did one task in time and one late, and missed one; Setiwe did one in time."""
    with cast.begin() as c:
        c.execute(delete(t.tasks))
        a_task(c, 1, "weed", date(2026, 11, 20), 1, done_on=date(2026, 11, 27))
        a_task(c, 1, "weed", date(2026, 11, 20), 2, done_on=date(2026, 11, 28))
        a_task(c, 2, "thin", date(2026, 11, 20), 1)
        a_task(c, 2, "weed", date(2026, 12, 1), 3)
        a_task(c, 3, "thin", date(2026, 11, 20), 1, done_on=date(2026, 11, 21))
    return cast


def pdf_of(visitor, path: str) -> PdfReader:
    answer = visitor.client.get(path)
    assert answer.status_code == 200 and answer.content_type == "application/pdf"
    return PdfReader(io.BytesIO(answer.data))


def words_of(pdf: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)


def test_the_last_day_of_the_window_is_in_time_and_the_next_is_late(worked):
    with worked.connect() as c:
        found = records.timeliness(c, {OLMARA}, SEASON, DAYS)
    assert found == {
        Group(OLMARA, "en", "weed"): Timeliness(in_time=1, late=1, ahead=1),
        Group(OLMARA, "en", "thin"): Timeliness(missed=1),
    }


def test_the_page_tells_rate_reports_and_texts(worked, lead):
    text = lead.see("/figures")
    assert "<strong>50 %</strong>" in text and "(2 of 4)" in text
    assert "Weeding: 50 % in time (1 of 2), 1 done late, 0 missed" in text
    assert "Olmara: 33 % in time (1 of 3)" in text and "Setiwe: 100 %" in text


def test_another_season_stands_beside_it(worked, lead):
    with worked.begin() as c:
        c.execute(update(t.seasons).where(t.seasons.c.id == 3).values(starts_on=date(2025, 10, 1)))
    text = lead.see("/figures")
    assert "from Wed 1 Oct 2025" in text and "The season before it was 100 %" in text
    assert "<strong>100 %</strong>" in lead.see("/figures?from=2025-10-01")


def test_a_season_that_nobody_has_is_not_found(worked, lead):
    assert lead.client.get("/figures?from=2019-10-01").status_code == 404


def test_nobody_counts_another_wards_tasks(worked, coordinator):
    text = coordinator.see("/figures")
    assert "33 %" in text and "Setiwe" not in text and "a plot." not in text


def test_no_season_is_an_invitation(cast, lead):
    with cast.begin() as c:
        for table in (t.notices, t.tasks, t.reports, t.seasons):
            c.execute(delete(table))
    assert "Register farmers and their plots first" in lead.see("/figures")


def test_reports_taken_back_do_not_count(worked):
    with worked.begin() as c:
        c.execute(
            insert(t.reports).values(
                season_id=1, kind="germinated", sent_at=NOW, replaces_id=2, on=None
            )
        )
        found = records.plots_that_reported(c, None, SEASON)
    assert found[OLMARA][Kind.FIRST_RAIN] == 1 and found[OLMARA][Kind.GERMINATED] == 0


def test_cost_is_of_the_seasons_days_alone(worked):
    with worked.begin() as c:
        for day, cost in ((date(2026, 9, 30), 5), (SEASON, 40), (date(2027, 10, 1), 7)):
            c.execute(
                insert(t.spending).values(day=day, route="main", texts=1, segments=2, cost=cost)
            )
        assert records.spent_between(c, SEASON, date(2027, 10, 1)) == (1, 2, 40)


def test_the_csv_has_a_row_a_ward_language_and_task(worked, lead):
    answer = lead.client.get("/figures.csv")
    rows = [*csv.DictReader(io.StringIO(answer.text, newline=""))]
    assert [(row["ward"], row["task"]) for row in rows] == [
        ("Olmara", "thin"),
        ("Olmara", "weed"),
        ("Setiwe", "thin"),
    ]
    assert rows[1]["late"] == "1" and rows[1]["season_from"] == "2026-10-01"


def test_the_funders_paper_has_two_pages_with_the_same_figures(worked, lead):
    pdf = pdf_of(lead, "/figures.pdf")
    words = words_of(pdf)
    assert len(pdf.pages) == 2
    for said in ("50 % of the tasks", "Olmara", "Germinated", "How the figures are made"):
        assert said.lower() in words.lower()


def test_many_wards_stay_on_two_pages(worked, lead):
    with worked.begin() as c:
        for id_ in range(10, 60):
            c.execute(insert(t.wards).values(id=id_, name=f"Ward {id_}", zone="Africa/Lusaka"))
            c.execute(
                insert(t.plots).values(
                    id=id_, ward_id=id_, farmer_id=1, number="1", stations=9, stations_per_ha=9
                )
            )
            c.execute(
                insert(t.seasons).values(
                    id=id_, plot_id=id_, label="x", starts_on=SEASON, rulebook="m 1", choices={}
                )
            )
    pdf = pdf_of(lead, "/figures.pdf")
    assert len(pdf.pages) == 2 and "34 more wards" in words_of(pdf)


def test_a_weeks_tasks_are_printed_by_plot(worked, coordinator):
    words = words_of(pdf_of(coordinator, "/wards/1/tasks.pdf?week=2026-12-03"))
    assert "Olmara: tasks from Mon 30 Nov to Sun 6 Dec 2026" in words
    assert "P002 Farmer 002 Weeding 3" in words and "Thinning" not in words
    assert "the label, local rules and your adviser" in words


def test_a_name_in_any_letters_is_printed(worked, coordinator):
    with worked.begin() as c:
        c.execute(update(t.farmers).where(t.farmers.c.id == 2).values(name="Maŵa Conceição"))
    words = words_of(pdf_of(coordinator, "/wards/1/tasks.pdf?week=2026-12-03"))
    assert "Maŵa Conceição" in words


def test_an_empty_week_is_said_and_a_wrong_one_refused(worked, coordinator):
    assert "No task" in words_of(pdf_of(coordinator, "/wards/1/tasks.pdf?week=2029-01-01"))
    assert coordinator.client.get("/wards/1/tasks.pdf?week=soon").status_code == 400
    assert coordinator.client.get("/wards/2/tasks.pdf").status_code == 404


def test_rows_of_which_nothing_is_over_are_left_out():
    assert on_time_bars([("Thinning", Timeliness(ahead=3), None)]) is None
    bars = on_time_bars(
        [("Weeding", Timeliness(1, 1), Timeliness(0, 1)), ("x", Timeliness(), None)]
    )
    assert [bar.name for bar in bars.bars] == ["Weeding"] and bars.bars[0].before_x == bars.start


def test_texts_are_counted_by_the_route_that_tried_them(worked, lead):
    with worked.begin() as c:
        attempt = {"gateway": "main", "client_reference": "r", "started_at": NOW, "id": 70}
        c.execute(insert(t.attempts).values(**attempt, outcome="taken", ended_at=NOW))
        a_notice(c, 71, 1, OLMARA, "delivered", attempt_id=70)
        a_notice(c, 72, 3, SETIWE, "handed over", attempt_id=70)
        an_inbound(c, 73, 1, b"help")
    text = lead.see("/figures")
    assert '<th scope="row">main</th><td>1</td><td>50 %</td>' in text
