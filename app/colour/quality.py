"""Whether a photo can support a colour reading: findings, each with a reason and what to do next time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, Self

import numpy as np

from app.colour.calibration import SHADOW_ABOVE, Calibration
from app.colour.chart import CLIPPED_FROM
from app.colour.spaces import BoolArray, FloatArray

Level = Literal["pass", "caution", "keep_unmeasured"]

# All shares and widths below: our own trials on real and blurred photos (colour findings, section 7), unless said.
CLIPPED_SHARE = 0.005
GLARE_SHARE = 0.05
GLARE_MAD = 3.0
# A smooth patch of skin has so little scatter that noise would pass for glare: our choice, of 255.
GLARE_LEAST_STEP = 10.0
GLARE_SATURATION = 0.85
EDGE_PASS_PX, EDGE_REJECT_PX = 3.5, 6.0
UNEVEN_CAUTION, UNEVEN_REJECT = 0.10, 0.20
SHADOWED_REJECT = 4  # patches; our choice
# 20 x 20 px holds about six blocks of JPEG colour (16 px): our choice.
FEW_PX, SOME_PX = 400, 1600
# Redness left in a healing site: a* over the skin's by more than this (colour findings, section 11; our choice).
STILL_RED_ABOVE = 3.0


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at in a photo. next_time is empty when there is nothing to do better."""

    code: str
    level: Level
    message: str
    next_time: str = ""

    def to_dict(self) -> dict[str, Any]:
        return {"code": self.code, "level": self.level, "message": self.message, "next_time": self.next_time}

    @classmethod
    def from_dict(cls, kept: dict[str, Any]) -> Self:
        return cls(kept["code"], kept["level"], kept["message"], kept["next_time"])


def glare_mask(srgb8: FloatArray) -> BoolArray:
    """Pixels of a region that shine: much brighter than its middle and paler in colour.

    Takes: srgb8 (n, 3), sRGB curve, 0 to 255. Gives: (n,).
    Source: our own trials (colour findings, section 7): over the median by 3 scaled median deviations, and less
    saturated.

    >>> skin = np.tile([200.0, 150.0, 120.0], (99, 1))
    >>> int(glare_mask(np.vstack([skin, [[250.0, 245.0, 240.0]]])).sum())
    1
    """
    brightness = srgb8.mean(axis=1)
    middle = float(np.median(brightness))
    scatter = 1.4826 * float(np.median(np.abs(brightness - middle)))
    top = srgb8.max(axis=1)
    saturation = (top - srgb8.min(axis=1)) / np.maximum(top, 1.0)
    bright = brightness > middle + max(GLARE_MAD * scatter, GLARE_LEAST_STEP)
    return np.asarray(bright & (saturation < GLARE_SATURATION * float(np.median(saturation))), dtype=np.bool_)


def clipped_share(srgb8: FloatArray) -> float:
    """Share of pixels with a channel at the top of its range.

    Takes: srgb8 (n, 3), 0 to 255. Gives: 0 to 1. Source: colour findings, section 7: 250 and over.

    >>> clipped_share(np.array([[255.0, 10, 10], [10, 10, 10]]))
    0.5
    """
    return float(np.mean(np.any(srgb8 >= CLIPPED_FROM, axis=1)))


def findings_of_region(region: str, pixel_count: int, clipped: float, glare: float) -> tuple[Finding, ...]:
    """What speaks for or against one region.

    Takes: region, as it is called in a sentence ("scar"); pixel_count inside the outline; clipped and glare shares.
    Gives: findings with codes pixels, clipping, glare. Source: as given at the constants.

    >>> [finding.level for finding in findings_of_region("scar", 5000, 0.0, 0.01)]
    ['pass', 'pass', 'pass']
    """
    return (
        _pixels(region, pixel_count),
        Finding(
            "clipping",
            "keep_unmeasured",
            f"{clipped:.1%} of the {region} is over-exposed: its colour is lost.",
            "Lower the exposure, or move the lamp away.",
        )
        if clipped > CLIPPED_SHARE
        else Finding("clipping", "pass", f"The {region} is not over-exposed."),
        Finding(
            "glare",
            "keep_unmeasured",
            f"{glare:.0%} of the {region} shines: the lamp is mirrored in the skin.",
            "Turn the lamp or yourself until the shine is gone; wipe off ointment and sweat. No flash.",
        )
        if glare > GLARE_SHARE
        else Finding("glare", "pass", f"Little or no shine on the {region}."),
    )


def findings_of_chart(calibration: Calibration) -> tuple[Finding, ...]:
    """What the chart says about sharpness, light, and how well its colours fit.

    Takes: Calibration. Gives: findings with codes chart, sharpness, uneven_light, shadow.
    Source: as given at the constants.
    """
    return (_fit(calibration), _sharpness(calibration.chart.edge_width_px), _light(calibration), _shadow(calibration))


def finding_of_redness(delta_a: float) -> Finding:
    """Whether the scar is still redder than the skin round it, so that its colour is not yet its own.

    Takes: delta_a, a* of the scar minus a* of the skin. Source: as given at STILL_RED_ABOVE.

    >>> finding_of_redness(3.5).level
    'caution'
    """
    if delta_a > STILL_RED_ABOVE:
        return Finding(
            "still_red",
            "caution",
            f"The scar is still redder than the skin round it (a* by {delta_a:.1f}; the limit is 3): its colour is "
            f"not settled and should not be judged.",
            "Photograph it again when the redness has gone.",
        )
    return Finding("still_red", "pass", "The scar is not redder than the skin round it by more than the limit.")


def _pixels(region: str, pixel_count: int) -> Finding:
    nearer = "Come closer, or use a picture with more pixels."
    if pixel_count < FEW_PX:
        return Finding("pixels", "keep_unmeasured", f"The {region} covers only {pixel_count} pixels.", nearer)
    if pixel_count < SOME_PX:
        return Finding("pixels", "caution", f"The {region} covers few pixels ({pixel_count}).", nearer)
    return Finding("pixels", "pass", f"The {region} covers enough pixels.")


def _fit(calibration: Calibration) -> Finding:
    if calibration.usable == "measured":
        return Finding("chart", "pass", f"The chart fits: left-out patches miss by {calibration.loo_mean:.1f}.")
    return Finding(
        "chart",
        "caution",
        " ".join(calibration.reasons),
        "Lay a clean, current 24-patch chart beside the scar, in the same light, with nothing on it.",
    )


def _sharpness(edge_width_px: float | None) -> Finding:
    still = "Hold the camera with both hands, tap on the scar to focus, and use more light."
    if edge_width_px is None:
        return Finding("sharpness", "caution", "How sharp the photo is could not be read from the chart.", still)
    if edge_width_px >= EDGE_REJECT_PX:
        return Finding("sharpness", "keep_unmeasured", "The photo is blurred.", still)
    if edge_width_px > EDGE_PASS_PX:
        return Finding("sharpness", "caution", "The photo is a little soft.", still)
    return Finding("sharpness", "pass", "The photo is sharp.")


def _light(calibration: Calibration) -> Finding:
    uneven = calibration.chart.uneven_light
    facing = "Use daylight from a window you face, or one large soft lamp; keep the chart and the scar side by side."
    if uneven > UNEVEN_REJECT:
        return Finding(
            "uneven_light", "keep_unmeasured", f"The light falls off by {uneven:.0%} over the chart.", facing
        )
    if uneven > UNEVEN_CAUTION:
        return Finding("uneven_light", "caution", f"The light falls off by {uneven:.0%} over the chart.", facing)
    return Finding("uneven_light", "pass", "The light is even over the chart.")


def _shadow(calibration: Calibration) -> Finding:
    shadowed = int(np.sum((np.abs(calibration.chart.shadow_residual) > SHADOW_ABOVE) & ~calibration.chart.clipped))
    clear = "Keep hands, hair and the camera's shadow off the chart, and tilt it until it does not shine."
    if shadowed >= SHADOWED_REJECT:
        return Finding("shadow", "keep_unmeasured", f"{shadowed} patches of the chart are in shadow or glare.", clear)
    if shadowed:
        return Finding("shadow", "caution", f"Part of the chart ({shadowed} of 24) is in shadow or glare.", clear)
    return Finding("shadow", "pass", "No shadow or glare on the chart.")
