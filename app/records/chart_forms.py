"""What an owner may send about the studio's own charts and grey cards."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, FiniteFloat, StringConstraints

from app.colour.chart_reference import LIGHTEST, MOST_A_SIDE
from app.platform.forms import Form, Posted, Text

MOST_BYTES = 64 * 1024


def _as_number(value: Any) -> Any:
    """Keyboards and instruments write a minus and a decimal comma in their own ways."""
    return value.strip().replace("−", "-").replace(",", ".") if isinstance(value, str) else value


def _number_or_none(value: Any) -> Any:
    return _as_number(value) or None if isinstance(value, str) else value


Name = Annotated[Text, StringConstraints(min_length=1, max_length=80)]
Source = Annotated[Text, StringConstraints(min_length=1, max_length=200)]
Side = Annotated[int, Field(ge=2, le=MOST_A_SIDE)]
# Charts from pocket size to a sheet of paper; the same limits as where a scale is made of it.
Pitch = Annotated[Annotated[FiniteFloat, Field(ge=3, le=100)] | None, BeforeValidator(_number_or_none)]
Lightness = Annotated[FiniteFloat, BeforeValidator(_as_number), Field(ge=20, le=LIGHTEST)]
Tint = Annotated[FiniteFloat, BeforeValidator(_as_number), Field(ge=-10, le=10)]
White = Literal["D50", "D65"]


class RegisterChart(Form):
    name: Name
    columns: Side
    rows: Side
    white: White
    values: Annotated[Text, StringConstraints(max_length=MOST_BYTES)] = ""
    values_from: Source
    pitch_mm: Pitch = None


class RegisterGreyCard(Form):
    name: Name
    white: White
    card_l: Lightness
    card_a: Tint
    card_b: Tint
    values_from: Source


class ChangeChart(Form):
    name: Name
    pitch_mm: Pitch = None
    revision: int


class ChartState(Form):
    go: Literal["default", "retire", "return"]
    revision: int


def with_file(posted: Posted) -> Posted:
    """The list of a chosen file in place of the typed one, so that it is read, and shown again, as if typed.

    Raises ValueError, in words for the owner, for what is no such list.
    """
    files = posted.files.get("file", [])
    if not files:
        return posted
    if len(files[0].content) > MOST_BYTES:
        raise ValueError("The file is larger than 64 kilobytes: it is no list of a chart's values.")
    try:
        text = files[0].content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError("The file is no plain text. Save it as CSV, in UTF-8, and choose it again.") from None
    return Posted({**posted.texts, "values": [text]}, {})
