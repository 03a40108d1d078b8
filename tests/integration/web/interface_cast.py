"""What the tests of the interface are played by: keys, and a program that calls."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta
from itertools import count

from flask import Flask
from flask.testing import FlaskClient
from page_cast import NOW
from werkzeug.test import TestResponse

from reminder_service.records import people
from reminder_service.records.engine import reading
from reminder_service.web.walls import EXTENSION
from reminder_service.work.program_keys import KeyScope, make_key

_WORDS = count(1)


def a_key(
    app: Flask,
    scopes: Collection[KeyScope] = tuple(KeyScope),
    ward_ids: Collection[int] | None = None,
    days: int = 30,
) -> str:
    """A key that the programme lead makes."""
    services = app.extensions[EXTENSION]
    with reading(services.engine) as c:
        lead = people.person_by_id(c, 1)
    assert lead is not None
    return make_key(
        services,
        lead,
        name="stock office",
        scopes=scopes,
        ward_ids=ward_ids,
        expires_at=NOW + timedelta(days=days),
    )


@dataclass
class Program:
    """A program that calls with a key."""

    client: FlaskClient
    key: str

    def get(self, path: str, **headers: str) -> TestResponse:
        given = {"Authorization": f"Bearer {self.key}"} | headers
        return self.client.get(f"/api/v1{path}", headers=given)

    def post(self, path: str, body: object, word: str | None = None) -> TestResponse:
        headers = {
            "Authorization": f"Bearer {self.key}",
            "Idempotency-Key": word or f"word-{next(_WORDS)}",
        }
        return self.client.post(f"/api/v1{path}", json=body, headers=headers)

    def every(self, path: str, size: int) -> list[dict]:
        """All items of a list, page by page."""
        items, after = [], ""
        while True:
            sign = "&" if "?" in path else "?"
            answer = self.get(f"{path}{sign}limit={size}{after}").get_json()
            items += answer["items"]
            if answer["next"] is None:
                return items
            after = f"&after={answer['next']}"


def faults_in(answer: TestResponse) -> set[tuple[str, str]]:
    """Which fields a problem names, each with its value."""
    return {(each["field"], each["value"]) for each in answer.get_json()["errors"]}
