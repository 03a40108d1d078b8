"""The one description of each call: path, scope, query, body and answer.

Routes, checks and the OpenAPI document are all made from it, so none can say anything else.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from sqlalchemy import Connection

from reminder_service.records.views import Scope
from reminder_service.work.program_keys import Asking, KeyScope
from reminder_service.work.services import Services

HIGHEST_ID = 2**53 - 1
"""Highest id in an address: whole numbers up to it survive in every program."""

MOST_ITEMS = 200
"""Most items on one page (setting)."""


class Strict(BaseModel):
    """What comes in: nothing that is not described, nothing of another type."""

    model_config = ConfigDict(extra="forbid", strict=True)


def _whole(value: object) -> object:
    """A whole number in a query, written in digits alone."""
    if isinstance(value, str) and re.fullmatch(r"[0-9]{1,16}", value):
        return int(value)
    return value


RowId = Annotated[int, Field(ge=1, le=HIGHEST_ID), BeforeValidator(_whole)]
"""An id in a query."""


class NoQuery(Strict):
    """A call without a query."""


class PageQuery(Strict):
    """Which page of a list is wanted."""

    limit: Annotated[int, Field(ge=1, le=MOST_ITEMS), BeforeValidator(_whole)] = Field(
        default=50, description="Most items on the page"
    )
    after: str | None = Field(
        default=None,
        description="The `next` of the page before; a cursor that never came from us is not found",
        pattern=r"^[A-Za-z0-9_.-]{1,400}$",
    )


@dataclass(frozen=True, slots=True)
class Call:
    """One call that may be made.

    Attributes
    ----------
    services : the services
    asking : the program that asks, and the person who answers for it
    operation : what is asked for
    ids : the numbers in the address
    """

    services: Services
    asking: Asking
    operation: "Operation"
    ids: dict[str, int] = field(default_factory=dict)

    @property
    def scope(self) -> Scope:
        """Wards that the program sees."""
        return self.asking.key.scope

    def may(self, scope: KeyScope) -> bool:
        """Whether the program's key has a scope."""
        return scope.value in self.asking.key.scopes


@dataclass(frozen=True, slots=True)
class Operation:
    """One call as it is described.

    Attributes
    ----------
    path : under ``/api/v1``, ids in braces
    scope : that a key needs for it
    query, body, answer : models; a body only where the call writes
    status : of the answer
    done : reads, or writes, and answers a model
    """

    name: str
    method: str
    path: str
    scope: KeyScope
    summary: str
    answer: type[BaseModel]
    done: Callable[..., BaseModel]
    query: type[BaseModel] = NoQuery
    body: type[BaseModel] | None = None
    status: int = 200

    @property
    def ids(self) -> list[str]:
        """Names of the ids in its path."""
        return re.findall(r"\{(\w+)\}", self.path)

    @property
    def rule(self) -> str:
        """Its path as routes are written."""
        return re.sub(r"\{(\w+)\}", rf"<int(min=1, max={HIGHEST_ID}):\1>", self.path)


OPERATIONS: list[Operation] = []
"""Every call there is, in the order in which it is described."""

Q = TypeVar("Q", bound=BaseModel)
B = TypeVar("B", bound=BaseModel)
A = TypeVar("A", bound=BaseModel)


def reads(
    path: str, scope: KeyScope, query: type[Q], answer: type[A]
) -> Callable[[Callable[[Connection, Call, Q], A]], Callable[[Connection, Call, Q], A]]:
    """Offer a function as a call that reads; its docstring's first line is the summary."""

    def offered(work: Callable[[Connection, Call, Q], A]) -> Callable[[Connection, Call, Q], A]:
        OPERATIONS.append(
            Operation(work.__name__, "GET", path, scope, _summary(work), answer, work, query)
        )
        return work

    return offered


def writes(
    path: str, scope: KeyScope, body: type[B], answer: type[A], status: int = 200
) -> Callable[[Callable[[Call, B], A]], Callable[[Call, B], A]]:
    """Offer a function as a call that writes; its docstring's first line is the summary."""

    def offered(work: Callable[[Call, B], A]) -> Callable[[Call, B], A]:
        made = Operation(
            work.__name__, "POST", path, scope, _summary(work), answer, work, NoQuery, body, status
        )
        OPERATIONS.append(made)
        return work

    return offered


def _summary(work: Callable[..., Any]) -> str:
    return (work.__doc__ or "").partition("\n")[0].rstrip(".")
