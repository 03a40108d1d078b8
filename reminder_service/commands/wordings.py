"""The door that looks at every text of a language: what it takes on the air, what is wrong."""

from dataclasses import dataclass
from pathlib import Path

import click
from babel.messages.pofile import write_po

from reminder_service.commands.answers import BadInput, Door, Request, Value, json_option
from reminder_service.commands.rulebooks import rulebook_given
from reminder_service.rules.shipped import shipped_names, shipped_rulebook
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue_languages
from reminder_service.work.wordings import Wording, drafts, faults, renewed_catalogue, wordings


class TextsRequest(Request):
    """A language and a rulebook."""

    language: str = SOURCE_LANGUAGE
    rulebook: str = "maize-hand-hoe"


@dataclass(frozen=True, slots=True)
class Checked:
    """Every text of a language, and what is wrong with them."""

    language: str
    texts: list[Wording]
    faults: list[str]
    drafts: int


def _checked(asked: TextsRequest) -> Checked:
    known = (SOURCE_LANGUAGE, *catalogue_languages())
    if asked.language not in known:
        raise BadInput("language", asked.language, f"one of {', '.join(known)}")
    rulebook = rulebook_given(asked.rulebook)
    return Checked(
        asked.language,
        wordings(rulebook, asked.language),
        faults(rulebook, asked.language),
        drafts(asked.language),
    )


def _value(checked: Checked) -> Value:
    return {
        "language": checked.language,
        "texts": [
            {
                "what": each.what,
                "body": each.body,
                "encoding": each.count.encoding,
                "units": each.count.units,
                "segments": each.count.segments,
                "most": each.most,
                "saved": each.saved,
            }
            for each in checked.texts
        ],
        "faults": checked.faults,
        "drafts": checked.drafts,
    }


def _text(checked: Checked) -> str:
    lines = [f"{'text':<32}{'units':>6}{'segments':>10}{'most':>6}{'saved':>7}  alphabet"]
    for each in checked.texts:
        count = each.count
        figures = f"{count.units:>6}{count.segments:>10}{each.most:>6}{each.saved:>7}"
        lines.append(f"{each.what:<32}{figures}  {count.encoding}")
    if checked.drafts:
        lines.append(f"{checked.drafts} texts are drafts: no speaker has read them yet.")
    lines += checked.faults or ["Nothing is missing and every text fits."]
    return "\n".join(lines)


TEXTS = Door(TextsRequest, _checked, _value, _text)


@click.command("check-texts")
@click.option("--language", help="ISO 639-1 code; English if left out.")
@click.option("--rulebook", help="A shipped rulebook or a file; maize-hand-hoe if left out.")
@click.option(
    "--renew",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the language's catalogue with every text of today to this file, and end.",
)
@json_option
def check_texts(
    language: str | None, rulebook: str | None, renew: Path | None, as_json: bool
) -> int:
    """Every text of a language with its segments; what is missing or too long.

    Texts are filled with the longest real values. Ends with code 2 if something is wrong.
    """
    if renew is not None:
        code = language or SOURCE_LANGUAGE
        books = [shipped_rulebook(name) for name in shipped_names()]
        # Made whole before the file is opened: it may be the very one that is read.
        renewed = renewed_catalogue(books, code)
        with renew.open("wb") as file:
            write_po(file, renewed, width=100, sort_output=False)
        click.echo(f"Written: {renew}")
        return 0
    given = {"language": language, "rulebook": rulebook}
    asked = TextsRequest(**{name: got for name, got in given.items() if got is not None})
    TEXTS.run(given, as_json)
    return 2 if _checked(asked).faults else 0
