"""What is written back: short, in the cheap alphabet, and with examples that are understood."""

import re
from datetime import date

import pytest
from texts_cast import read_en

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts import refusals, replies
from reminder_service.texts.segments import segments
from reminder_service.texts.wording import example, fact_name

ON, OTHER = date(2026, 11, 12), date(2026, 11, 30)
NAME, PLOT, PROGRAMME = "Nokukhanya Mwalimuhenge", "UPPERFIELD", "Tandaluwe maize programme"
TITLE = "Second top-dressing at tasselling"
PLOTS = [f"{PLOT}{number}" for number in range(12)]
CAUTION = "Wear gloves, keep children off, read the label, wash. " * 2
SENT: dict[str, str] = {
    "noted": replies.noted(Kind.FIRST_RAIN, ON, name=NAME, plot=PLOT),
    "corrected": replies.corrected(Kind.GERMINATED, ON, OTHER, name=NAME, plot=PLOT),
    "known already": replies.known_already(TITLE, ON, name=NAME, plot=PLOT),
    "done": replies.done_noted(TITLE, ON, name=NAME, plot=PLOT, number=4),
    "taken back": replies.taken_back(TITLE, ON, plot=PLOT),
    "amount": replies.amount_noted(123.5, ON, name=NAME, plot=PLOT),
    "few borers": replies.borers_few(5, 10, name=NAME, plot=PLOT),
    "why": replies.why(
        replies.NextTask(TITLE, ON, OTHER, True),
        replies.ShortReason("Germination", ON, 14, True),
        plot=PLOT,
    ),
    "early borers": replies.borers_early(100, ON, name=NAME, plot=PLOT),
    "late borers": replies.borers_late(100, name=NAME, plot=PLOT),
    "another pest": replies.other_pest(),
    "larvae inside": replies.larvae_inside(),
    "nothing next": replies.next_tasks([], plot=PLOT),
    "nothing known": replies.plot_known({}, plot=PLOT),
    "help": replies.help_text(PROGRAMME),
    "stopped": replies.stopped(PROGRAMME),
    "started": replies.started(PROGRAMME),
    "still to come": refusals.still_to_come(TITLE, OTHER, plot=PLOT),
    "before the season": refusals.before_season(TITLE, ON, OTHER, plot=PLOT),
    "bad date": refusals.bad_date("32/12 and a lot of words after it"),
    "unread": refusals.unread(),
    "unknown phone": refusals.unknown_phone(PROGRAMME),
    "no such task": refusals.no_such_task(TITLE, plot=PLOT, number=4),
    "day or amount": refusals.rain_day_or_amount(ON, 12.0),
    "nothing to take back": refusals.nothing_to_take_back(),
    "nothing asked": refusals.nothing_asked(),
}
LONGER: dict[str, str] = {
    "done, corrected": replies.done_noted(TITLE, ON, name=NAME, plot=PLOT, number=4, was=OTHER),
    "next": replies.next_tasks([replies.NextTask(TITLE, ON, OTHER, True)] * 3, plot=PLOT),
    "all known": replies.plot_known(dict.fromkeys(Kind, ON), plot=PLOT),
    "count": replies.count_noted([3] * 40, [2] * 40, name=NAME, plot=PLOT),
    "poor count": replies.count_noted([3] * 40, [2] * 40, poor_percent=66, name=NAME, plot=PLOT),
    "long count": replies.count_noted([3] * 90, [2] * 90, name=NAME, plot=PLOT),
    "many borers": replies.borers_many(12, 10, CAUTION, name=NAME, plot=PLOT),
    "contradiction": refusals.contradiction(Kind.GERMINATED, ON, Kind.RAIN, OTHER, plot=PLOT),
    "too early": refusals.too_early(TITLE, ON, OTHER, plot=PLOT),
    "which plot": refusals.which_plot(PLOTS),
    "unknown plot": refusals.unknown_plot("9", PLOTS),
    "which task": refusals.which_task([TITLE[:20]] * 11),
    "which one": refusals.which_one([f"{TITLE}, {ON:%d %b}"] * 2),
}
COMMAND = re.compile(r"\b[A-Z]{2,}(?:[ ][A-Z]{2,}|[ ]\d+(?:/\d+)?(?:MM)?(?![\w,]))*")


@pytest.mark.parametrize("text", SENT.values(), ids=SENT.keys())
def test_a_reply_takes_one_segment_with_the_longest_values(text: str) -> None:
    count = segments(text)
    assert (count.encoding, count.segments) == ("gsm-7", 1), (count, text)


@pytest.mark.parametrize("text", LONGER.values(), ids=LONGER.keys())
def test_a_longer_reply_takes_two_segments_at_most(text: str) -> None:
    count = segments(text)
    assert count.encoding == "gsm-7" and count.segments <= 2, (count, text)


def commands_in(text: str) -> list[str]:
    """Example commands of a reply: runs of capitals, without the cast's own names."""
    return [found for found in COMMAND.findall(text) if not found.startswith(PLOT)]


@pytest.mark.parametrize("text", (SENT | LONGER).values(), ids=[name for name in SENT | LONGER])
def test_every_example_in_a_reply_is_understood(text: str) -> None:
    for command in commands_in(text):
        reading = read_en(command)
        assert reading.said, (command, reading)


def test_the_examples_are_really_found() -> None:
    found = {command for text in (SENT | LONGER).values() for command in commands_in(text)}
    assert {"RAIN 12 NOV", "RAIN 12MM", "GERM 21/11", "STOP", "START", "NO", "NEXT"} <= found
    assert {"DONE THIN", "WHY THIN", "HELP", "DONE THIN 5 DEC"} <= found


@pytest.mark.parametrize("kind", REPORTS, ids=str)
def test_the_example_of_a_report_is_read_as_that_report(kind: Kind) -> None:
    assert [said.kind for said in read_en(example(kind)).said] == [kind]


def test_a_noted_report_echoes_weekday_and_year() -> None:
    assert replies.noted(Kind.FIRST_RAIN, ON, name="Amina", plot="3") == (
        "Thank you Amina. First rain on plot 3: Thu 12 Nov 2026. "
        "Wrong? Send it again with the right day."
    )


def test_an_echoed_day_is_itself_understood() -> None:
    assert read_en("RAIN Thu 12 Nov 2026").said[0].on == ON


def test_a_correction_names_both_days() -> None:
    text = replies.corrected(Kind.GERMINATED, ON, OTHER, name="Amina", plot="3")
    assert "is now Mon 30 Nov 2026, not Thu 12 Nov 2026" in text


def test_a_first_round_is_not_numbered_and_a_second_is() -> None:
    first, second = (
        replies.done_noted("Weeding", ON, name="Amina", plot="3", number=n) for n in (1, 2)
    )
    assert "round" not in first and "Weeding, round 2, Thu 12 Nov 2026" in second


def test_next_names_three_tasks_and_marks_estimates() -> None:
    tasks = [replies.NextTask(f"Task {n}", ON, OTHER, about=n == 1) for n in range(5)]
    text = replies.next_tasks(tasks, plot="3", near=ON)
    assert text == (
        "Next on plot 3. Task 0: Thu 12 Nov to Mon 30 Nov. "
        "Task 1: about Thu 12 Nov to Mon 30 Nov. Task 2: Thu 12 Nov to Mon 30 Nov."
    )


def test_a_count_says_what_to_leave_in_the_order_counted() -> None:
    text = replies.count_noted([1, 3, 2, 4], [1, 3, 2, 2], name="Amina", plot="3")
    assert text == (
        "Thank you Amina. Plot 3: 4 stations counted. Leave in the same order: 1 3 2 2. "
        "Pull 2 plants with their roots."
    )


def test_a_count_with_nothing_to_pull_says_so() -> None:
    text = replies.count_noted([2], [2], name="Amina", plot="3")
    assert text == "Thank you Amina. Plot 3: 1 station counted. Nothing to pull."


@pytest.mark.parametrize(
    ("counts", "leave"),
    [([2, 0, 1], [2, 0, 1]), ([5, 0, 0], [3, 0, 0])],
    ids=["nothing to pull", "some to pull"],
)
def test_a_poor_stand_is_named_at_the_end(counts: list[int], leave: list[int]) -> None:
    good = replies.count_noted(counts, leave, name="Amina", plot="3")
    poor = replies.count_noted(counts, leave, poor_percent=50, name="Amina", plot="3")
    assert poor == f"{good} " + (
        "Poor stand, 50 of 100: ask your adviser if planting again pays. Fill no gaps."
    )


@pytest.mark.parametrize(
    "text",
    [
        replies.borers_early(12, ON, name="Amina", plot="3"),
        replies.borers_late(12, name="Amina", plot="3"),
        replies.other_pest(),
        replies.larvae_inside(),
    ],
    ids=["too early", "too late", "another pest", "inside the stem"],
)
def test_no_answer_but_the_threshold_leads_to_a_chemical(text: str) -> None:
    assert "use nothing" in text.lower() and "registered" not in text


def test_an_early_count_names_the_day_to_look_again() -> None:
    text = replies.borers_early(12, ON, name="Amina", plot="3")
    assert "12 of 100 damaged" in text and "look again from Thu 12 Nov" in text


def test_few_borers_order_no_treatment() -> None:
    assert "Use nothing now" in replies.borers_few(3, 5, name="Amina", plot="3")


def test_many_borers_carry_adviser_label_and_caution() -> None:
    text = replies.borers_many(12, 5, "Wear gloves.", name="Amina", plot="3")
    assert "Ask your adviser" in text and "registered" in text and text.endswith("Wear gloves.")


def test_known_facts_stand_in_the_order_they_happen() -> None:
    text = replies.plot_known({Kind.GERMINATED: OTHER, Kind.FIRST_RAIN: ON}, plot="3")
    assert text == "Plot 3: First rain Thu 12 Nov 2026, Germination Mon 30 Nov 2026."


def test_a_long_list_says_how_many_more() -> None:
    assert refusals.listed(list("abcdefghij")) == "a, b, c, d, e, f, g, h and 2 more"


def test_which_plot_names_the_plots_and_shows_how() -> None:
    assert refusals.which_plot(["3", "5"]) == (
        "Which plot? You have 3, 5. Send it again with the plot, like GERM 21 NOV PLOT 3."
    )


def test_a_bad_date_shows_what_was_written() -> None:
    assert '"31/02"' in refusals.bad_date("31/02")


def test_a_contradiction_names_both_facts() -> None:
    text = refusals.contradiction(Kind.GERMINATED, ON, Kind.FIRST_RAIN, OTHER, plot="3")
    assert fact_name(Kind.GERMINATED) in text and fact_name(Kind.FIRST_RAIN) in text
    assert "Thu 12 Nov 2026" in text and "Mon 30 Nov 2026" in text
