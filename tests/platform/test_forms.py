from typing import Annotated, Literal

import pytest
from pydantic import Field, StringConstraints

from app.platform.forms import Form, OptionalDay, OptionalNumber, Posted, Text, fill


class Example(Form):
    name: Annotated[Text, StringConstraints(min_length=1, max_length=10)]
    kind: Literal["a", "b"]
    drops: Annotated[int, Field(ge=1, le=20)]
    hang_mm: OptionalNumber = None
    on: OptionalDay = None
    zones: list[int] = []


GOOD = {"name": ["Ann"], "kind": ["a"], "drops": ["3"], "zones": ["1", "2"]}


def test_a_good_form_gives_data() -> None:
    form = fill(Example, Posted(GOOD, {}))
    assert form.ok
    assert form.sure.zones == [1, 2]


@pytest.mark.parametrize(
    ("name", "typed", "message"),
    [
        ("name", "  ", "Fill this in."),
        ("name", "x" * 11, "Use at most 10 characters."),
        ("name", "a\x00b", "Remove the characters that cannot be printed."),
        ("name", "a\ud800b", "Remove the characters that cannot be printed."),
        ("kind", "c", "Choose one of these."),
        ("drops", "many", "Give a whole number."),
        ("drops", "0", "Give 1 or more."),
        ("drops", "21", "Give 20 or less."),
        ("hang_mm", "x", "Give a number, like 1.5."),
        ("hang_mm", "inf", "Give a number, like 1.5."),
        ("on", "2026-02-30", "Give a date, like 2026-03-14."),
        ("on", "0026-02-03", "Give a year from 1900 on."),
    ],
)
def test_what_is_wrong_is_said_beside_the_field_and_kept(name: str, typed: str, message: str) -> None:
    form = fill(Example, Posted({**GOOD, name: [typed]}, {}))
    assert form.errors == {name: message}
    assert form.values[name] == typed
    assert {k: v for k, v in form.values.items() if k != name} == {
        k: v for k, v in {"name": "Ann", "kind": "a", "drops": "3", "zones": ["1", "2"]}.items() if k != name
    }


def test_a_missing_field_is_named() -> None:
    form = fill(Example, Posted({"name": ["Ann"]}, {}))
    assert form.errors == {"kind": "Fill this in.", "drops": "Fill this in."}
