"""What was measured in one photo, as it is kept and shown."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any, Literal, Self

from app.colour.quality import Finding

METHOD_VERSION = "reading 1: CIEDE2000, D65, 2 degree observer; neutral gain and power, 3x3; 90 % interval"

State = Literal["measured", "caution", "relative", "unmeasured"]
Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its 90 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Reading:
    """Colours of a scar and of the skin round it. Numbers are None unless the state is "measured" or "caution".

    lab_scar, lab_skin: L*a*b*, D65 and 2 degree observer; *_se their standard errors. delta_e_00 is never shown
    without low and high, its 90 % interval. delta_l, delta_a, delta_b: scar minus skin. delta_covariance: (3, 3) of
    that difference, for comparing two photos. left_out_mean: error of the chart's left-out patches. scar_area_mm2:
    good to about 10 %.
    """

    state: State
    statement: str
    findings: tuple[Finding, ...]
    direction: tuple[str, ...] = ()
    lab_scar: Triple | None = None
    lab_skin: Triple | None = None
    lab_scar_se: Triple | None = None
    lab_skin_se: Triple | None = None
    delta_e_00: float | None = None
    low: float | None = None
    high: float | None = None
    delta_l: Estimate | None = None
    delta_a: Estimate | None = None
    delta_b: Estimate | None = None
    delta_covariance: tuple[Triple, ...] | None = None
    left_out_mean: float | None = None
    scar_area_mm2: float | None = None
    method_version: str = METHOD_VERSION

    def to_dict(self) -> dict[str, Any]:
        """Lists and plain numbers only, as a database or a file gives them back."""
        kept: dict[str, Any] = json.loads(json.dumps(asdict(self)))
        return kept

    @classmethod
    def from_dict(cls, kept: dict[str, Any]) -> Self:
        values = dict(kept)
        values["findings"] = tuple(Finding.from_dict(finding) for finding in kept["findings"])
        values["direction"] = tuple(kept["direction"])
        for name in ("lab_scar", "lab_skin", "lab_scar_se", "lab_skin_se"):
            values[name] = None if kept[name] is None else tuple(kept[name])
        for name in ("delta_l", "delta_a", "delta_b"):
            values[name] = None if kept[name] is None else Estimate(**kept[name])
        rows = kept["delta_covariance"]
        values["delta_covariance"] = None if rows is None else tuple(tuple(row) for row in rows)
        return cls(**values)
