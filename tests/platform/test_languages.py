"""What clients read stands whole in each language, and the machinery falls back to English where it does not."""

import re
from datetime import date

import pytest
from babel.messages.pofile import read_po

from app.platform import languages
from app.platform.pages import ENVIRONMENT
from tests.catalogues import collected

OTHERS = tuple(language for language in languages.LANGUAGES if language != "en")
HOLES = re.compile(r"%\([a-z_]+\)s|\{[a-z_]+\}")


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_that_clients_read_has_words(language: str) -> None:
    held = languages.catalogue(language)
    without = [text for text in collected() if not (held.texts.get(text) or held.plurals.get(text))]
    assert without == [], "run python -m tests.catalogues, then fill in what is empty"


@pytest.mark.parametrize("language", OTHERS)
def test_words_keep_the_places_of_their_values(language: str) -> None:
    for text, words in languages.catalogue(language).texts.items():
        assert sorted(HOLES.findall(words)) == sorted(HOLES.findall(text)), text


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_holds_nothing_that_nobody_shows(language: str) -> None:
    with (languages.CATALOGUES / f"{language}.po").open("rb") as stream:
        held = [message.id for message in read_po(stream, locale=language) if message.id]
    known = collected()
    assert [text for text in held if (text if isinstance(text, str) else text[0]) not in known] == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_is_not_the_english_text_over_again(language: str) -> None:
    same = [text for text, words in languages.catalogue(language).texts.items() if words == text and " " in text]
    assert len(same) <= 3, same


def test_a_text_without_words_stays_english_and_numbers_are_put_back() -> None:
    assert languages.translated("Nobody has translated this.", "de") == "Nobody has translated this."
    words = languages.translated("Use at most 120 characters.", "de")
    assert "120" in words
    assert words != "Use at most 120 characters."


@pytest.mark.parametrize(
    ("wishes", "accepts", "chosen"),
    [
        (("fr",), "de", "fr"),
        (("", "pl"), "de-AT,de;q=0.9,en;q=0.8", "de"),
        ((), "pl;q=1, en;q=0.3, es-MX;q=0.7", "es"),
        ((), "de;q=0, fr;q=0.1", "fr"),
        ((), "*;q=0.5, xx, ;;;, de;q=zwei", "en"),
        ((), "", "en"),
    ],
)
def test_the_best_of_what_is_wished_and_accepted_is_chosen(
    wishes: tuple[str, ...], accepts: str, chosen: str
) -> None:
    assert languages.chosen(*wishes, accepts=accepts) == chosen


def test_days_are_written_as_each_language_does() -> None:
    day = date(2026, 3, 1)
    assert languages.day_in(day, "de") == "1. März 2026"
    assert languages.day_in(day, "es") == "1 de marzo de 2026"
    assert languages.day_in(day, "fr") == "1er mars 2026"


def test_a_page_speaks_one_language_and_then_english_again() -> None:
    page = ENVIRONMENT.from_string("{{ _('Yes') }} {% trans day='3' %}(from {{ day }}){% endtrans %} {{ _('8 %') }}")
    with languages.speaking("de"):
        assert page.render().startswith("Ja ")
    assert page.render() == "Yes (from 3) 8 %"


def test_a_name_in_a_sentence_is_escaped() -> None:
    page = ENVIRONMENT.from_string("{% trans name=name %}Hello {{ name }},{% endtrans %}")
    assert page.render(name="<b>Ida</b>") == "Hello &lt;b&gt;Ida&lt;/b&gt;,"


def test_direction_follows_the_language() -> None:
    assert [languages.direction(language) for language in ("en", "de", "ar", "he")] == ["ltr", "ltr", "rtl", "rtl"]
