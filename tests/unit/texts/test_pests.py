"""What farmers say of a pest in words, in every shipped language."""

import tomllib
from importlib import resources

import pytest

from reminder_service.texts.errors import WordListError
from reminder_service.texts.pests import DENIED, PestSign, pest_phrases, pest_sign
from reminder_service.texts.words import shipped_languages

LISTS = {
    language: (resources.files("reminder_service.texts") / "words" / f"{language}.toml").read_text(
        "utf-8"
    )
    for language in shipped_languages()
}


@pytest.mark.parametrize(
    ("body", "sign"),
    [
        ("BORER 12 armyworm", PestSign.ARMYWORM),
        ("There are FALL ARMY-WORMS in my maize", PestSign.ARMYWORM),
        ("it has an upside-down Y on its head", PestSign.ARMYWORM),
        ("worm with 4 spots", PestSign.ARMYWORM),
        ("frass like sand in the funnel", PestSign.ARMYWORM),
        ("dead hearts in my plot", PestSign.IN_STEM),
        ("holes in the stems", PestSign.IN_STEM),
        ("armyworm and dead hearts", PestSign.ARMYWORM),
        ("FUNZA 12 viwavijeshi", PestSign.ARMYWORM),
        ("Kuna kiwavi jeshi kwenye mahindi yangu", PestSign.ARMYWORM),
        ("mdudu ana Y kichwani na madoa manne mkiani", PestSign.ARMYWORM),
        ("naona matundu kwenye mabua", PestSign.IN_STEM),
        ("BROCA 12 lagarta-do-funil", PestSign.ARMYWORM),
        ("A lagarta tem um Y invertido na cabeça", PestSign.ARMYWORM),
        ("quatro pontos pretos perto da cauda", PestSign.ARMYWORM),
        ("Coração morto em muitas plantas", PestSign.IN_STEM),
        ("há furos no caule do milho", PestSign.IN_STEM),
        ("KAPUCHI 12 ntchembere zandonda", PestSign.ARMYWORM),
        ("mbozi ili ndi Y pamutu", PestSign.ARMYWORM),
        ("ili ndi madontho anayi kumchira", PestSign.ARMYWORM),
        ("no coração morto há bicho", PestSign.IN_STEM),
        ("mabowo mu mapesi a chimanga", PestSign.IN_STEM),
    ],
)
def test_signs_are_told_apart(body: str, sign: PestSign) -> None:
    assert pest_sign(body) is sign


@pytest.mark.parametrize(
    "body",
    [
        "",
        "BORER 12",
        "farmy wormy",
        "DONE WEED",
        "BORER 12 no armyworm",
        "FUNZA 12",
        "si viwavijeshi, FUNZA 12",
        "nimepalilia shamba 4",
        "BROCA 12",
        "BROCA 12, não há lagarta do funil",
        "plantei 4 linhas",
        "KAPUCHI 12",
        "osati ntchembere zandonda, KAPUCHI 12",
        "mbozi 12 mwa mapesi 100",
    ],
)
def test_other_texts_and_denials_show_no_sign(body: str) -> None:
    assert pest_sign(body) is None


@pytest.mark.parametrize("language", shipped_languages())
@pytest.mark.parametrize("sign", PestSign)
def test_every_phrase_is_found_within_a_text(language: str, sign: PestSign) -> None:
    phrases = pest_phrases(LISTS[language], language)[sign]
    assert phrases
    for phrase in phrases:
        assert pest_sign(f"xx {phrase.upper()}!") is sign


@pytest.mark.parametrize("language", shipped_languages())
@pytest.mark.parametrize("sign", PestSign)
def test_every_denial_is_heard(language: str, sign: PestSign) -> None:
    phrases = pest_phrases(LISTS[language], language)
    for word in phrases[DENIED]:
        assert pest_sign(f"{word} {phrases[sign][0]}") is None


@pytest.mark.parametrize("language", shipped_languages())
def test_no_phrase_stands_there_twice(language: str) -> None:
    section = tomllib.loads(LISTS[language])["pests"]
    phrases = [phrase for written in section.values() for phrase in written]
    assert len(phrases) == len(set(phrases))


@pytest.mark.parametrize(
    ("section", "told"),
    [
        ("pests = 3", "no section"),
        ('[pests]\nlocust = ["locust"]', "pests.locust is not known"),
        ('[pests]\narmyworm = ["!"]', "expected words"),
        ("[pests]\narmyworm = 4", "expected words"),
    ],
    ids=["no section", "unknown sign", "no word in it", "no list"],
)
def test_faults_of_the_section_are_told(section: str, told: str) -> None:
    with pytest.raises(WordListError, match=told):
        pest_phrases(section, "xx")


def test_a_language_without_the_section_has_no_pest_words() -> None:
    assert pest_phrases('language = "xx"', "xx") == {}
