import pytest

from app.platform.languages import translated


@pytest.mark.parametrize(
    ("language", "day", "month"),
    [
        ("en", "14 May 2023", "May 2023"),
        ("es", "14 de mayo de 2023", "mayo de 2023"),
        ("fr", "14 mai 2023", "mai 2023"),
        ("de", "14. Mai 2023", "Mai 2023"),
    ],
)
def test_a_date_in_words_is_written_as_the_language_writes_it(language: str, day: str, month: str) -> None:
    assert translated("14 May 2023", language) == day
    assert translated("May 2023", language) == month
    assert translated("2023", language) == "2023"
