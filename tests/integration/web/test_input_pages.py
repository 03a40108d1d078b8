"""Inputs by week, on both engines: the table, the CSV, who sees what, and how many statements."""

import csv
import io
from datetime import date

import pytest
from page_cast import NOW, OLMARA, SETIWE, a_plot, a_task, statements
from sqlalchemy import insert, update

from reminder_service.records import tables as t
from reminder_service.records.input_views import planned_work, plot_grown
from reminder_service.rules.inputs import PlannedWork

TODAY = {"Africa/Lusaka": date(2026, 12, 6), "Africa/Nairobi": date(2026, 12, 6)}
DRESS = "top-dress-first"


@pytest.fixture
def dressed(cast):
    """Plots 1 and 2 of Olmara are to be dressed in the week of 14 December, 3 of Setiwe too."""
    with cast.begin() as c:
        for season_id in (1, 2, 3):
            a_task(c, season_id, DRESS, date(2026, 12, 15))
    return cast


def rows_of(visitor, path: str) -> list[dict]:
    answer = visitor.client.get(path)
    assert answer.status_code == 200 and answer.content_type == "text/csv; charset=utf-8"
    assert "attachment" in answer.headers["Content-Disposition"]
    return list(csv.DictReader(io.StringIO(answer.text, newline="")))


def test_alike_work_is_counted_together(dressed):
    with dressed.connect() as c:
        found = planned_work(c, {OLMARA}, TODAY)
    assert PlannedWork(DRESS, date(2026, 12, 15), date(2026, 12, 18), 220, 2) in found[OLMARA]
    assert set(found) == {OLMARA}


@pytest.mark.parametrize(
    "gone",
    [
        pytest.param({"done_on": date(2026, 12, 6)}, id="done"),
        pytest.param({"closes_on": date(2026, 12, 5)}, id="closed yesterday"),
    ],
)
def test_what_is_done_or_closed_is_not_needed(cast, gone):
    days = {"opens_on": date(2026, 12, 1), "due_on": date(2026, 12, 2)}
    with cast.begin() as c:
        a_task(c, 1, DRESS, date(2026, 12, 1))
        c.execute(update(t.tasks).where(t.tasks.c.name == DRESS).values(**days, **gone))
        assert DRESS not in {work.task for work in planned_work(c, None, TODAY)[OLMARA]}


def test_a_closed_season_needs_nothing(dressed):
    with dressed.begin() as c:
        c.execute(update(t.seasons).values(closed_at=NOW))
        assert planned_work(c, None, TODAY) == {}


def test_the_page_shows_week_amounts_and_picture(dressed, coordinator):
    text = coordinator.see("/wards/1/inputs")
    assert "2026-W51" in text and "Tue 15 Dec" in text
    assert "2 kg, 1 bag" in text  # 2 plots of 220 stations at 4.5 g
    assert '<svg class="bars"' in text and "most in week 2026-W51" in text
    assert "The label, local rules and your adviser come first." in text


def test_the_ward_page_leads_to_it(coordinator):
    assert 'href="/wards/1/inputs">inputs by week</a>' in coordinator.see("/wards/1")


def test_a_ward_without_need_says_so(cast, coordinator):
    with cast.begin() as c:
        c.execute(update(t.tasks).values(done_on=date(2026, 12, 6)))
    text = coordinator.see("/wards/1/inputs")
    assert "Nothing is needed yet" in text and '<svg class="bars"' not in text


def test_the_table_as_csv(dressed, coordinator):
    week = next(row for row in rows_of(coordinator, "/wards/1/inputs.csv") if row["product"])
    assert (week["ward"], week["iso_week"], week["monday"]) == ("Olmara", "2026-W51", "2026-12-14")
    assert (week["first_needed_on"], week["product"], week["kg"]) == ("2026-12-15", "an", "2")
    assert week["bags_50kg"] == "1"


def test_the_csv_of_all_wards_is_kept_to_the_persons_own(dressed, coordinator, lead):
    assert {row["ward"] for row in rows_of(coordinator, "/inputs.csv")} == {"Olmara"}
    assert {row["ward"] for row in rows_of(lead, "/inputs.csv")} == {"Olmara", "Setiwe"}


@pytest.mark.parametrize("path", ["inputs", "inputs.csv"])
def test_another_ward_is_walled_off(dressed, coordinator, path):
    assert coordinator.client.get(f"/wards/{SETIWE}/{path}").status_code == 404


def test_no_cell_of_the_csv_is_a_formula(dressed, lead):
    with dressed.begin() as c:
        c.execute(update(t.wards).where(t.wards.c.id == OLMARA).values(name="=HYPERLINK(1)"))
    assert {row["ward"] for row in rows_of(lead, "/inputs.csv")} == {"'=HYPERLINK(1)", "Setiwe"}


def test_statements_do_not_grow_with_plots(dressed, coordinator):
    with statements(dressed) as few:
        coordinator.see("/wards/1/inputs")
    with dressed.begin() as c:
        for id_ in range(100, 130):
            a_plot(c, id_, OLMARA)
            a_task(c, id_, DRESS, date(2026, 12, 15))
    with statements(dressed) as many:
        text = coordinator.see("/wards/1/inputs")
    assert len(many) == len(few) <= 6
    assert "32 kg, 1 bag" in text


def test_planned_work_of_a_ward_walks_indexes(dressed):
    with dressed.connect() as c:
        with statements(dressed) as seen:
            planned_work(c, {OLMARA}, TODAY)
        if dressed.dialect.name == "postgresql":  # a table of few rows is otherwise read whole
            c.exec_driver_sql("SET enable_seqscan = off")
            c.exec_driver_sql("SET enable_bitmapscan = off")
        explain = "EXPLAIN QUERY PLAN " if dressed.dialect.name == "sqlite" else "EXPLAIN "
        ((statement, values),) = seen
        plan = "\n".join(str(row) for row in c.exec_driver_sql(explain + statement, values))
    assert "SCAN tasks" not in plan and "Seq Scan on tasks" not in plan
    assert "tasks" in plan


def test_what_has_grown_on_a_plot_ends_with_the_season_looked_at(cast):
    with cast.begin() as c:
        for id_, year, book in ((50, 2025, "cowpea 1"), (51, 2027, "maize-hand-hoe 5")):
            c.execute(
                insert(t.seasons).values(
                    id=id_,
                    plot_id=1,
                    label=str(year),
                    starts_on=date(year, 10, 1),
                    rulebook=book,
                    choices={},
                )
            )
        found = plot_grown(c, 1, date(2026, 10, 1))
    assert (found.stations_per_ha, found.rulebooks) == (22_222, ("cowpea 1", "maize-hand-hoe 1"))


def test_a_plots_page_tells_its_counts(cast, coordinator):
    said = {"season_id": 1, "sent_at": NOW, "on": date(2026, 12, 1)}
    with cast.begin() as c:
        a_task(c, 1, "stand-check", date(2026, 11, 28))
        a_task(c, 1, "borer", date(2026, 12, 10))
        c.execute(
            insert(t.reports),
            [
                said | {"kind": "count", "detail": {"counts": [2, 2, 0, 1]}},
                said | {"kind": "borer-count", "detail": {"damaged": 7}},
            ],
        )
    text = coordinator.see("/plots/1")
    assert "3 of 4 stations have plants: 75%" in text
    assert "7 of 100 damaged on Tue 1 Dec. Too early" in text
