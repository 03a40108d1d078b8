"""Whether every text of a rulebook fits its segments in every shipped language."""

from collections.abc import Iterator

from reminder_service.rules.errors import RulebookFault
from reminder_service.rules.needs import CupNeed
from reminder_service.rules.positions import line_numbers, nearest_line
from reminder_service.rules.rulebook import Rulebook
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue_languages
from reminder_service.work.wordings import Wording, rulebook_wordings


def texts_that_do_not_fit(rulebook: Rulebook, text: str) -> list[RulebookFault]:
    """Texts that take more segments than they may, with the longest real values filled in.

    A text without a translation is sent in English, so a programme's own file is checked with the
    names of days of every language all the same.

    Parameters
    ----------
    rulebook : as loaded
    text : of its file

    Returns
    -------
    one fault a text, by line; it names every language that the text is too long in
    """
    languages = (SOURCE_LANGUAGE, *catalogue_languages())
    by_language = {code: list(rulebook_wordings(rulebook, code)) for code in languages}
    lines = line_numbers(text)
    faults = []
    for nth, (place, path) in enumerate(_places(rulebook)):
        written = {code: texts[nth] for code, texts in by_language.items()}
        too_long = {code: one for code, one in written.items() if _is_too_long(one)}
        if too_long:
            most = next(iter(too_long.values())).most
            expected = f"a text of at most {most} segment{'' if most == 1 else 's'}"
            line = nearest_line(lines, place)
            faults.append(RulebookFault(line, path, expected, _got(too_long)))
    return sorted(faults, key=lambda fault: (fault.line, fault.path))


def _places(rulebook: Rulebook) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Where each text stands, in the order of `rulebook_wordings`."""
    for index, task in enumerate(rulebook.tasks):
        for stage in task.wordings:
            yield ("tasks", index, "texts", stage), f"tasks[{index}].texts.{stage}"
        if isinstance(task.need, CupNeed):  # its text about the soil stands in no file
            yield ("tasks", index, "caution"), f"tasks[{index}].caution"
    for index, rule in enumerate(rulebook.estimates):
        if rule.question is not None:
            yield ("estimates", index, "question"), f"estimates[{index}].question"
    if rulebook.after_false_start is not None:
        yield ("after_false_start", "question"), "after_false_start.question"


def _is_too_long(written: Wording) -> bool:
    return written.count.segments > written.most


def _got(too_long: dict[str, Wording]) -> str:
    """How long it is, language by language; with its caution and the longest values."""
    return ", ".join(
        f"{one.count.segments} segments in {code} ({one.count.encoding}, {one.count.units} units)"
        for code, one in too_long.items()
    )
