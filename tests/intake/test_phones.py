import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake.phones import PHONE_PROBLEM, PhoneProblem, phone_words, read_phone


# Numbers that the British and American regulators keep for drama and examples, and the public switchboards of others.
@pytest.mark.parametrize(
    ("typed", "region", "stored"),
    [
        ("(0)20 7946 0018", "GB", "+442079460018"),
        ("020-7946-0018", "GB", "+442079460018"),
        ("+44 (0)20 7946 0018", "", "+442079460018"),
        ("0044 20 7946 0018", "IE", "+442079460018"),
        ("+49 (0) 30 1234567", "", "+49301234567"),
        ("00 33 1 42 68 53 00", "DE", "+33142685300"),
        ("00 33 1 42 68 53 00", "US", "+33142685300"),  # Abroad is 011 there, but 00 was pasted.
        ("+33.1.42.68.53.00", "", "+33142685300"),
        ("+1\u00a0(202)\u00a0555-0143", "", "+12025550143"),
        ("202.555.0143", "US", "+12025550143"),
        ("011 44 20 7946 0018", "CA", "+442079460018"),
        ("0011 44 20 7946 0018", "AU", "+442079460018"),
        ("٠٢٠٧٩٤٦٠٠١٨", "GB", "+442079460018"),
        ("020 7946 0018 ext 12", "GB", "+442079460018;ext=12"),
        ("tel: +442079460018", "", "+442079460018"),
        ("+32 2 999 99 99", "", "+3229999999"),
    ],
)
def test_a_pasted_number_of_any_country_is_kept_in_international_form(typed: str, region: str, stored: str) -> None:
    assert read_phone(typed, region) == stored


@pytest.mark.parametrize("typed", ["call me", "12", "", "020 7946 0018", "+999 123", "1" * 61, "my knee hurts"])
def test_what_is_no_phone_number_gets_a_plain_message(typed: str) -> None:
    with pytest.raises(PhoneProblem, match="Please check it") as problem:
        read_phone(typed)
    assert str(problem.value) == PHONE_PROBLEM


def test_a_number_is_shown_with_spaces_and_words_as_they_stand() -> None:
    assert phone_words("+442079460018") == "+44 20 7946 0018"
    assert phone_words("ask my sister") == "ask my sister"


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=70), st.sampled_from(["", "GB", "US", "FR"]))
def test_whatever_is_typed_is_a_number_that_reads_the_same_again_or_a_plain_message(typed: str, region: str) -> None:
    try:
        stored = read_phone(typed, region)
    except PhoneProblem:
        return
    assert stored.startswith("+")
    assert read_phone(stored) == stored
