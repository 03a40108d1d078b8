"""How the programme's money stands on a page."""

from datetime import date

import pytest
from jinja2 import Environment, PackageLoader

from reminder_service.web.budget_words import budget_lines, money_words
from reminder_service.work.budget import BudgetLeft, LimitLeft

DAY, SEASON = date(2026, 11, 25), date(2026, 10, 1)


def standing(per_day=None, per_season=None) -> BudgetLeft:
    return BudgetLeft("ZMW", DAY, SEASON, per_day, per_season)


def rendered(stands: BudgetLeft | None) -> str:
    pages = Environment(loader=PackageLoader("reminder_service.web"), autoescape=True)
    return pages.get_template("budget.html").render(budget=budget_lines(stands))


@pytest.mark.parametrize(
    "amount, words",
    [
        pytest.param(0, "0.00 ZMW", id="nothing"),
        pytest.param(5, "0.005 ZMW", id="thousandths"),
        pytest.param(50, "0.05 ZMW", id="hundredths"),
        pytest.param(12_345_678_900, "12,345,678.90 ZMW", id="millions"),
    ],
)
def test_amounts_are_exact(amount, words):
    assert money_words(amount, "ZMW") == words


def test_each_limit_is_a_line():
    stands = standing(LimitLeft(100_000, 30_000, 20_000), LimitLeft(9_000_000, 45_000, 0))
    day, season = budget_lines(stands)
    assert (day.period, day.limit, day.spent, day.left, day.kept, day.note) == (
        "today (UTC)",
        "100.00 ZMW",
        "30.00 ZMW",
        "70.00 ZMW",
        "20.00 ZMW",
        "",
    )
    assert (season.period, season.left) == ("this season", "8,955.00 ZMW")


@pytest.mark.parametrize(
    "spent, kept, note",
    [
        pytest.param(85_000, "15.00 ZMW", "Only replies and important", id="only the kept part"),
        pytest.param(100_000, "0.00 ZMW", "Spent: only confirmations", id="nothing"),
        pytest.param(100_010, "0.00 ZMW", "Spent: only confirmations", id="gone beyond"),
    ],
)
def test_a_budget_that_ends_says_who_still_gets_texts(spent, kept, note):
    (line,) = budget_lines(standing(LimitLeft(100_000, spent, 20_000)))
    assert line.kept == kept
    assert line.note.startswith(note)


def test_the_page_shows_limits_and_notes():
    page = rendered(standing(LimitLeft(100_000, 85_000, 20_000)))
    assert '<th scope="row">today (UTC)</th><td>100.00 ZMW</td><td>85.00 ZMW</td>' in page
    assert "Only replies and important notices go out; others wait." in page


def test_without_a_budget_the_page_shows_nothing():
    assert rendered(None).strip() == ""
