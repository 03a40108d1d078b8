"""The tables ``[[polling]]`` of an HTTP profile: how waiting texts and receipts are fetched."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Annotated, ClassVar

from pydantic import AfterValidator, Field, ValidationInfo

from gateways.http.cursors import read_cursor
from gateways.http.profile_calls import Call
from gateways.http.profile_events import Events
from gateways.http.profile_parts import Text
from gateways.http.template import placeholders


def _cursor_file(given: str, info: ValidationInfo) -> str:
    """The whole path of the file, which need not be there yet; its folder must."""
    folder: Path = (info.context or {}).get("folder", Path())
    path = (folder / given).absolute()
    if not path.parent.is_dir():
        raise ValueError(f"expected a file in a folder that is there, {path.parent} is none")
    read_cursor(path)
    return str(path)


class PollingRequest(Call):
    """How one page is fetched; until there is a cursor, fields that name it are left out."""

    known: ClassVar[tuple[str, ...]] = ("cursor",)


class Done(Call):
    """How events that were kept are let go at the carrier."""

    known: ClassVar[tuple[str, ...]] = ("id", "ids", "cursor")

    id: Text | None = Field(default=None, description="Path of its id in an event.")

    def _faults_of_names(self, names: set[str]) -> Iterator[str]:
        of_events = {"id", "ids"} & names
        if not names:
            yield "expected {id}, {ids} or {cursor}: else events not yet seen are let go too"
        if len(of_events) == 2:
            yield "expected {id} or {ids}, not both"
        if bool(of_events) != (self.id is not None):
            yield "id: expected its path in an event with {id} or {ids}, and else none"


class Polling(Events):
    """One place where a carrier keeps events until they are fetched."""

    request: PollingRequest
    events: Text | None = Field(
        default=None, description="Path of the list of events; left out, the whole is the list."
    )
    cursor: Text | None = Field(default=None, description="Path of the next cursor in the answer.")
    last: Text | None = Field(
        default=None, description="Path in an event: the last one's value is the next cursor."
    )
    first: str | int | None = Field(
        default=None, description="What {cursor} stands for at the very beginning."
    )
    cursor_file: Annotated[str, AfterValidator(_cursor_file)] | None = Field(
        default=None, description="Where the cursor is kept over a restart."
    )
    more: Text | None = Field(
        default=None, description="Path of a word in the answer that says whether more waits."
    )
    pages: Annotated[int, Field(ge=1, le=1000)] = Field(
        default=20, description="Most pages of one poll (setting)."
    )
    done: Done | None = None

    def _faults(self) -> Iterator[str]:
        yield from super()._faults()
        if self.cursor is not None and self.last is not None:
            yield "expected cursor or last, not both"
        found = self.cursor is not None or self.last is not None
        used = "cursor" in self.request.names() or (
            self.done is not None and "cursor" in self.done.names()
        )
        if used and not found:
            yield "expected the place of the next {cursor}: cursor or last"
        if found and not used:
            yield "expected {cursor} in request or done, its place is given"
        if not used and (self.first is not None or self.cursor_file is not None):
            yield "expected no first and no cursor_file without {cursor}"
        address = self.request.address
        if self.first is None and "cursor" in placeholders(address, self.request.known):
            yield "first: expected what {cursor} is at the beginning, the address names it"


def polling_faults(polling: Sequence[Polling], may_be: Callable[[str], bool]) -> Iterator[str]:
    """Faults of the tables beside each other and beside the rest of the profile.

    Parameters
    ----------
    polling : all of them
    may_be : whether the profile's owner allows an address
    """
    for number, each in enumerate(polling):
        for name, call in (("request", each.request), ("done", each.done)):
            if call is not None and not may_be(call.address):
                yield (
                    f"polling.{number}.{name}.address: expected https:, or allow_unencrypted = true"
                )
    files = [each.cursor_file for each in polling if each.cursor_file is not None]
    if len(set(files)) < len(files):
        yield "polling: expected another cursor_file in each table"
