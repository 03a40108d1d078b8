"""What farmers say of a pest in words."""

import pytest

from reminder_service.texts.pests import PHRASES, PestSign, pest_sign


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
        ("BORER 12", None),
        ("farmy wormy", None),
        ("DONE WEED", None),
        ("", None),
    ],
)
def test_signs_are_told_apart(body: str, sign: PestSign | None) -> None:
    assert pest_sign(body) is sign


@pytest.mark.parametrize("sign", PestSign)
def test_every_phrase_is_found_within_a_text(sign: PestSign) -> None:
    for phrase in PHRASES[sign]:
        assert pest_sign(f"I see {phrase.upper()}!") is sign
