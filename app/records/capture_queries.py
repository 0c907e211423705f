"""What guided capture shows: the frames of a zone, each with its last photo, and what is known of cards in view."""

from dataclasses import dataclass

from sqlmodel import Session, col, select

from app.records import card_queries
from app.records.looking import Light, Looked, Sharp
from app.records.models import Photo, Zone
from app.records.scars import FRAME_NAMES, FRAMES, ZONE_PURPOSES

# Distances that keep the frames alike from visit to visit (facts on photos; a suggestion, not a published figure).
FRAME_HINTS: dict[str, str] = {
    "context": "From about 1 metre.",
    "middle": "From about 60 cm, with the chart and the card.",
    "close": "From about 30 cm, with the chart and the card.",
    "oblique": "Only if it is raised or sunken.",
}
# Each sentence follows one line of the photo standard (facts on photos, with their sources there).
CHECKS: tuple[str, ...] = (
    "Stand square to the skin: the camera looks straight down on the scar.",
    "Use the same camera, lens and distance as last time. The last picture shows faintly, to be laid on this one.",
    "Light it evenly, from a window or two lamps, without flash and without direct sun.",
    "Lay the chart and the card beside the scar, never over it, and level with it.",
    "Put a plain matt cloth behind. Take off jewellery, and move clothes out of the way.",
    "Hold still, with both hands or on a stand.",
)
SHARP_WORDS: dict[Sharp, str] = {
    "sharp": "Sharp.",
    "soft": "A little soft: hold still and tap the scar to focus.",
    "blurred": "Blurred: hold still, or go a little further away.",
    "unknown": "",
}
LIGHT_WORDS: dict[Light, str] = {
    "even": "Even light.",
    "uneven": "The light falls off across the chart: turn towards the window or move the lamp.",
    "too_bright": "Too bright: move the lamp away or lower the exposure.",
    "too_dark": "Too dark: bring more light.",
    "unknown": "",
}

# Sharpness is read from the borders of the chart or a marker, and evenness from the chart.
UNTOLD = "Neither chart nor card is in view. See for yourself that it is sharp and evenly lit."


@dataclass(frozen=True)
class FrameLine:
    """One picture to take, and the last one like it."""

    code: str
    name: str
    words: str
    hint: str
    last: Photo | None


def frame_lines(db: Session, zone: Zone) -> list[FrameLine]:
    """The frames of a zone from far to near. A photo of which nobody said the frame stands in where there is no other
    but for the context, which it hardly ever shows."""
    taken = select(Photo).where(Photo.zone_id == zone.id, col(Photo.shown_id).is_not(None))
    taken = taken.where(col(Photo.purpose).in_(list(ZONE_PURPOSES)), ~col(Photo.by_client))
    last: dict[str, Photo] = {}
    for photo in db.exec(taken.order_by(col(Photo.taken_on), col(Photo.id))).all():
        last[photo.frame] = photo
    spare = {"middle": last.get(""), "close": last.get("")}
    return [FrameLine(code, FRAME_NAMES[code], words, FRAME_HINTS[code], last.get(code) or spare.get(code))
            for code, words in FRAMES.items()]


def looked_words(db: Session, looked: Looked, frame: str) -> str:
    """What the camera sees in a few sentences. The context is told nothing of a chart: it is too far away for one."""
    said = [_chart_words(looked, frame), _card_words(db, looked, frame), SHARP_WORDS[looked.sharp],
            LIGHT_WORDS[looked.light]]
    return " ".join(words for words in said if words) or UNTOLD


def _chart_words(looked: Looked, frame: str) -> str:
    if looked.chart:
        return "Chart in view."
    return "" if frame == "context" else "No colour chart in view: lay it beside the scar."


def _card_words(db: Session, looked: Looked, frame: str) -> str:
    if not looked.markers:
        return "" if frame == "context" else "No card in view."
    marker_id = looked.markers[0]
    if card_queries.scale_for(db, marker_id) is not None:
        return f"Card {marker_id} in view."
    card = card_queries.card_with(db, marker_id)
    if card is None:
        return "A marker is in view that is on no card of this studio: it gives no scale."
    why = "was retired" if card.retired_at is not None else "has a bar that was not measured yet"
    return f"Card {marker_id} in view, but it {why}: it gives no scale."
