"""Outlines as the page sends them: JSON with scar and skin, each a list of closed curves in px of the upright photo."""

import json
from dataclasses import dataclass
from typing import Any

from app.colour.geometry import bounding_box, checked_outline, mask_within
from app.colour.spaces import FloatArray

MOST_PIECES = 40  # of one kind on one photo: our choice; a stretch-marked thigh has about twenty
NAMES = {"scar": "the scar", "skin": "the skin around it"}


@dataclass(frozen=True, eq=False)
class Outlines:
    """Checked curves, each (n, 2) px, x then y."""

    scar: tuple[FloatArray, ...]
    skin: tuple[FloatArray, ...]

    def to_dict(self) -> dict[str, Any]:
        return {"scar": [c.round(1).tolist() for c in self.scar], "skin": [c.round(1).tolist() for c in self.skin]}


def read_outlines(text: str, width: int, height: int) -> Outlines:
    """Outlines that can be measured; ValueError with a sentence for the artist otherwise."""
    try:
        given = json.loads(text)
    except (ValueError, RecursionError):
        raise ValueError("The outlines could not be read. Draw them again.") from None
    if not isinstance(given, dict):
        raise ValueError("The outlines could not be read. Draw them again.")
    scar, skin = (_curves(given.get(role), role, width, height) for role in ("scar", "skin"))
    box = bounding_box(skin, width, height)
    if not (mask_within(skin, box) & ~mask_within(scar, box)).any():
        raise ValueError("The outline of the skin lies wholly inside the scar. Draw it on plain skin beside the scar.")
    return Outlines(scar, skin)


def _curves(given: Any, role: str, width: int, height: int) -> tuple[FloatArray, ...]:
    if not isinstance(given, list) or not given:
        raise ValueError(f"Outline {NAMES[role]} as well: a reading compares the two.")
    if len(given) > MOST_PIECES:
        raise ValueError(f"Draw at most {MOST_PIECES} outlines of {NAMES[role]}.")
    checked = []
    for number, points in enumerate(given, start=1):
        try:
            checked.append(checked_outline(points, width, height))
        except ValueError as reason:
            which = f" {number}" if len(given) > 1 else ""
            raise ValueError(f"Outline{which} of {NAMES[role]}: {reason}") from reason
    return tuple(checked)
