"""Printed capture cards: which there are, and the scale that a photo of one may be given."""

from datetime import date
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.colour.marker import MARKER_COUNT, side_as_printed
from app.records.capture_models import CaptureCard
from app.studio import queries as studio_queries
from app.studio.access import NotFound

# Number 0 comes last: people count from one.
NUMBERS = (*range(1, MARKER_COUNT), 0)


def cards(db: Session) -> list[CaptureCard]:
    """Every card, those in use first."""
    made = select(CaptureCard).order_by(col(CaptureCard.retired_at).is_not(None), col(CaptureCard.id))
    return list(db.exec(made).all())


def card_for(db: Session, card_id: int) -> CaptureCard:
    card = db.get(CaptureCard, card_id)
    if card is None:
        raise NotFound
    return card


def card_with(db: Session, marker_id: int) -> CaptureCard | None:
    """The card that carries a marker, in use or retired: a number is never given twice."""
    return db.exec(select(CaptureCard).where(CaptureCard.marker_id == marker_id)).first()


def next_number(db: Session) -> int | None:
    """The next marker that no card ever carried; None when all are used up."""
    taken = set(db.exec(select(CaptureCard.marker_id)).all())
    return next((number for number in NUMBERS if number not in taken), None)


def scale_for(db: Session, marker_id: int, taken_on: date | None = None) -> float | None:
    """The true side of a card's marker in mm; None when it is no card of the studio, its bar was not measured, or it
    was retired. A photo taken before the day of retiring keeps its scale."""
    card = card_with(db, marker_id)
    if card is None or card.bar_mm is None:
        return None
    if card.retired_at is not None:
        retired_on = card.retired_at.astimezone(ZoneInfo(studio_queries.studio(db).time_zone)).date()
        if taken_on is None or taken_on >= retired_on:
            return None
    return side_as_printed(card.marker_mm, card.bar_mm)

