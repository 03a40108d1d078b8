"""The door check-texts: every text of a language, and its catalogue renewed."""

import json
import shutil
from io import BytesIO

import pytest
from babel.messages.pofile import read_po

from reminder_service.commands import main
from reminder_service.texts import catalogues


@pytest.fixture
def own_folder(tmp_path, monkeypatch):
    """Catalogues of this test's own, to be written to."""
    folder = tmp_path / "locale"
    shutil.copytree(catalogues._folder(), folder)
    monkeypatch.setattr(catalogues, "_folder", lambda: folder)
    return folder


@pytest.mark.parametrize("language", ["en", "sw", "pt", "ny"])
def test_every_text_of_a_language_is_told_with_its_segments(capsys, language):
    main(["check-texts", "--language", language, "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert answer["faults"] == [] and answer["language"] == language
    assert all(0 < text["segments"] <= text["most"] for text in answer["texts"])
    assert (answer["drafts"] > 0) == (language != "en")


def translations(file):
    return {each.id: each.string for each in read_po(BytesIO(file.read_bytes())) if each.id}


def test_a_catalogue_renewed_in_place_keeps_its_translations(own_folder):
    file = own_folder / "sw" / "LC_MESSAGES" / "texts.po"
    before = translations(file)
    main(["check-texts", "--language", "sw", "--renew", str(file)])
    assert before.items() <= translations(file).items()


def test_a_new_language_begins_with_every_text_empty(tmp_path):
    file = tmp_path / "fr.po"
    main(["check-texts", "--language", "fr", "--renew", str(file)])
    texts = [each for each in read_po(BytesIO(file.read_bytes())) if each.id]
    assert len(texts) > 100 and not any(each.string for each in texts if not each.pluralizable)


def test_an_unknown_language_is_refused_in_one_line(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["check-texts", "--language", "xx"])
    assert stopped.value.code == 2
    assert "expected one of en, ny, pt, sw" in capsys.readouterr().err
