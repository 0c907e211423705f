from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake.dates import (
    DateProblem,
    Interval,
    add,
    add_months,
    age,
    birthday,
    counts_from,
    read_day,
    read_partial,
)

DAYS = st.dates(min_value=date(1950, 1, 1), max_value=date(2100, 12, 31))


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2023", date(2023, 1, 1), date(2023, 12, 31)),
        ("2023-05", date(2023, 5, 1), date(2023, 5, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2023-05-14", date(2023, 5, 14), date(2023, 5, 14)),
    ],
)
def test_a_partial_date_counts_from_the_last_day_it_can_mean(text: str, first: date, last: date) -> None:
    read = read_partial(text)
    assert (read.first_day, read.last_day, read.text) == (first, last, text)
    assert counts_from(text, date(2026, 1, 1)) == last


@pytest.mark.parametrize("text", ["", "23", "2023-13", "2023-02-29", "2023-5", "14.05.2023", "0203", "²023", "2023-00"])
def test_a_date_that_cannot_be_read_says_so(text: str) -> None:
    with pytest.raises(DateProblem, match="Please"):
        read_partial(text)


def test_a_year_alone_is_not_a_day() -> None:
    with pytest.raises(DateProblem, match="day, the month and the year"):
        read_day("1990")


def test_adding_months_keeps_the_day_or_takes_the_months_last() -> None:
    assert add_months(date(2026, 1, 15), 1) == date(2026, 2, 15)
    assert add_months(date(2026, 1, 31), 1) == date(2026, 2, 28)
    assert add_months(date(2024, 2, 29), 12) == date(2025, 2, 28)
    assert add_months(date(2026, 3, 31), -1) == date(2026, 2, 28)
    assert add(date(2026, 12, 1), Interval(1, "years")) == date(2027, 12, 1)
    assert add(date(2026, 12, 1), Interval(2, "weeks")) == date(2026, 12, 15)


def test_more_than_two_years_ago_is_at_the_latest_two_years_before_the_answer() -> None:
    assert counts_from("more_than_2_years", date(2026, 11, 25)) == date(2024, 11, 25)
    assert counts_from("more_than_5_years", date(2024, 2, 29)) == date(2019, 2, 28)
    assert counts_from("dont_know", date(2026, 11, 25)) is None


def test_born_on_29_february_comes_of_age_on_1_march_in_an_ordinary_year() -> None:
    born = date(2008, 2, 29)
    assert birthday(born, 18) == date(2026, 3, 1)
    assert age(born, date(2026, 2, 28)) == 17
    assert age(born, date(2026, 3, 1)) == 18
    assert birthday(born, 20) == date(2028, 2, 29)


def test_an_interval_is_written_in_words() -> None:
    assert (Interval(1, "months").words, Interval(12, "months").words) == ("1 month", "12 months")
    with pytest.raises(ValueError, match="not an interval"):
        Interval(-1, "days")


@settings(max_examples=40)
@given(DAYS, st.integers(0, 400), st.integers(0, 60))
def test_a_later_start_or_a_longer_wait_never_ends_earlier(day: date, later: int, months: int) -> None:
    assert add_months(day, months) <= add_months(day + timedelta(days=later), months)
    assert add_months(day, months) < add_months(day, months + 1)


@settings(max_examples=40)
@given(DAYS, st.integers(0, 90))
def test_age_goes_up_exactly_on_the_birthday(born: date, years: int) -> None:
    day = birthday(born, years)
    assert age(born, day) == years
    assert age(born, day - timedelta(days=1)) == years - 1
