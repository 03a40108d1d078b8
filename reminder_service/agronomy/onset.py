"""Onset of the rains, its false starts, and how sure both are.

The rule. A day passes the wet test when rain fell on it, however little, and the rain of that day
and the days before it comes to the criterion's amount. It is the onset unless enough dry days in
a row lie wholly inside the look-ahead that follows; then it is a false start. The run is counted
from the day after, so a day of light rain at the head of a run may pass where the day before it
did not.

Unknown days. A day that the record does not name, or gives no amount for, may have been wet or
dry. Every answer therefore holds only as far as no amount on the unknown days could change it:

- A wet test counts as passed only on the known rain. A day that would pass it if an unknown day
  had rain enough is undecided, unless known dry days reject it in any case.
- A false start needs a run of known dry days.
- An onset is confirmed when its look-ahead is over, no unknown day could complete a run that
  rejects it, and no earlier day is undecided; otherwise it is provisional.
- Days before the record begins that also lie before the search add nothing to a sum, and leave
  nothing open; rain that is known from before the search counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from reminder_service.agronomy.onset_criteria import Criterion
from reminder_service.agronomy.rain_days import (
    RainRecord,
    Status,
    check_day,
    daily_thousandths,
    next_runs,
    thousandths,
)

SEARCH_DAYS: Final = 365  # setting: what begins later belongs to the next season


@dataclass(frozen=True, slots=True)
class FalseStart:
    """A wet test that was passed, and the dry run after it.

    Attributes
    ----------
    on : first day that passed the wet test before the run, local
    dry_from : first day of the run that rejected it, local
    dry_days : length of the run as far as it is known
    """

    on: date
    dry_from: date
    dry_days: int


@dataclass(frozen=True, slots=True)
class Onset:
    """The onset of one season's rains.

    Attributes
    ----------
    on : day of the onset, local, or None
    status : ``none``, ``provisional`` or ``confirmed``
    false_starts : the false starts before it, earliest first, one for each dry run
    undecided : earlier days that may have been the onset, for want of an amount
    look_ahead_until : last day of the onset's look-ahead, local, or None
    """

    on: date | None
    status: Status
    false_starts: tuple[FalseStart, ...]
    undecided: tuple[date, ...]
    look_ahead_until: date | None


def onset(
    rain: RainRecord,
    criterion: Criterion,
    search_from: date,
    *,
    search_until: date | None = None,
    known_until: date | None = None,
) -> Onset:
    """First day of the rains that no dry run rejects; the time taken is linear in the days.

    Parameters
    ----------
    rain : mm by local day, 0 to 2,000; a day left out, or None, is unknown
    criterion : what counts as the onset
    search_from : first local day that may be the onset
    search_until : last such day; one year is searched if left out
    known_until : last local day that is over and could have been reported; later amounts are
        left aside. The last day of the record if left out

    Returns
    -------
    the onset, how sure it is, and the false starts before it

    Raises
    ------
    OutOfRange
        A day or an amount is outside its range.

    References
    ----------
    Thresholds as in the criterion's ``sources``. That rain must fall on the day, and how unknown
    days count: [setting].

    Examples
    --------
    >>> from datetime import timedelta
    >>> from reminder_service.agronomy.onset_criteria import criterion
    >>> amounts = [25.0] + [0.0] * 9 + [12.0, 11.0] + [3.0, 0.0] * 16
    >>> record = {date(2026, 11, 10) + timedelta(n): mm for n, mm in enumerate(amounts)}
    >>> found = onset(record, criterion("programme"), date(2026, 11, 1))
    >>> found.on, found.status.value
    (datetime.date(2026, 11, 21), 'confirmed')
    >>> found.false_starts[0].on, found.false_starts[0].dry_days
    (datetime.date(2026, 11, 10), 9)
    """
    for field, day in (
        ("search_from", search_from),
        ("search_until", search_until),
        ("known_until", known_until),
    ):
        if day is not None:
            check_day(field, day)
    span = _span(rain, criterion, search_from, search_until, known_until)
    days = _judged(span.amounts, criterion)
    false_starts: list[FalseStart] = []
    undecided: list[date] = []
    run_end = 0
    for place in span.candidates:
        if not days.may_pass[place]:
            continue
        run = days.rejecting_run(place)
        if run:
            # Later rain of the same wet spell, or light rain inside the run, is no start of its
            # own: it meets the same dry run.
            if days.passes[place] and run.start >= run_end:
                start = FalseStart(span.day(place), span.day(run.start), len(run))
                false_starts.append(start)
                run_end = run.stop
        elif days.passes[place]:
            settled = days.is_settled(place) and not undecided
            return Onset(
                on=span.day(place),
                status=Status.CONFIRMED if settled else Status.PROVISIONAL,
                false_starts=tuple(false_starts),
                undecided=tuple(undecided),
                look_ahead_until=span.day(place + days.look_ahead),
            )
        else:
            undecided.append(span.day(place))
    return Onset(None, Status.NONE, tuple(false_starts), tuple(undecided), None)


@dataclass(frozen=True, slots=True)
class _Span:
    """The days that matter to one search, and the places of those that may be the onset."""

    first: int
    amounts: Sequence[int | None]
    candidates: range

    def day(self, place: int) -> date:
        return date.fromordinal(self.first + place)


def _span(
    rain: RainRecord,
    criterion: Criterion,
    search_from: date,
    search_until: date | None,
    known_until: date | None,
) -> _Span:
    """Days from the first that a sum may reach back to, up to the last that is known."""
    start = search_from.toordinal()
    until = start + SEARCH_DAYS - 1 if search_until is None else search_until.toordinal()
    first = start - criterion.within_days + 1
    record_from = min((on.toordinal() for on in rain), default=start)
    if known_until is None:
        known_until = max(rain, default=date.fromordinal(start - 1))
    # A dry run after the last candidate is followed for a year, to tell its length.
    last = min(known_until.toordinal(), until + SEARCH_DAYS)
    amounts = daily_thousandths(rain, first, last)
    outside = max(0, min(start, record_from, last + 1) - first)
    amounts[:outside] = [0] * outside
    past = min(until, last) - first + 1
    return _Span(first, amounts, range(criterion.within_days - 1, past))


@dataclass(frozen=True, slots=True)
class _JudgedDays:
    """What the amounts, known and unknown, allow to be said of each day."""

    passes: Sequence[bool]
    may_pass: Sequence[bool]
    next_not_dry: Sequence[int]
    next_dry_run: Sequence[int]
    next_possible_run: Sequence[int]
    reject_days: int
    look_ahead: int

    def rejecting_run(self, place: int) -> range:
        """Known dry days, in a row, that make a false start of a day; empty if none do."""
        start = self.next_dry_run[place + 1]
        if start + self.reject_days > place + self.look_ahead + 1:
            return range(0)
        return range(start, self.next_not_dry[start])

    def is_settled(self, place: int) -> bool:
        """Whether the look-ahead is over and no unknown day can complete a rejecting run."""
        if place + self.look_ahead >= len(self.passes):
            return False
        start = self.next_possible_run[place + 1]
        return start + self.reject_days > place + self.look_ahead + 1


def _judged(amounts: Sequence[int | None], criterion: Criterion) -> _JudgedDays:
    """The wet test and the dry runs of each day, in one pass each."""
    passes, may_pass = _wet_tests(amounts, criterion)
    limit = thousandths(criterion.wet_day_mm)
    dry = [amount is not None and amount < limit for amount in amounts]
    possibly_dry = [amount is None or amount < limit for amount in amounts]
    # Without a look-ahead, a run of one day inside no days at all: nothing is ever rejected.
    reject_days = criterion.reject_dry_days or 1
    return _JudgedDays(
        passes=passes,
        may_pass=may_pass,
        next_not_dry=next_runs([not day for day in dry], 1),
        next_dry_run=next_runs(dry, reject_days),
        next_possible_run=next_runs(possibly_dry, reject_days),
        reject_days=reject_days,
        look_ahead=criterion.look_ahead_days or 0,
    )


def _wet_tests(
    amounts: Sequence[int | None], criterion: Criterion
) -> tuple[list[bool], list[bool]]:
    """For each day, whether it passes on the known rain, and whether it may pass at all."""
    enough = thousandths(criterion.wet_mm) + (criterion.wet_test == "more_than")
    passes, may_pass = [], []
    total = unknown = 0
    for place, amount in enumerate(amounts):
        total += amount or 0
        unknown += amount is None
        if place >= criterion.within_days:
            gone = amounts[place - criterion.within_days]
            total -= gone or 0
            unknown -= gone is None
        passes.append(bool(amount) and total >= enough)
        may_pass.append(amount != 0 and (total >= enough or unknown > 0))
    return passes, may_pass
