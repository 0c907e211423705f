"""The alerts that answers raise, named so that an artist can raise the same by hand, and what each is called.

`setup` is an instruction that everybody sees, also the desk; `medical` is for artists and the owner. The words are
those of the shipped rules (a test holds them together).
"""

from dataclasses import dataclass
from typing import Literal

Audience = Literal["setup", "medical"]
OWN = "own"  # an alert in an artist's own words
CONTACT = "contact"


@dataclass(frozen=True)
class AlertKind:
    name: str
    words: str
    audience: Audience


KINDS: dict[str, AlertKind] = {
    "latex": AlertKind("Latex allergy", "Latex-free room.", "setup"),
    "adhesive": AlertKind("Plasters or film not tolerated", "No adhesive film or plasters.", "setup"),
    "no_numbing": AlertKind("Numbing not tolerated", "No numbing products.", "setup"),
    "antiseptic": AlertKind("A skin cleaner not tolerated", "Ask which skin cleaner to use.", "setup"),
    "may_faint": AlertKind("May faint", "May lie flat; extra time.", "setup"),
    "fits": AlertKind("May have a fit", "May have a fit: know the first aid, never alone.", "setup"),
    "pacemaker": AlertKind("Pacemaker or defibrillator", "Ask before using powered devices near the chest.", "setup"),
    CONTACT: AlertKind("Restricted contact", "Contact only as agreed: no messages left.", "setup"),
    "future_laser": AlertKind("Laser later", "No laser over treated skin without a test.", "medical"),
    "graft": AlertKind("Grafted skin", "Grafted skin: feeling may be less, no cold packs.", "medical"),
    "numb": AlertKind("Less feeling", "Less feeling there: no cold packs.", "medical"),
    "keloid": AlertKind("Keloid", "Keloid: do not work on it.", "medical"),
    "keloid_history": AlertKind("Keloid before", "Keloid history: test spot first.", "medical"),
    "herpes": AlertKind("Cold sores before", "Herpes before: ask about today.", "medical"),
    "diabetes": AlertKind("Diabetes", "Diabetes: watch healing.", "medical"),
    "bleeding": AlertKind("Bleeds more", "Bleeds more: short passes, pressure ready.", "medical"),
    "metal_allergy": AlertKind("Metal allergy", "Metal allergy: check labels for nickel and chromium.", "medical"),
    "pigment_reaction": AlertKind("Reacted to pigment", "Reacted to pigment before.", "medical"),
    "gentle": AlertKind("Go gently", "Go gently: breaks, extra time, a private room.", "medical"),
}
