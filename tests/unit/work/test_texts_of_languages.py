"""Every text in every language: nothing missing, short enough, and no caution without its parts."""

import re
from collections.abc import Iterator
from string import Formatter

import pytest

from reminder_service.rules.shipped import shipped_names, shipped_rulebook
from reminder_service.texts.catalogues import (
    SOURCE_LANGUAGE,
    catalogue,
    catalogue_languages,
    shipped_catalogue,
)
from reminder_service.texts.replies import borers_many
from reminder_service.work import wordings

TRANSLATED = catalogue_languages()
LANGUAGES = (SOURCE_LANGUAGE, *TRANSLATED)
RULEBOOKS = [shipped_rulebook(name) for name in shipped_names()]
TASKS = [task for rulebook in RULEBOOKS for task in rulebook.tasks]
CAUTIONS = list(dict.fromkeys(task.caution for task in TASKS if task.caution))

MOST_CHEMICAL = 2
"""Segments that a text with a caution on a chemical may take; every other reminder takes one."""

PARTS = {
    "adviser": {"pt": "técnico", "sw": "afisa ugani", "ny": "mlangizi"},
    "animals": {"pt": "animais", "sw": "mifugo", "ny": "ziweto"},
    "answer": {"pt": "resposta", "sw": "jibu", "ny": "tisanayankhe"},
    "children": {"pt": "crianças", "sw": "watoto", "ny": "ana"},
    "cobs": {"pt": "espigas", "sw": "mahindi", "ny": "chimanga"},
    "eat": {"pt": "coma", "sw": "usile", "ny": "osadya"},
    "feed": {"pt": "dê", "sw": "usilishe", "ny": "dyetsa"},
    "mould": {"pt": "bolor", "sw": "ukungu", "ny": "chuku"},
    "poison": {"pt": "veneno", "sw": "sumu", "ny": "poizoni"},
    "sell": {"pt": "venda", "sw": "usiuze", "ny": "gulitsa"},
    "drum": {"pt": "tambor", "sw": "pipa", "ny": "mgolo"},
    "eating": {"pt": "comer", "sw": "usile", "ny": "osadya"},
    "food": {"pt": "comida", "sw": "chakula", "ny": "chakudya"},
    "gloves": {"pt": "luvas", "sw": "glavu", "ny": "magulovu"},
    "harvest": {"pt": "colheita", "sw": "kuvuna", "ny": "kukolola"},
    "label": {"pt": "rótulo", "sw": "lebo", "ny": "lebulo|pathumba"},
    "leaves": {"pt": "folhas", "sw": "majani", "ny": "masamba"},
    "smoking": {"pt": "fumar", "sw": "usivute", "ny": "osasuta"},
    "wash": {"pt": "lav[ae]r?", "sw": "nawa", "ny": "sambani"},
    "water": {"pt": "água", "sw": "maji", "ny": "madzi"},
    "well": {"pt": "poço", "sw": "kisima", "ny": "chitsime"},
}
"""Parts of the cautions, by their English word, and the word that each catalogue has for them."""

LITTLE = {
    *("a", "and", "before", "by", "chemical", "cover", "days", "far", "first", "from", "hands"),
    *("is", "it", "never"),
    *("keep", "mind", "no", "of", "off", "or", "our", "the", "to"),
}
"""Words of the English cautions that are no part by themselves."""


def has(word: str, text: str) -> bool:
    return re.search(rf"\b(?:{word})\b", text.casefold()) is not None


def forms(language: str) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """English text, its plural, and the translation's forms."""
    for message in shipped_catalogue(language):
        if message.id:
            one, many = message.id if isinstance(message.id, tuple) else (message.id, message.id)
            string = message.string
            yield one, many, (string,) if isinstance(string, str) else tuple(string)


def placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("rulebook", RULEBOOKS, ids=lambda each: each.head.name)
def test_nothing_is_wrong_with_any_text(rulebook, language):
    assert wordings.faults(rulebook, language) == []


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("rulebook", RULEBOOKS, ids=lambda each: each.head.name)
def test_every_text_fits_and_is_filled_in_cleanly(rulebook, language):
    texts = wordings.wordings(rulebook, language)
    assert len(texts) > 100
    for each in texts:
        assert each.count.segments <= each.most <= MOST_CHEMICAL, each.body
        assert not re.search(r"[{}]|\.\.|  |\s[.,:;?]|^\s|\s$", each.body), each.body


def test_only_tasks_with_a_caution_on_a_chemical_or_fertiliser_may_take_two():
    longer = {task.name: task.caution for task in TASKS if task.most_segments > 1}
    assert set(longer) == {"borer", "top-dress-first", "top-dress-tassel"} and all(longer.values())


@pytest.mark.parametrize("language", TRANSLATED)
def test_placeholders_agree_with_the_english_ones(language):
    for one, many, translated in forms(language):
        assert placeholders(translated[-1]) == placeholders(many), translated
        assert all(placeholders(form) <= placeholders(one) for form in translated), translated


@pytest.mark.parametrize("language", TRANSLATED)
@pytest.mark.parametrize("caution", CAUTIONS)
def test_a_caution_keeps_every_part_in_every_language(caution, language):
    translated = catalogue(language).gettext(caution)
    parts = [part for part in PARTS if has(part, caution)]
    assert translated not in ("", caution) and len(parts) >= 3
    for part in parts:
        assert has(PARTS[part][language], translated), (part, translated)


@pytest.mark.parametrize("caution", CAUTIONS)
def test_no_part_of_a_caution_is_left_untested(caution):
    words = set(re.findall(r"[a-z]+", caution.casefold()))
    assert words - set(PARTS) <= LITTLE


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_reminder_of_a_dangerous_task_ends_with_its_caution(language):
    for rulebook in RULEBOOKS:
        by_what = {each.what: each.original for each in wordings.wordings(rulebook, language)}
        for task in rulebook.tasks:
            caution = catalogue(language).gettext(task.caution) if task.caution else ""
            for stage in task.wordings:
                assert by_what[f"{task.name}, {stage}"].endswith(caution)


@pytest.mark.parametrize("language", LANGUAGES)
def test_an_answer_to_many_borers_carries_the_chemical_caution(language):
    (caution,) = {task.caution for task in TASKS if task.chemical and task.caution}
    translated = catalogue(language).gettext(caution)
    told = borers_many(12, 5, translated, name="Amina", plot="3", language=language)
    assert told.endswith(translated)
