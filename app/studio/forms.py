import re
from itertools import pairwise
from typing import Annotated, Literal
from zoneinfo import available_timezones

from pydantic import AfterValidator, Field, StringConstraints

from app.platform.forms import Form, Text
from app.platform.search import fold

Role = Literal["owner", "artist", "desk"]


def _is_zone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError("Choose a time zone, like Europe/London.")
    return name


def _login(text: str) -> str:
    login = fold(text)
    if not login.replace(".", "").replace("-", "").replace("_", "").isalnum() or not login.isascii():
        raise ValueError("Use letters, digits, dots and dashes.")
    return login


def _not_plain(password: str) -> str:
    # ASVS 5.0 6.2.4 asks to refuse the commonest passwords; of twelve characters, those are mostly one key repeated.
    if len(set(password)) < 5:
        raise ValueError("Use more different characters.")
    return password


def _pin(text: str) -> str:
    if not re.fullmatch(r"[0-9]{4,8}", text):
        raise ValueError("Use 4 to 8 digits.")
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(text)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        raise ValueError("This one is guessed first: one digit only, or digits in a row. Choose another.")
    return text


Name = Annotated[Text, StringConstraints(min_length=1, max_length=120)]
Login = Annotated[Text, StringConstraints(min_length=2, max_length=60), AfterValidator(_login)]
Password = Annotated[
    Text, StringConstraints(min_length=12, max_length=200, strip_whitespace=False), AfterValidator(_not_plain)
]
Zone = Annotated[Text, AfterValidator(_is_zone)]
Country = Literal["GB", "IE", "US", "DE", "FR", "ES", "CA", "AU", "OTHER"]


class FirstRun(Form):
    code: Annotated[Text, StringConstraints(min_length=1, max_length=40)]
    studio_name: Name
    country: Country
    zone: Zone
    name: Name
    login: Login
    password: Password


class SignIn(Form):
    login: Annotated[Text, StringConstraints(min_length=1, max_length=120)]
    password: Annotated[Text, StringConstraints(min_length=1, max_length=200, strip_whitespace=False)]


class NewMember(Form):
    name: Name
    login: Login
    role: Role
    password: Password


class NewPassword(Form):
    current: Annotated[Text, StringConstraints(min_length=1, max_length=200, strip_whitespace=False)]
    password: Password


class NewPin(Form):
    pin_password: Annotated[Text, StringConstraints(min_length=1, max_length=200, strip_whitespace=False)]
    pin: Annotated[Text, StringConstraints(max_length=40), AfterValidator(_pin)]


class TabletCode(Form):
    code: Annotated[Text, StringConstraints(min_length=1, max_length=80)]


class TabletPin(Form):
    pin: Annotated[Text, StringConstraints(min_length=1, max_length=40)]


class StudioDetails(Form):
    name: Name
    country: Country
    zone: Zone
    phone: Annotated[Text, StringConstraints(max_length=60)] = ""
    email: Annotated[Text, StringConstraints(max_length=120)] = ""
    opens_at: Annotated[Text, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")] = "09:00"
    aftercare_school: Literal["film", "dry"]
    earliest_weeks: Annotated[int, Field(ge=4, le=52)]
    judge_weeks: Annotated[int, Field(ge=8, le=52)]
    judge_weeks_slow: Annotated[int, Field(ge=8, le=52)]
    language: Literal["en", "es", "fr", "de"] = "en"
    region: Annotated[Text, StringConstraints(max_length=80)] = ""
    intake_months: Annotated[int, Field(ge=1, le=24)] = 12
    idle_minutes: Annotated[int, Field(ge=3, le=60)] = 10
    revision: int
