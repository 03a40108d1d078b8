"""What goes wrong with a list that somebody brings."""

from reminder_service.errors import ReminderError


class UnusableFile(ReminderError):
    """A file cannot be taken as a list.

    Attributes
    ----------
    what : what is wrong with it
    remedy : what to do
    """

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(f"this file {what}: {remedy}")
        self.what = what
        self.remedy = remedy


class WrongColumns(ReminderError):
    """The columns of a list do not say enough.

    Attributes
    ----------
    what : what is missing or given twice
    """

    def __init__(self, what: str) -> None:
        super().__init__(f"{what}: choose what each column holds")
        self.what = what


class NotNow(ReminderError):
    """A list is not at the point where this can be done with it.

    Attributes
    ----------
    what : what stands in the way
    """

    def __init__(self, what: str) -> None:
        super().__init__(f"{what}: look at the list once more")
        self.what = what
