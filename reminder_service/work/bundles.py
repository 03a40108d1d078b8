"""How the claimed notices of one phone become texts. Pure."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from uuid import NAMESPACE_URL, uuid5

from reminder_service.kinds import Stage
from reminder_service.records.queue import ClaimedNotice
from reminder_service.texts.alphabets import DEFAULT, ShiftTables
from reminder_service.texts.catalogues import SOURCE_LANGUAGE
from reminder_service.texts.letters import economical
from reminder_service.texts.segments import segments


@dataclass(frozen=True, slots=True)
class Bundle:
    """Notices of one phone that go out as one text.

    Attributes
    ----------
    notices : in the order their bodies are joined
    body : the text
    reference : our id of it; the same members always carry the same one
    tables : what its carrier can send in septets; None where segments do not count
    """

    notices: tuple[ClaimedNotice, ...]
    body: str
    reference: str
    tables: ShiftTables | None = DEFAULT


@dataclass(frozen=True, slots=True)
class Room:
    """What a text to one phone may take.

    Attributes
    ----------
    most : segments; None where they do not count
    tables : what the carrier can send in septets; None where segments do not count
    """

    most: int | None
    tables: ShiftTables | None = DEFAULT


def bundles(
    claimed: Iterable[ClaimedNotice], room_of: Callable[[ClaimedNotice], Room]
) -> list[Bundle]:
    """Join the claimed notices of each phone into as few texts as fit.

    Replies stand alone; a bundle in doubt is put together exactly as it was, so that it keeps
    its reference.

    Parameters
    ----------
    claimed : notices of one claim
    room_of : what a notice's phone may get in one text; a single longer notice still goes

    Returns
    -------
    the bundles, replies first, then by what expires first
    """
    made: list[Bundle] = []
    ordered = sorted(claimed, key=lambda n: (n.number, n.attempt_id or 0))
    for (_, attempt), group in groupby(ordered, key=lambda n: (n.number, n.attempt_id or 0)):
        notices = sorted(group, key=lambda n: (n.importance, n.expires_at, n.id))
        if attempt:
            made.append(_bundle(sorted(notices, key=lambda n: n.id), room_of(notices[0])))
        else:
            made.extend(_joined(notices, room_of(notices[0])))
    return sorted(made, key=_urgency)


def _joined(notices: Sequence[ClaimedNotice], room: Room) -> list[Bundle]:
    alone = [[notice] for notice in notices if notice.stage is Stage.REPLY]
    groups: list[list[ClaimedNotice]] = []
    for notice in notices:
        if notice.stage is Stage.REPLY:
            continue
        open_group = next((g for g in groups if _fits([*g, notice], room)), None)
        if open_group is None:
            groups.append([notice])
        else:
            open_group.append(notice)
    # Members stand by id so that a bundle put together again after a crash is the same text.
    return [_bundle(sorted(group, key=lambda n: n.id), room) for group in [*alone, *groups]]


def _fits(notices: Sequence[ClaimedNotice], room: Room) -> bool:
    if room.most is None or room.tables is None:
        return True
    return segments(joined_body(notices, room.tables), room.tables).segments <= room.most


def joined_body(notices: Sequence[ClaimedNotice], tables: ShiftTables | None = DEFAULT) -> str:
    """Bodies of some notices as one text, in the letters that save most on its carrier.

    A short text keeps a letter outside the GSM alphabet where it fits one segment all the same;
    together with others it may not.

    Parameters
    ----------
    notices : of one phone
    tables : what the carrier can send in septets; None where segments do not count
    """
    body = "\n".join(notice.body for notice in notices)
    if tables is None:
        return body
    return economical(body, notices[0].language or SOURCE_LANGUAGE, tables).body


def written_for(bundle: Bundle, tables: ShiftTables | None) -> Bundle:
    """A bundle in the letters for the carrier that it goes by after all.

    Parameters
    ----------
    bundle : what
    tables : what the carrier can send in septets; None where segments do not count
    """
    if tables == bundle.tables:
        return bundle
    return replace(bundle, body=joined_body(bundle.notices, tables), tables=tables)


def _bundle(notices: Sequence[ClaimedNotice], room: Room) -> Bundle:
    members = ",".join(str(notice.id) for notice in notices)
    reference = notices[0].client_reference or uuid5(NAMESPACE_URL, f"notices:{members}").hex
    body = joined_body(notices, room.tables)
    return Bundle(tuple(notices), body, reference, room.tables)


def _urgency(bundle: Bundle) -> tuple[bool, datetime]:
    first = min(bundle.notices, key=lambda n: n.expires_at)
    return (bundle.notices[0].stage is not Stage.REPLY, first.expires_at)
