"""What the pages about outlines send."""

import json
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints

from app.platform.forms import BLANK_IS_NONE, Form, OptionalCount, OptionalText, Text
from app.records.outline_actions import Landmarks

FEWEST_LANDMARKS, MOST_LANDMARKS = 2, 4
Drawn = Annotated[Text, StringConstraints(min_length=1, max_length=2_000_000)]
Millimetres = Annotated[Annotated[float, Field(ge=3, le=100, allow_inf_nan=False)] | None, BLANK_IS_NONE]
Pixel = Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)]


class DrawOutlines(Form):
    """`seen` is the version on file when the page was opened, 0 for none; `carried_from` the outlines it began with."""

    outlines: Drawn
    pitch_mm: Millimetres = None
    seen: OptionalCount = None
    second: Literal["", "1"] = ""
    carried_from: OptionalCount = None


class GrowOutline(Form):
    """A tapped point in px of the upright photo, and a factor by which more or less is taken than by itself."""

    x: Pixel
    y: Pixel
    tolerance: Annotated[float, Field(ge=0.1, le=10, allow_inf_nan=False)]


class ProposeRing(Form):
    outlines: Drawn


def _landmarks(text: str) -> str:
    read_landmarks(text)
    return text


class CarryOutlines(Form):
    """Whose outlines are carried over; by hand also pairs of landmarks [[[x, y] there, [x, y] here], …]."""

    source: int
    landmarks: Annotated[OptionalText, StringConstraints(max_length=2000), AfterValidator(_landmarks)] = ""


def read_landmarks(text: str) -> Landmarks:
    """Pairs of points, none for an empty text; ValueError with a sentence otherwise."""
    if not text:
        return []
    try:
        pairs = [((float(a), float(b)), (float(c), float(d))) for (a, b), (c, d) in json.loads(text)]
    except (ValueError, TypeError, RecursionError):
        raise ValueError("The landmarks could not be read. Place them again.") from None
    if not all(0 <= number <= 100_000 for pair in pairs for point in pair for number in point):
        raise ValueError("A landmark lies outside the photo.")
    if not FEWEST_LANDMARKS <= len(pairs) <= MOST_LANDMARKS:
        raise ValueError(f"Place {FEWEST_LANDMARKS} to {MOST_LANDMARKS} landmarks on both photos.")
    return pairs
