"""Shared parts of the question lists: short forms, and the words used by several questions."""

from app.intake.questions import YES, Condition, Option, Question

AGO = (
    Option("more_than_2_years", "More than 2 years ago, not sure when"),
    Option("more_than_5_years", "More than 5 years ago, not sure when"),
)
STILL = (Option("still", "It is still going on"),)
DATE_HINT = "A year is enough if you do not know the day."
# 15 cm: Toronto Public Health, distance to keep from skin that is red, swollen, infected or has a rash.
NEAR = "Near means within 15 cm, about as far as your hand is long."


def yes_no(topic: str, key: str, wording: str, hint: str = "", *when: Condition, withhold: bool = False) -> Question:
    return Question(key, topic, "yes_no", wording, hint, dont_know=True, prefer_not=withhold, ask_when=when)


def when(topic: str, key: str, wording: str, *asked: Condition, also: tuple[Option, ...] = AGO) -> Question:
    return Question(key, topic, "date", wording, DATE_HINT, options=also, dont_know=True, ask_when=asked)


def says(key: str, *any_of: str) -> Condition:
    return Condition(key, any_of or (YES,))
