"""Phone numbers as people paste them, kept in the international form of E.164 (ITU-T), such as +442079460018.

The rules of each country come from the phonenumbers library. Accepted: spaces of any kind, dots, dashes, brackets, the
"(0)" that is left out from abroad, "00" in place of "+", digits of other scripts, and a number written without its
country where the studio's own country is known.
"""

from dataclasses import dataclass

import phonenumbers
from phonenumbers import NumberParseException, PhoneNumber, PhoneNumberFormat

PHONE_PROBLEM = "This does not look like a phone number. Please check it, and add the country code if it is abroad."
LONGEST = 60  # The longest number with its extension and every kind of spacing stays well below.


class PhoneProblem(ValueError):
    """A number that cannot be read; its message can be shown to the person who typed it."""


@dataclass(frozen=True)
class Phone:
    """A number that was read: `key` is its E.164 form, by which records are compared; `words` is how it is shown."""

    key: str
    words: str
    searched: frozenset[str]  # runs of digits under which it may be looked for: with its country, from abroad, at home


def read_phone(text: str, region: str = "") -> str:
    """The number in international form; `region` is a country code such as GB, empty where it is not known."""
    if len(text) > LONGEST:
        raise PhoneProblem(PHONE_PROBLEM)
    numbers = [number for candidate in _candidates(text) if (number := _parsed(candidate, region)) is not None]
    for fits in (phonenumbers.is_valid_number, _is_possible):
        for number in numbers:
            if fits(number):
                return _written(number)
    raise PhoneProblem(PHONE_PROBLEM)


def phone_of(text: str, region: str = "") -> Phone | None:
    """The number with its key, or None where it cannot be read for sure.

    Stricter than `read_phone`: a number without its country is taken for one of the studio's country only where that
    country has such numbers. A guess would write another country's code before a number that was right as typed.
    """
    if len(text) > LONGEST:
        return None
    for candidate in _candidates(text):
        number = _parsed(candidate, region)
        is_whole = candidate.lstrip().startswith(("+", "＋"))
        if number is not None and (phonenumbers.is_valid_number(number) or (is_whole and _is_possible(number))):
            return _phone(number)
    return None


def _phone(number: PhoneNumber) -> Phone:
    key = phonenumbers.format_number(number, PhoneNumberFormat.E164)
    at_home = phonenumbers.format_number(number, PhoneNumberFormat.NATIONAL).partition(" ext")[0]
    digits = "".join(sign for sign in at_home if sign.isdigit())
    words = phonenumbers.format_number(number, PhoneNumberFormat.INTERNATIONAL)
    return Phone(key, words, frozenset({key[1:], f"00{key[1:]}", digits}))


def phone_words(text: str) -> str:
    """A stored number with spaces, as people read it; anything else as it stands."""
    number = _parsed(text, "")
    return text if number is None else phonenumbers.format_number(number, PhoneNumberFormat.INTERNATIONAL)


def _candidates(text: str) -> tuple[str, ...]:
    text = text.strip()
    # As written first: in some countries "00" or a bracketed zero belongs to the number.
    without_zero = text.replace("(0)", "")
    found = [text, without_zero]
    found += [f"+{item[2:]}" for item in (text, without_zero) if item.startswith("00")]
    return tuple(dict.fromkeys(found))


def _parsed(text: str, region: str) -> PhoneNumber | None:
    try:
        return phonenumbers.parse(text, region or None)
    except NumberParseException:
        return None


def _is_possible(number: PhoneNumber) -> bool:
    # The library's list of valid numbers ages: a new range is taken where its length fits the country.
    return phonenumbers.is_possible_number_with_reason(number) == phonenumbers.ValidationResult.IS_POSSIBLE


def _written(number: PhoneNumber) -> str:
    written = phonenumbers.format_number(number, PhoneNumberFormat.E164)
    return f"{written};ext={number.extension}" if number.extension else written
