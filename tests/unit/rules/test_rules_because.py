"""The sentences that say why a task has its days, as a coordinator reads them."""

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import GERMINATED_ON, HEAD, RAIN_ON, maize_plan, plot, rounds_of, task_of, task_text

from reminder_service.rules.derive import derive
from reminder_service.rules.loader import load_rulebook

KNOWN = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON)


def weed_because(**keys: str) -> str:
    rulebook = load_rulebook(HEAD + task_text("weed", **keys))
    return task_of(derive(KNOWN, rulebook), "weed").because


def test_one_anchor_is_named_once() -> None:
    assert task_of(maize_plan(KNOWN), "thin").because == (
        "Opens Sat 5 Dec 2026, 14 days after germination on Sat 21 Nov 2026 (reported); "
        "due Tue 8 Dec 2026, 17 days after it; closes Sat 12 Dec 2026, 21 days after it."
    )


def test_later_of_two_names_both() -> None:
    because = task_of(maize_plan(KNOWN), "borer").because
    assert because.startswith(
        "Opens Thu 10 Dec 2026, the later of 28 days after the first rain on Thu 12 Nov 2026 "
        "(reported) and the opening of thinning on Sat 5 Dec 2026; "
    )


def test_estimated_anchor_says_so() -> None:
    because = task_of(maize_plan(plot(first_rain=RAIN_ON)), "thin").because
    assert "14 days after germination on Sat 21 Nov 2026 (estimated)" in because


def test_day_of_the_fact_itself_needs_no_count() -> None:
    facts = plot(germinated=GERMINATED_ON, tasselled=date(2027, 1, 15))
    assert task_of(maize_plan(facts), "top-dress-tassel").because == (
        "Opens and is due Fri 15 Jan 2027, the day of tasselling (reported); "
        "closes Fri 22 Jan 2027, 7 days after it."
    )


def test_round_of_another_task_is_numbered() -> None:
    facts = plot(germinated=GERMINATED_ON, choices={"top-dressing": "both"})
    second = rounds_of(maize_plan(facts), "manure-brew")[1]
    assert "21 days before it" in second.because
    assert "24 days before the due day of round 2 of manure tea on Sat 26 Dec 2026" in (
        second.because
    )


def test_later_round_counts_from_the_fact() -> None:
    third = rounds_of(maize_plan(KNOWN), "weed")[2]
    assert "due Sat 2 Jan 2027, 42 days after it" in third.because


def test_own_day_is_called_its() -> None:
    because = task_of(maize_plan(KNOWN), "rotate").because
    assert "60 days before its due day on Wed 13 Oct 2027" in because


def test_done_task_is_named() -> None:
    done = {("thin", 1): date(2026, 12, 16)}
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, done=done)
    assert (
        "the later of 21 days after germination and the finishing of thinning on Wed 16 Dec 2026"
    ) in task_of(maize_plan(facts), "top-dress-first").because


@pytest.mark.parametrize(
    ("days", "words"),
    [(1, "1 day after germination"), (-1, "1 day before germination"), (2, "2 days after")],
)
def test_count_agrees_with_its_noun(days: int, words: str) -> None:
    bound = f'{{ from = "germinated", days = {days} }}'
    assert words in weed_because(opens=bound, due=bound, closes=bound)


def test_due_day_moved_to_the_opening_says_where_from() -> None:
    assert (
        "due Tue 24 Nov 2026, its opening day, instead of Mon 23 Nov 2026, 2 days after it;"
    ) in weed_because(opens='{ from = "germinated", days = 3 }')


def test_due_day_moved_to_the_closing_says_where_from() -> None:
    assert (
        "due Tue 24 Nov 2026, its closing day, instead of Sat 28 Nov 2026, 7 days after it;"
    ) in weed_because(due='{ from = "germinated", days = 7 }')


def test_window_cut_short_says_by_what() -> None:
    until = '{ every_days = 7, until = { from = "first-rain", days = 11 } }'
    assert weed_because(repeat=until).endswith(
        "closes Mon 23 Nov 2026, the last day allowed, "
        "11 days after the first rain on Thu 12 Nov 2026 (reported)."
    )


def test_three_members_are_listed() -> None:
    three = (
        '{ later_of = [{ from = "germinated" }, { from = "first-rain" }, '
        '{ from = "first-rain", days = 3 }] }'
    )
    assert (
        "the latest of germination on Sat 21 Nov 2026 (reported), the first rain on "
        "Thu 12 Nov 2026 (reported) and 3 days after the first rain;"
    ) in weed_because(opens=three)


def test_two_missing_facts_are_named_together() -> None:
    left = next(each for each in maize_plan(plot()).left_out if each.name == "borer")
    assert left.because.startswith("Stalk borer check is counted from ")
    assert "which are neither reported nor estimated" in left.because
    assert left.because.count("germination") == 2


DAYS = st.dates(date(2026, 10, 1), date(2027, 8, 1))
FACTS = st.fixed_dictionaries(
    {},
    optional={n: DAYS for n in ("first_rain", "planted", "germinated", "tasselled", "harvested")},
)
SENTENCE = re.compile(r"[A-Z][A-Za-z0-9 ,;():-]*\.")


@given(FACTS, st.sampled_from(["mineral", "manure-tea", "both"]))
def test_every_sentence_is_whole(facts: dict[str, date], dressing: str) -> None:
    plan = maize_plan(plot(choices={"top-dressing": dressing}, **facts))
    for each in (*plan.tasks, *plan.left_out, *plan.estimates.values()):
        assert SENTENCE.fullmatch(each.because)
        assert "  " not in each.because
        assert not re.search(r"\b(None|it it|of the day of|1 days|the the)\b", each.because)
