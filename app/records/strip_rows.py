"""One row of words in the strip: each stands where it touches nothing and can be read on what lies under it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.records.strip_ink import ink_on, words_width
from app.records.strip_shapes import Words

GroundKind = Literal["measured", "unknown", "future"]
SPACE = 6.0


@dataclass(frozen=True)
class Ground:
    """A stretch of one zone with one skin and one scar colour."""

    x0: float
    x1: float
    skin: str
    scar: str
    kind: GroundKind


def under(grounds: Sequence[Ground], left: float, right: float) -> tuple[Ground, ...]:
    return tuple(ground for ground in grounds if ground.x0 < right and ground.x1 > left)


@dataclass
class Row:
    """One line of words in a zone: what is in the way, and what has been placed so far."""

    baseline: float
    size: float
    left: float
    right: float
    grounds: Sequence[Ground]
    walls: list[float]
    placed: list[Words]

    def place(self, words: str, anchor: float, *, bold: bool = False, back: bool = False) -> bool:
        """Puts words right of an anchor, or with `back` before the next wall; says whether there was room."""
        width = words_width(words, self.size)
        spots = [(anchor + SPACE, "start")]
        if back:
            wall = min((one for one in self.walls if one > anchor + 1), default=self.right)
            spots.append((wall - SPACE - width, "end"))
        for left, edge in spots:
            candidate = self._at(words, left, width, bold, "end" if edge == "end" else "start")
            if candidate is not None:
                self.placed.append(candidate)
                return True
        return False

    def _at(self, words: str, left: float, width: float, bold: bool, edge: Literal["start", "end"]) -> Words | None:
        right = left + width
        if left < self.left or right > self.right - 2:
            return None
        if any(left - 3 < wall < right + 3 for wall in self.walls):
            return None
        if any(left < other.right + SPACE and other.left < right + SPACE for other in self.placed):
            return None
        colours = tuple(dict.fromkeys(ground.skin for ground in under(self.grounds, left, right)))
        ink = ink_on(colours)
        if ink is None:
            return None
        x = right if edge == "end" else left
        return Words(round(x, 1), self.baseline, words, self.size, width, bold, edge, ink, colours)
