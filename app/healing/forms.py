from typing import Annotated

from pydantic import StringConstraints

from app.healing.aftercare import Answer, questions_for
from app.platform.forms import Form, OptionalText, Posted, Text

Words = Annotated[OptionalText, StringConstraints(max_length=2000)]


class CheckIn(Form):
    """What a client writes beside the day's questions; the answers are read by `answers_of`."""

    words: Words = ""


class Reading(Form):
    """What a member notes on reading a check-in; the client sees it."""

    reply: Words = ""


class Talk(Form):
    words: Annotated[Text, StringConstraints(min_length=1, max_length=2000)]


def answers_of(posted: Posted, day_number: int) -> dict[str, Answer]:
    """The answers to the day's questions that are a yes, a no or not sure; anything else is no answer."""
    answers: dict[str, Answer] = {}
    for question in questions_for(day_number):
        given = posted.one(f"q_{question.key}")
        if given == "yes":
            answers[question.key] = "yes"
        elif given == "no":
            answers[question.key] = "no"
        elif given == "not sure":
            answers[question.key] = "not sure"
    return answers
