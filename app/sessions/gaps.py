"""What a record of a session still lacks: the lots of what was used. Unreadable, no pigment used and stopped before
work are answers, not gaps."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

COLOUR_KINDS = ("strong", "skin_tone", "white")


@dataclass(frozen=True)
class UsedLot:
    id: int
    zone_id: int | None
    kind: str
    label: str
    lot: str
    is_unreadable: bool


@dataclass(frozen=True)
class WorkedZone:
    id: int
    name: str
    no_pigment: bool
    is_untouched: bool


@dataclass(frozen=True)
class Gap:
    """One thing to find: a needle, the pigment of a zone, or the lot of an item that is on file."""

    about: Literal["needle", "zone", "item"]
    id: int
    words: str

    @property
    def key(self) -> str:
        return self.about if self.about == "needle" else f"{self.about}_{self.id}"


def gaps(kind: str, state: str, zones: Sequence[WorkedZone], used: Sequence[UsedLot]) -> tuple[Gap, ...]:
    """What is missing: needle, zone by zone, lots. Nothing is asked for when work stopped before it began."""
    touched = [zone for zone in zones if not zone.is_untouched]
    if state == "stopped_before_work":
        touched = []
    found: list[Gap] = []
    # A patch may be laid on without a needle, so none is asked for (common practice, no source).
    if touched and kind != "allergy_patch" and not any(item.kind == "needle" for item in used):
        found.append(Gap("needle", 0, "the needle and its lot"))
    for zone in touched:
        held = [item for item in used if item.kind in COLOUR_KINDS and item.zone_id in (None, zone.id)]
        if not held and not zone.no_pigment:
            found.append(Gap("zone", zone.id, f"the pigments of {zone.name}"))
    unknown = [item for item in used if not item.lot and not item.is_unreadable]
    found += [Gap("item", item.id, f"the lot of {item.label}") for item in unknown]
    return tuple(found)
