"""Measuring a scar against the skin round it in one photo: two colours, their difference, and how sure each is.

The order of things: outlines are checked and kept clear of blurred borders (regions.py); the photo is judged, and
kept unmeasured when it cannot tell (quality.py); the middle colour of each region is the median on each axis; how far
the two colours and their difference may be off is uncertainty.py; the difference is freed of the bias that noise adds
(difference.py); the grade names every grade the interval allows (thresholds.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.colour.area import AreaEstimate, Scale, area
from app.colour.calibration import Calibration, apply
from app.colour.difference import NORMAL_90, Estimate, delta_e_00, delta_e_estimate, direction_within
from app.colour.difference_map import Cells, cells_of
from app.colour.evenness import evenness
from app.colour.geometry import checked_piece
from app.colour.mottling import blocks_of, sampling_covariances
from app.colour.pieces import Drawn, Regions, pieces_of
from app.colour.quality import (
    Finding,
    finding_of_border,
    finding_of_redness,
    finding_of_width,
    findings_of_chart,
    findings_of_region,
)
from app.colour.reading import METHOD_VERSION, Reading, Reference, State
from app.colour.regions import (
    Masked,
    Region,
    border_width_px,
    photo_edge_width_px,
    sample,
    scar_mask,
    skin_mask,
)
from app.colour.spaces import ByteArray, FloatArray, linear_rgb_from_srgb
from app.colour.statements import CANNOT_SAY, findings_of_skin, said_of_difference
from app.colour.thresholds import LIMITS, SkinClass, grade_words, ita_estimate
from app.colour.thresholds import skin_class as class_of
from app.colour.uncertainty import Seen, Spread, repeated, spread_of

__all__ = ["Estimate", "Finding", "Reading", "State", "measure"]

# A soft border may take up to this share of the widest piece off on either side: our choice.
MOST_SHRUNK = 0.2
# Without a chart the fall-off of the light is unknown: a step in brightness smaller than the fall-off that already
# earns a caution with a chart says nothing. Colour ratios: a third of that, our choice.
RELATIVE_LEAST = (0.10, 0.03, 0.03)
# Draws for the bounds of the share within the match limit, and the cells they are counted on at most.
SHARE_DRAWS, SHARE_CELLS = 80, 1500


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """What of a photo counts: the masks and samples of both regions, and the widths that were left out, in px."""

    scar: Masked
    skin: Masked
    edge_px: float
    border_px: float | None
    shrunk_px: float

    @property
    def is_empty(self) -> bool:
        return not (np.any(self.scar.inside) and np.any(self.skin.inside))


def measure(
    srgb8: ByteArray,
    scar: Drawn,
    skin: Drawn,
    calibration: Calibration | None,
    scale: Scale | None = None,
    *,
    skin_class: SkinClass | None = None,
    repeatability: float | None = None,
    seed: int = 0,
) -> Reading:
    """Colour of a scar and of the skin round it, and their difference with its 90 % interval.

    Takes: srgb8 (h, w, 3) uint8, red, green, blue, upright; scar and skin as pieces with holes or plain outlines
    (n, 2) px, one or more each (the scar, and an edge width round it, is cut out of the skin); calibration from the
    same photo or None; scale of the photo for the area; skin_class as it is fixed for the case, or None to take this
    photo's; repeatability of the studio's own photos (mean CIEDE2000 distance of one measured colour from the mean of
    many of the same place) or None for the NIST figure; seed of the fixed random draws.
    Gives: Reading. With no calibration, or a refused one, its state is "relative": no colour and no difference, only
    words. When the photo cannot support even that, "unmeasured" with the reasons.
    Raises ValueError when an outline is not valid or a region is missing.
    Source: CIEDE2000 (Sharma, Wu, Dalal 2005), D65, 2 degree observer; the rest as said at the top of this file.
    """
    height, width = srgb8.shape[:2]
    if not scar or not skin:
        raise ValueError("A reading needs an outline of the scar and one of the skin.")
    scar, skin = (_checked(drawn, width, height) for drawn in (scar, skin))
    looked = _looked(srgb8, scar, skin, calibration)
    findings = [
        finding_of_width(looked.scar.pieces, looked.scar.too_narrow, looked.scar.widest_px, looked.edge_px),
        finding_of_border(looked.border_px, looked.edge_px),
    ]
    if looked.is_empty:
        findings += [] if np.any(looked.skin.inside) else list(findings_of_region("skin", 0, 0.0, 0.0)[:1])
        return _unmeasured(findings)
    regions = sample(srgb8, looked.scar), sample(srgb8, looked.skin)
    findings += [
        finding
        for name, region in zip(("scar", "skin"), regions, strict=True)
        for finding in findings_of_region(name, region.pixel_count, region.clipped, region.glare)
    ]
    usable = calibration is not None and calibration.usable != "refused"
    if calibration is not None and usable:
        findings += findings_of_chart(calibration)
    elif calibration is not None:
        findings.append(Finding("chart", "caution", " ".join(calibration.reasons), "Use a clean 24-patch chart."))
    if any(finding.level == "keep_unmeasured" for finding in findings):
        return _unmeasured(findings)
    if calibration is None or not usable:
        return _relative(*regions, findings)
    at = area(scar, scale, looked.edge_px) if scale is not None else None
    return _measured(_made(srgb8, looked, regions, calibration, repeatability), findings, skin_class, at, seed)


def _checked(drawn: Drawn, width: int, height: int) -> Regions:
    return tuple(checked_piece(piece.outer, piece.holes, width, height) for piece in pieces_of(drawn))


def _looked(srgb8: ByteArray, scar: Regions, skin: Regions, calibration: Calibration | None) -> _Looked:
    height, width = srgb8.shape[:2]
    edge = photo_edge_width_px(None if calibration is None else calibration.chart.edge_width_px, width, height)
    border = border_width_px(srgb8, scar, edge)
    found = scar_mask(scar, edge, width, height)
    shrunk = edge if border is None else min(max(edge, border), max(edge, MOST_SHRUNK * found.widest_px))
    if shrunk > edge:
        found = scar_mask(scar, edge, width, height, shrunk)
    return _Looked(found, skin_mask(skin, scar, shrunk, width, height), edge, border, shrunk)


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """What the numbers of a reading come from."""

    calibration: Calibration
    scar: Seen
    skin: Seen
    scar_cells: Cells
    skin_cells: Cells
    spread: Spread
    repeatability: float
    shrunk_px: float


def _made(
    srgb8: ByteArray,
    looked: _Looked,
    regions: tuple[Region, Region],
    calibration: Calibration,
    repeatability: float | None,
) -> _Made:
    scar, skin = (_seen(one, calibration) for one in regions)
    return _Made(
        calibration,
        scar,
        skin,
        cells_of(srgb8, looked.scar, calibration, looked.edge_px),
        cells_of(srgb8, looked.skin, calibration, looked.edge_px),
        spread_of(scar, skin, calibration, repeatability, max(srgb8.shape[:2])),
        repeated(repeatability),
        looked.shrunk_px,
    )


def _seen(region: Region, calibration: Calibration) -> Seen:
    lab = apply(calibration, region.srgb8 / 255)
    return Seen(lab, np.median(region.srgb8, axis=0), blocks_of(lab, region.block, region.block_at), region.centre)


def _measured(
    made: _Made, findings: list[Finding], fixed: SkinClass | None, at: AreaEstimate | None, seed: int
) -> Reading:
    lab_scar, lab_skin, spread = made.scar.middle, made.skin.middle, made.spread
    delta = lab_scar - lab_skin
    apart = delta_e_estimate(lab_skin, lab_scar, spread.difference, seed)
    half = NORMAL_90 * np.sqrt(np.diag(spread.difference))
    steps = [Estimate(float(d), float(d - h), float(d + h)) for d, h in zip(delta, half, strict=True)]
    skin = fixed or class_of(lab_skin)
    grade = grade_words(apart.low, apart.high, skin)
    reference: Reference = made.calibration.level
    findings = [*findings, finding_of_redness(float(delta[1])), *findings_of_skin(lab_skin, reference)]
    share = _share(made, lab_skin, LIMITS[skin].match, seed)
    return Reading(
        state="caution" if any(finding.level == "caution" for finding in findings) else "measured",
        statement=said_of_difference(apart, (steps[0], steps[1], steps[2]), grade, reference),
        findings=tuple(findings),
        direction=direction_within(delta, delta - half, delta + half),
        lab_scar=_triple(lab_scar),
        lab_skin=_triple(lab_skin),
        lab_scar_se=_triple(np.sqrt(np.diag(spread.scar))),
        lab_skin_se=_triple(np.sqrt(np.diag(spread.skin))),
        delta_e_00=apart.value,
        low=apart.low,
        high=apart.high,
        delta_l=steps[0],
        delta_a=steps[1],
        delta_b=steps[2],
        delta_covariance=tuple(_triple(row) for row in spread.difference),
        left_out_mean=made.calibration.loo_mean,
        scar_area_mm2=None if at is None else at.cm2 * 100,
        method_version=METHOD_VERSION,
        grade=grade,
        skin_class=skin,
        lab_scar_scatter=_triple(made.scar.scatter),
        lab_skin_scatter=_triple(made.skin.scatter),
        sampling_covariance=tuple(_triple(row) for row in spread.sampling),
        repeatability=made.repeatability,
        ita_deg=ita_estimate(lab_skin, spread.skin, seed),
        share_within=None if share is None else share.value,
        share_low=None if share is None else share.low,
        share_high=None if share is None else share.high,
        evenness=evenness(made.scar_cells, made.skin_cells),
        area=at,
        edge_width_px=made.shrunk_px,
        reference=reference,
    )


def _share(made: _Made, lab_skin: FloatArray, limit: float, seed: int) -> Estimate | None:
    """Share of the scar within a limit of the skin's colour, with bounds: the whole scar may be off together."""
    lab = made.scar_cells.lab_d65[made.scar_cells.inside]
    if not len(lab):  # so narrow that no cell lies mostly inside
        return None
    value = float(np.mean(delta_e_00(lab_skin, lab) <= limit))
    off = np.random.default_rng(seed).multivariate_normal(np.zeros(3), made.spread.difference, SHARE_DRAWS)
    some = lab[:: max(1, -(-len(lab) // SHARE_CELLS))]
    moved = (some[None] + off[:, None]).reshape(-1, 3)
    low, high = np.quantile((delta_e_00(lab_skin, moved) <= limit).reshape(SHARE_DRAWS, -1).mean(axis=1), [0.05, 0.95])
    return Estimate(value, min(float(low), value), max(float(high), value))


def _relative(scar: Region, skin: Region, findings: list[Finding]) -> Reading:
    """Words only. Ratios of channels keep their sign under any white balance; brightness needs even light."""
    scar_values, skin_values = (_ratios(region.srgb8) for region in (scar, skin))
    delta = np.median(scar_values, axis=0) - np.median(skin_values, axis=0)
    covariance = sampling_covariances(
        blocks_of(scar_values, scar.block, scar.block_at),
        blocks_of(skin_values, skin.block, skin.block_at),
        (scar_values, skin_values),
    )[0]
    half = np.maximum(NORMAL_90 * np.sqrt(np.diag(covariance)), RELATIVE_LEAST)
    words = tuple(
        word for word in direction_within(delta, delta - half, delta + half) if not word.startswith("perhaps")
    )
    said = f"In this photo the scar looks {', '.join(words)}." if words else "No direction can be told from this photo."
    return Reading("relative", f"{said} {CANNOT_SAY}", tuple(findings), words)


def _ratios(srgb8: FloatArray) -> FloatArray:
    """Logarithms (n, 3): brightness, red over green, and red and green over blue; of linear light."""
    red, green, blue = np.log(linear_rgb_from_srgb(np.maximum(srgb8, 1.0) / 255)).T
    return np.stack([(red + green + blue) / 3, red - green, (red + green) / 2 - blue], axis=1)


def _unmeasured(findings: list[Finding]) -> Reading:
    reasons = " ".join(finding.message for finding in findings if finding.level == "keep_unmeasured")
    return Reading(
        "unmeasured", f"The photo is kept, but no colour was measured. {reasons}", tuple(findings), ()
    )


def _triple(values: FloatArray) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])
