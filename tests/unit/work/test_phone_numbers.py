"""Senders' numbers, checked against libphonenumber's own example numbers of every region."""

import random
from collections.abc import Iterator

import phonenumbers
import pytest
from phonenumbers import PhoneNumberFormat, PhoneNumberType

from reminder_service.work.receive import e164

KINDS = (PhoneNumberType.MOBILE, PhoneNumberType.FIXED_LINE)
A_REGION = 12
"""Numbers generated for each region and kind."""


def generated_numbers() -> Iterator[tuple[str, phonenumbers.PhoneNumber]]:
    """Valid numbers of every region: each example, and others with its last digits drawn anew."""
    rng = random.Random(164)
    for region in sorted(phonenumbers.SUPPORTED_REGIONS):
        for kind in KINDS:
            example = phonenumbers.example_number_for_type(region, kind)
            if example is None:
                continue
            yield region, example
            for _ in range(A_REGION):
                digits = str(example.national_number)[:-3] + f"{rng.randrange(1000):03}"
                number = phonenumbers.PhoneNumber(
                    country_code=example.country_code,
                    national_number=int(digits),
                    italian_leading_zero=example.italian_leading_zero,
                    number_of_leading_zeros=example.number_of_leading_zeros,
                )
                if phonenumbers.is_valid_number_for_region(number, region):
                    yield region, number


NUMBERS = list(generated_numbers())


def e164_of(number: phonenumbers.PhoneNumber) -> str:
    """The form by E.164, put together here: country code, zeros that count, national number."""
    zeros = "0" * (number.number_of_leading_zeros or 1) if number.italian_leading_zero else ""
    return f"+{number.country_code}{zeros}{number.national_number}"


def test_there_are_numbers_of_more_than_two_hundred_regions():
    assert len({region for region, _ in NUMBERS}) > 200 and len(NUMBERS) > 4000


@pytest.mark.parametrize(
    "form",
    [PhoneNumberFormat.E164, PhoneNumberFormat.INTERNATIONAL, PhoneNumberFormat.RFC3966],
    ids=["plain", "with spaces", "as an address"],
)
def test_a_number_with_its_country_code_is_read_whatever_the_region(form):
    for _, number in NUMBERS:
        written = phonenumbers.format_number(number, form)
        assert e164(written, None) == e164_of(number), written
        assert e164(written, "GB") == e164_of(number), written


def test_a_number_as_it_is_dialled_at_home_is_read_by_the_region():
    for region, number in NUMBERS:
        written = phonenumbers.format_number(number, PhoneNumberFormat.NATIONAL)
        assert e164(written, region) == e164_of(number), (region, written)


def test_a_number_as_it_is_dialled_at_home_is_none_without_a_region():
    for _, number in NUMBERS:
        written = phonenumbers.format_number(number, PhoneNumberFormat.NATIONAL)
        assert e164(written, None) is None, written


def test_what_was_read_once_is_read_the_same_again():
    for region, number in NUMBERS:
        found = e164(e164_of(number), region)
        assert found is not None and e164(found, "KE") == found


@pytest.mark.parametrize(
    "sender",
    [
        pytest.param("", id="nothing"),
        pytest.param("INFO", id="a name"),
        pytest.param("+4477009000010000", id="more than fifteen digits"),
        pytest.param("12", id="a short code"),
        pytest.param("+999123456789", id="a country code that nobody has"),
    ],
)
def test_what_is_no_phone_number_is_none(sender):
    assert e164(sender, "GB") is None
