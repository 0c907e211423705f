"""Four corners of a chart or a grey card that somebody placed on a photo, in px of the upright photo."""

import json
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from app.colour.geometry import area_px2
from app.colour.spaces import FloatArray
from app.platform.audit import canonical

Kind = Literal["chart", "grey"]
# A chart of 6 by 4 patches with 10 px each way for a patch; a smaller one has too few pixels to read. Our choice.
SMALLEST_PX2: dict[Kind, float] = {"chart": 60.0 * 40.0, "grey": 400.0}


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """What was placed, and its corners (4, 2) in the order they were placed, clockwise as seen."""

    kind: Kind
    corners: FloatArray

    def text(self) -> str:
        return canonical({"kind": self.kind, "corners": self.corners.round(1).tolist()})


def placed_of(text: str) -> Placed | None:
    """What stands in a photo's row; None when nobody placed anything."""
    if not text:
        return None
    kept: dict[str, Any] = json.loads(text)
    return Placed("grey" if kept["kind"] == "grey" else "chart", np.array(kept["corners"], dtype=np.float64))


def checked(kind: Kind, corners: FloatArray, width: int, height: int) -> Placed:
    """Four corners that can be read. They may be given either way round: a chart seen in a photo is never mirrored.

    Raises ValueError with a sentence for the artist.
    """
    if np.any(corners < 0) or np.any(corners > [width, height]):
        raise ValueError("A corner lies outside the photo.")
    turns = _turns(corners)
    if not (np.all(turns > 0) or np.all(turns < 0)):
        raise ValueError("Place the corners one after the other round the edge: these four cross or lie in a line.")
    if area_px2(corners) < SMALLEST_PX2[kind]:
        raise ValueError("These four corners lie too close together to read anything between them.")
    if np.all(turns < 0):
        corners = corners[[0, 3, 2, 1]]
    return Placed(kind, corners)


def _turns(corners: FloatArray) -> FloatArray:
    """At each corner the cross product of its two sides: all above 0 when they go round clockwise, y down."""
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    return np.asarray(sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0], dtype=np.float64)
