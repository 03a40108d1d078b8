"""Fetches texts and receipts that a carrier keeps, and lets them go once they are kept here."""

import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from gateways.errors import TryLater
from gateways.http.answers import Reply, hidden_parts, reason_of, wait_s
from gateways.http.calls import Several, Values, Writer, call_writer
from gateways.http.cursors import Cursor, read_cursor, write_cursor
from gateways.http.exchange import Exchange, Unanswered
from gateways.http.pages import Page, Waiting, read_page
from gateways.http.profile import Profile
from gateways.http.profile_polling import Polling
from gateways.protocol import Event

MOST_REMEMBERED = 10_000
"""Events of one place that are known to be kept, so as not to be brought again (setting)."""

_GONE = frozenset({404, 410})
"""The answers to letting go what is gone already: RFC 9110, sections 15.5.5 and 15.5.11."""

OnEvent = Callable[[Event], None]
"""Keeps one event before it returns."""

Poller = Callable[[OnEvent], int]
"""As `gateways.protocol.Polled.poll`."""


def poller(profile: Profile, put: Exchange, now: Callable[[], datetime]) -> Poller:
    """What fetches from every place that a profile names.

    One place's trouble does not keep the others back; the first trouble is raised at the end.
    """
    places = [_Place(each, profile, put, now) for each in profile.polling]

    def poll(on_event: OnEvent) -> int:
        """Fetch what waits and answer how many events there were."""
        count = 0
        troubles: list[TryLater] = []
        for place in places:
            try:
                count += place.poll(on_event)
            except TryLater as error:
                troubles.append(error)
        if troubles:
            raise troubles[0]
        return count

    return poll


class _Place:
    """One place where events wait.

    Events are let go, and the cursor moves, page by page, and only after a whole page was kept.
    What comes again is not brought a second time while it is remembered; after a restart it is,
    and then its own id, or that a receipt changes nothing twice, takes care of it.
    """

    def __init__(
        self, polling: Polling, profile: Profile, put: Exchange, now: Callable[[], datetime]
    ) -> None:
        secrets = [each.secret.get_secret_value() for each in profile.credentials]
        self._polling = polling
        self._put = put
        self._now = now
        self._usual_s = profile.answer.retry_s
        self._hidden = hidden_parts([], secrets)
        self._fetching = call_writer(polling.request, profile)
        self._letting_go = None if polling.done is None else call_writer(polling.done, profile)
        self._file = None if polling.cursor_file is None else Path(polling.cursor_file)
        kept = None if self._file is None else read_cursor(self._file)
        self._cursor: Cursor | None = polling.first if kept is None else kept
        self._kept: dict[bytes, None] = {}
        self._lock = threading.Lock()

    def poll(self, on_event: OnEvent) -> int:
        """Fetch page after page, and answer how many events were brought."""
        count = 0
        gone: set[bytes] = set()
        with self._lock:
            for _ in range(self._polling.pages):
                page = self._page()
                brought = self._bring(page, on_event)
                count += brought
                let_go = self._let_go(
                    [each for each in page.waiting if each.mark not in gone], page
                )
                gone.update(each.mark for each in page.waiting)
                moved = self._move(page.cursor)
                # Without any of these, the same page would come again.
                is_new = let_go or moved or (page.more is not None and brought > 0)
                if not is_new or not (page.waiting if page.more is None else page.more):
                    break
        return count

    def _page(self) -> Page:
        """Fetch one page."""
        at = self._now()
        values: Values = {} if self._cursor is None else {"cursor": self._cursor}
        reply = self._exchange(self._fetching, values)
        if reply.status == 204:
            return Page([], None, more=False)
        try:
            return read_page(self._polling, reply.content, at)
        except ValueError as error:
            raise TryLater(f"what waits cannot be read: {error}", self._usual_s) from None

    def _bring(self, page: Page, on_event: OnEvent) -> int:
        """Hand over what was not kept yet, and answer how much it was."""
        count = 0
        for each in page.waiting:
            if each.event is None or each.mark in self._kept:
                continue
            on_event(each.event)
            count += 1
            self._kept[each.mark] = None
            if len(self._kept) > MOST_REMEMBERED:
                del self._kept[next(iter(self._kept))]
        return count

    def _let_go(self, waiting: Sequence[Waiting], page: Page) -> bool:
        """Let the events of a page go at the carrier, and answer whether there were any."""
        done, write = self._polling.done, self._letting_go
        if done is None or write is None:
            return False
        names = done.names()
        cursor: Values = {} if page.cursor is None else {"cursor": page.cursor}
        if "cursor" in names and not cursor:
            return False
        ids = [each.id for each in waiting if each.id is not None]
        calls: list[Values] = [cursor] if waiting else []
        if "ids" in names:
            calls = [{**cursor, "ids": Several(ids)}] if ids else []
        elif "id" in names:
            calls = [{**cursor, "id": each} for each in ids]
        for values in calls:
            self._exchange(write, values, allowed=_GONE)
        return bool(calls)

    def _move(self, cursor: Cursor | None) -> bool:
        """Go on from a cursor, and answer whether it is another one."""
        if cursor is None or cursor == self._cursor:
            return False
        self._cursor = cursor
        if self._file is not None:
            try:
                write_cursor(self._file, cursor)
            except OSError as error:
                raise TryLater(f"cursor_file cannot be written: {error}", self._usual_s) from error
        return True

    def _exchange(
        self, write: Writer, values: Values, allowed: frozenset[int] = frozenset()
    ) -> Reply:
        """Put a request, and answer its answer if that is a good or an allowed one."""
        try:
            reply = self._put(write(values))
        except Unanswered as error:
            raise TryLater(error.reason, self._usual_s) from None
        if 200 <= reply.status < 300 or reply.status in allowed:
            return reply
        said = reply.content.decode("utf-8", "replace")
        reason = reason_of(reply.status, None, said, self._hidden)
        raise TryLater(reason, wait_s(reply.retry_after, self._usual_s, self._now()))
