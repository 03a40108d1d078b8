"""Letters that cost: a text outside the GSM 7-bit alphabet has room for 70 instead of 160."""

from dataclasses import dataclass

from reminder_service.texts.segments import segments
from reminder_service.texts.words import letters_of


@dataclass(frozen=True, slots=True)
class Economical:
    """A text in the letters that it is sent in.

    Attributes
    ----------
    body : the text
    saved : segments that the letters replaced in it save; 0 if none were
    """

    body: str
    saved: int


def economical(body: str, language: str) -> Economical:
    """A text with costly letters replaced, where the language's own rule allows it and it helps.

    The rule stands in the language's word list under ``[letters]``. Where a letter is left that
    the rule does not name, nothing is replaced: the text would be sent as UCS-2 all the same.

    Parameters
    ----------
    body : the text
    language : ISO 639-1 code

    Returns
    -------
    the text to send, and what was saved

    References
    ----------
    3GPP TS 23.038 (alphabets); the rules: see the word lists.
    """
    before = segments(body)
    if before.encoding == "gsm-7":
        return Economical(body, 0)
    rule = letters_of(language)
    replaced = "".join(rule.get(letter, letter) for letter in body)
    after = segments(replaced)
    saved = before.segments - after.segments
    if after.encoding != "gsm-7" or saved <= 0:
        return Economical(body, 0)
    return Economical(replaced, saved)
