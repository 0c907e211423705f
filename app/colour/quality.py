"""Whether a photo can support a colour reading: findings, each with a reason and what to do next time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, Self

import numpy as np

from app.colour.calibration import SHADOW_ABOVE, Calibration
from app.colour.chart_patches import CLIPPED_FROM
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
# Surfaces shine and areas err more, the more slanting they are seen; areas were tried up to 40 degrees
# (tests/published/test_homography_area.py). Our choice.
TILT_CAUTION_DEG, TILT_REJECT_DEG = 20.0, 40.0
# 20 x 20 px holds about six blocks of JPEG colour (16 px): our choice.
FEW_PX, SOME_PX = 400, 1600
# A border of the scar this many times as wide as the photo's own edge width earns a caution: our choice. Scars run out
# over a millimetre by nature, which in a usual frame is about three edge widths.
SOFT_BORDER_TIMES = 4.0
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


def finding_of_width(pieces: int, too_narrow: int, widest_px: float, edge_px: float) -> Finding:
    """Whether the scar is wide enough for its own colour to be seen between its blurred borders.

    Takes: pieces of the scar; too_narrow, how many of them are under three edge widths; widest_px of the widest;
    edge_px, the edge width of the photo. Gives: a finding with the code too_narrow.
    Source: the acceptance of this program: three edge widths.

    >>> finding_of_width(1, 1, 12.0, 6.0).level
    'keep_unmeasured'
    """
    nearer = "Come closer until the scar fills more of the picture, hold still, and tap on the scar to focus."
    if too_narrow == pieces:
        return Finding(
            "too_narrow",
            "keep_unmeasured",
            f"The scar is {widest_px:.0f} pixels wide, and a border in this photo is blurred over {edge_px:.0f}: under "
            f"three times that, the colours of scar and skin run together.",
            nearer,
        )
    if too_narrow:
        return Finding(
            "too_narrow",
            "caution",
            f"{too_narrow} of {pieces} pieces of the scar are too narrow to be measured in this photo and were left "
            f"out.",
            nearer,
        )
    return Finding("too_narrow", "pass", "The scar is wide enough to be measured in this photo.")


def finding_of_border(border_px: float | None, edge_px: float) -> Finding:
    """Whether the photo is softer at the scar itself than its edge width says.

    Takes: border_px, width of the border between scar and skin, or None when it cannot be seen; edge_px, the edge
    width of the photo. Gives: a finding with the code softness. Source: as given at SOFT_BORDER_TIMES.

    >>> finding_of_border(30.0, 6.0).level, finding_of_border(None, 6.0).level
    ('caution', 'pass')
    """
    if border_px is not None and border_px > SOFT_BORDER_TIMES * edge_px:
        return Finding(
            "softness",
            "caution",
            f"The border of the scar runs out over {border_px:.0f} pixels, while the photo is sharp to {edge_px:.0f}: "
            f"either the focus does not lie on the scar, or it has no clear border. More of its rim was left out.",
            "Tap on the scar, not on the chart, to focus.",
        )
    return Finding("softness", "pass", "The photo is no softer at the scar than elsewhere, as far as can be seen.")


def findings_of_chart(calibration: Calibration) -> tuple[Finding, ...]:
    """What the chart, or the grey card, says about sharpness, light, and how well its colours fit.

    Takes: Calibration. Gives: findings with codes chart, sharpness, uneven_light, and for a chart shadow,
    out_of_plane, and mirrored when it is. Source: as given at the constants.
    """
    chart = calibration.chart
    sharp = _sharpness(chart.edge_width_px, calibration.level)
    if calibration.level == "grey":
        return _fit(calibration), sharp, _light(calibration)
    mirrored = (MIRRORED,) if chart.is_mirrored else ()
    return (_fit(calibration), sharp, _light(calibration), _shadow(calibration), _tilt(chart.tilt_deg), *mirrored)


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
    if calibration.level == "grey":
        level: Level = "keep_unmeasured" if calibration.usable == "refused" else "caution"
        clear = "Lay a 24-patch chart beside the scar instead, or the grey card flat, clean and in the same light."
        return Finding("chart", level, " ".join(calibration.reasons), clear)
    return Finding(
        "chart",
        "caution",
        " ".join(calibration.reasons),
        "Lay a clean, current 24-patch chart beside the scar, in the same light, with nothing on it.",
    )


def _sharpness(edge_width_px: float | None, seen_on: str) -> Finding:
    still = "Hold the camera with both hands, tap on the scar to focus, and use more light."
    if edge_width_px is None:
        thing = "grey card" if seen_on == "grey" else "chart"
        return Finding("sharpness", "caution", f"How sharp the photo is could not be read from the {thing}.", still)
    if edge_width_px >= EDGE_REJECT_PX:
        return Finding("sharpness", "keep_unmeasured", "The photo is blurred.", still)
    if edge_width_px > EDGE_PASS_PX:
        return Finding("sharpness", "caution", "The photo is a little soft.", still)
    return Finding("sharpness", "pass", "The photo is sharp.")


def _light(calibration: Calibration) -> Finding:
    uneven, thing = calibration.chart.uneven_light, "grey card" if calibration.level == "grey" else "chart"
    facing = f"Use daylight from a window you face, or one large soft lamp; keep the {thing} and the scar side by side."
    if uneven > UNEVEN_REJECT:
        fall = f"The light falls off by {uneven:.0%} over the {thing}."
        return Finding("uneven_light", "keep_unmeasured", fall, facing)
    if uneven > UNEVEN_CAUTION:
        return Finding("uneven_light", "caution", f"The light falls off by {uneven:.0%} over the {thing}.", facing)
    return Finding("uneven_light", "pass", f"The light is even over the {thing}.")


def _shadow(calibration: Calibration) -> Finding:
    shadowed = int(np.sum((np.abs(calibration.chart.shadow_residual) > SHADOW_ABOVE) & ~calibration.chart.clipped))
    count = len(calibration.chart.clipped)
    clear = "Keep hands, hair and the camera's shadow off the chart, and tilt it until it does not shine."
    if shadowed >= SHADOWED_REJECT:
        return Finding("shadow", "keep_unmeasured", f"{shadowed} patches of the chart are in shadow or glare.", clear)
    if shadowed:
        return Finding("shadow", "caution", f"Part of the chart ({shadowed} of {count}) is in shadow or glare.", clear)
    return Finding("shadow", "pass", "No shadow or glare on the chart.")


MIRRORED = Finding(
    "mirrored",
    "caution",
    "The photo is mirrored: the client's left and right are swapped in it. Colours are not touched by that.",
    "Use the camera on the back, or turn mirroring off.",
)


def _tilt(tilt_deg: float | None) -> Finding:
    if tilt_deg is None or tilt_deg <= TILT_CAUTION_DEG:
        return Finding("out_of_plane", "pass", "The chart is seen straight enough from the front.")
    level: Level = "keep_unmeasured" if tilt_deg > TILT_REJECT_DEG else "caution"
    return Finding(
        "out_of_plane",
        level,
        f"The chart is turned {tilt_deg:.0f} degrees away from the camera: it may stand out of the plane of the scar, "
        f"and seen slanting it shines more.",
        "Lay the chart flat in the plane of the scar and hold the camera straight above both.",
    )
