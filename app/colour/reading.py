"""What was measured in one photo, as it is kept and shown."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal, Self

from app.colour.area import AreaEstimate
from app.colour.difference import Estimate
from app.colour.evenness import Evenness
from app.colour.quality import Finding
from app.colour.thresholds import SkinClass

METHOD_VERSION = (
    "reading 2: CIEDE2000, D65, 2 degree observer; neutral gain and power, 3x3; rims of an edge width left out; "
    "median-unbiased, 90 % interval of the joint covariance"
)

State = Literal["measured", "caution", "relative", "unmeasured"]
Reference = Literal["chart", "grey", "none"]
Triple = tuple[float, float, float]

__all__ = ["METHOD_VERSION", "Estimate", "Reading", "Reference", "State", "Triple"]


@dataclass(frozen=True, slots=True)
class Reading:
    """Colours of a scar and of the skin round it. Numbers are None unless the state is "measured" or "caution".

    lab_scar, lab_skin: L*a*b*, D65 and 2 degree observer, the medians; *_se their standard errors; *_scatter the
    spread of their pixels (1.4826 times the median deviation on each axis). delta_e_00: the difference freed of the
    bias noise adds, so that it may be less than the plain difference of the two colours; never shown without low and
    high, its 90 % interval. delta_l, delta_a, delta_b: scar minus skin, signed. delta_covariance: (3, 3) of that
    difference, for comparing two photos; sampling_covariance: the part of it that another outline of the same photo
    would change. left_out_mean: error of the chart's left-out patches. repeatability: what was counted, CIEDE2000.

    grade: every grade the interval allows for skin_class. ita_deg: typology angle of the skin. share_within: share of
    the scar, 0 to 1, within the match limit, with its 90 % bounds. area: square cm; scar_area_mm2 the same without
    its error, as version 1 kept it. edge_width_px: the rim left out, px. reference: what the colours rest on.

    A reading of version 1 has only the fields up to scar_area_mm2; it is read back as it was kept.
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
    grade: str = ""
    skin_class: SkinClass | None = None
    lab_scar_scatter: Triple | None = None
    lab_skin_scatter: Triple | None = None
    sampling_covariance: tuple[Triple, ...] | None = None
    repeatability: float | None = None
    ita_deg: Estimate | None = None
    share_within: float | None = None
    share_low: float | None = None
    share_high: float | None = None
    evenness: Evenness | None = None
    area: AreaEstimate | None = None
    edge_width_px: float | None = None
    reference: Reference = "none"

    def to_dict(self) -> dict[str, Any]:
        """Lists and plain numbers only, as a database or a file gives them back."""
        kept: dict[str, Any] = json.loads(json.dumps(asdict(self)))
        return kept

    @classmethod
    def from_dict(cls, kept: dict[str, Any]) -> Self:
        """A reading of any version; fields it does not know, of a later version, are left out."""
        known = {field.name for field in fields(cls)}
        values = {name: value for name, value in kept.items() if name in known}
        values["findings"] = tuple(Finding.from_dict(finding) for finding in kept["findings"])
        values["direction"] = tuple(kept["direction"])
        if "reference" not in kept:
            # Version 1 knew no other reference than the chart.
            values["reference"] = "none" if kept["lab_scar"] is None else "chart"
        for name, value in values.items():
            if value is None:
                continue
            if name.startswith("lab_"):
                values[name] = tuple(value)
            elif name.endswith("_covariance"):
                values[name] = tuple(tuple(row) for row in value)
            elif name in ("delta_l", "delta_a", "delta_b", "ita_deg"):
                values[name] = Estimate(**value)
        for name, made in (("evenness", Evenness), ("area", AreaEstimate)):
            if values.get(name) is not None:
                values[name] = made(**values[name])
        return cls(**values)
