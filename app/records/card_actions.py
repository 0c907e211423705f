"""What changes printed capture cards."""

from sqlmodel import Session

from app.platform import clock
from app.platform.audit import Actor, audited
from app.platform.db import take_revision
from app.platform.forms import Refused
from app.records import card_queries
from app.records.capture_forms import MeasureBar, RetireCard
from app.records.capture_models import CaptureCard

# Large enough to be found in a picture of 640 px that shows a third of a metre, small enough to lie flat beside a scar
# on a forearm: our choice.
MARKER_MM = 25.0
USED_UP = "All 50 numbers have been given to cards. A number is never given twice, so there can be no further card."
RETIRED = "This card was retired. Make a new one."


@audited("records.card.made")
def make_card(db: Session, *, by: Actor) -> CaptureCard:
    """A card with a number of its own, to be printed once."""
    number = card_queries.next_number(db)
    if number is None:
        raise Refused("_form", USED_UP)
    card = CaptureCard(marker_id=number, marker_mm=MARKER_MM, printed_at=clock.now(),
                       printed_by=by.id if by.kind == "member" else None)
    db.add(card)
    return card


@audited("records.card.measured")
def measure_bar(db: Session, card: CaptureCard, form: MeasureBar, *, by: Actor) -> CaptureCard:
    """Keeps how long the bar of the print is; from then on the card gives a scale."""
    take_revision(card, form.revision)
    if card.retired_at is not None:
        raise Refused("bar_mm", RETIRED)
    card.bar_mm, card.measured_at = form.bar_mm, clock.now()
    card.measured_by = by.id if by.kind == "member" else None
    db.add(card)
    return card


@audited("records.card.retired")
def retire_card(db: Session, card: CaptureCard, form: RetireCard, *, by: Actor) -> CaptureCard:
    """Takes a lost or worn card out of use. Its number is never given again."""
    take_revision(card, form.revision)
    if card.retired_at is None:
        card.retired_at = clock.now()
        db.add(card)
    return card
