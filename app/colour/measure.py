"""Measuring a scar against the skin round it in one photo: two colours, their difference, and how sure each is.

What goes into the interval of the difference:
* scatter inside each region, by drawing whole blocks of the region again (neighbouring pixels are not independent);
* putting the measurement down again: a spectrophotometer on the same skin differs from its own mean by 0.64;
* the calibration's error, in the part that does not cancel. Scar and skin share one photo and one calibration, and
  colours close together are missed in much the same direction: of the variance of a left-out patch only the share
  (distance between the two colours in L*a*b*) / 100 is counted, see SHARES_NOTHING_FROM;
* the fall-off of light seen on the chart, carried over the distance between the two regions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.colour.calibration import Calibration, apply
from app.colour.difference import NORMAL_90, delta_e_00, delta_e_interval, direction_within
from app.colour.geometry import area_mm2, bounding_box, checked_outline, mask_within
from app.colour.quality import (
    Finding,
    clipped_share,
    finding_of_redness,
    findings_of_chart,
    findings_of_region,
    glare_mask,
)
from app.colour.reading import METHOD_VERSION, Estimate, Reading, State
from app.colour.spaces import BoolArray, ByteArray, FloatArray, linear_rgb_from_srgb
from app.colour.thresholds import skin_is_untested

__all__ = ["Estimate", "Finding", "Reading", "State", "measure"]

SAMPLE_PX = 40_000
# JPEG keeps colour in blocks of 16 px: inside one, pixels tell nothing new. A region is cut into about five by five.
BLOCK_PX, BLOCKS_ACROSS = 16.0, 5.0
BLOCK_DRAWS = 400
# Mean difference of one placement of a spectrophotometer from the mean of three on the same skin, computed from the
# NIST skin set (100 subjects, DOI 10.18434/M38597). The mean of three holds a third of each, hence 2/3.
REPLACEMENT_DELTA_E_00, REPLACEMENT_SHARE = 0.64, 2 / 3
# Mean length of a vector of three independent standard normal numbers: sqrt(8 / pi).
MEAN_NORM_3 = 1.5958
# Computed here: 70 measured skins of the NIST set through 60 made-up cameras, each calibrated on a chart; the error of
# the difference of two skins grew as the square root of their distance and reached that of two unrelated patches at
# about 200 (tests/published/test_skin_spectra.py). On the chart itself, where neighbouring patches are different
# paints, it is about 60. A scar with pigment in it lies between: 100, our choice.
SHARES_NOTHING_FROM = 100.0
# Without a chart the fall-off of the light is unknown: a step in brightness smaller than the fall-off that already
# earns a caution with a chart says nothing. Colour ratios: a third of that, our choice.
RELATIVE_LEAST = (0.10, 0.03, 0.03)

CANNOT_SAY = (
    "Without a usable colour chart in the photo no colour and no size of the difference can be given. What can be "
    "said is only how scar and skin compare within this one photo, provided the light was even."
)


@dataclass(frozen=True, slots=True, eq=False)
class _Region:
    """Sampled pixels of a region without glare: srgb8 (n, 3), the block of each, its middle in px, and the shares."""

    srgb8: FloatArray
    block: np.ndarray[tuple[int], np.dtype[np.int64]]
    centre: FloatArray
    pixel_count: int
    clipped: float
    glare: float


def measure(
    srgb8: ByteArray,
    scar_outlines: tuple[FloatArray, ...],
    skin_outlines: tuple[FloatArray, ...],
    calibration: Calibration | None,
    pitch_mm: float | None = None,
    seed: int = 0,
) -> Reading:
    """Colour of a scar and of the skin round it, and their difference with its 90 % interval.

    Takes: srgb8 (h, w, 3) uint8, red, green, blue, upright; outlines as tuples of (n, 2) px, one or more each (the
    scar is cut out of the skin where they overlap); calibration from the same photo or None; pitch_mm of the chart's
    patches when known, for the area; seed of the fixed random draws.
    Gives: Reading. With no calibration, or a refused one, its state is "relative": no colour and no difference, only
    words. When the photo cannot support even that, "unmeasured" with the reasons.
    Raises ValueError when an outline is not valid or a region is missing.
    Source: CIEDE2000 (Sharma, Wu, Dalal 2005), D65, 2 degree observer; the interval as said at the top of this file.
    """
    height, width = srgb8.shape[:2]
    if not scar_outlines or not skin_outlines:
        raise ValueError("A reading needs an outline of the scar and one of the skin.")
    scar_outlines = tuple(checked_outline(outline, width, height) for outline in scar_outlines)
    skin_outlines = tuple(checked_outline(outline, width, height) for outline in skin_outlines)
    scar = _region(srgb8, scar_outlines, ())
    skin = _region(srgb8, skin_outlines, scar_outlines)
    findings = [
        finding
        for name, region in (("scar", scar), ("skin", skin))
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
        return _relative(scar, skin, findings, seed)
    area = None if pitch_mm is None else area_mm2(scar_outlines, calibration.chart.corners, pitch_mm)
    return _measured(scar, skin, calibration, findings, area, seed)


def _region(srgb8: ByteArray, outlines: tuple[FloatArray, ...], cut_out: tuple[FloatArray, ...]) -> _Region:
    box = bounding_box(outlines, srgb8.shape[1], srgb8.shape[0])
    inside = mask_within(outlines, box)
    if cut_out:
        inside &= ~mask_within(cut_out, box)
    count = int(inside.sum())
    if count == 0:
        raise ValueError("The skin outline lies wholly inside the scar.")
    # Every k-th pixel both ways, never a mean: averaging sRGB values would shift the colour.
    every = max(1, int(np.ceil(np.sqrt(count / SAMPLE_PX))))
    rows, columns = np.nonzero(inside[::every, ::every])
    if len(rows) == 0:
        every, (rows, columns) = 1, np.nonzero(inside)
    x, y = columns * every + box[0], rows * every + box[1]
    pixels = srgb8[y, x].astype(np.float64)
    shining: BoolArray = glare_mask(pixels)
    kept = ~shining
    side = max(BLOCK_PX, np.sqrt(count) / BLOCKS_ACROSS)
    cell = np.floor(np.stack([x, y], axis=1) / side).astype(np.int64)
    _, block = np.unique(cell[kept], axis=0, return_inverse=True)
    return _Region(
        srgb8=pixels[kept],
        block=block.reshape(-1).astype(np.int64),
        centre=np.array([x.mean(), y.mean()]),
        pixel_count=count,
        clipped=clipped_share(pixels[kept]),
        glare=float(shining.mean()),
    )


def _measured(
    scar: _Region, skin: _Region, calibration: Calibration, findings: list[Finding], area: float | None, seed: int
) -> Reading:
    scar_values, skin_values = (apply(calibration, region.srgb8 / 255) for region in (scar, skin))
    lab_scar, lab_skin = np.median(scar_values, axis=0), np.median(skin_values, axis=0)
    delta = lab_scar - lab_skin
    scatter_scar = _block_covariance(scar_values, scar.block, seed + 1)
    scatter_skin = _block_covariance(skin_values, skin.block, seed + 2)
    replaced = _axis_variance(REPLACEMENT_DELTA_E_00, lab_skin) / REPLACEMENT_SHARE
    missed = _axis_variance(calibration.loo_mean, lab_skin)
    shared_not = min(1.0, float(np.linalg.norm(delta)) / SHARES_NOTHING_FROM)
    covariance = (
        scatter_scar
        + scatter_skin
        + 2 * replaced
        + 2 * missed * shared_not
        + _light_covariance(calibration, lab_skin, scar.centre - skin.centre)
    )
    low, high = delta_e_interval(lab_skin, lab_scar, covariance, seed)
    half = NORMAL_90 * np.sqrt(np.diag(covariance))
    findings = [*findings, finding_of_redness(float(delta[1])), *_untested(lab_skin)]
    from_chart = calibration.chart.corners.mean(axis=0)
    return Reading(
        state=_state(findings),
        lab_scar=_triple(lab_scar),
        lab_skin=_triple(lab_skin),
        lab_scar_se=_triple(
            _standard_error(scatter_scar + replaced + missed, calibration, lab_scar, scar.centre - from_chart)
        ),
        lab_skin_se=_triple(
            _standard_error(scatter_skin + replaced + missed, calibration, lab_skin, skin.centre - from_chart)
        ),
        delta_e_00=float(delta_e_00(lab_skin, lab_scar)),
        low=low,
        high=high,
        delta_l=_estimate(delta, half, 0),
        delta_a=_estimate(delta, half, 1),
        delta_b=_estimate(delta, half, 2),
        delta_covariance=tuple(_triple(row) for row in covariance),
        direction=direction_within(delta, delta - half, delta + half),
        statement=_statement(delta, half, low, high),
        findings=tuple(findings),
        left_out_mean=calibration.loo_mean,
        scar_area_mm2=area,
        method_version=METHOD_VERSION,
    )


def _statement(delta: FloatArray, half: FloatArray, low: float, high: float) -> str:
    words = direction_within(delta, delta - half, delta + half)
    named = ", ".join(words) if words else "in no direction that this photo can tell"
    return (
        f"The scar differs from the skin by {low:.1f} to {high:.1f} (CIEDE2000, 90 % interval): {named}. "
        f"Within this photo; the colours themselves are known less well than their difference."
    )


def _standard_error(
    covariance: FloatArray, calibration: Calibration, lab_d65: FloatArray, offset: FloatArray
) -> FloatArray:
    return np.sqrt(np.diag(covariance + _light_covariance(calibration, lab_d65, offset)))


def _light_covariance(calibration: Calibration, lab_d65: FloatArray, offset: FloatArray) -> FloatArray:
    """What a fall-off of the light over a distance in px does to a colour: all of it, in one direction."""
    log_light = float(calibration.chart.light_slope @ offset)
    # d L* / d ln(light) = (L* + 16) / 3 and likewise a* / 3, b* / 3: from the cube root of ISO/CIE 11664-4.
    step = (lab_d65 + np.array([16.0, 0.0, 0.0])) / 3 * float(np.clip(log_light, -0.5, 0.5))
    return np.outer(step, step)


def _axis_variance(mean_delta_e_00: float, lab_d65: FloatArray) -> FloatArray:
    """Covariance (3, 3) in L*a*b* of an error alike in all directions, whose mean size in CIEDE2000 is given."""
    per_unit = delta_e_00(lab_d65, lab_d65 + np.eye(3) * 0.5) / 0.5
    return np.diag((mean_delta_e_00 / MEAN_NORM_3 / per_unit) ** 2)


def _block_covariance(values: FloatArray, block: np.ndarray[tuple[int], np.dtype[np.int64]], seed: int) -> FloatArray:
    """Covariance (3, 3) of a region's middle colour, by drawing its blocks again with replacement."""
    order = np.argsort(block, kind="stable")
    pieces = np.split(values[order], np.flatnonzero(np.diff(block[order])) + 1)
    sizes = np.array([len(piece) for piece in pieces], dtype=np.float64)
    if len(pieces) < 2:
        # One block only: nothing shows how much the next would differ, so the whole scatter counts.
        return np.diag(np.var(values, axis=0))
    middles = np.array([np.median(piece, axis=0) for piece in pieces])
    drawn = np.random.default_rng(seed).multinomial(len(pieces), np.full(len(pieces), 1 / len(pieces)), BLOCK_DRAWS)
    weight = drawn * sizes
    means = weight @ middles / weight.sum(axis=1, keepdims=True)
    # Drawing n blocks again understates the variance by (n - 1) / n.
    spread = np.atleast_2d(np.cov(means, rowvar=False))
    return np.asarray(spread * len(pieces) / (len(pieces) - 1), dtype=np.float64)


def _relative(scar: _Region, skin: _Region, findings: list[Finding], seed: int) -> Reading:
    """Words only. Ratios of channels keep their sign under any white balance; brightness needs even light."""
    scar_values, skin_values = (_ratios(region.srgb8) for region in (scar, skin))
    delta = np.median(scar_values, axis=0) - np.median(skin_values, axis=0)
    covariance = _block_covariance(scar_values, scar.block, seed + 1) + _block_covariance(
        skin_values, skin.block, seed + 2
    )
    half = np.maximum(NORMAL_90 * np.sqrt(np.diag(covariance)), RELATIVE_LEAST)
    words = tuple(
        word for word in direction_within(delta, delta - half, delta + half) if not word.startswith("perhaps")
    )
    said = f"In this photo the scar looks {', '.join(words)}." if words else "No direction can be told from this photo."
    return _without_numbers("relative", f"{said} {CANNOT_SAY}", findings, words)


def _ratios(srgb8: FloatArray) -> FloatArray:
    """Logarithms (n, 3): brightness, red over green, and red and green over blue; of linear light."""
    red, green, blue = np.log(linear_rgb_from_srgb(np.maximum(srgb8, 1.0) / 255)).T
    return np.stack([(red + green + blue) / 3, red - green, (red + green) / 2 - blue], axis=1)


def _unmeasured(findings: list[Finding]) -> Reading:
    reasons = " ".join(finding.message for finding in findings if finding.level == "keep_unmeasured")
    return _without_numbers("unmeasured", f"The photo is kept, but no colour was measured. {reasons}", findings, ())


def _without_numbers(state: State, statement: str, findings: list[Finding], words: tuple[str, ...]) -> Reading:
    return Reading(state=state, statement=statement, findings=tuple(findings), direction=words)


def _untested(lab_skin: FloatArray) -> list[Finding]:
    if not skin_is_untested(lab_skin):
        return []
    said = "This skin is darker than any the method was tried on: the interval may be too narrow."
    return [Finding("skin_untested", "caution", said)]


def _state(findings: list[Finding]) -> State:
    return "caution" if any(finding.level == "caution" for finding in findings) else "measured"


def _estimate(delta: FloatArray, half: FloatArray, axis: int) -> Estimate:
    return Estimate(float(delta[axis]), float(delta[axis] - half[axis]), float(delta[axis] + half[axis]))


def _triple(values: FloatArray) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])
