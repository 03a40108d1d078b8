"""Letters that cost: a text outside the GSM 7-bit alphabet has room for 70 instead of 160."""

from dataclasses import dataclass

from reminder_service.texts.alphabets import DEFAULT, ShiftTables
from reminder_service.texts.segments import is_gsm, segments
from reminder_service.texts.words import letters_of


@dataclass(frozen=True, slots=True)
class Economical:
    """A text in the letters that it is sent in.

    Attributes
    ----------
    body : the text
    saved : segments that the letters replaced in it save; 0 if none were
    replaced : each letter that another stands for
    """

    body: str
    saved: int
    replaced: tuple[str, ...] = ()


def economical(body: str, language: str, tables: ShiftTables = DEFAULT) -> Economical:
    """A text with costly letters replaced, where the language's own rule allows it and it helps.

    The rule stands in the language's word list under ``[letters]``. Where a letter is left that
    the rule does not name, nothing is replaced: the text would be sent as UCS-2 all the same.

    Parameters
    ----------
    body : the text
    language : ISO 639-1 code
    tables : what the carrier can send

    Returns
    -------
    the text to send, and what was saved

    References
    ----------
    3GPP TS 23.038 (alphabets); the rules: see the word lists.
    """
    if is_gsm(body):
        return Economical(body, 0)
    rule = letters_of(language)
    written = "".join(rule.get(letter, letter) for letter in body)
    after = segments(written, tables)
    saved = segments(body, tables).segments - after.segments
    if after.encoding != "gsm-7" or saved <= 0:
        return Economical(body, 0)
    return Economical(written, saved, tuple(sorted({letter for letter in body if letter in rule})))


def costly_letters(body: str, tables: ShiftTables = DEFAULT) -> tuple[str, ...]:
    """The letters for whose sake a whole text is sent as UCS-2, each once.

    Parameters
    ----------
    body : any text
    tables : what the carrier can send

    Returns
    -------
    the letters, in the order they stand; empty if the text is not sent so

    Examples
    --------
    >>> costly_letters("caf\N{LATIN SMALL LETTER E WITH ACUTE} \N{LATIN SMALL LETTER O WITH TILDE}")
    ('\N{LATIN SMALL LETTER O WITH TILDE}',)
    """
    if is_gsm(body):
        return ()
    return tuple(dict.fromkeys(letter for letter in body if not tables.holds(letter)))
