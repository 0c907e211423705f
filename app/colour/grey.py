"""Levelling a photo on a grey card alone: white balance and exposure are set right, the camera's own colours are not.

A grey card shows how bright and how tinted the light is, and nothing of how the camera mixes colours or bends
brightness. What that costs was measured by a trial: on real photos of the 24-patch chart only its middle grey was
used as if it were a grey card, and the other patches were compared with what they truly are. Those errors stand for
the errors of every photo levelled so (data/grey_trial.csv): there is nothing in the photo itself to judge it by.
"""

from __future__ import annotations

import csv
from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.calibration import Calibration, Usable
from app.colour.chart import Chart
from app.colour.chart_patches import CLIPPED_FROM, CRUSHED_TO, LUMINANCE
from app.colour.chart_reference import shipped
from app.colour.difference import delta_e_00
from app.colour.spaces import (
    DATA,
    ByteArray,
    FloatArray,
    linear_rgb_from_srgb,
    linear_rgb_from_xyz_d65,
    xyz_d65_from_lab_d65,
)

# A card of 18 % reflectance without tint: L* = 116 * 0.18 ** (1/3) - 16 (ISO/CIE 11664-4). For a card whose values
# nobody measured; cards sold as 18 % grey are a little tinted and off (common practice, no source).
LAB_D65_OF_18_PERCENT = (49.5, 0.0, 0.0)
# What the trial gave: mean and skin-like patches, CIEDE2000, over three photos, 66 patches. A chart in the same photos
# gave 3.8 and 3.5. Worked out again from the photos in tests/published/test_calibration.py.
TRIAL_MEAN_DELTA_E_00, TRIAL_SKIN_DELTA_E_00 = 5.7, 6.2

# The middle nine tenths of the card are read each way: fingers and edges lie outside. Our choice.
READ_SHARE = 0.9
SIDE_PX = 64
# Texture or writing on the card, a shadow or a reflection: scatter of its brightness round the even fall of light,
# as a share (half the chart's limit for one patch). Our choice.
ROUGH_ABOVE = 0.15
# A card is a weak colour: more than this between two of its channels is a coloured light, or no grey card (a lamp of
# 2700 K in a photo balanced for daylight gives about 3 between red and blue; computed from Planck's law). Our choice.
TINT_ABOVE = 5.0


@cache
def trial_lab_d65() -> FloatArray:
    """Errors (n, 3) in L*a*b* of patches in photos levelled on one grey alone, measured minus true.

    Source: our own trial on three real photos of the 24-patch chart; data/grey_trial.csv.

    >>> trial_lab_d65().shape[1]
    3
    """
    with (DATA / "grey_trial.csv").open(encoding="utf-8", newline="") as lines:
        return np.array([[float(row[axis]) for axis in ("l", "a", "b")] for row in csv.DictReader(lines)])


@cache
def _trial_delta_e_00() -> FloatArray:
    with (DATA / "grey_trial.csv").open(encoding="utf-8", newline="") as lines:
        true = np.array([shipped().lab_d65[int(row["patch"])] for row in csv.DictReader(lines)])
    return delta_e_00(true + trial_lab_d65(), true)


def calibrate_grey(
    srgb8: ByteArray, corners: npt.ArrayLike, lab_d65_of_card: npt.ArrayLike = LAB_D65_OF_18_PERCENT
) -> Calibration:
    """Calibration of a photo from a grey card in it: white balance and exposure only.

    Takes: srgb8 (h, w, 3) uint8; corners (4, 2) px of the grey area, one after the other round it; lab_d65_of_card
    (3,), D65 and 2 degree observer. Gives: Calibration with level "grey", never better than "caution"; its errors are
    those of the trial. "refused" when the card is cut off, dark, rough or coloured, with `reasons`.
    Raises ValueError when the corners span no area or lie outside the photo.
    Source: von Kries' gains on linear light; the errors as said at the top of this file.

    >>> photo = np.full((200, 300, 3), [130, 118, 100], np.uint8)
    >>> found = calibrate_grey(photo, [[20, 20], [200, 20], [200, 180], [20, 180]])
    >>> found.level, found.usable, round(found.loo_mean, 1)
    ('grey', 'caution', 5.7)
    """
    area, to_photo = _flattened(srgb8, corners)
    middle = np.median(area.reshape(-1, 3), axis=0)
    seen = linear_rgb_from_srgb(np.maximum(middle, 0.5) / 255)
    rough, slope, uneven = _fall_of_light(area, to_photo)
    wanted = linear_rgb_from_xyz_d65(xyz_d65_from_lab_d65(lab_d65_of_card))
    usable, reasons = _judged(area, middle, rough, float(seen.max() / seen.min()))
    errors = _trial_delta_e_00()
    return Calibration(
        chart=Chart(
            corners=np.asarray(corners, dtype=np.float64),
            patch_srgb8=middle[None, :],
            clipped=np.array([bool(middle.max() >= CLIPPED_FROM)]),
            shadow_residual=np.zeros(1),
            light_slope=slope,
            uneven_light=uneven,
            edge_width_px=None,
            columns=1,
            rows=1,
        ),
        gain=wanted / seen,
        power=np.ones(3),
        matrix=np.eye(3),
        used=np.ones(len(errors), dtype=np.bool_),
        loo_lab_d65=trial_lab_d65(),
        loo_delta_e_00=errors,
        loo_mean=float(errors.mean()),
        loo_skin=TRIAL_SKIN_DELTA_E_00,
        usable=usable,
        reasons=reasons,
        level="grey",
    )


def _flattened(srgb8: ByteArray, corners: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """The inner part of the card as a square (64, 64, 3), and the projection (3, 3) from there to px."""
    box = np.asarray(corners, dtype=np.float64)
    if box.shape != (4, 2) or not np.all(np.isfinite(box)):
        raise ValueError("A grey card has four corners, each with x and y.")
    if np.any(box < 0) or np.any(box > [srgb8.shape[1], srgb8.shape[0]]):
        raise ValueError("A corner of the grey card lies outside the photo.")
    if abs(float(np.sum(box[:, 0] * np.roll(box[:, 1], -1) - box[:, 1] * np.roll(box[:, 0], -1)))) < 2.0:
        raise ValueError("The four corners of the grey card span no area.")
    inner = (box - box.mean(axis=0)) * READ_SHARE + box.mean(axis=0)
    last = SIDE_PX - 1
    square = np.array([[0, 0], [last, 0], [last, last], [0, last]], dtype=np.float32)
    to_photo = np.asarray(cv2.getPerspectiveTransform(square, inner.astype(np.float32)), dtype=np.float64)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    area = cv2.warpPerspective(srgb8, to_photo, (SIDE_PX, SIDE_PX), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(area, dtype=np.float64), to_photo


def _fall_of_light(area: FloatArray, to_photo: FloatArray) -> tuple[float, FloatArray, float]:
    """Scatter of the brightness round a plane of light, its slope per px of the photo, and its share end to end."""
    smooth = cv2.GaussianBlur(area, (0, 0), 2.0)
    light = np.log(linear_rgb_from_srgb(np.maximum(smooth, 1.0) / 255) @ LUMINANCE).reshape(-1)
    y, x = np.mgrid[0:SIDE_PX, 0:SIDE_PX].reshape(2, -1).astype(np.float64)
    at = np.column_stack([x, y, np.ones(len(x))]) @ to_photo.T
    at = at[:, :2] / at[:, 2:]
    design = np.column_stack([at - at.mean(axis=0), np.ones(len(at))])
    fit = np.linalg.lstsq(design, light, rcond=None)[0]
    plane = design[:, :2] @ fit[:2]
    rough = float(np.expm1(np.quantile(np.abs(light - design @ fit), 0.95)))
    return rough, np.asarray(fit[:2], dtype=np.float64), float(1 - np.exp(plane.min() - plane.max()))


def _judged(area: FloatArray, middle: FloatArray, rough: float, tint: float) -> tuple[Usable, tuple[str, ...]]:
    bad = []
    if float(np.mean(np.any(area >= CLIPPED_FROM, axis=-1))) > 0.1:
        bad.append("The grey card is over-exposed.")
    if float(middle.max()) <= CRUSHED_TO:
        bad.append("The grey card is too dark to read.")
    if rough > ROUGH_ABOVE:
        bad.append(
            "The area placed on the grey card is not even: a shadow, a reflection, writing or its edge is in it."
        )
    if tint > TINT_ABOVE:
        bad.append("The area placed on the grey card is strongly coloured: it is no grey, or the light is very tinted.")
    if bad:
        return "refused", tuple(bad)
    return "caution", (
        "Levelled on a grey card alone: the light's tint and the exposure are set right, the camera's own colours "
        f"are not. In a trial on real photos colours were missed by {TRIAL_MEAN_DELTA_E_00:.1f} on average, skin-like "
        f"ones by {TRIAL_SKIN_DELTA_E_00:.1f}.",
    )
