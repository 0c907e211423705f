from datetime import date, datetime, timedelta

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from app.platform.rows import Row

PIGMENT_KINDS = ("strong", "skin_tone", "white", "diluent")
OTHER_KINDS = ("needle", "numbing", "antiseptic", "dressing")


class Item(Row, table=True):
    """An item with a lot: one bottle, box or tube that touches clients. The same label on two bottles is two items."""

    __tablename__ = "items"
    __table_args__ = (
        CheckConstraint(f"kind IN {PIGMENT_KINDS + OTHER_KINDS}", name="kind"),
        CheckConstraint("state IN ('usable', 'quarantined', 'recalled', 'empty')", name="state"),
        CheckConstraint("ml_per_drop > 0", name="ml_per_drop"),
    )
    id: int | None = Field(default=None, primary_key=True)
    kind: str
    label: str
    colour_index: str = ""
    lot: str = ""
    lot_unreadable: bool = False
    expires_on: date | None = None
    opened_on: date | None = None
    use_within_days: int | None = None
    ml_per_drop: float = 0.05
    state: str = "usable"
    state_reason: str = ""  # why it is kept apart, as typed
    is_low: bool = False
    note: str = ""
    added_at: datetime
    revision: int = 1

    @property
    def name(self) -> str:
        """Label and bottle number: two bottles may carry the same label."""
        return f"{self.label}, no. {self.id}"

    @property
    def is_pigment(self) -> bool:
        return self.kind in PIGMENT_KINDS

    @property
    def use_by(self) -> date | None:
        """The earlier of the printed expiry and the period after opening."""
        lasts = timedelta(days=self.use_within_days or 0)
        opened = self.opened_on + lasts if self.opened_on and lasts else None
        return min((day for day in (self.expires_on, opened) if day), default=None)

    @property
    def lot_words(self) -> str:
        return "lot unreadable" if self.lot_unreadable else f"lot {self.lot}" if self.lot else "no lot on file"


class Swatch(Row, table=True):
    """A measured sample of a bottle: at full strength, or let down with white."""

    __tablename__ = "swatches"
    __table_args__ = (CheckConstraint("white_share >= 0 AND white_share < 1", name="white_share"),)
    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="items.id", index=True)
    white_share: float
    white_id: int | None = Field(default=None, foreign_key="items.id")  # the white bottle it was let down with
    lab_l: float
    lab_a: float
    lab_b: float
    measured_on: date
    measured_by: str = "typed from an instrument"
    photo_id: int | None = Field(default=None, foreign_key="photos.id")


class Recipe(Row, table=True):
    """Counted drops for a zone; unproven until its zone has a settled verdict."""

    __tablename__ = "recipes"
    __table_args__ = (CheckConstraint("kind IN ('computed', 'own')", name="kind"),)
    id: int | None = Field(default=None, primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", index=True)
    kind: str
    name: str = ""
    layer: int = 1
    target_l: float | None = None
    target_a: float | None = None
    target_b: float | None = None
    predicted_l: float | None = None
    predicted_a: float | None = None
    predicted_b: float | None = None
    delta_e_00: float | None = None
    delta_e_00_low: float | None = None
    delta_e_00_high: float | None = None
    reading_id: int | None = Field(default=None, foreign_key="readings.id")
    offered: str = ""  # canonical JSON of what the search offered when this was chosen
    words: str = ""
    verdict: str = ""  # written by outcomes when the zone is judged
    kept_by: int = Field(foreign_key="members.id")
    kept_at: datetime
    replaces_id: int | None = Field(default=None, foreign_key="recipes.id", unique=True)


class RecipePart(Row, table=True):
    __tablename__ = "recipe_parts"
    __table_args__ = (CheckConstraint("drops BETWEEN 1 AND 99", name="drops"),)
    recipe_id: int = Field(foreign_key="recipes.id", primary_key=True)
    item_id: int = Field(foreign_key="items.id", primary_key=True, index=True)
    drops: int
