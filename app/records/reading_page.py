"""A reading in full, as the page of its photo shows it: drawings, figures with intervals, what they rest on."""

import json
from dataclasses import dataclass
from typing import cast

from sqlmodel import Session

from app.colour.difference_map import DARKER, LIGHTER, WITHIN
from app.colour.reading import METHOD_VERSION
from app.colour.reading import Reading as Measured
from app.colour.spaces import lab_to_srgb8_hex
from app.colour.thresholds import LIMITS, SkinClass, ita_words
from app.colour.uncertainty import repeated
from app.records.camera_queries import drift_of
from app.records.capture_models import CaptureCard
from app.records.card_queries import scale_for
from app.records.examination_queries import readings_of_photo
from app.records.models import OutlineSet, Photo, Reading
from app.records.observers import frame_round
from app.records.photo_view import PhotoView
from app.records.photo_words import ReadingWords, area_words, reading_words, skin_class_of
from app.records.reading_scales import DifferenceScale, Direction, difference_scale, directions
from app.records.selectors import ROLES, path_of
from app.records.selectors import read as read_outlines

EARLIER_METHOD = "This reading was made by an earlier method. It stays as it is; measuring again adds one by today’s."
SCALE_SINCE = "The bar of the card in this photo has been measured since: measured again, the reading has an area."
NO_CARD_LENGTH = "No area: card {number} lies in this photo, but nobody typed the measured length of its bar yet."
NO_SCALE = ("No area: nothing in this photo gives its scale. Lay a capture card beside the scar, or give, with the "
            "outlines, the distance from one patch of the chart to the next.")


@dataclass(frozen=True)
class Older:
    """A reading of the same photo that a newer one stands before."""

    row: Reading
    version: int
    said: ReadingWords


@dataclass(frozen=True)
class ReadingPage:
    """What the page of a photo says of its standing reading; empty texts and None where there is nothing to say."""

    row: Reading
    version: int
    said: ReadingWords
    drawn: tuple[tuple[str, tuple[str, ...]], ...]  # (scar or skin, its pieces as SVG paths in px of the photo)
    around: tuple[int, int, int, int]  # the part of the photo that holds them: x, y, width, height in px
    scale: DifferenceScale | None
    directions: tuple[Direction, ...]
    share: str
    map_words: str
    map_colours: tuple[tuple[str, str], ...]  # (#rrggbb, what it stands for)
    evenness: str
    angle: str
    area: str
    area_note: str
    card_to_measure: int | None
    rests_on: str
    drift: str
    again: tuple[str, ...]
    older: tuple[Older, ...]


def reading_page(db: Session, view: PhotoView) -> ReadingPage | None:
    """The photo's standing reading in full; None when there is none, or when another is on its way."""
    made = [] if view.is_measuring else readings_of_photo(db, view.photo)
    if not made:
        return None
    row, drawn = made[0]
    kept = Measured.from_dict(json.loads(row.result))
    skin = skin_class_of(kept, view.case.skin_class)
    card = db.get(CaptureCard, view.photo.card_id) if view.photo.card_id is not None else None
    area, area_note = _area(kept, card)
    has_area = bool(area_words(kept))
    outlines = read_outlines(drawn.outlines)
    pieces = tuple(piece for role in ROLES for piece in outlines.of(role))
    return ReadingPage(
        row, drawn.version, reading_words(row, view.case.skin_class),
        drawn=tuple((role, tuple(path_of(piece) for piece in outlines.of(role))) for role in ROLES),
        around=frame_round(pieces, view.photo.width, view.photo.height),
        scale=None if kept.low is None or kept.high is None or skin is None else difference_scale(
            kept.low, kept.high, skin),
        directions=_directions(kept),
        share=_share(kept, row, skin),
        map_words=_map_words(skin) if row.map_id is not None and skin else "",
        map_colours=_map_colours() if row.map_id is not None else (),
        evenness=_evenness(kept),
        angle="" if kept.ita_deg is None else ita_words(kept.ita_deg),
        area=area, area_note=area_note,
        card_to_measure=card.id if card is not None and card.bar_mm is None and not has_area else None,
        rests_on=_rests_on(kept),
        drift=_drift(db, view.photo, kept),
        again=_again(db, view.photo, row, has_area),
        older=tuple(_older(one, on, view.case.skin_class) for one, on in made[1:]))  # fmt: skip


def _older(row: Reading, drawn: OutlineSet, case_skin_class: str) -> Older:
    return Older(row, drawn.version, reading_words(row, case_skin_class))


def _directions(kept: Measured) -> tuple[Direction, ...]:
    if kept.delta_l is None or kept.delta_a is None or kept.delta_b is None:
        return ()
    return directions((kept.delta_l, kept.delta_a, kept.delta_b))


def _share(kept: Measured, row: Reading, skin: SkinClass | None) -> str:
    if row.share_within is None or skin is None:
        return ""
    low = row.share_within if kept.share_low is None else kept.share_low
    high = row.share_within if kept.share_high is None else kept.share_high
    within = f"{low:.0%}" if f"{low:.0%}" == f"{high:.0%}" else f"{100 * low:.0f} to {high:.0%}"
    within = {"0%": "Nothing", "100%": "All"}.get(within, within).replace("%", " %")
    return f"{within} of the scar lies within the match limit ({LIMITS[skin].match:g} ΔE00 for {skin} skin)."


def _map_words(skin: SkinClass) -> str:
    limits = LIMITS[skin]
    return (f"The stronger, the further: in steps at {limits.match:g}, {limits.close:g} and {limits.visible:g} ΔE00. "
            "Striped where the difference is more one of red or yellow than of lightness.")


def _map_colours() -> tuple[tuple[str, str], ...]:
    shown = ((WITHIN, "within the match limit"), (LIGHTER[1], "lighter than the skin"),
             (DARKER[1], "darker than the skin"))
    return tuple((lab_to_srgb8_hex(lab), words) for lab, words in shown)


def _evenness(kept: Measured) -> str:
    if kept.evenness is None:
        return ""
    return (f"{kept.evenness.words} A typical part of the scar lies {kept.evenness.scar:.1f} ΔE00 from its middle "
            f"colour, a typical part of the skin {kept.evenness.skin:.1f}.")


def _area(kept: Measured, card: CaptureCard | None) -> tuple[str, str]:
    """The area with its interval and what it stands on, or why there is none."""
    if known := area_words(kept):
        return f"Area of the scar: {known}.", kept.area.note if kept.area else ""
    if card is not None and card.bar_mm is None:
        return NO_CARD_LENGTH.format(number=card.marker_id), ""
    return ("" if kept.lab_scar is None else NO_SCALE), ""


def _rests_on(kept: Measured) -> str:
    if kept.reference == "grey":
        return ("White balance and exposure come from a grey card alone: the interval is wider than with a colour "
                "chart, and redness and yellowness are the least sure.")
    if kept.lab_scar is None or kept.left_out_mean is None:
        return ""
    is_known = kept.repeatability != repeated(None)
    whose = ("as this studio’s own photos do" if is_known
             else "as with an instrument: this studio’s own figure is not known yet")
    repeat = "" if kept.repeatability is None else (
        f" A colour photographed again is counted to differ by {kept.repeatability:.1f}, {whose}.")
    return (f"The colours rest on the chart in the photo, whose left-out patches miss by {kept.left_out_mean:.1f} on "
            f"average.{repeat}")


def _drift(db: Session, photo: Photo, kept: Measured) -> str:
    """What the control charts of the camera say of the photo's day, where its colours rest on a chart."""
    return drift_of(db, photo.camera, photo.taken_on) if kept.reference == "chart" and not photo.by_client else ""


def _again(db: Session, photo: Photo, row: Reading, has_area: bool) -> tuple[str, ...]:
    """Why these outlines may be measured once more."""
    reasons = [EARLIER_METHOD] if row.method_version != METHOD_VERSION else []
    if not has_area and photo.marker:
        marker = cast("int", json.loads(photo.marker)["id"])
        if scale_for(db, marker, photo.taken_on) is not None:
            reasons.append(SCALE_SINCE)
    return tuple(reasons)
