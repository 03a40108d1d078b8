"""What goes wrong in the records."""

from reminder_service.errors import ReminderError

__all__ = ["AlreadyThere", "NotFound", "ReminderError", "WrongEngine"]


class NotFound(ReminderError):
    """The records hold no such row.

    Attributes
    ----------
    what : kind of row, in the names list's words
    key : what it was looked up by
    """

    def __init__(self, what: str, key: object) -> None:
        super().__init__(f'there is no {what} "{key}": look it up again, it may have gone')
        self.what = what
        self.key = key


class AlreadyThere(ReminderError):
    """The records hold such a row already, and there may be only one.

    Attributes
    ----------
    what : kind of row, in the names list's words
    key : what must be unique
    """

    def __init__(self, what: str, key: object) -> None:
        super().__init__(f'there is a {what} "{key}" already: choose another, or use that one')
        self.what = what
        self.key = key


class WrongEngine(ReminderError):
    """The database cannot keep the queue's promises, so it is not used.

    Attributes
    ----------
    what : the property that is wrong
    expected, got : what it must be and what it is
    """

    def __init__(self, what: str, expected: str, got: object, remedy: str) -> None:
        super().__init__(f"database: {what} is {got}, expected {expected}; {remedy}")
        self.what = what
        self.expected = expected
        self.got = got
