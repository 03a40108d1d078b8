"""What joining and lead farmers are asked: short, cheap, and with examples that are understood."""

import re
from datetime import date

import pytest

from reminder_service.texts import joining, leading, refusals
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.samples import reply_samples
from reminder_service.texts.segments import segments

ON = date(2026, 11, 25)
SAMPLES = {
    sample.what: sample
    for sample in reply_samples("First top-dressing", "Wear gloves.")
    if sample.what.startswith(("join", "lead", "unknown phone, may", "which language"))
}
COMMAND = re.compile(r"\b[A-Z]{2,}(?:[ ](?:[A-Z]{2,}|\d+))*")


@pytest.mark.parametrize("sample", SAMPLES.values(), ids=SAMPLES.keys())
def test_a_step_takes_one_segment_with_the_longest_values(sample):
    count = segments(sample.body)
    assert (count.encoding, count.segments) == ("gsm-7", 1), (count, sample.body)


def test_consent_takes_one_segment_with_the_longest_name_that_settings_allow():
    assert segments(joining.consent("P" * 30)).segments == 1


def commands_in(body: str) -> list[str]:
    own = re.compile(r"FIELD\d|\b(?:EN|NY|PT|SW)\b(?=[,.])(?<!LANGUAGE EN)")
    return COMMAND.findall(own.sub("", body))


@pytest.mark.parametrize("sample", SAMPLES.values(), ids=SAMPLES.keys())
def test_every_example_is_understood(sample):
    for command in commands_in(sample.body):
        reading, _ = read_in(command, ON, ["en"], {})
        assert reading.said, command


def test_the_examples_are_really_found():
    found = {command for sample in SAMPLES.values() for command in commands_in(sample.body)}
    assert {"YES", "NO", "STOP", "JOIN", "RAIN 12 NOV", "GERM 21 NOV FOR 3 5 8"} <= found
    assert "LANGUAGE EN" in found


def test_wards_are_offered_as_one_segment_holds():
    few, many = ["Olmara", "Setiwe"], [f"Ward of the hill {n}" for n in range(9)]
    assert joining.ward_choice(few) == "Which ward? 1 Olmara, 2 Setiwe. Send its number."
    assert joining.wards_offered(few) == 2
    assert 1 < joining.wards_offered(many) < 9
    assert joining.ward_choice(many).count(",") == joining.wards_offered(many) - 1


def test_a_summary_leaves_out_what_the_rulebook_does_not_ask():
    text = joining.summary(
        called="Amina", plot="3", ward="Olmara", stations=1, maturity=None, dressing=None
    )
    assert text == "Amina, your plot is number 3 in Olmara: 1 station. Wrong? Send NO."


def test_a_few_plots_are_named_and_many_are_counted():
    few = leading.noted("Germination", ON, ["3", "5"], called="Amina")
    many = leading.noted("Germination", ON, [str(n) for n in range(12)], called="Amina")
    assert "noted for 2 plots (3, 5)." in few and "noted for 12 plots." in many


def test_which_language_names_each_with_its_letters():
    assert refusals.which_language(["English EN", "Swahili SW"]).startswith(
        "We can write in English EN, Swahili SW."
    )
