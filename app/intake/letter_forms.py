from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from app.platform.forms import BLANK_IS_NONE, Day, Form, OptionalDay, OptionalText, Text

Key = Annotated[str, StringConstraints(max_length=200)]
Reason = Annotated[Text, StringConstraints(min_length=1, max_length=2000)]


class AskForLetter(Form):
    """Which findings a clinician is asked about, each by its key, and whom."""

    findings: list[Key] = []
    to_whom: Annotated[Text, StringConstraints(min_length=1, max_length=200)]


class LetterAnswer(Form):
    """What came of a letter that was asked for."""

    answer: Literal["agrees", "declines", "advises_against"]
    answered_on: Day
    good_until: OptionalDay = None
    attachment_id: Annotated[Annotated[int, Field(ge=1, le=2147483647)] | None, BLANK_IS_NONE] = None
    words: Annotated[OptionalText, StringConstraints(max_length=2000)] = ""


class InformedDecision(Form):
    """The client decides for themself, told of everything on the page, after a clinician would not say."""

    told: list[Annotated[str, StringConstraints(max_length=40)]] = []
    decided_on: Day
    reason: Reason


class PutRight(Form):
    why: Reason
