"""What the agronomy functions raise when they cannot answer."""


class OutOfRange(ValueError):
    """A measure lies outside what the function can answer for.

    Attributes
    ----------
    field : name of the argument
    got : the value as given
    expected : what would have been taken, in words
    """

    def __init__(self, field: str, got: object, expected: str) -> None:
        super().__init__(field, got, expected)
        self.field = field
        self.got = got
        self.expected = expected

    def __str__(self) -> str:
        return (
            f"{self.field} is {self.got}, expected {self.expected}: "
            f"put {self.field} right and ask again"
        )


def check_within(field: str, got: float, low: float, high: float, unit: str) -> None:
    """Refuse a measure outside its range, and one that is not a number.

    Parameters
    ----------
    field : name of the argument, for the message
    got : the measure
    low, high : both ends still belong to the range
    unit : unit of the measure, for the message

    Raises
    ------
    OutOfRange
        The measure is below ``low``, above ``high`` or not a number.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> check_within("cup_ml", 5, 0.5, 250, "ml")
    """
    if not low <= got <= high:
        raise OutOfRange(field, got, f"{low:,} to {high:,} {unit}")
