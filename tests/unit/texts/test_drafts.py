"""A text made from a draft is known again by the words of its wording."""

import pytest
from babel.messages.catalog import Catalog

from reminder_service.texts import drafts
from reminder_service.texts.drafts import holds_draft
from reminder_service.texts.errors import NoCatalogue

RULE = {"ŵ": "w"}


@pytest.fixture(autouse=True)
def catalogue(monkeypatch):
    """A catalogue made up for these tests: some drafts, one wording that a speaker has read."""
    made = Catalog(locale="ny")
    made.add("{name}, thin by {day}.", "{name}, zulani ŵonse pofika {day}.", flags=["fuzzy"])
    made.add("Wash your hands.", "Sambani m'manja.", flags=["fuzzy"])
    made.add(("{n} day", "{n} days"), ("tsiku {n} lokha", "masiku {n} onse"), flags=["fuzzy"])
    made.add("{a}, {b}", "{a}, {b}", flags=["fuzzy"])
    made.add("Broken", "Chosweka {name", flags=["fuzzy"])
    made.add("Thank you {name}.", "Zikomo {name}.")
    monkeypatch.setattr(drafts, "shipped_catalogue", lambda language: made)
    monkeypatch.setattr(drafts, "letters_of", lambda language: RULE)
    drafts._draft_words.cache_clear()
    yield
    drafts._draft_words.cache_clear()


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        pytest.param("Amina, zulani ŵonse pofika 5 Dec.", True, id="filled in"),
        pytest.param("Amina, zulani wonse pofika 5 Dec.", True, id="in cheaper letters"),
        pytest.param("Zikomo Amina. Sambani m'manja.", True, id="as a part of it"),
        pytest.param("masiku 3 onse", True, id="a form for many"),
        pytest.param("Chosweka {name", True, id="with braces that do not pair"),
        pytest.param("Zikomo Amina.", False, id="read by a speaker"),
        pytest.param("pofika, zulani ŵonse", False, id="its words in another order"),
        pytest.param("Amina, Setiwe", False, id="too few words to tell"),
        pytest.param("", False, id="nothing"),
    ],
)
def test_a_draft_is_known_again(body, expected):
    assert holds_draft(body, "ny") is expected


def test_english_has_no_drafts():
    assert not holds_draft("Sambani m'manja.", "en")


def test_a_language_without_a_catalogue_is_refused(monkeypatch):
    monkeypatch.undo()
    drafts._draft_words.cache_clear()
    with pytest.raises(NoCatalogue):
        holds_draft("Anything.", "xx")
