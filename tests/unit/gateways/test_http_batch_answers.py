"""Whatever a carrier answers to a call of several texts, each text gets one outcome."""

import json
from datetime import UTC, datetime

import pytest
from http_batch_carrier import batch_of
from http_carrier import http_profile, text
from hypothesis import given
from hypothesis import strategies as st

from gateways.errors import Refused, TryLater, Unsure
from gateways.http.answers import Reply
from gateways.http.batch import BatchSender
from gateways.protocol import Taken

NOW = datetime(2026, 12, 12, 12, 0, tzinfo=UTC)
TEXTS = [text(reference) for reference in ("r1", "r2", "r3")]
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["ref", "id", "code", "why", "r1", "r2"]), inner)
    ),
    max_leaves=12,
)
KEYS = {"reference": "ref", "number": "number", "order": None}


def found(content, status, **answer):
    """What becomes of three texts by one answer."""
    profile = http_profile("http://127.0.0.1:9/", batch=batch_of(answer))
    reply = Reply(status, None, content)
    return BatchSender(profile, profile.batch, lambda _: reply, lambda: NOW).send_many(TEXTS)


@given(content=st.binary(max_size=80), status=st.sampled_from([200, 207, 400, 429, 500]))
@pytest.mark.parametrize("match", list(KEYS))
def test_any_bytes_are_an_outcome_but_never_taken(match, content, status):
    outcomes = found(content, status, match=match, key=KEYS[match], answers=None)

    assert [isinstance(each, Refused | TryLater | Unsure) for each in outcomes] == [True] * 3


@pytest.mark.parametrize("id_", ["\ud800", "a\x001"], ids=["half a letter", "a zero"])
def test_an_id_that_no_database_takes_is_none(id_):
    value = [{"ref": "r1", "code": "ok", "id": id_}]
    first, *_ = found(json.dumps({"results": value}).encode(), 200)

    assert isinstance(first, Unsure)


@given(value=VALUES)
@pytest.mark.parametrize(
    "answer",
    [
        pytest.param({"key": "ref"}, id="a list"),
        pytest.param({"key": None}, id="a table"),
        pytest.param({"key": None, "match": "order"}, id="a list in order"),
    ],
)
def test_any_json_is_an_outcome(answer, value):
    outcomes = found(json.dumps({"results": value}).encode(), 200, **answer)

    assert [isinstance(each, Taken | Refused | TryLater | Unsure) for each in outcomes] == [
        True
    ] * 3
