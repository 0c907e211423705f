"""What people send: parsed by pydantic, refused beside the field, and nothing that was typed is lost."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Any, Generic, TypeVar

from fastapi import Depends, Request
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, FiniteFloat, ValidationError
from starlette.datastructures import FormData, UploadFile

MAX_FIELDS = 1000
MAX_FILES = 12


class Form(BaseModel):
    """The base of every form: unknown fields are left out, blanks are trimmed."""

    model_config = ConfigDict(str_strip_whitespace=True, extra="ignore", frozen=True)


M = TypeVar("M", bound=Form)


@dataclass(frozen=True)
class Filled(Generic[M]):
    """A form as it was filled in: the typed values, what is wrong beside each, and the data when nothing is."""

    values: Mapping[str, Any] = field(default_factory=dict)
    errors: Mapping[str, str] = field(default_factory=dict)
    data: M | None = None

    @property
    def ok(self) -> bool:
        return not self.errors and self.data is not None

    @property
    def sure(self) -> M:
        if self.data is None:
            raise ValueError("the form has errors")
        return self.data

    def refuse(self, name: str, message: str) -> "Filled[M]":
        """The same form with one more thing wrong."""
        return Filled(self.values, {**self.errors, name: message}, None)


class Refused(Exception):
    """A rule that refuses what a form asks for, said beside a field."""

    def __init__(self, name: str, message: str) -> None:
        super().__init__(message)
        self.name, self.message = name, message


@dataclass(frozen=True)
class Posted:
    """What a request carried: text fields (each a list) and files."""

    texts: Mapping[str, list[str]]
    files: Mapping[str, list["Upload"]]

    def one(self, name: str, default: str = "") -> str:
        return (self.texts.get(name) or [default])[0]


@dataclass(frozen=True)
class Upload:
    name: str
    content: bytes


async def _posted(request: Request) -> Posted:
    form: FormData = await request.form(max_fields=MAX_FIELDS, max_files=MAX_FILES, max_part_size=4 * 1024 * 1024)
    texts: dict[str, list[str]] = {}
    files: dict[str, list[Upload]] = {}
    for name, value in form.multi_items():
        if isinstance(value, UploadFile):
            content = await value.read()
            if content or value.filename:
                files.setdefault(name, []).append(Upload(value.filename or "", content))
        else:
            texts.setdefault(_encodable(name), []).append(_encodable(value))
    return Posted(texts, files)


def _encodable(text: str) -> str:
    """Halves of characters, which some encodings carry and no page can show, become NUL, which forms refuse."""
    return re.sub("[\ud800-\udfff]", "\x00", text)


Sent = Annotated[Posted, Depends(_posted)]


def fill(model: type[M], posted: Posted) -> Filled[M]:
    """Reads a form; list fields keep every value, others the first."""
    values: dict[str, Any] = {}
    for name, given in posted.texts.items():
        info = model.model_fields.get(name)
        values[name] = given if info is not None and _is_many(info.annotation) else given[0]
    errors = {name: UNPRINTABLE for name, given in posted.texts.items() if not all(map(_is_printable, given))}
    try:
        data = model.model_validate(values)
        return Filled(values, errors, None if errors else data)
    except ValidationError as error:
        for fault in error.errors():
            errors.setdefault(str(fault["loc"][0]) if fault["loc"] else "form", _words(fault))  # type: ignore[arg-type]
        return Filled(values, errors, None)


def shown(values: Mapping[str, Any]) -> Filled[Any]:
    """A form as it is first shown, with what is known already."""
    return Filled({name: ("" if value is None else value) for name, value in values.items()})


def _is_many(annotation: Any) -> bool:
    return getattr(annotation, "__origin__", None) in (list, tuple, set, frozenset)


UNPRINTABLE = "Remove the characters that cannot be printed."
WORDS: dict[str, Callable[[dict[str, Any]], str]] = {
    "missing": lambda _: "Fill this in.",
    "string_too_short": lambda _: "Fill this in.",
    "string_too_long": lambda c: f"Use at most {c['max_length']} characters.",
    "int_parsing": lambda _: "Give a whole number.",
    "int_from_float": lambda _: "Give a whole number.",
    "float_parsing": lambda _: "Give a number, like 1.5.",
    "greater_than_equal": lambda c: f"Give {c['ge']} or more.",
    "greater_than": lambda c: f"Give more than {c['gt']}.",
    "less_than_equal": lambda c: f"Give {c['le']} or less.",
    "less_than": lambda c: f"Give less than {c['lt']}.",
    "literal_error": lambda _: "Choose one of these.",
    "enum": lambda _: "Choose one of these.",
    "date_from_datetime_parsing": lambda _: "Give a date, like 2026-03-14.",
    "date_parsing": lambda _: "Give a date, like 2026-03-14.",
    "finite_number": lambda _: "Give a number, like 1.5.",
}


def _words(fault: dict[str, Any]) -> str:
    context = fault.get("ctx") or {}
    if fault["type"] == "value_error":
        return str(context.get("error", fault["msg"]))
    if fault["type"] == "int_parsing" and fault.get("input") == "":
        return "Fill this in."
    known = WORDS.get(fault["type"])
    return known(context) if known else "This cannot be read. Check it."


def _is_printable(text: str) -> bool:
    """NUL and lone surrogates are text that no database keeps."""
    return "\x00" not in text and not any("\ud800" <= c <= "\udfff" for c in text)


def _blank_is_none(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


def _not_absurd(day: date) -> date:
    if not 1900 <= day.year <= 2200:
        raise ValueError("Give a year from 1900 on.")
    return day


Text = str
Day = Annotated[date, AfterValidator(_not_absurd)]
# A bound belongs inside, Annotated[Annotated[int, Field(ge=1)] | None, BLANK_IS_NONE]: outside it would meet the None.
BLANK_IS_NONE = BeforeValidator(_blank_is_none)
OptionalDay = Annotated[Day | None, BLANK_IS_NONE]
OptionalNumber = Annotated[FiniteFloat | None, BLANK_IS_NONE]
OptionalCount = Annotated[int | None, BLANK_IS_NONE]
OptionalText = str
