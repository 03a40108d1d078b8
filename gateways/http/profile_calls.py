"""Requests of an HTTP profile that hand no text over: to ask, to fetch, to let go."""

from collections.abc import Iterator
from typing import ClassVar, Literal, Self

from pydantic import Field, JsonValue, model_validator

from gateways.http.profile_parts import Address, HeaderName, Printable, Strict
from gateways.http.template import placeholders


class Call(Strict):
    """One request, with the credentials that texts have."""

    known: ClassVar[tuple[str, ...]] = ()
    """Placeholders that it may name."""

    method: Literal["GET", "POST", "PUT", "DELETE"] = "GET"
    address: Address
    format: Literal["json", "form", "query"] = "query"
    fields: dict[str, JsonValue] = Field(
        default_factory=dict, description="The body, or the query's parts."
    )
    headers: dict[HeaderName, Printable] = Field(
        default_factory=dict, description="Without placeholders."
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def names(self) -> set[str]:
        """Placeholders that the fields and the address name.

        Raises
        ------
        ValueError
            One of them is not known.
        """
        return set(placeholders([dict(self.fields), self.address], self.known))

    def _faults(self) -> Iterator[str]:
        if self.method == "GET" and self.format != "query":
            yield "format: expected query with method GET"
        if self.format != "json" and any(
            isinstance(each, list | dict) for each in self.fields.values()
        ):
            yield f"fields: expected no list or table with format {self.format}"
        if list(placeholders(dict(self.headers), self.known)):
            yield "headers: expected no placeholder"
        yield from self._faults_of_names(self.names())

    def _faults_of_names(self, names: set[str]) -> Iterator[str]:
        """Faults in what the fields and the address name."""
        yield from ()
