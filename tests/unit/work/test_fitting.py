"""A rulebook's text that is too long in some language is a fault with its line."""

from pathlib import Path

import pytest

from reminder_service.commands.rulebooks import checked_rules
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.shipped import rulebook_folder, shipped_names
from reminder_service.work.fitting import texts_that_do_not_fit

MAIZE = (rulebook_folder() / "maize-hand-hoe.toml").read_text("utf-8")
THIN = "last days to thin, by {closes}."


def unfit(text: str) -> list[tuple[str, str]]:
    return [(f.path, f.expected) for f in texts_that_do_not_fit(load_rulebook(text), text)]


@pytest.mark.parametrize("name", shipped_names())
def test_texts_of_the_shipped_rulebooks_fit(name: str) -> None:
    assert unfit((rulebook_folder() / f"{name}.toml").read_text("utf-8")) == []


def test_text_that_is_too_long_names_its_place_line_and_languages() -> None:
    text = MAIZE.replace(THIN, THIN + " Work on." * 10)
    (fault,) = texts_that_do_not_fit(load_rulebook(text), text)
    assert fault.path == "tasks[1].texts.last-call"
    assert fault.line == text[: text.index(THIN)].count("\n") + 1
    assert fault.expected == "a text of at most 1 segment"
    # Nobody has translated it: it goes out in English, with each language's own days.
    assert all(f"2 segments in {code} " in fault.got for code in ("en", "ny", "pt", "sw"))


def test_text_may_be_too_long_in_one_language_alone() -> None:
    # Days are longer in Portuguese, and a text that nobody has translated has them too.
    for more in range(100):
        text = MAIZE.replace(THIN, THIN + "." * more)
        faults = texts_that_do_not_fit(load_rulebook(text), text)
        if faults:
            break
    assert "segments in pt" in faults[0].got and "segments in en" not in faults[0].got


def test_longer_caution_makes_its_task_s_texts_too_long() -> None:
    caution = "Gloves or wash hands. Off leaves and cobs."
    found = unfit(MAIZE.replace(caution, caution + " Keep children and animals away from it."))
    assert found and all(path.startswith("tasks[5].texts.") for path, _ in found)


def test_question_that_is_too_long_is_found() -> None:
    question = "is the maize up?"
    found = unfit(MAIZE.replace(question, question + " Look well in every row." * 3))
    assert found == [("estimates[2].question", "a text of at most 1 segment")]


def test_check_rules_reports_it_like_any_other_fault(tmp_path: Path) -> None:
    file = tmp_path / "long.toml"
    file.write_text(MAIZE.replace(THIN, THIN + " Work on." * 10), "utf-8")
    checked = checked_rules(file)
    assert checked.plan is None
    assert [fault.path for fault in checked.faults] == ["tasks[1].texts.last-call"]
