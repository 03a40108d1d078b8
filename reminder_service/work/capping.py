"""The cap on the texts of one phone in a week, applied as they are about to go."""

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.kinds import Stage
from reminder_service.records import phone_weeks
from reminder_service.records.phone_weeks import PhoneNotice
from reminder_service.records.queue import ClaimedNotice
from reminder_service.rules.weekly_cap import WEEK_DAYS, PhoneText, held_back
from reminder_service.work.bundles import Bundle, Room, bundles

LOOKED_AROUND = timedelta(days=WEEK_DAYS + 1)
"""How far send times are looked at: a week, and a day for zones and retries."""

AGAIN = "/again-"
"""What the key of a notice holds that a person sends again."""

RoomOf = Callable[[ClaimedNotice], Room]


def over_cap(
    c: Connection, made: Sequence[Bundle], cap: int, now: datetime, room_of: RoomOf
) -> list[tuple[Bundle, str]]:
    """Which of the texts about to go are over their phone's cap, and why.

    All plots and farmers of a phone count together. What is planned for the days ahead counts
    too, so that a less important text of today leaves room for a more important one of tomorrow.
    Replies are not counted; corrections, last calls of importance 1 and what a person sends again
    are counted and always go, and so does a text in doubt, which may have gone already.

    Parameters
    ----------
    c : connection
    made : texts about to go
    cap : most texts to one phone in seven local days; 0 for no cap
    now : aware UTC instant
    room_of : what a notice's phone may get in one text

    Returns
    -------
    the texts held back, each with the reason for the page
    """
    capped = [bundle for bundle in made if _may_be_held(bundle)]
    if not cap or not capped:
        return []
    phones = {bundle.notices[0].phone_id for bundle in capped}
    around = phone_weeks.phone_notices(c, phones, now - LOOKED_AROUND, now + LOOKED_AROUND)
    by_phone: dict[int, list[PhoneNotice]] = {phone: [] for phone in phones}
    for each in around:
        by_phone[each.notice.phone_id].append(each)
    found = []
    for phone in sorted(phones):
        own = [bundle for bundle in made if bundle.notices[0].phone_id == phone]
        held = held_back(_texts(own, by_phone[phone], now, room_of), cap)
        refs = {_ref(bundle.notices): bundle for bundle in own}
        found += [(refs[ref], _reason(cap, others)) for ref, others in held.items() if ref in refs]
    return found


def _may_be_held(bundle: Bundle) -> bool:
    first = bundle.notices[0]
    return first.stage is not Stage.REPLY and first.attempt_id is None


def _reason(cap: int, others: int) -> str:
    return (
        f"held back: a phone gets at most {cap} texts in 7 days (REMINDER_WEEKLY_CAP), "
        f"and {others} went already or matter more"
    )


def _texts(
    own: Sequence[Bundle], around: Sequence[PhoneNotice], now: datetime, room_of: RoomOf
) -> list[PhoneText]:
    """Every text of one phone in the week before and the week after today."""
    today = _local_day(now, own[0].notices[0].zone)
    again = {each.notice.id for each in around if AGAIN in each.key}
    ours = {notice.id for bundle in own for notice in bundle.notices}
    texts = [
        _text(bundle.notices, today, again)
        for bundle in own
        if bundle.notices[0].stage is not Stage.REPLY
    ]
    others = [each for each in around if each.notice.id not in ours]
    for on, notices in _by_text(others, today, room_of):
        if abs((on - today).days) < WEEK_DAYS:
            gone = any(each.is_gone for each in others if each.notice.id == notices[0].id)
            texts.append(_text(notices, on, again, gone))
    return texts


def _by_text(
    others: Sequence[PhoneNotice], today: date, room_of: RoomOf
) -> Iterator[tuple[date, Sequence[ClaimedNotice]]]:
    """Notices with their local day, joined to texts as they went or as they would go."""

    def day_of(each: PhoneNotice) -> date:
        if each.is_gone:
            return _local_day(each.sent_at, each.notice.zone) if each.sent_at else each.day
        return max(each.day, today)

    for on, group in groupby(sorted(others, key=day_of), key=day_of):
        for bundle in bundles([each.notice for each in group], room_of):
            yield on, bundle.notices


def _text(
    notices: Sequence[ClaimedNotice], on: date, again: set[int], gone: bool = False
) -> PhoneText:
    always = gone or any(
        notice.id in again or notice.attempt_id is not None or _is_urgent(notice)
        for notice in notices
    )
    return PhoneText(_ref(notices), on, min(n.importance for n in notices), always)


def _is_urgent(notice: ClaimedNotice) -> bool:
    last_call = notice.stage is Stage.LAST_CALL and notice.importance == 1
    return last_call or notice.stage is Stage.CORRECTION


def _ref(notices: Sequence[ClaimedNotice]) -> int:
    return min(notice.id for notice in notices)


def _local_day(at: datetime, zone: str | None) -> date:
    return at.astimezone(ZoneInfo(zone) if zone else UTC).date()
