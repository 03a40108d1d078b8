"""What a modem's gateway must remember: which part is whose, and which PIN was tried."""

import sqlite3
from contextlib import closing
from datetime import datetime, timedelta
from threading import Lock

from gateways.modem.pdu import StatusReport
from gateways.protocol import Receipt, ReceiptState

_KEPT = timedelta(days=30)
"""How long parts are kept; `setting`, longer than carriers try to deliver."""

_TAIL_DIGITS = 8
"""Digits compared: a status report may name the phone without its country's code; `setting`."""

_TABLES = """
create table if not exists parts (
    reference text not null, part integer not null, parts integer not null,
    client_reference text not null, message integer not null, tail text not null,
    sent_at real not null, state text,
    primary key (reference, part)
);
create index if not exists parts_by_message on parts (message, tail, sent_at);
create table if not exists pins (version text primary key);
"""


class ModemRecord:
    """A small SQLite file; thread-safe.

    Parameters
    ----------
    path : the file, or ``:memory:`` for one that is gone with the process

    Raises
    ------
    sqlite3.Error
        The file cannot be opened or holds something else.
    """

    def __init__(self, path: str) -> None:
        self._lock = Lock()
        self._db = sqlite3.connect(path, check_same_thread=False, isolation_level=None)
        try:
            self._db.executescript(_TABLES)
        except sqlite3.Error:
            self._db.close()
            raise

    def note_part(
        self,
        reference: str,
        client_reference: str,
        part: tuple[int, int],
        message: int,
        to: str,
        at: datetime,
    ) -> None:
        """Remember which message a part belongs to.

        Parameters
        ----------
        reference, client_reference : the gateway's and our own
        part : which one, of how many
        message : the number that the carrier gave the part, 0 to 255
        to : E.164
        at : aware instant
        """
        with self._lock:
            self._db.execute(
                "delete from parts where sent_at < ?", [at.timestamp() - _KEPT.total_seconds()]
            )
            self._db.execute(
                "insert into parts values (?, ?, ?, ?, ?, ?, ?, null)",
                [reference, *part, client_reference, message, _tail(to), at.timestamp()],
            )

    def receipt(self, report: StatusReport) -> Receipt:
        """What a report on one part says of the whole message.

        A long text is delivered when all its parts are, and undelivered when one is. A report on
        a part that is not on record names the carrier's number and the phone, so that it can be
        counted.
        """
        reason = f"TP-Status {report.status}"
        with self._lock:
            found = self._db.execute(
                "select reference, client_reference, part, parts from parts"
                " where message = ? and tail = ? order by sent_at desc, part desc limit 1",
                [report.message, _tail(report.recipient)],
            ).fetchone()
            if found is None:
                unknown = f"{report.recipient}/{report.message}"
                return Receipt(unknown, None, report.state, report.at, reason)
            reference, client_reference, part, parts = found
            self._db.execute(
                "update parts set state = ? where reference = ? and part = ?",
                [report.state.value, reference, part],
            )
            with closing(
                self._db.execute("select state from parts where reference = ?", [reference])
            ) as rows:
                states = [row[0] for row in rows]
        return Receipt(reference, client_reference, _whole(states, parts), report.at, reason)

    def pin_was_tried(self, version: str) -> bool:
        """Whether a PIN of this version of its file was given and never accepted."""
        with self._lock:
            sought = self._db.execute("select 1 from pins where version = ?", [version])
            return sought.fetchone() is not None

    def note_pin(self, version: str) -> None:
        """Remember, before it is given, that the PIN of this version of its file is tried."""
        with self._lock:
            self._db.execute("insert or ignore into pins values (?)", [version])

    def clear_pin(self, version: str) -> None:
        """The PIN was right: it may be given again."""
        with self._lock:
            self._db.execute("delete from pins where version = ?", [version])

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._db.close()


def _tail(number: str) -> str:
    return number[-_TAIL_DIGITS:]


def _whole(states: list[str | None], parts: int) -> ReceiptState:
    if ReceiptState.UNDELIVERED in states:
        return ReceiptState.UNDELIVERED
    if len(states) == parts and all(state == ReceiptState.DELIVERED for state in states):
        return ReceiptState.DELIVERED
    return ReceiptState.UNDERWAY
