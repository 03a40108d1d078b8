"""How the claimed notices of one phone become texts. Pure."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from uuid import NAMESPACE_URL, uuid5

from reminder_service.kinds import Stage
from reminder_service.records.queue import ClaimedNotice
from reminder_service.texts.segments import segments


@dataclass(frozen=True, slots=True)
class Bundle:
    """Notices of one phone that go out as one text.

    Attributes
    ----------
    notices : in the order their bodies are joined
    body : the text
    reference : our id of it; the same members always carry the same one
    """

    notices: tuple[ClaimedNotice, ...]
    body: str
    reference: str


SegmentLimit = Callable[[ClaimedNotice], int | None]
"""Most segments a joined text for a notice's phone may have; None where segments do not count."""


def bundles(claimed: Iterable[ClaimedNotice], segment_limit: SegmentLimit) -> list[Bundle]:
    """Join the claimed notices of each phone into as few texts as fit.

    Replies stand alone; a bundle in doubt is put together exactly as it was, so that it keeps
    its reference.

    Parameters
    ----------
    claimed : notices of one claim
    segment_limit : of each phone's joined texts; a single longer notice still goes

    Returns
    -------
    the bundles, replies first, then by what expires first
    """
    made: list[Bundle] = []
    ordered = sorted(claimed, key=lambda n: (n.number, n.attempt_id or 0))
    for (_, attempt), group in groupby(ordered, key=lambda n: (n.number, n.attempt_id or 0)):
        notices = sorted(group, key=lambda n: (n.importance, n.expires_at, n.id))
        if attempt:
            made.append(_bundle(sorted(notices, key=lambda n: n.id)))
        else:
            made.extend(_joined(notices, segment_limit(notices[0])))
    return sorted(made, key=_urgency)


def _joined(notices: Sequence[ClaimedNotice], segment_limit: int | None) -> list[Bundle]:
    alone = [[notice] for notice in notices if notice.stage is Stage.REPLY]
    groups: list[list[ClaimedNotice]] = []
    for notice in notices:
        if notice.stage is Stage.REPLY:
            continue
        room = next((g for g in groups if _fits([*g, notice], segment_limit)), None)
        if room is None:
            groups.append([notice])
        else:
            room.append(notice)
    # Members stand by id so that a bundle put together again after a crash is the same text.
    return [_bundle(sorted(group, key=lambda n: n.id)) for group in [*alone, *groups]]


def _fits(notices: Sequence[ClaimedNotice], segment_limit: int | None) -> bool:
    return segment_limit is None or segments(joined_body(notices)).segments <= segment_limit


def joined_body(notices: Sequence[ClaimedNotice]) -> str:
    """Bodies of some notices as one text."""
    return "\n".join(notice.body for notice in notices)


def _bundle(notices: Sequence[ClaimedNotice]) -> Bundle:
    members = ",".join(str(notice.id) for notice in notices)
    reference = notices[0].client_reference or uuid5(NAMESPACE_URL, f"notices:{members}").hex
    return Bundle(tuple(notices), joined_body(notices), reference)


def _urgency(bundle: Bundle) -> tuple[bool, datetime]:
    first = min(bundle.notices, key=lambda n: n.expires_at)
    return (bundle.notices[0].stage is not Stage.REPLY, first.expires_at)
