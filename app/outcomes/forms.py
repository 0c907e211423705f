from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, StringConstraints

from app.platform.forms import Form, OptionalDay, OptionalText

Grade = Literal["poor", "fair", "good", "excellent"]


def _blank_is_none(value: object) -> object:
    return None if value == "" else value


# The bounds stand inside: outside they would be asked of the blank as well.
OutOfTen = Annotated[Annotated[int, Field(ge=0, le=10)] | None, BeforeValidator(_blank_is_none)]


class JudgeZone(Form):
    """One judgement: the colour match in two lights, how it was seen, what the client says, and what comes next."""

    grade: Grade
    grade_second_light: Grade
    seen: Literal["photo", "in_person"]
    visibility: OutOfTen = None
    satisfaction: OutOfTen = None
    next_step: Literal["finished", "another_session", "wait"]
    note: Annotated[OptionalText, StringConstraints(max_length=1000)] = ""


class ReviewFilter(Form):
    """Whose zones, and between which days their colour could first be judged."""

    artist: Annotated[int | None, BeforeValidator(_blank_is_none)] = None
    since: OptionalDay = None
    until: OptionalDay = None
