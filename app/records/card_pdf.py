"""A capture card as a PDF: a marker, a bar of 100 mm and plain grey, all drawn and none of it in colour."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

from app.colour.marker import FIELDS, marker_bits
from app.platform.pdf import make_pdf
from app.records.capture_models import CaptureCard

TEMPLATE = str(Path("records") / "card.typ")
Paper = Literal["a5", "half_letter"]
PAPER_MM: dict[Paper, tuple[float, float]] = {"a5": (148.0, 210.0), "half_letter": (139.7, 215.9)}
PAPER_WORDS: dict[Paper, str] = {"a5": "A5", "half_letter": "half letter"}
# Neighbouring black fields overlap by this, so that no viewer or printer leaves a white hair between them.
OVERLAP_MM = 0.05


@dataclass(frozen=True)
class Field:
    """A black rectangle of the marker, in mm from its top left corner."""

    x: float
    y: float
    w: float
    h: float


def black_fields(marker_id: int, side_mm: float) -> tuple[Field, ...]:
    bits, step = marker_bits(marker_id), side_mm / FIELDS
    drawn = []
    for row in range(FIELDS):
        for column in range(FIELDS):
            if bits[row, column]:
                right = column + 1 < FIELDS and bits[row, column + 1]
                below = row + 1 < FIELDS and bits[row + 1, column]
                drawn.append(Field(column * step, row * step, step + OVERLAP_MM * right, step + OVERLAP_MM * below))
    return tuple(drawn)


def card_data(card: CaptureCard, paper: Paper, studio_name: str) -> dict[str, Any]:
    """What the template is filled with."""
    width, height = PAPER_MM[paper]
    at = card.printed_at
    return {
        "studio": studio_name,
        "number": card.marker_id,
        "width": width,
        "height": height,
        "marker": card.marker_mm,
        "fields": [asdict(each) for each in black_fields(card.marker_id, card.marker_mm)],
        "date": [at.year, at.month, at.day],
    }


def make_card_pdf(card: CaptureCard, paper: Paper, studio_name: str) -> bytes:
    return make_pdf(TEMPLATE, card_data(card, paper, studio_name))
