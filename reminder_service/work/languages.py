"""The language that a farmer is written to in: which there are, and changing it by text."""

from collections.abc import Collection

from reminder_service.records import audit, farmers
from reminder_service.texts import refusals, replies
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue_languages
from reminder_service.texts.words import Role, shipped_languages, word_list
from reminder_service.work.replan import replan
from reminder_service.work.reporting import change_sentences
from reminder_service.work.talk import Answer, Talk


def is_written(language: str) -> bool:
    """Whether a language has both a word list and texts."""
    texts = {SOURCE_LANGUAGE, *catalogue_languages()}
    return language in shipped_languages() and language in texts


def language_name(language: str) -> str:
    """Name by which a language is asked for, or its code in capitals where none is listed.

    Parameters
    ----------
    language : ISO 639-1 code with a word list
    """
    names = [
        " ".join(phrase)
        for phrase, meaning in word_list(language).phrases.items()
        if meaning.role is Role.LANGUAGE and meaning.name == language
    ]
    name = next((name for name in names if len(name) > len(language)), "")
    return name.capitalize() or language.upper()


def language_list(language: str) -> str:
    """The text that says which languages there are.

    Parameters
    ----------
    language : ISO 639-1 code of the text itself
    """
    known = [code for code in shipped_languages() if is_written(code)]
    named = [f"{language_name(code)} {code.upper()}" for code in known]
    return refusals.which_language(named, language=language)


def change_language(talk: Talk, language: str | None, farmer_ids: Collection[int]) -> Answer:
    """Write to some farmers in another language, what waits to go out too.

    Parameters
    ----------
    talk : the text that asks for it
    language : ISO 639-1 code; None where it could not be told
    farmer_ids : who is meant

    Returns
    -------
    the answer, in the new language; or which languages there are
    """
    if language is None or not is_written(language):
        return Answer(language_list(talk.language), language=talk.language)
    changes = []
    for farmer_id in sorted(farmer_ids):
        plots = [plot for plot in talk.plots if plot.farmer_id == farmer_id]
        before = [each.language for each in talk.served if each.farmer_id == farmer_id]
        farmers.set_language(talk.c, farmer_id, language)
        audit.note(
            talk.c,
            at=talk.now,
            who=f"phone {talk.phone.id}",
            what="language",
            subject=f"farmer {farmer_id}",
            before={"language": before[0]},
            after={"language": language},
        )
        for plot in plots:
            done = replan(talk.c, plot.season_id, talk.rulebook, talk.settings, talk.now)
            changes += change_sentences(done, talk.rulebook)
    text = replies.language_set(language_name(language), language=language)
    return Answer(text, changes=changes, language=language)
