"""Faults of a rulebook: all at once, each with line, path, what was expected and what was got."""

import pytest
from rules_cast import HEAD, SMALL, THIN, task_text

from reminder_service.rules.errors import RulebookError, RulebookFault
from reminder_service.rules.loader import load_rulebook


def faults_of(text: str) -> tuple[RulebookFault, ...]:
    with pytest.raises(RulebookError) as caught:
        load_rulebook(text)
    return caught.value.faults


def line_of(text: str, part: str) -> int:
    """Line on which a part of the text first stands."""
    return text[: text.index(part)].count("\n") + 1


def test_rulebook_without_faults_loads() -> None:
    assert load_rulebook(SMALL).label == "small 3"


def test_syntax_fault_names_its_line() -> None:
    text = SMALL.replace('crop = "maize"', 'crop = "maize')
    (fault,) = faults_of(text)
    assert (fault.line, fault.expected) == (line_of(text, "crop ="), "valid TOML")


def test_text_cut_short_names_its_last_line() -> None:
    (fault,) = faults_of(SMALL + "x = [")
    assert fault.line == SMALL.count("\n") + 1


SWAPS = {
    "wrong type": ("version = 3", 'version = "3"', "rulebook.version", "a valid integer", "'3'"),
    "key missing": ('title = "Thinning"\n', "", "tasks[0].title", "a value", "nothing"),
    "key unknown": ("importance = 2", "importance = 2\ncolour = 1", "tasks[0].colour",
                    "no such key", "colour"),
    "importance out of range": ("importance = 2", "importance = 10", "tasks[0].importance",
                                "less than or equal to 9", "10"),
    "source empty": ('source = "common practice, no source"', 'source = ""', "tasks[0].source",
                     "a text", "''"),
    "source missing": ('source = "common practice, no source"\n', "", "tasks[0].source",
                       "a value", "nothing"),
    "bound of no form": ('opens = { from = "germinated", days = 14 }', "opens = { days = 14 }",
                         "tasks[0].opens", "a table with from, later_of or earlier_of", "a table"),
    "bound of two forms": (
        'opens = { from = "germinated", days = 14 }',
        'opens = { from = "germinated", later_of = [] }',
        "tasks[0].opens.later_of", "no such key", "later_of",
    ),
    "fact unknown": ('from = "germinated", days = 14', 'from = "sprouted", days = 14',
                     "tasks[0].opens.from",
                     "one of first-rain, planted, germinated, tasselled, harvested, "
                     "or a task's day",
                     "'sprouted'"),
    "task unknown": ('from = "germinated", days = 14', 'from = "weed.due", days = 14',
                     "tasks[0].opens.from", "a day of one of thin", "'weed.due'"),
    "waits for itself": ('from = "germinated", days = 14', 'from = "thin.done", days = 14',
                         "tasks[0].opens.from",
                         "another task's day: no window can wait for its own task", "'thin.done'"),
    "setting unknown": ("days = 14", 'days = "-dry_days"', "tasks[0].opens.days",
                        "a number of days, or one of correction_tolerance_days, "
                        "question_late_days, question_useful_days, stop_days", "'-dry_days'"),
    "if_known outside a list": ("days = 14 }", "days = 14, if_known = true }",
                                "tasks[0].opens.if_known",
                                "if_known only inside later_of or earlier_of", "true"),
    "circle inside a task": ('closes = { from = "germinated", days = 21 }',
                             'closes = { from = "thin.closes", days = 1 }',
                             "tasks[0].closes",
                             "days that are not counted from each other in a circle",
                             "closes from closes"),
    "stage without text": ('texts.nudge = "{name}: thinned?"\n', "", "tasks[0].texts.nudge",
                           "a text for this reminder", "nothing"),
    "no correction text": ('texts.correction = "{name}: now {opens} to {closes}"\n', "",
                           "tasks[0].texts.correction", "a text that says the new days",
                           "nothing"),
    "getting ready too late": ('from = "opens", days = -3', 'from = "opens", days = 0',
                               "tasks[0].reminders[0]",
                               'days before the opening: from = "opens" and days below 0',
                               "0 days from opens"),
    "placeholder unknown": ("{name}: thinned?", "{farmer}: thinned?", "tasks[0].texts.nudge",
                            "a text with {closes}, {due}, {name}, {number}, {opens}, {plot}",
                            "{farmer}"),
    "brace left open": ("{name}: thinned?", "{name: thinned?", "tasks[0].texts.nudge",
                        "a text with {closes}, {due}, {name}, {number}, {opens}, {plot}",
                        "'{name: thinned?', whose braces do not pair"),
    "choice unknown": ("importance = 2", 'importance = 2\nonly_with = { tool = ["hoe"] }',
                       "tasks[0].only_with.tool", "one of dressing", "'tool'"),
    "choice value unknown": ("importance = 2",
                             'importance = 2\nonly_with = { dressing = ["lime"] }',
                             "tasks[0].only_with.dressing", "one of cup, tea", "'lime'"),
    "chemical without caution": ("importance = 2", "importance = 2\nchemical = true",
                                 "tasks[0].caution", "a caution, for the task is chemical",
                                 "nothing"),
    "placeholder in caution": ("importance = 2", 'importance = 2\ncaution = "Hi {name}"',
                               "tasks[0].caution", "a text with no placeholder", "{name}"),
    "repeat without end": ("importance = 2", "importance = 2\nrepeat = { every_days = 7 }",
                           "tasks[0].repeat", "count, until or both", "neither"),
    "counted answer of many rounds": (
        "importance = 2",
        'importance = 2\nanswered_by = "count"\nrepeat = { every_days = 7, count = 2 }',
        "tasks[0].answered_by", "a task of one round", "'count'",
    ),
    "threshold without its count": (
        "importance = 2",
        "importance = 2\nact_above = 5",
        "tasks[0].act_above",
        'answered_by = "borer-count" beside it',
        "None",
    ),
    "for_each unknown": ("importance = 2", 'importance = 2\nfor_each = "weed"',
                         "tasks[0].for_each", "a repeated task", "'weed'"),
    "task named like a fact": ('name = "thin"', 'name = "planted"', "tasks[0].name",
                               "a name that is not a fact's", "'planted'"),
    "capital in words": ('words = ["thin"]', 'words = ["Thin"]', "tasks[0].words[0]",
                         "words in small letters", "'Thin'"),
    "engine setting missing": (
        'question_late_days = { days = 7, source = "setting" }\n', "",
        "settings.question_late_days", "{ days = …, source = … }", "nothing",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "path", "expected", "got"), SWAPS.values(), ids=list(SWAPS))
def test_fault_says_where_and_what(old: str, new: str, path: str, expected: str, got: str) -> None:
    assert old in SMALL
    faults = faults_of(SMALL.replace(old, new, 1))
    assert [(f.path, f.expected, f.got) for f in faults] == [(path, expected, got)]


ESTIMATE = """
[[estimates]]
fact = "germinated"
from = "planted"
days = { earliest = 5, likely = 7, latest = 10 }
source = "setting"
question = "{name}: up?"
"""

ESTIMATE_SWAPS = {
    "fact unknown": ('"germinated"', '"sprouted"', "estimates[0].fact"),
    "from itself": ('"planted"', '"germinated"', "estimates[0].from"),
    "spread reversed": ("earliest = 5", "earliest = 9", "estimates[0].days"),
    "choice value unknown": ("source", 'when = { dressing = "lime" }\nsource',
                             "estimates[0].when.dressing"),
    "source missing": ('source = "setting"\n', "", "estimates[0].source"),
    "placeholder unknown": ("{name}: up?", "{due}: up?", "estimates[0].question"),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "path"), ESTIMATE_SWAPS.values(), ids=list(ESTIMATE_SWAPS))
def test_fault_in_an_estimate_is_found(old: str, new: str, path: str) -> None:
    faults = faults_of(HEAD + ESTIMATE.replace(old, new, 1) + THIN)
    assert [fault.path for fault in faults] == [path]


@pytest.mark.parametrize(
    ("part", "path"),
    [
        ("sprouted", "tasks[0].opens.from"),
        ("importance = 10", "tasks[0].importance"),
        ("days = 1.5", "tasks[0].reminders[3].days"),
    ],
    ids=["inline table", "plain key", "list of tables"],
)
def test_fault_names_the_line_of_its_key(part: str, path: str) -> None:
    text = SMALL
    text = text.replace("days = 14", "days = 14", 1)
    swaps = {
        "sprouted": ('"germinated", days = 14', '"sprouted", days = 14'),
        "importance = 10": ("importance = 2", "importance = 10"),
        "days = 1.5": ("days = -1 ", "days = 1.5 "),
    }
    text = text.replace(*swaps[part], 1)
    fault = faults_of(text)[0]
    assert (fault.path, fault.line) == (path, line_of(text, part))


def test_fault_of_a_missing_key_names_the_line_of_its_table() -> None:
    text = SMALL.replace('title = "Thinning"\n', "")
    assert faults_of(text)[0].line == line_of(text, "[[tasks]]")


def test_all_faults_are_reported_at_once_by_line() -> None:
    text = SMALL.replace("version = 3", "version = 0").replace("importance = 2", "importance = 0")
    text = text.replace('title = "Thinning"\n', "")
    faults = faults_of(text)
    paths = ["rulebook.version", "tasks[0].title", "tasks[0].importance"]
    assert [fault.path for fault in faults] == paths
    assert [fault.line for fault in faults] == sorted(fault.line for fault in faults)


def test_inconsistencies_of_several_tasks_are_reported_at_once() -> None:
    text = (
        HEAD
        + THIN.replace('"germinated", days = 14', '"x.due"')
        + task_text("weed", chemical="true")
    )
    assert [f.path for f in faults_of(text)] == ["tasks[0].opens.from", "tasks[1].caution"]


def test_name_given_twice_is_a_fault_at_both_places() -> None:
    faults = faults_of(SMALL + task_text("thin", words='["other"]'))
    assert [fault.path for fault in faults] == ["tasks[0].name", "tasks[1].name"]


def test_words_shared_by_two_tasks_are_a_fault_at_both_places() -> None:
    faults = faults_of(SMALL + task_text("weed", words='["hoe", "thin"]'))
    assert [fault.path for fault in faults] == ["tasks[0].words[0]", "tasks[1].words[1]"]


def test_circle_among_tasks_is_a_fault_that_names_it() -> None:
    weed = task_text("weed", opens='{ from = "thin.due" }')
    thin = THIN.replace(
        'opens = { from = "germinated", days = 14 }', 'opens = { from = "weed.opens" }'
    )
    (fault,) = faults_of(HEAD + thin + weed)
    assert fault.path in ("tasks[0]", "tasks[1]")
    assert fault.got in ("thin from weed from thin", "weed from thin from weed")


def test_waiting_for_each_other_to_be_done_is_no_circle() -> None:
    bound = '{{ later_of = [{{ from = "germinated" }}, {{ from = "{}.done", if_known = true }}] }}'
    first = task_text("first", due=bound.format("second"))
    second = task_text("second", due=bound.format("first"))
    assert len(load_rulebook(HEAD + first + second).tasks) == 2


def test_for_each_of_a_task_that_comes_once_is_a_fault() -> None:
    (fault,) = faults_of(SMALL + task_text("brew", for_each='"thin"'))
    assert (fault.path, fault.got) == ("tasks[1].for_each", "'thin'")


def test_for_each_beside_a_repeat_of_its_own_is_a_fault() -> None:
    repeat = "{ every_days = 7, count = 2 }"
    tea = task_text("tea", repeat=repeat)
    (fault,) = faults_of(HEAD + tea + task_text("brew", for_each='"tea"', repeat=repeat))
    assert (fault.path, fault.got) == ("tasks[1].repeat", "both")


def test_stage_given_twice_is_a_fault_at_both_places() -> None:
    faults = faults_of(SMALL.replace('stage = "nudge"', 'stage = "opens"'))
    assert [f.path for f in faults] == [f"tasks[0].reminders[{n}].stage" for n in (1, 2)]


def test_until_counted_from_its_own_task_is_a_fault() -> None:
    until = '{ every_days = 7, until = { from = "weed.closes" } }'
    (fault,) = faults_of(HEAD + task_text("weed", repeat=until))
    assert fault.path == "tasks[0].repeat.until.from"


def test_fault_deep_in_a_list_has_its_whole_path() -> None:
    inner = '{ earlier_of = [{ from = "x" }, { from = "planted" }] }'
    due = f'{{ later_of = [{{ from = "germinated" }}, {inner}] }}'
    (fault,) = faults_of(HEAD + task_text("weed", due=due))
    assert fault.path == "tasks[0].due.later_of[1].earlier_of[0].from"


def test_list_of_one_bound_is_a_fault() -> None:
    (fault,) = faults_of(HEAD + task_text("weed", due='{ later_of = [{ from = "planted" }] }'))
    assert fault.path == "tasks[0].due.later_of"


def test_message_lists_every_fault() -> None:
    text = SMALL.replace("version = 3", "version = 0").replace("importance = 2", "importance = 0")
    with pytest.raises(RulebookError) as caught:
        load_rulebook(text)
    lines = [line_of(text, "version = 0"), line_of(text, "importance = 0")]
    assert str(caught.value) == (
        "the rulebook has 2 faults: "
        f"line {lines[0]}: rulebook.version: expected greater than or equal to 1, got 0; "
        f"line {lines[1]}: tasks[0].importance: expected greater than or equal to 1, got 0; "
        "correct the file"
    )
