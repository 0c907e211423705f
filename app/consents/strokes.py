"""The lines of a drawn signature as they were drawn, kept beside its picture so that it can be drawn again.

Only where the pen went is kept. Speed and pressure would make it a measure of the person, which nobody here needs.
"""

import json
import math
from typing import Any

MAX_TEXT = 200_000  # characters on their way in: a long signature has about 20,000
MAX_LINES = 400
MAX_POINTS = 8_000
MAX_EDGE = 10_000  # pixels: no screen is larger

Line = list[list[float]]


class Unreadable(ValueError):
    """Not the lines of a signature."""


def read_strokes(text: str) -> str:
    """The lines as canonical JSON: a list of lines, each a list of points (x, y) in pixels, to a tenth; "" for none.

    Raises Unreadable for anything else, for more than 400 lines or 8,000 points, and for points off any screen.
    """
    if not text:
        return ""
    if len(text) > MAX_TEXT:
        raise Unreadable("too long")
    try:
        given = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Unreadable("no JSON") from error
    if not isinstance(given, list) or len(given) > MAX_LINES:
        raise Unreadable("no list of lines")
    lines = [_line(line) for line in given]
    if sum(map(len, lines)) > MAX_POINTS:
        raise Unreadable("too many points")
    return json.dumps(lines, separators=(",", ":")) if lines else ""


def _line(line: Any) -> Line:
    if not isinstance(line, list) or not line:
        raise Unreadable("an empty line")
    return [_point(point) for point in line]


def _point(point: Any) -> list[float]:
    if not isinstance(point, list) or len(point) != 2:
        raise Unreadable("a point is two numbers")
    for number in point:
        if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(number):
            raise Unreadable("a point is two numbers")
        if abs(number) > MAX_EDGE:
            raise Unreadable("a point off the screen")
    return [round(float(point[0]), 1), round(float(point[1]), 1)]
