import re
from typing import Annotated

from pydantic import AfterValidator, Field, StringConstraints

from app.platform.forms import Day, Form, OptionalText, Text


def _a_time(text: str) -> str:
    if text and not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", text, re.ASCII):
        raise ValueError("Give a time, like 14:30.")
    return text


class PlanVisit(Form):
    """A day on which a client comes; the desk chooses no zones."""

    planned_on: Day
    planned_at: Annotated[OptionalText, AfterValidator(_a_time)] = ""
    zones: list[int] = []


class ChangeVisit(PlanVisit):
    revision: Annotated[int, Field(ge=1)]


class CancelVisit(Form):
    why: Annotated[Text, StringConstraints(min_length=1, max_length=400)]
