"""What a rulebook may say about one day: counted from something, or chosen among such days."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag

from reminder_service.kinds import DATED_FACTS

FACTS = tuple(kind.value for kind in DATED_FACTS)
"""Facts that days may be counted from."""

FIELDS = ("opens", "due", "closes")
"""Days of a task that other days may be counted from."""

DONE = "done"
"""The day a task was reported done; other days may be counted from it too."""

ANCHOR_PATTERN = r"^[a-z][a-z0-9-]*(\.(opens|due|closes|done))?$"
SETTING_PATTERN = r"^-?[a-z][a-z0-9_]*$"

FORMS = ("from", "later_of", "earlier_of")
"""The keys that tell the three forms of a bound apart."""


class Strict(BaseModel):
    """What all parts of a rulebook share: frozen, no unknown keys, no silent conversions."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        populate_by_name=True,
        str_strip_whitespace=True,
    )


class Counted(Strict):
    """A day counted from a fact or from another task's day."""

    start: str = Field(
        alias="from",
        pattern=ANCHOR_PATTERN,
        description="A fact, or a task's opens, due, closes or done, e.g. thin.done.",
    )
    days: int | Annotated[str, Field(pattern=SETTING_PATTERN)] = Field(
        default=0, description="Days after it; below 0 for before; or a setting's name, or -name."
    )
    if_known: bool = Field(
        default=False, description="Left out of later_of and earlier_of while it is not known."
    )
    source: str | None = Field(default=None, min_length=1, description="Where the number is from.")


class LaterOf(Strict):
    """The latest of several days."""

    members: "tuple[Bound, ...]" = Field(alias="later_of", min_length=2, strict=False)
    source: str | None = Field(default=None, min_length=1, description="Where the rule is from.")


class EarlierOf(Strict):
    """The earliest of several days."""

    members: "tuple[Bound, ...]" = Field(alias="earlier_of", min_length=2, strict=False)
    source: str | None = Field(default=None, min_length=1, description="Where the rule is from.")


def _form(given: Any) -> str | None:
    """Which form a bound has, for the error messages' sake one at a time."""
    if isinstance(given, Counted):
        return "<from>"
    if isinstance(given, LaterOf | EarlierOf):
        return "<later_of>" if isinstance(given, LaterOf) else "<earlier_of>"
    found = [form for form in FORMS if isinstance(given, dict) and form in given]
    return f"<{found[0]}>" if found else None


Bound = Annotated[
    Annotated[Counted, Tag("<from>")]
    | Annotated[LaterOf, Tag("<later_of>")]
    | Annotated[EarlierOf, Tag("<earlier_of>")],
    Discriminator(
        _form,
        custom_error_type="bound",
        custom_error_message="Input should be a table with from, later_of or earlier_of",
    ),
]
"""One of the three forms."""

LaterOf.model_rebuild()
EarlierOf.model_rebuild()

Place = tuple[str | int, ...]
"""Keys and indexes that lead to a place in the file."""


def leaves(bound: Counted | LaterOf | EarlierOf, at: Place = ()) -> Iterator[tuple[Place, Counted]]:
    """All days counted inside a bound, with their places in it.

    Parameters
    ----------
    bound : any bound
    at : place of the bound itself

    Yields
    ------
    place and counted day
    """
    if isinstance(bound, Counted):
        yield at, bound
        return
    key: Literal["later_of", "earlier_of"] = (
        "later_of" if isinstance(bound, LaterOf) else "earlier_of"
    )
    for index, member in enumerate(bound.members):
        yield from leaves(member, (*at, key, index))
