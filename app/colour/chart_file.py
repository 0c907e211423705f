"""Reading a chart's values from a small table that somebody typed or exported: name, L, a, b on each line."""

from __future__ import annotations

import csv
import math

import numpy as np

from app.colour.chart_reference import (
    LIGHTEST,
    MOST_A_SIDE,
    STRONGEST,
    ChartValues,
    NotAChart,
    White,
    lab_d65_from_lab_d50,
)

MOST_LINES = MOST_A_SIDE**2 + 1
# More than a screenful of sentences helps nobody.
MOST_MESSAGES = 8
HEADINGS = {"name": "name", "patch": "name", "l": "l", "l*": "l", "a": "a", "a*": "a", "b": "b", "b*": "b"}
COLUMNS = ("name", "l", "a", "b")


def read_values(text: str, white: White) -> ChartValues:
    """Names and colours of patches from lines of "name,L,a,b", row by row from the chart's own top left.

    Takes: text, parted by commas, semicolons or tabs (with the last two a comma may stand for the decimal point); a
    first line of headings may name the columns in another order; empty lines and lines that begin with # are left
    out. white: for which the L*a*b* values were measured, 2 degree observer.
    Gives: ChartValues, for D65. Raises NotAChart with a sentence for each line that is wrong.
    Source: a list of our own.

    >>> read_values("name,L,a,b\\nwhite,96,-0.5,1.5", "D65").lab_d65.tolist()
    [[96.0, -0.5, 1.5]]
    """
    lines = [
        (number, line)
        for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise NotAChart(["The list is empty: give each patch a line with its name, L, a and b."])
    if len(lines) > MOST_LINES:
        raise NotAChart([f"The list has {len(lines)} lines; a chart has at most {MOST_LINES - 1} patches."])
    parting = next((mark for mark in ("\t", ";") if mark in lines[0][1]), ",")
    order, lines = _order(lines, parting)
    names: dict[str, int] = {}
    colours, wrong = [], []
    for number, line in lines:
        try:
            name, colour = _patch(line, parting, order)
            if name.casefold() in names:
                raise ValueError(f"“{name}” stands on line {names[name.casefold()]} already.")
            names[name.casefold()] = number
            colours.append((name, colour))
        except ValueError as reason:
            wrong.append(f"Line {number}: {reason}")
    if wrong:
        more = len(wrong) - MOST_MESSAGES
        raise NotAChart(wrong[:MOST_MESSAGES] + ([f"And {more} more lines."] if more > 0 else []))
    lab = np.array([colour for _, colour in colours], dtype=np.float64).reshape(-1, 3)
    return ChartValues(tuple(name for name, _ in colours), lab if white == "D65" else lab_d65_from_lab_d50(lab))


def _cells(line: str, parting: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=parting))]


def _order(lines: list[tuple[int, str]], parting: str) -> tuple[list[str], list[tuple[int, str]]]:
    """What each column is, and the lines without the headings."""
    heads = [HEADINGS.get(cell.lower(), "") for cell in _cells(lines[0][1], parting)]
    if set(COLUMNS) <= set(heads):
        return heads, lines[1:]
    return list(COLUMNS), lines


def _patch(line: str, parting: str, order: list[str]) -> tuple[str, tuple[float, float, float]]:
    cells = _cells(line, parting)
    if len(cells) < len(order):
        raise ValueError(f"a name and the three numbers L, a and b are needed; {len(cells)} are there.")
    by_column = dict(zip(order, cells, strict=False))
    name = by_column["name"][:60]
    if not name or not name.isprintable():
        raise ValueError("the patch has no name.")
    light, red, yellow = (_number(by_column[axis], axis, parting) for axis in ("l", "a", "b"))
    if not 0 <= light <= LIGHTEST:
        raise ValueError(f"L is {light:g}; lightness runs from 0 to 100.")
    if math.hypot(red, yellow) > STRONGEST:
        raise ValueError(f"a {red:g} and b {yellow:g} are stronger than any paint.")
    return name, (light, red, yellow)


def _number(cell: str, axis: str, parting: str) -> float:
    plain = cell.replace("−", "-")
    try:
        number = float(plain.replace(",", ".") if parting != "," else plain)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        shown = {"l": "L"}.get(axis, axis)
        raise ValueError(f"{shown} is “{cell[:20]}”, which is not a number." if cell else f"{shown} is missing.")
    return number
