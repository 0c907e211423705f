"""Two people's outlines of the same photo: how far apart their readings are, and whether that is more than chance.

Both rest on the same pixels and the same calibration, so only what an outline changes can differ: which pixels were
taken. The calibration's error cancels but for the little by which the two differences differ.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.colour.difference import NORMAL_90, Estimate, delta_e_00, delta_e_estimate
from app.colour.reading import Reading
from app.colour.uncertainty import missed_apart

# Two people's outlines of one scar share about four fifths of their pixels, and what both took cancels: our choice.
SHARED_PIXELS = 0.8
# Under this CIEDE2000 a difference is not seen on light skin: Vision Res. 223:108474, 2024, DOI
# 10.1016/j.visres.2024.108474.
UNSEEN_BELOW = 0.59


@dataclass(frozen=True, slots=True)
class ObserverDifference:
    """Second outlines minus first: steps of the scar-minus-skin difference, and CIEDE2000 between the two.

    area_ratio: second area over the first, or None without a scale. share_moved: change of the share within the match
    limit. is_more_than_chance: whether the outlines themselves explain a difference that could be seen.
    """

    delta_l: Estimate
    delta_a: Estimate
    delta_b: Estimate
    delta_e_00: Estimate
    area_ratio: float | None
    share_moved: float | None
    is_more_than_chance: bool
    words: str


def between_observers(a: Reading, b: Reading) -> ObserverDifference:
    """How far the readings of two outlines of the same photo are apart.

    Takes: two readings of one photo, version 2, both with numbers. Gives: ObserverDifference, b minus a.
    Raises ValueError when either has no numbers, or they do not rest on the same calibration.
    Source: as said at the top of this file; the limit as given at UNSEEN_BELOW.
    """
    if a.sampling_covariance is None or b.sampling_covariance is None:
        raise ValueError("Both readings need numbers, by method version 2.")
    if a.left_out_mean != b.left_out_mean or a.reference != b.reference:
        raise ValueError("The readings do not rest on the same photo and calibration.")
    scar_a, skin_a, scar_b, skin_b = (
        np.asarray(lab, dtype=np.float64) for lab in (a.lab_scar, a.lab_skin, b.lab_scar, b.lab_skin)
    )
    delta = (scar_b - skin_b) - (scar_a - skin_a)
    covariance = (
        (1 - SHARED_PIXELS) * (np.asarray(a.sampling_covariance) + np.asarray(b.sampling_covariance))
        + missed_apart(a.left_out_mean or 0.0, scar_a + delta, scar_a, a.reference)
    )
    # Both differences are set off from the first skin: that of the second differs by the outlines, too.
    first, second = scar_a, scar_a + delta
    apart = delta_e_estimate(first, second, covariance)
    half = NORMAL_90 * np.sqrt(np.diag(covariance))
    light, red, yellow = (Estimate(float(d), float(d - h), float(d + h)) for d, h in zip(delta, half, strict=True))
    areas = (a.area, b.area)
    ratio = None if areas[0] is None or areas[1] is None else areas[1].cm2 / areas[0].cm2
    moved = None if a.share_within is None or b.share_within is None else b.share_within - a.share_within
    more = apart.low > 0 and float(delta_e_00(first, second)) >= UNSEEN_BELOW
    return ObserverDifference(light, red, yellow, apart, ratio, moved, more, _words(apart, more, ratio))


def _words(apart: Estimate, is_more: bool, ratio: float | None) -> str:
    size = f"{apart.low:.1f} to {apart.high:.1f} (CIEDE2000, 90 % interval)"
    said = (
        f"The two outlines give differences that are {size} apart: more than chance. Look at where they part, and "
        f"agree on one."
        if is_more
        else f"The two outlines agree as far as this photo can tell: {size} apart."
    )
    return said if ratio is None else f"{said} The second area is {ratio:.2f} times the first."
