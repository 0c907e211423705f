"""Reading the patches of a chart whose corners are known: their colours, the light on them, and their borders."""

from __future__ import annotations

import numpy as np

from app.colour.chart_plane import PITCH_UNITS, patch_centre_units, photo_from_chart, project, size_units
from app.colour.chart_reference import ChartReference, shipped
from app.colour.spaces import BoolArray, ByteArray, FloatArray, linear_rgb_from_srgb

# White, two light greys and two yellows: their borders with the dark card are steep enough to show sharpness.
BRIGHT = (18, 19, 20, 15, 11)
# On a chart whose gaps are not known to be dark, neighbours that differ by this much of L* show sharpness: our choice.
STEEP_L = 25.0
BEHIND_UNITS = 0.8

# Half the side of the square read inside each patch: well inside, so a corner off by a third of a patch does no harm.
READ_HALF_UNITS = 0.65

# A channel at or over this is taken as cut off by the sensor or the picture format (research: colour findings, 7).
CLIPPED_FROM = 250.0
# The darkest neutral at or below this has lost its tone (research: colour findings, 7).
CRUSHED_TO = 8.0

# Luminance of daylight-balanced linear RGB, IEC 61966-2-1:1999.
LUMINANCE: FloatArray = np.array([0.2126, 0.7152, 0.0722])


def patch_medians(srgb8: ByteArray, corners: FloatArray, reference: ChartReference) -> tuple[FloatArray, BoolArray]:
    """Median colour of the inner part of each patch, and which patches are cut off at either end.

    Takes: srgb8 (h, w, 3) uint8; corners (4, 2) px as in `chart.Chart`; reference for the layout of n patches.
    Gives: (n, 3), sRGB curve, 0 to 255, and (n,). Raises ValueError when the corners span no area.
    Source: limits as given at the constants.

    >>> corners = np.array([[5.0, 5], [172, 5], [172, 117], [5, 117]])
    >>> patch_medians(np.full((120, 180, 3), 90, np.uint8), corners, shipped())[0][0].tolist()
    [90.0, 90.0, 90.0]
    """
    homography = photo_from_chart(corners, reference.columns, reference.rows)
    steps = np.linspace(-READ_HALF_UNITS, READ_HALF_UNITS, 25)
    grid = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    centres = patch_centre_units(reference.columns, reference.rows)
    medians = np.empty((len(centres), 3))
    clipped = np.zeros(len(centres), dtype=np.bool_)
    for index, centre in enumerate(centres):
        at = np.rint(project(homography, centre + grid)).astype(int)
        x = np.clip(at[:, 0], 0, srgb8.shape[1] - 1)
        y = np.clip(at[:, 1], 0, srgb8.shape[0] - 1)
        pixels = srgb8[y, x].astype(np.float64)
        medians[index] = np.median(pixels, axis=0)
        clipped[index] = bool(np.any(np.mean(pixels >= CLIPPED_FROM, axis=0) > 0.1))
    darkest = reference.neutrals[-1]
    clipped[darkest] |= bool(medians[darkest].max() <= CRUSHED_TO)
    return medians, clipped


def misfit(srgb8: ByteArray, corners: FloatArray, reference: ChartReference) -> float:
    """How badly the patches agree with the reference after the best straight map, for choosing between turns.

    Takes: as `patch_medians`. Gives: the root of the sum of squares, of the cube root of linear light.
    Source: least squares.

    >>> corners = np.array([[5.0, 5], [172, 5], [172, 117], [5, 117]])
    >>> misfit(np.full((120, 180, 3), 90, np.uint8), corners, shipped()) > 1
    True
    """
    patch_srgb8 = patch_medians(srgb8, corners, reference)[0]
    seen = np.column_stack([patch_srgb8 / 255, np.ones(len(patch_srgb8))])
    wanted = np.cbrt(np.maximum(reference.linear_rgb, 0))
    return float(np.linalg.norm(wanted - seen @ np.linalg.lstsq(seen, wanted, rcond=None)[0]))


def fall_of_light(
    patch_srgb8: FloatArray, clipped: BoolArray, reference: ChartReference
) -> tuple[FloatArray, FloatArray]:
    """Shadow residual of each patch, and the slope of log luminance per chart unit.

    The tone curve of the camera (a power of the luminance) and the colour of its primaries are fitted along with
    the plane of light, so that neither is taken for a shadow. A patch in shadow must not bend the fit: its weight
    falls with its residual.

    Takes: patch_srgb8 (n, 3), 0 to 255; clipped (n,); reference of n patches.
    Gives: residual (n,), a share, and slope (2,), natural log per chart unit to the right and down.
    Source: least squares, weighed again (Cauchy's weights); the plane from colour findings, section 7.

    >>> even = 255 * np.clip(shipped().linear_rgb, 0, 1) ** (1 / 2.2)
    >>> np.abs(fall_of_light(even, np.zeros(24, bool), shipped())[1]).max() < 0.01
    np.True_
    """
    balanced = linear_rgb_from_srgb(np.maximum(patch_srgb8, 1.0) / 255)
    balanced = balanced / balanced[list(reference.neutrals)].mean(axis=0)
    seen = np.log(balanced @ LUMINANCE)
    wanted = reference.linear_rgb
    luminance = np.maximum(wanted @ LUMINANCE, 1e-4)
    columns, rows = reference.columns, reference.rows
    centre = patch_centre_units(columns, rows) - size_units(columns, rows) / 2
    hue = (wanted - luminance[:, None]) / (wanted.max(axis=1) + luminance)[:, None]
    design = np.column_stack([np.ones(len(seen)), np.log(luminance), np.log(luminance) ** 2, centre, hue[:, [0, 2]]])
    weight = np.where(clipped, 0.0, 1.0)
    for _ in range(12):
        root = np.sqrt(weight)[:, None]
        fit = np.linalg.lstsq(design * root, seen * root[:, 0], rcond=None)[0]
        rest = seen - design @ fit
        spread = max(1.4826 * float(np.median(np.abs(rest[~clipped]))) if not clipped.all() else 1.0, 0.01)
        weight = np.where(clipped, 0.0, 1 / (1 + (rest / (2 * spread)) ** 2))
    return np.expm1(rest), np.asarray(fit[3:5], dtype=np.float64)


def borders(homography: FloatArray, reference: ChartReference) -> FloatArray:
    """Lines (n, 2, 2) in px from the middle of bright patches to the dark beside them.

    Takes: homography (3, 3) from chart units to px; reference for the layout. Source: as given at STEEP_L.

    >>> borders(np.eye(3), shipped()).shape
    (100, 2, 2)
    """
    centres = patch_centre_units(reference.columns, reference.rows)
    outwards = (np.array([1.0, 0]), np.array([-1.0, 0]), np.array([0, 1.0]), np.array([0, -1.0]))
    if reference.key == shipped().key:
        # The gaps of this chart are dark.
        steps = [(centres[patch], outward, PITCH_UNITS / 2) for patch in BRIGHT for outward in outwards]
    else:
        light = reference.lab_d65[:, 0].reshape(reference.rows, reference.columns)
        pairs = [
            (centre, outward)
            for number, centre in enumerate(centres)
            for outward in outwards
            if _falls(light, divmod(number, reference.columns), outward)
        ]
        # Begun behind the middle: so the border lies in the far half even where the grid is a little off.
        steps = [
            (centre - BEHIND_UNITS * outward, outward, PITCH_UNITS + BEHIND_UNITS / 2) for centre, outward in pairs
        ]
    lines = []
    for centre, outward, length in steps:
        for shift in (-0.6, -0.3, 0.0, 0.3, 0.6):
            start = centre + shift * outward[::-1]
            lines.append(project(homography, [start, start + length * outward]))
    return np.array(lines).reshape(-1, 2, 2)


def _falls(light: FloatArray, at: tuple[int, int], outward: FloatArray) -> bool:
    """Whether the neighbour of a patch in one direction is much darker."""
    row, column = at[0] + int(outward[1]), at[1] + int(outward[0])
    if not (0 <= row < light.shape[0] and 0 <= column < light.shape[1]):
        return False
    return bool(light[at] - light[row, column] > STEEP_L)
