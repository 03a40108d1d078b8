"""A replanted plot: which stand a report is about, and how the plan is counted anew."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import HOURS, sent, task_of, utc, window

from reminder_service.kinds import DATED_FACTS, OF_THE_STAND, Kind, Stage
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import Report, plot_facts
from reminder_service.rules.reminders import wanted_notices
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.rules.stands import is_same_replanting, stand_of

MAIZE = shipped_rulebook()
RAIN_ON, PLANTED_ON, GERMINATED_ON = date(2026, 11, 10), date(2026, 11, 11), date(2026, 11, 17)
REPLANTED_ON = date(2026, 12, 2)


def report(ref: str, kind: Kind, on: date | None, hours: int = 0, **more: object) -> Report:
    return Report(ref, kind, on, utc(2026, 12, 5) + timedelta(hours=hours), **more)  # type: ignore[arg-type]


FIRST_STAND = [
    report("a", Kind.FIRST_RAIN, RAIN_ON),
    report("b", Kind.PLANTED, PLANTED_ON),
    report("c", Kind.GERMINATED, GERMINATED_ON),
    report("d", Kind.DONE, date(2026, 12, 1), task="weed", number=1),
    report("e", Kind.COUNT, date(2026, 11, 25)),
]
REPLANTED = report("r", Kind.REPLANTED, REPLANTED_ON)


@pytest.mark.parametrize(
    ("kind", "day", "stand"),
    [
        pytest.param(Kind.FIRST_RAIN, date(2026, 11, 27), 0, id="rain of the first stand"),
        pytest.param(Kind.FIRST_RAIN, date(2026, 11, 28), 1, id="rain that it was replanted on"),
        pytest.param(Kind.PLANTED, date(2026, 12, 1), 0, id="planted the day before"),
        pytest.param(Kind.PLANTED, REPLANTED_ON, 1, id="planted that day"),
        pytest.param(Kind.DONE, REPLANTED_ON, 0, id="work of that day, on the old stand"),
        pytest.param(Kind.DONE, date(2026, 12, 3), 1, id="work of the day after"),
        pytest.param(Kind.GERMINATED, REPLANTED_ON, 0, id="nothing comes up the day it is sown"),
    ],
)
def test_each_report_belongs_to_one_stand(kind: Kind, day: date, stand: int) -> None:
    assert stand_of(kind, day, [REPLANTED_ON]) == stand


@pytest.mark.parametrize(
    ("day", "same"),
    [(date(2026, 11, 20), True), (date(2026, 12, 9), True), (date(2026, 12, 10), False)],
    ids=["earlier", "a week later", "more than a week later"],
)
def test_a_replanting_long_after_another_is_one_more(day: date, same: bool) -> None:
    assert is_same_replanting(REPLANTED_ON, day) is same


def test_nothing_of_the_first_stand_counts_after_a_replanting() -> None:
    facts = plot_facts([*FIRST_STAND, REPLANTED], {})
    assert facts.dates == {Kind.PLANTED: REPLANTED_ON}
    assert (facts.done, facts.counted, facts.replanted) == ({}, {}, (REPLANTED_ON,))


def test_what_comes_after_counts() -> None:
    up = report("g", Kind.GERMINATED, date(2026, 12, 9))
    rain = report("h", Kind.FIRST_RAIN, date(2026, 12, 1), hours=1)
    facts = plot_facts([*FIRST_STAND, REPLANTED, up, rain], {})
    assert facts.dates == {
        Kind.PLANTED: REPLANTED_ON,
        Kind.GERMINATED: date(2026, 12, 9),
        Kind.FIRST_RAIN: date(2026, 12, 1),
    }


@pytest.mark.parametrize(
    ("ward_rain", "counts"),
    [(RAIN_ON, False), (date(2026, 12, 1), True)],
    ids=["of the false start", "of the replanting"],
)
def test_the_wards_first_rain_counts_for_the_stand_it_belongs_to(
    ward_rain: date, counts: bool
) -> None:
    facts = plot_facts([*FIRST_STAND, REPLANTED], {}, ward_rain)
    assert (facts.dates.get(Kind.FIRST_RAIN) == ward_rain) is counts


def test_the_last_of_two_replantings_counts() -> None:
    again = report("s", Kind.REPLANTED, date(2026, 12, 20), hours=-1)
    facts = plot_facts([*FIRST_STAND, again, REPLANTED], {})
    assert facts.dates == {Kind.PLANTED: date(2026, 12, 20)}
    assert facts.replanted == (REPLANTED_ON, date(2026, 12, 20))


def test_taking_a_replanting_back_restores_the_plan() -> None:
    back = report("t", Kind.REPLANTED, None, hours=2, replaces="r")
    assert plot_facts([*FIRST_STAND, REPLANTED, back], {}) == plot_facts(FIRST_STAND, {})


@pytest.mark.parametrize("kind", [Kind.SURVIVED, Kind.LOST])
def test_what_became_of_a_stand_moves_nothing(kind: Kind) -> None:
    said = report("u", kind, date(2026, 11, 26))
    alone = plot_facts(FIRST_STAND, {})
    lost_on = said.on if kind is Kind.LOST else None
    assert plot_facts([*FIRST_STAND, said], {}) == replace(alone, lost_on=lost_on)


def test_the_plan_is_that_of_a_plot_planted_that_day_and_says_so() -> None:
    anew = derive(plot_facts([*FIRST_STAND, REPLANTED], {}), MAIZE)
    fresh = derive(plot_facts([report("p", Kind.PLANTED, REPLANTED_ON)], {}), MAIZE)
    assert [window(task) for task in anew.tasks] == [window(task) for task in fresh.tasks]
    said = "All is counted anew since replanting on Wed 2 Dec 2026."
    assert all(task.because.endswith(said) for task in anew.tasks)
    assert all(each.because.endswith(said) for each in anew.estimates.values())
    assert not any("replanting" in task.because for task in fresh.tasks)


def test_a_new_stand_is_told_of_a_task_that_the_old_one_was_told_of() -> None:
    morning = utc(2026, 12, 2, 4)
    old = derive(plot_facts(FIRST_STAND, {}), MAIZE)
    told = [
        sent(notice)
        for notice in wanted_notices(old, MAIZE, (), morning, HOURS, 0)
        if notice.task == "thin"
    ]
    new = derive(plot_facts([*FIRST_STAND, REPLANTED], {}), MAIZE)
    wanted = wanted_notices(new, MAIZE, told, morning, HOURS, 0)
    thin = [notice for notice in wanted if notice.task == "thin"]
    assert {notice.stage for notice in thin} >= {notice.stage for notice in told} != set()
    assert Stage.CORRECTION not in {notice.stage for notice in thin}
    assert all(notice.key.startswith("replanted-1/") for notice in wanted)
    assert task_of(new, "thin").opens > task_of(old, "thin").opens


def test_what_the_new_stand_was_told_is_forgotten_when_it_is_taken_back() -> None:
    new = derive(plot_facts([*FIRST_STAND, REPLANTED], {}), MAIZE)
    told = [sent(n) for n in wanted_notices(new, MAIZE, (), utc(2026, 12, 2, 4), HOURS, 0)]
    old = derive(plot_facts(FIRST_STAND, {}), MAIZE)
    before = wanted_notices(old, MAIZE, (), utc(2026, 12, 3, 4), HOURS, 0)
    assert wanted_notices(old, MAIZE, told, utc(2026, 12, 3, 4), HOURS, 0) == before != ()


SEASON = st.dates(date(2026, 10, 15), date(2027, 3, 1))


@st.composite
def histories(draw: st.DrawFn) -> list[Report]:
    """Reports of a season with replantings, corrections and withdrawals among them."""
    count = draw(st.integers(1, 12))
    refs = [str(n) for n in range(count)]
    kinds = [*DATED_FACTS, *OF_THE_STAND, Kind.REPLANTED, Kind.DONE, Kind.COUNT]
    return [
        Report(
            ref,
            draw(st.sampled_from(kinds)),
            draw(st.none() | SEASON) if n else draw(SEASON),
            utc(2026, 11, draw(st.integers(1, 3))),
            task=draw(st.sampled_from(["thin", "weed"])),
            number=draw(st.none() | st.integers(1, 3)),
            replaces=draw(st.none() | st.sampled_from(refs[:n])) if n else None,
        )
        for n, ref in enumerate(refs)
    ]


@given(histories(), st.randoms(use_true_random=False))
def test_order_of_reports_does_not_matter_with_replantings(
    reports: list[Report], random: object
) -> None:
    shuffled = list(reports)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert derive(plot_facts(reports, {}), MAIZE) == derive(plot_facts(shuffled, {}), MAIZE)


@given(histories(), SEASON)
def test_withdrawing_a_replanting_and_adding_it_again_gives_the_same_plans(
    reports: list[Report], on: date
) -> None:
    without = derive(plot_facts(reports, {}), MAIZE)
    added = [*reports, Report("x", Kind.REPLANTED, on, utc(2026, 12, 1))]
    withdrawn = [*added, Report("y", Kind.REPLANTED, None, utc(2026, 12, 2), replaces="x")]
    again = [*withdrawn, Report("z", Kind.REPLANTED, on, utc(2026, 12, 1))]
    assert derive(plot_facts(withdrawn, {}), MAIZE) == without
    assert derive(plot_facts(again, {}), MAIZE) == derive(plot_facts(added, {}), MAIZE)


@given(histories())
def test_no_fact_of_a_plan_is_older_than_the_last_replanting(reports: list[Report]) -> None:
    facts = plot_facts(reports, {})
    if facts.replanted:
        last = facts.replanted[-1]
        assert facts.dates[Kind.PLANTED] >= last
        assert all(on >= last - timedelta(days=4) for on in facts.dates.values())
        assert all(on > last for on in [*facts.done.values(), *facts.counted.values()])
