"""The programme's money: exact amounts, and how a budget divides. Pure."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

KEPT = Decimal("0.2")
"""Part of each limit that is kept for replies and important notices (setting)."""

IMPORTANT_FROM = 2
"""Least importance that counts as important, 1 being most (setting)."""

Share = Annotated[Decimal, Field(ge=0, le=Decimal("0.9"), max_digits=6)]
Amount = Annotated[Decimal, Field(gt=0, le=10**12, decimal_places=3, max_digits=15)]


def thousandths(amount: Decimal) -> int:
    """Amount of money as a whole number of thousandths.

    Parameters
    ----------
    amount : at most three places

    Returns
    -------
    thousandths

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> thousandths(Decimal("0.045"))
    45
    """
    return int(amount * 1000)


class Budget(BaseModel):
    """How much money may go into texts; the table ``[budget]`` of a routes file.

    Attributes
    ----------
    currency : ISO 4217 code
    per_day, per_season : most money in one UTC day and in one season; None for no limit
    kept_for_important : the last part of each limit, 0 to 0.9, is for replies and for important
        notices alone
    important_from : notices of this importance or more count as important; 1 is most
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    per_day: Amount | None = None
    per_season: Amount | None = None
    kept_for_important: Share = KEPT
    important_from: int = Field(default=IMPORTANT_FROM, ge=1, le=9)

    @model_validator(mode="after")
    def _limits_something(self) -> Self:
        """Refuse a budget that would never hold anything."""
        if self.per_day is None and self.per_season is None:
            raise ValueError("it limits nothing: give per_day, per_season or both")
        return self

    def limits(self) -> Iterator[tuple[str, int, int]]:
        """Each limit by its key in the file, with what is kept of it; both in thousandths."""
        for key, amount in (("per_day", self.per_day), ("per_season", self.per_season)):
            if amount is not None:
                limit = thousandths(amount)
                yield key, limit, int(limit * self.kept_for_important)


def is_covered(cost: int, spent: int, limit: int, kept: int, important: bool) -> bool:
    """Whether a limit allows one more text.

    Parameters
    ----------
    cost, spent, limit, kept : thousandths: of the text, spent so far, the whole limit, and its
        part for replies and important notices
    important : whether the text may take from the kept part

    Returns
    -------
    True if it may go

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> is_covered(10, 75, 100, 20, important=False), is_covered(10, 75, 100, 20, important=True)
    (False, True)
    """
    return spent + cost <= (limit if important else limit - kept)
