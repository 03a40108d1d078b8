"""What a ward needs week by week: which week, how much, and that nothing is lost on the way."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.manure import tea_batch
from reminder_service.agronomy.nitrogen import dressing
from reminder_service.rules.inputs import PlannedWork, WeekInputs, inputs_by_week
from reminder_service.rules.shipped import shipped_rulebook

BOOK = shipped_rulebook()
MONDAY = date(2026, 12, 7)
DRESS, BREW, TEA, THIN = "top-dress-first", "manure-brew", "manure-tea", "thin"


def work(task: str = DRESS, opens: int = 0, due: int = 3, stations: int = 4400, plots: int = 1):
    """Work that opens and is due so many days after the Monday."""
    days = [MONDAY + timedelta(days=each) for each in (opens, due)]
    return PlannedWork(task, days[0], days[1], stations, plots)


def weeks(*planned: PlannedWork, today: date = MONDAY) -> list[WeekInputs]:
    return inputs_by_week(planned, BOOK, today)


def test_nothing_planned_needs_nothing() -> None:
    assert weeks() == []


def test_fertiliser_is_that_of_the_dressing() -> None:
    (week,) = weeks(work(plots=3))
    assert week.fertiliser_kg == {"an": pytest.approx(dressing(4400, 5, "an").kg * 3)}
    assert week.bags == {"an": 2}  # 59.4 kg
    assert week.first_on == MONDAY


def test_manure_and_tea_are_those_of_the_batch() -> None:
    (week,) = weeks(work(BREW, plots=2), work(TEA, plots=2))
    batch = tea_batch(4400, 0.5)
    assert week.manure_kg == 2 * batch.manure_kg == 80
    assert week.tea_l == pytest.approx(2 * batch.dilute_l) == pytest.approx(4400)


def test_each_plot_fills_drums_of_its_own() -> None:
    apart = weeks(work(BREW, stations=100, plots=10))[0].manure_kg
    together = weeks(work(BREW, stations=1000, plots=1))[0].manure_kg
    assert (apart, together) == (400, 40)


@pytest.mark.parametrize(
    ("opens", "due", "goods_week", "labour_week"),
    [
        pytest.param(0, 0, 0, 0, id="Monday"),
        pytest.param(6, 6, 0, 0, id="Sunday of the same week"),
        pytest.param(6, 7, 0, 1, id="opens on Sunday, due on Monday"),
        pytest.param(-9, 4, 0, 0, id="open since last week"),
        pytest.param(-9, -3, 0, 0, id="overdue but not closed"),
        pytest.param(28, 30, 4, 4, id="a month on"),
    ],
)
def test_goods_count_when_it_opens_and_labour_when_it_is_due(
    opens: int, due: int, goods_week: int, labour_week: int
) -> None:
    found = weeks(work(opens=opens, due=due))
    goods = [week.monday for week in found if week.fertiliser_kg]
    labour = [week.monday for week in found if week.labour_days]
    assert goods == [MONDAY + timedelta(weeks=goods_week)]
    assert labour == [MONDAY + timedelta(weeks=labour_week)]


def test_the_first_day_goods_are_needed_is_the_earliest_opening() -> None:
    (week,) = weeks(work(opens=4, due=5), work(BREW, opens=2, due=5), work(THIN, opens=1, due=5))
    assert week.first_on == MONDAY + timedelta(days=2)  # thinning takes no goods


def test_weeks_between_are_there_and_empty() -> None:
    found = weeks(work(), work(opens=21, due=22))
    assert [week.label for week in found] == ["2026-W50", "2026-W51", "2026-W52", "2026-W53"]
    assert [week.needs_anything for week in found] == [True, False, False, True]


def test_a_week_across_the_new_year_is_named_by_iso() -> None:
    (week,) = weeks(work(opens=26, due=26))  # Saturday, 2 January 2027
    assert (week.label, week.monday) == ("2026-W53", date(2026, 12, 28))


def test_a_task_that_the_rulebook_no_longer_has_is_left_out() -> None:
    assert weeks(work("scatter-lime")) == []


WORK = st.builds(
    work,
    st.sampled_from([task.name for task in BOOK.tasks]),
    st.integers(-20, 60),
    st.integers(60, 90),
    st.integers(1, 20_000),
    st.integers(1, 50),
)


@given(st.lists(WORK, max_size=12))
def test_nothing_is_lost_or_counted_twice(planned: list[PlannedWork]) -> None:
    found = weeks(*planned)
    kg = sum(sum(week.fertiliser_kg.values()) for week in found)
    wanted = sum(
        dressing(each.stations, 5, "an").kg * each.plots
        for each in planned
        if each.task.startswith("top-dress")
    )
    assert kg == pytest.approx(wanted)
    assert all(week.monday >= MONDAY for week in found)
    assert [week.monday for week in found] == sorted({week.monday for week in found})


@given(st.lists(WORK, max_size=8), st.randoms())
def test_the_order_of_the_work_does_not_matter(planned: list[PlannedWork], random) -> None:
    shuffled = list(planned)
    random.shuffle(shuffled)
    for one, other in zip(weeks(*planned), weeks(*shuffled), strict=True):
        assert (one.monday, one.manure_kg, one.first_on) == (
            other.monday,
            other.manure_kg,
            other.first_on,
        )
        assert one.labour_days == pytest.approx(other.labour_days)
