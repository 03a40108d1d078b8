"""How the programme's money stands, as the pages say it. Pure."""

from dataclasses import dataclass

from reminder_service.work.budget import BudgetLeft, LimitLeft


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One limit on a page, its amounts in words.

    Attributes
    ----------
    period : what it runs for
    limit, spent, left, kept : the whole, what went, what is left of it, and how much of that is
        kept for replies and important notices
    note : what a coordinator should know of it; empty if all is well
    """

    period: str
    limit: str
    spent: str
    left: str
    kept: str
    note: str


def money_words(amount: int, currency: str) -> str:
    """Amount of money with its currency; the third place is shown only where it counts.

    Parameters
    ----------
    amount : thousandths
    currency : ISO 4217 code

    Examples
    --------
    >>> money_words(1_234_500, "ZMW"), money_words(35, "ZMW")
    ('1,234.50 ZMW', '0.035 ZMW')
    """
    places = 3 if amount % 10 else 2
    return f"{amount / 1000:,.{places}f} {currency}"


def budget_lines(stands: BudgetLeft | None) -> list[BudgetLine]:
    """Each limit of the budget as a line for ``budget.html``.

    Parameters
    ----------
    stands : what `reminder_service.work.budget.left` answers

    Returns
    -------
    the day's before the season's; empty without a budget
    """
    if stands is None:
        return []
    limits = {"today (UTC)": stands.per_day, "this season": stands.per_season}
    return [_line(period, limit, stands.currency) for period, limit in limits.items() if limit]


def _line(period: str, limit: LimitLeft, currency: str) -> BudgetLine:
    amounts = (limit.limit, limit.spent, limit.left, min(limit.kept, limit.left))
    limited, spent, left, kept = (money_words(amount, currency) for amount in amounts)
    return BudgetLine(period, limited, spent, left, kept, _note(limit))


def _note(limit: LimitLeft) -> str:
    if not limit.left:
        return "Spent: only confirmations of a stop go out."
    if not limit.left_for_others:
        return "Only replies and important notices go out; others wait."
    return ""
