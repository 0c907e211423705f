"""Outlines as a page sends and gets them: compact JSON in px of the upright photo, each piece with its holes.

{"scar": [{"outer": [[x, y], …], "holes": [[[x, y], …]]}], "skin": […]}; a plain list of points has no holes.
"""

import json
from collections.abc import Iterable
from typing import Any

import numpy as np

from app.colour.geometry import Piece, bounding_box, checked_piece, mask_within
from app.records.selectors import MOST_PIECES, ROLES, Outlines, Role

__all__ = ["Outlines", "for_page", "pieces_for_page", "read_outlines", "read_scar", "said_of"]

NAMES: dict[Role, str] = {"scar": "the scar", "skin": "the skin around it"}
# Checked side against side in the request: more would hold it up. A hand draws some hundred; our choice.
MOST_POINTS_IN_ALL = 8000
UNREADABLE = "The outlines could not be read. Draw them again."


def read_outlines(text: str, width: int, height: int) -> Outlines:
    """Outlines that can be measured; ValueError with a sentence for the artist otherwise."""
    given = _json(text)
    outlines = Outlines(*(_pieces(given.get(role), role, width, height) for role in ROLES))
    box = bounding_box(outlines.skin, width, height)
    if not (mask_within(outlines.skin, box) & ~mask_within(outlines.scar, box)).any():
        raise ValueError("The outline of the skin lies wholly inside the scar. Draw it on plain skin beside the scar.")
    return outlines


def read_scar(text: str, width: int, height: int) -> tuple[Piece, ...]:
    """The scar alone, as it stands before the skin is outlined."""
    return _pieces(_json(text).get("scar"), "scar", width, height)


def _json(text: str) -> dict[str, Any]:
    try:
        given = json.loads(text)
    except (ValueError, RecursionError):
        raise ValueError(UNREADABLE) from None
    if not isinstance(given, dict):
        raise ValueError(UNREADABLE)
    return given


def _pieces(given: Any, role: Role, width: int, height: int) -> tuple[Piece, ...]:
    if not isinstance(given, list) or not given:
        raise ValueError(f"Outline {NAMES[role]} as well: a reading compares the two.")
    if len(given) > MOST_PIECES:
        raise ValueError(f"Draw at most {MOST_PIECES} outlines of {NAMES[role]}.")
    if sum(_points_of(one) for one in given) > MOST_POINTS_IN_ALL:
        raise ValueError(f"The outlines of {NAMES[role]} have too many points. Draw them with fewer.")
    checked = []
    for number, one in enumerate(given, start=1):
        outer, holes = (one.get("outer") or [], one.get("holes", [])) if isinstance(one, dict) else (one, [])
        if not isinstance(holes, list):
            raise ValueError(UNREADABLE)
        try:
            piece = checked_piece(outer, holes, width, height)
        except ValueError as reason:
            which = f" {number}" if len(given) > 1 else ""
            raise ValueError(f"Outline{which} of {NAMES[role]}: {reason}") from reason
        checked.append(piece)
        if number > 1 and role == "scar" and _lie_over(checked[:-1], piece, width, height):
            raise ValueError(f"Outline {number} of the scar lies over another: its area would count twice. Delete one "
                             "of them, or draw both as one.")
    return tuple(checked)


def _points_of(one: Any) -> int:
    held = one.get("holes") if isinstance(one, dict) else None
    lines = [one.get("outer"), *(held if isinstance(held, list) else ())] if isinstance(one, dict) else [one]
    return sum(len(line) for line in lines if isinstance(line, list))


def _lie_over(others: Iterable[Piece], piece: Piece, width: int, height: int) -> bool:
    """Whether a piece covers more of the others than the line between neighbours, as they are rounded to whole px."""
    box = bounding_box((piece,), width, height)
    own = mask_within((piece,), box)
    shared = int((own & mask_within(tuple(others), box)).sum())
    edge = sum(float(np.abs(np.diff(ring, axis=0, append=ring[:1])).max(axis=1).sum()) for ring in piece.rings)
    return shared > 2 * edge + 4


def pieces_for_page(pieces: Iterable[Piece]) -> list[dict[str, Any]]:
    return [{"outer": piece.outer.round(1).tolist(), "holes": [hole.round(1).tolist() for hole in piece.holes]}
            for piece in pieces]


def for_page(outlines: Outlines) -> str:
    """The compact JSON that the drawing tool begins with."""
    return json.dumps({role: pieces_for_page(outlines.of(role)) for role in ROLES}, separators=(",", ":"))


def said_of(outlines: Outlines) -> str:
    """How many pieces and holes, in words."""
    return "; ".join(f"{NAMES[role]}: {_counted(outlines.of(role))}" for role in ROLES)


def _counted(pieces: tuple[Piece, ...]) -> str:
    holes = sum(len(piece.holes) for piece in pieces)
    words = f"{len(pieces)} {'piece' if len(pieces) == 1 else 'pieces'}"
    return f"{words} with {holes} {'hole' if holes == 1 else 'holes'}" if holes else words
