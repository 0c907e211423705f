"""What is offered as perhaps one person, and what is not."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.records.likeness import Known, likeness, name_words, slips

BORN = date(1988, 4, 3)
PHONE, EMAIL = "+353877654321", "anna@example.org"
ANNA = Known("Anna Lind", BORN, PHONE, EMAIL)


@pytest.mark.parametrize(("other", "said"), [
    (Known("anna lind"), "the same name"),
    (Known("Lind, Anna"), "the same name"),
    (Known("Lind Anna", BORN), "the same date of birth"),
    (Known("Anna Berg", BORN), "the same first name (a family name can change)"),
    (Known("Ana Lind", BORN), "nearly the same name"),
    (Known("Anna Maria Lind", BORN), "nearly the same name"),
    (Known("Anna Lind-Berg", BORN), "nearly the same name"),
    (Known("Nobody Else", None, PHONE), "the same telephone number"),
    (Known("N. E.", None, "", "ANNA@example.org"), "the same e-mail address"),
    (Known("Anna Lind", date(1988, 3, 4)), "dates of birth that differ by one slip"),
    (Known("Anna Lind", date(1989, 4, 3)), "dates of birth that differ by one slip"),
    (Known("Berta Lind", BORN, PHONE), "but different first names (twins?)"),
    (Known("Anna Lind", date(1971, 12, 9), PHONE), "but different dates of birth"),
])  # fmt: skip
def test_who_may_be_the_same_is_offered_with_the_reason(other: Known, said: str) -> None:
    found = likeness(ANNA, other)
    assert found.is_offered
    assert said in found.reasons


@pytest.mark.parametrize("other", [
    Known("Berta Berg", BORN),  # a shared birthday
    Known("Anna Berg"),  # a shared first name
    Known("Berta Lind"),  # a sister
    Known("Anna Lind", date(1971, 12, 9)),  # a namesake
    Known("Berta Lind", date(1959, 1, 30), PHONE, ""),  # her mother, on the same telephone
    Known("Ana Lind"),  # a slip in the name alone
    Known("", None, "", ""),
])  # fmt: skip
def test_who_is_likely_another_person_is_not_offered(other: Known) -> None:
    assert not likeness(ANNA, other).is_offered


def test_nothing_known_of_either_is_no_likeness() -> None:
    assert likeness(Known("Anna"), Known("Berta")).points == 0
    assert likeness(Known("!?"), Known("!?")).points == 0


@pytest.mark.parametrize(("one", "other"), [
    ("Søndergård", "sondergard"), ("Zoë O’Shea", "Zoe O'Shea"), ("Anne-Marie", "Annemarie"), ("Łukasz", "Lukasz"),
    ("Jürgen Weiß", "JURGEN WEISS"), ("Æsa", "aesa"), ("Nguyễn", "Nguyen"),
])  # fmt: skip
def test_accents_case_hyphens_and_apostrophes_do_not_tell_people_apart(one: str, other: str) -> None:
    assert name_words(one) == name_words(other)


@pytest.mark.parametrize(("left", "right", "expected"), [
    ("anna", "anna", 0), ("anna", "ana", 1), ("anna", "naan", 2), ("maren", "mraen", 1), ("lind", "berg", 3),
    ("a", "abcdef", 3), ("kitten", "sitting", 3),
])  # fmt: skip
def test_slips_of_the_hand_are_counted_up_to_what_matters(left: str, right: str, expected: int) -> None:
    assert slips(left, right, 2) == expected


NAMES = st.sampled_from(["Anna Lind", "Ana Lind", "Anna Berg", "Lind, Anna", "Berta Lind", "Ó Briain", "李 小", ""])
DAYS = st.one_of(st.none(), st.sampled_from([BORN, date(1988, 3, 4), date(1988, 4, 5), date(1960, 1, 1)]))
KNOWN = st.builds(
    Known,
    name=st.one_of(NAMES, st.text(max_size=20)),
    born_on=DAYS,
    phone_key=st.sampled_from(["", PHONE, "+442079460018"]),
    email=st.sampled_from(["", EMAIL, "b@example.org"]),
)


@given(KNOWN, KNOWN)
def test_likeness_is_the_same_both_ways_round(one: Known, other: Known) -> None:
    assert likeness(one, other) == likeness(other, one)


@given(KNOWN, KNOWN, st.sampled_from(["name", "born_on", "phone_key", "email"]))
def test_agreeing_in_one_more_thing_never_lowers_it(one: Known, other: Known, what: str) -> None:
    values = {name: getattr(other, name) for name in ("name", "born_on", "phone_key", "email")}
    values[what] = getattr(one, what)
    if values[what]:  # a gap in common is nothing in common
        assert likeness(one, Known(**values)).points >= likeness(one, other).points
