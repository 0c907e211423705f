"""What goes into the strip through time and what comes out: plain values, lengths in SVG units."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.records.strip_ink import linear_rgb

SessionKind = Literal["full", "test_spot", "allergy_patch"]


@dataclass(frozen=True)
class StripReading:
    on: date
    scar_hex: str
    skin_hex: str
    words: str

    def __post_init__(self) -> None:
        linear_rgb(self.scar_hex)
        linear_rgb(self.skin_hex)


@dataclass(frozen=True)
class StripSession:
    on: date
    label: str
    kind: SessionKind = "full"


@dataclass(frozen=True)
class StripZone:
    label: str
    readings: tuple[StripReading, ...] = ()
    sessions: tuple[StripSession, ...] = ()
    settling: tuple[tuple[date, date], ...] = ()
    judged: str = ""


@dataclass(frozen=True)
class Rect:
    """A filled or, with `stroke`, an outlined rectangle; `dashed` is what comes next."""

    x: float
    y: float
    width: float
    height: float
    fill: str = "none"
    stroke: str = "none"
    dashed: bool = False


@dataclass(frozen=True)
class Rule:
    """An upright line; `casing` is a wider line under it where the grounds allow no single ink."""

    x: float
    top: float
    bottom: float
    ink: str
    casing: str | None = None
    dashed: bool = False


@dataclass(frozen=True)
class Hatch:
    path: str
    ink: str


@dataclass(frozen=True)
class Words:
    """Placed words: `x` is the left edge, the right edge where `anchor` is "end". No `ink` means the page's own."""

    x: float
    y: float
    words: str
    size: float
    width: float
    bold: bool = False
    anchor: Literal["start", "end"] = "start"
    ink: str | None = None
    grounds: tuple[str, ...] = ()

    @property
    def left(self) -> float:
        return self.x - self.width if self.anchor == "end" else self.x

    @property
    def right(self) -> float:
        return self.left + self.width


@dataclass(frozen=True)
class Note:
    number: int
    words: str


@dataclass(frozen=True)
class Strip:
    width: float
    height: float
    title: str
    wells: tuple[Rect, ...]
    grounds: tuple[Rect, ...]
    hatches: tuple[Hatch, ...]
    rules: tuple[Rule, ...]
    ticks: tuple[Rule, ...]
    today: tuple[Rule, ...]
    words: tuple[Words, ...]
    notes: tuple[Note, ...]
    sentences: tuple[str, ...]
