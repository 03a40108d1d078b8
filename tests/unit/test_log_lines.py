"""Log lines: one a event, for people or programs, with numbers masked and nothing injected."""

import io
import json
import logging

import pytest

from reminder_service.log_lines import Lines, masked, note_request, one_line

NUMBER = "+447700900123"


@pytest.fixture
def logged():
    """Log to a place of its own; answers what stands there."""
    out = io.StringIO()

    def told(form, message, *values, **more):
        handler = logging.StreamHandler(out)
        handler.setFormatter(Lines(form))
        logger = logging.Logger("ours")
        logger.addHandler(handler)
        logger.warning(message, *values, **more)
        return out.getvalue()

    return told


def test_a_line_for_programs_is_one_json_document(logged):
    extra = {"notice_ids": [3, 4], "attempt_id": 9, "route": "north"}
    line = json.loads(logged("json", "attempt %s failed", 9, extra=extra))

    assert (line["level"], line["message"]) == ("warning", "attempt 9 failed")
    assert (line["notice_ids"], line["attempt_id"], line["route"]) == ([3, 4], 9, "north")


def test_a_line_for_people_says_the_same(logged):
    told = logged("plain", "attempt %s failed", 9, extra={"attempt_id": 9})

    assert "warning ours attempt 9 failed attempt_id=9" in told


def test_the_id_of_the_request_stands_on_its_lines(logged):
    note_request("abcdefgh")
    try:
        assert json.loads(logged("json", "here"))["request_id"] == "abcdefgh"
    finally:
        note_request(None)


@pytest.mark.parametrize("form", ["plain", "json"])
@pytest.mark.parametrize(
    "planted",
    ["\nCRITICAL forged", "\r\n", "\x1b[31m", "\u2028next", "\u202etxet", "\x00", "\ud800"],
    ids=["line feed", "return", "escape", "line separator", "turned round", "nul", "surrogate"],
)
def test_no_text_from_outside_begins_a_line_or_moves_the_cursor(logged, form, planted):
    told = logged(form, "a text says %s", planted, extra={"route": planted})

    assert told.count("\n") == 1 and told.endswith("\n")
    assert all(letter.isprintable() for letter in told[:-1])


@pytest.mark.parametrize(
    "number",
    [NUMBER, "447700900123", "07700900123"],
    ids=["with a plus", "without", "as it is dialled at home"],
)
def test_numbers_are_masked_wherever_they_stand(logged, number):
    try:
        raise ValueError(f"{number} is not served")
    except ValueError:
        told = logged("json", "to %s", number, extra={"route": number}, exc_info=True)

    assert number.lstrip("+") not in told
    assert "***123" in told


def test_what_is_no_number_stays():
    assert masked("attempt 12345678 at 2026-12-06T09:00:00.123456789Z") == (
        "attempt 12345678 at 2026-12-06T09:00:00.123456789Z"
    )


def test_a_fault_is_told_with_its_cause_but_without_the_row_it_repeats(logged):
    try:
        try:
            raise ValueError("a check failed\nDETAIL: Failing row contains (thin your plot)")
        except ValueError as cause:
            raise RuntimeError("not written") from cause
    except RuntimeError:
        told = logged("json", "failed", exc_info=True)

    faults = json.loads(told)["faults"]
    assert [(fault["kind"], fault["message"]) for fault in faults] == [
        ("RuntimeError", "not written"),
        ("ValueError", "a check failed"),
    ]
    assert "thin your plot" not in told
    assert "test_log_lines.py" in faults[0]["raised"][0]


def test_a_long_message_is_cut():
    assert len(one_line("x" * 10_000)) == 500
