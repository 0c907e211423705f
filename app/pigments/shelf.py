"""What is said of a bottle, box or tube: until when it may be used, in what state it is, and whether it is measured."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from app.colour.mixing import Paint
from app.pigments.models import PIGMENT_KINDS, Item, Swatch
from app.platform.pages import day_words

EXPIRES_SOON_DAYS = 30  # long enough to order a new one; our choice

KINDS = {"strong": "Strong pigment", "skin_tone": "Premixed skin tone", "white": "White", "diluent": "Diluent",
         "needle": "Needle", "numbing": "Numbing", "antiseptic": "Antiseptic", "dressing": "Dressing"}
HEADINGS = {"strong": "Pigments, strong", "skin_tone": "Pigments, premixed skin tones", "white": "Pigments, white",
            "diluent": "Diluents", "needle": "Needles", "numbing": "Numbing", "antiseptic": "Antiseptics",
            "dressing": "Dressings"}
STATES = {"usable": "Usable", "quarantined": "In quarantine", "recalled": "Recalled", "empty": "Empty"}


@dataclass(frozen=True)
class Line:
    """One item as the shelf shows it."""

    item: Item
    use_by: str
    state: str
    measured: str
    is_trusted: bool  # its mixtures can be predicted
    first: str  # what must be seen before the list: out of date, kept apart, running out; else nothing


def is_usable(item: Item, on: date) -> bool:
    """Usable, and not past its day: the last day itself still counts."""
    return item.state == "usable" and (item.use_by is None or item.use_by >= on)


def use_by_words(item: Item, on: date) -> str:
    if item.use_by is None:
        return "no use-by date on file"
    why = "after opening" if item.use_by != item.expires_on else "as printed"
    days = (item.use_by - on).days
    if days < 0:
        return f"out of date since {day_words(item.use_by)} ({why})"
    near = {0: ", today", 1: ", tomorrow"}.get(days, f", in {days} days") if days <= EXPIRES_SOON_DAYS else ""
    return f"use by {day_words(item.use_by)}{near} ({why})"


def state_words(item: Item) -> str:
    words = STATES[item.state]
    return f"{words}: {item.state_reason}" if item.state_reason and item.state != "usable" else words


def first_words(item: Item, on: date) -> str:
    """What someone at the shelf must know before anything else; nothing for an empty bottle."""
    if item.state == "empty":
        return ""
    said = []
    if item.state != "usable":
        said.append(state_words(item)[:1].lower() + state_words(item)[1:])
    if item.use_by is not None and (item.use_by - on).days <= EXPIRES_SOON_DAYS:
        said.append(use_by_words(item, on))
    if item.is_low:
        said.append("running low")
    return "; ".join(said)


def urgency(item: Item, on: date) -> tuple[bool, bool, date]:
    """Kept apart and out of date first, then what expires soonest."""
    return is_usable(item, on), item.use_by is None, item.use_by or date.max


def measured_words(item: Item, swatches: Sequence[Swatch], paint: Paint | None) -> str:
    """Whether mixtures with this bottle can be predicted, and how well."""
    if item.kind not in PIGMENT_KINDS:
        return ""
    if item.kind == "diluent":
        return "Thins the mix; its colour is left out of every prediction."
    if not swatches:
        return "Not measured: it can stand in an own mix, in no proposal."
    if paint is None:
        return "Measured only let down with white: measure it at full strength too."
    if paint.trust == "untrusted":
        tints = any(swatch.white_share > 0 for swatch in swatches)
        return "Not trustworthy yet: " + ("measure the white of its tint." if tints else "measure a tint in white.")
    return f"Measured; its mixes are off by about {paint.fit_error_delta_e_00:.1f} ΔE00."


def swatch_words(share: float) -> str:
    return "full strength" if share == 0 else f"tint, {share * 100:.3g} % white"


def doubts(kind: str, white_share: float, lab: tuple[float, float, float]) -> str:
    """Why typed numbers look mistyped, or nothing. The bounds are wide on purpose; our choice, no source."""
    lightness, a, b = lab
    chroma = (a * a + b * b) ** 0.5
    if kind == "white" and (lightness < 80 or chroma > 15):
        return "A white is usually above L* 80 and close to neutral."
    if kind == "skin_tone" and (not 15 <= lightness <= 92 or a < -2 or b < 0 or chroma > 60):
        return "A skin tone usually has L* from 15 to 92, a* and b* above 0, and little chroma."
    if white_share >= 0.5 and lightness < 40:
        return "A tint that is half white or more is usually above L* 40."
    if chroma > 100:
        return "So strong a colour is rare in a pigment."
    return ""
