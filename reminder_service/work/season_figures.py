"""The figures of one season, as page, CSV and paper show them."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from reminder_service.kinds import Kind, NoticeState
from reminder_service.records import season_figures as records
from reminder_service.records.season_figures import Group, Timeliness
from reminder_service.records.views import Scope, Ward, wards_seen

HANDED = (NoticeState.HANDED_OVER, NoticeState.DELIVERED, NoticeState.UNDELIVERED)
"""States of what a carrier took."""


@dataclass(frozen=True, slots=True)
class Money:
    """Texts of all routes, their segments, and their cost in thousandths of the money."""

    texts: int
    segments: int
    cost: int


@dataclass(frozen=True, slots=True)
class SeasonFigures:
    """What is known of one season in some wards.

    Attributes
    ----------
    starts_on, ends_before : local days
    wards : those of the scope, by name
    plots : by ward id
    done : tasks by ward, language and name
    reported : plots that reported each kind, by ward id
    states : notices by route and state
    money : None where only some wards are seen, since texts are paid for together
    """

    starts_on: date
    ends_before: date
    wards: tuple[Ward, ...]
    plots: Mapping[int, int]
    done: Mapping[Group, Timeliness]
    reported: Mapping[int, Counter[Kind]]
    states: Mapping[str, Counter[NoticeState]]
    money: Money | None

    @property
    def all_plots(self) -> int:
        """Plots of all wards together."""
        return sum(self.plots.values())

    @property
    def cost_a_plot(self) -> int | None:
        """Thousandths of the money that texts cost for each plot; None if it is not known."""
        if self.money is None or not self.all_plots:
            return None
        return round(self.money.cost / self.all_plots)

    def reported_by_all(self, kind: Kind) -> int:
        """Plots of all wards that reported a kind."""
        return sum(counts[kind] for counts in self.reported.values())


def season_figures(
    c: Connection, scope: Scope, starts_on: date, days: Mapping[str, date]
) -> SeasonFigures:
    """Gather a season's figures in seven statements, however many wards there are.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    starts_on : first day of the season
    days : local day in each zone of those wards
    """
    ends_before = starts_on.replace(year=starts_on.year + 1)
    spent = records.spent_between(c, starts_on, ends_before) if scope is None else None
    return SeasonFigures(
        starts_on,
        ends_before,
        tuple(wards_seen(c, scope)),
        records.plots_by_ward(c, scope, starts_on),
        records.timeliness(c, scope, starts_on, days),
        records.plots_that_reported(c, scope, starts_on),
        records.states_by_route(c, scope, starts_on),
        None if spent is None else Money(*spent),
    )


def summed(
    done: Mapping[Group, Timeliness], by: Callable[[Group], str | int]
) -> dict[str | int, Timeliness]:
    """Tasks counted together by what a function answers of their group.

    Examples
    --------
    >>> done = {Group(1, "en", "thin"): Timeliness(1), Group(2, "sw", "thin"): Timeliness(0, 1)}
    >>> summed(done, lambda group: group.task)["thin"].rate
    0.5
    """
    found: dict[str | int, Timeliness] = {}
    for group, counts in done.items():
        key = by(group)
        found[key] = found.get(key, Timeliness()) + counts
    return found


def whole(counts: Iterable[Timeliness]) -> Timeliness:
    """All of them together."""
    return sum(counts, Timeliness())


def tasks_in_order(figures: SeasonFigures, known: Sequence[str]) -> list[str]:
    """Names of the tasks that occur: those of a rulebook in its order, then others by name."""
    found = {group.task for group in figures.done}
    return [name for name in known if name in found] + sorted(found - set(known))


def arrived_rate(states: Counter[NoticeState]) -> float | None:
    """Share delivered of what a carrier took, 0 to 1; None if no receipt came for any of it.

    What a carrier that gives receipts has not spoken of yet counts as not delivered.

    Examples
    --------
    >>> arrived_rate(Counter({NoticeState.DELIVERED: 3, NoticeState.HANDED_OVER: 1}))
    0.75
    """
    if not states[NoticeState.DELIVERED] + states[NoticeState.UNDELIVERED]:
        return None
    return states[NoticeState.DELIVERED] / sum(states[state] for state in HANDED)
