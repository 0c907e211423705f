"""Outlines as they are stored: W3C Web Annotations whose targets are SVG selectors, in px of the upright original.

A page of annotations holds one for the scar and one for the skin around it. The selector of each is an SVG with one
path for every piece: its outer ring and its holes, filled by the even-odd rule. What reads them takes this subset and
nothing else of SVG: one kind of element, closed rings of absolute M, L and Z, plain numbers. Rows from before hold
{"scar": [[[x, y], …]], "skin": […]}, outlines without holes, and are read as well.

Source: W3C Web Annotation Data Model (2017), 4.2.8 SVG Selector and 5.2 Annotation Page; SVG 1.1, 8.3 path data.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from app.colour.geometry import MOST_HOLES, MOST_POINTS, Piece
from app.colour.spaces import FloatArray

Role = Literal["scar", "skin"]
ROLES: tuple[Role, ...] = ("scar", "skin")
CONTEXT = "http://www.w3.org/ns/anno.jsonld"
OPENS, CLOSES = '<svg xmlns="http://www.w3.org/2000/svg">', "</svg>"
LONGEST_TEXT = 4_000_000  # 40 pieces of either kind with 2000 points each stay under it: our choice
MOST_PIECES = 40  # of one kind on one photo: our choice; a stretch-marked thigh has about twenty
PATH = re.compile(r'<path fill-rule="evenodd" d="([MLZ0-9. ]{1,800000})"/>')
POINT = r"[0-9]{1,6}(?:\.[0-9]{1,3})? [0-9]{1,6}(?:\.[0-9]{1,3})?"
RING = re.compile(rf"M ({POINT})((?: L {POINT}){{2,{MOST_POINTS}}}) Z(?: |$)")


@dataclass(frozen=True, eq=False)
class Outlines:
    """Pieces of the scar and of the skin around it, in px of the upright photo."""

    scar: tuple[Piece, ...]
    skin: tuple[Piece, ...]

    def of(self, role: Role) -> tuple[Piece, ...]:
        return self.scar if role == "scar" else self.skin


def write(outlines: Outlines, source: str = "photo") -> str:
    """Canonical JSON of the annotations; `source` names the photo they are made on."""
    items = [_annotation(role, outlines.of(role), source) for role in ROLES]
    page = {"@context": CONTEXT, "type": "AnnotationPage", "items": items}
    return json.dumps(page, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _annotation(role: Role, pieces: tuple[Piece, ...], source: str) -> dict[str, Any]:
    paths = "".join(f'<path fill-rule="evenodd" d="{path_of(piece)}"/>' for piece in pieces)
    return {
        "type": "Annotation",
        "body": {"type": "TextualBody", "purpose": "tagging", "value": role},
        "target": {"source": source, "selector": {"type": "SvgSelector", "value": f"{OPENS}{paths}{CLOSES}"}},
    }


def path_of(piece: Piece) -> str:
    """SVG path data of a piece, to a tenth of a px."""
    return " ".join(f"M {' L '.join(_point(x, y) for x, y in ring)} Z" for ring in piece.rings)


def _point(x: float, y: float) -> str:
    # A zero may carry a minus, which the selectors do not know; adding zero takes it away.
    return " ".join(f"{value + 0.0:.1f}".rstrip("0").rstrip(".") or "0" for value in (x, y))


def read(text: str) -> Outlines:
    """Outlines as they were stored, now or before; ValueError for anything else."""
    if len(text) > LONGEST_TEXT:
        raise ValueError("these outlines are too long")
    try:
        given = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise ValueError("these outlines are no JSON") from error
    if not isinstance(given, dict):
        raise ValueError("these outlines are no page of annotations")
    if "items" not in given:
        return Outlines(*(tuple(_old_pieces(given.get(role))) for role in ROLES))
    if given.get("@context") != CONTEXT or given.get("type") != "AnnotationPage":
        raise ValueError("these outlines are no page of annotations")
    selectors = dict(_selectors(given["items"]))
    if set(selectors) != set(ROLES):
        raise ValueError("there is one annotation for the scar and one for the skin")
    return Outlines(*(tuple(_pieces(selectors[role])) for role in ROLES))


def _selectors(items: Any) -> Iterator[tuple[str, str]]:
    if not isinstance(items, list) or len(items) != len(ROLES):
        raise ValueError("there is one annotation for the scar and one for the skin")
    for item in items:
        try:
            role, selector = item["body"]["value"], item["target"]["selector"]
            kind, value = selector["type"], selector["value"]
        except (KeyError, TypeError, IndexError):
            raise ValueError("this is no annotation with a selector") from None
        if kind != "SvgSelector" or not isinstance(value, str) or role not in ROLES:
            raise ValueError("this is no annotation with an SVG selector")
        yield role, value


def _pieces(svg: str) -> Iterator[Piece]:
    """The pieces of one selector; every character of it has to be accounted for."""
    if not svg.startswith(OPENS) or not svg.endswith(CLOSES):
        raise ValueError("this selector is no plain SVG")
    inside, at = svg[len(OPENS) : len(svg) - len(CLOSES)], 0
    for count, found in enumerate(PATH.finditer(inside), 1):
        if found.start() != at or count > MOST_PIECES:
            raise ValueError("this selector holds more than paths")
        at = found.end()
        yield _piece(found[1])
    if at != len(inside) or not inside:
        raise ValueError("this selector holds more than paths")


def _piece(path: str) -> Piece:
    rings: list[FloatArray] = []
    at = 0
    for found in RING.finditer(path):
        if found.start() != at or len(rings) > MOST_HOLES:
            break
        at = found.end()
        numbers = (found[1] + found[2].replace(" L ", " ")).split(" ")
        rings.append(np.array(numbers, dtype=np.float64).reshape(-1, 2))
    if at != len(path) or not rings:
        raise ValueError("this path holds more than closed rings of straight lines")
    return Piece(rings[0], tuple(rings[1:]))


def _old_pieces(given: Any) -> Iterator[Piece]:
    if not isinstance(given, list) or not given or len(given) > MOST_PIECES:
        raise ValueError("these are no outlines")
    for points in given:
        try:
            ring = np.array(points, dtype=np.float64)
        except (TypeError, ValueError):
            raise ValueError("an outline is a list of points") from None
        if ring.ndim != 2 or ring.shape[1] != 2 or not 3 <= len(ring) <= MOST_POINTS or not np.isfinite(ring).all():
            raise ValueError("an outline is a list of points")
        yield Piece(ring)
