"""Skin as albedo and relief for the demo's photos: everything here is invented and drawn from a seeded generator."""

import cv2
import numpy as np
from numpy.typing import NDArray

# One value for each pixel (h, w), and red, green, blue of linear light as three such planes (3, h, w).
Plane = NDArray[np.float32]
Planes = NDArray[np.float32]

# Change of log linear RGB for one unit more of each colouring matter: melanin takes blue most, blood takes green most.
# The proportions are drawn by eye ("common practice, no source"): only the demo's texture rests on them.
MELANIN_LOG_RGB = np.array([-0.60, -0.88, -1.05], np.float32)
BLOOD_LOG_RGB = np.array([-0.06, -0.80, -0.62], np.float32)


def cloud(rng: np.random.Generator, shape: tuple[int, int], scale_x: float, scale_y: float | None = None) -> Plane:
    """Smooth noise of about unit spread with the given grain in pixels, independent in x and y."""
    height, width = shape
    # Two and a half samples a grain, softened round: bare interpolation would show the grid it was drawn on.
    step_x = max(scale_x / 2.5, 1.0)
    step_y = step_x if scale_y is None else max(scale_y / 2.5, 1.0)
    coarse = rng.standard_normal((int(height / step_y) + 8, int(width / step_x) + 8), dtype=np.float32)
    coarse = cv2.GaussianBlur(coarse, (0, 0), 1.1)[4:-4, 4:-4] * np.float32(3.9)
    smooth: Plane = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    return smooth


def turned(plane: Plane, degrees: float, shape: tuple[int, int]) -> Plane:
    """A square texture turned to follow a limb and cut to the photo."""
    height, width = shape
    matrix = cv2.getRotationMatrix2D((plane.shape[1] / 2, plane.shape[0] / 2), -degrees, 1.0)
    matrix[:, 2] += (width / 2 - plane.shape[1] / 2, height / 2 - plane.shape[0] / 2)
    out: Plane = cv2.warpAffine(plane, matrix, (width, height), borderMode=cv2.BORDER_REFLECT)
    return out


def cells(rng: np.random.Generator, shape: tuple[int, int], spacing: float) -> Plane:
    """The net of furrows that parts skin into small cushions: 0 in a cushion's middle, up to about 1 in a furrow."""
    height, width = shape
    rows, columns = int(height / spacing) + 1, int(width / spacing) + 1
    y = (np.arange(rows)[:, None] + rng.uniform(0.05, 0.95, (rows, columns))) * spacing
    x = (np.arange(columns)[None, :] + rng.uniform(0.05, 0.95, (rows, columns))) * spacing
    seeds = np.full(shape, 255, np.uint8)
    seeds[np.clip(y, 0, height - 1).astype(int), np.clip(x, 0, width - 1).astype(int)] = 0
    distance: Plane = cv2.distanceTransform(seeds, cv2.DIST_L2, 3) / np.float32(spacing * 0.75)
    return distance


def dots(rng: np.random.Generator, shape: tuple[int, int], count: int, sigma: float) -> Plane:
    """Soft round dots of peak height about 0.4 to 1, thrown at random."""
    plane = np.zeros(shape, np.float32)
    y, x = rng.integers(0, shape[0], count), rng.integers(0, shape[1], count)
    plane[y, x] = rng.uniform(0.4, 1.0, count)
    soft: Plane = cv2.GaussianBlur(plane, (0, 0), sigma) * np.float32(2 * np.pi * sigma**2)
    return soft


def freckles(rng: np.random.Generator, shape: tuple[int, int], strength: float, px_per_mm: float) -> Plane:
    """Melanin of freckles and of a few small moles."""
    plane: Plane = np.zeros(shape, np.float32)
    for _ in range(int(420 * strength)):
        centre = (int(rng.integers(0, shape[1])), int(rng.integers(0, shape[0])))
        size = px_per_mm * float(rng.gamma(2.2, 0.26)) + 1
        axes = (max(1, int(size)), max(1, int(size * rng.uniform(0.6, 1.0))))
        cv2.ellipse(plane, centre, axes, float(rng.uniform(0, 180)), 0, 360, float(rng.uniform(0.08, 0.34)), -1)
    plane = cv2.GaussianBlur(plane, (0, 0), 0.28 * px_per_mm) * (1 + 0.3 * cloud(rng, shape, px_per_mm * 0.8))
    for _ in range(int(rng.integers(2, 6))):
        centre = (int(rng.integers(0, shape[1])), int(rng.integers(0, shape[0])))
        mole = np.zeros(shape, np.uint8)
        cv2.circle(mole, centre, int(px_per_mm * rng.uniform(0.6, 1.3)), 255, -1)
        y, x = centre[1], centre[0]
        around = np.s_[max(0, y - 40) : y + 40, max(0, x - 40) : x + 40]
        plane[around] += cv2.GaussianBlur(mole[around], (0, 0), 0.3 * px_per_mm).astype(np.float32) / 255 * 0.75
    return plane


def veins(rng: np.random.Generator, shape: tuple[int, int], degrees: float, px_per_mm: float) -> Plane:
    """A faint branching of veins along a limb, 0 to 1."""
    height, width = shape
    plane = np.zeros(shape, np.float32)
    along = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    across = np.array([-along[1], along[0]])
    reach = np.hypot(height, width) / 2
    for _ in range(3):
        s = np.linspace(-reach, reach, 60)
        t = rng.uniform(-24, 24) * px_per_mm + np.cumsum(rng.normal(0, 0.55, 60)) * px_per_mm * 1.4
        points = np.array([width / 2, height / 2]) + s[:, None] * along + t[:, None] * across
        cv2.polylines(plane, [points.astype(np.int32)], False, float(rng.uniform(0.5, 1)), int(2.2 * px_per_mm))
    small = cv2.GaussianBlur(
        cv2.resize(plane, (width // 4, height // 4), interpolation=cv2.INTER_AREA), (0, 0), px_per_mm / 3
    )
    soft: Plane = cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC)
    return soft


def hairs(rng: np.random.Generator, shape: tuple[int, int], strength: float, degrees: float, px_per_mm: float) -> Plane:
    """How much of each pixel a fine body hair covers, 0 to 1."""
    plane = np.zeros(shape, np.uint8)
    count = int(900 * strength)
    roots = rng.uniform((0, 0), (shape[1], shape[0]), (count, 2))
    heading = np.radians(degrees + 24 + rng.normal(0, 15, count))
    length = rng.gamma(5, 1.0, count) * px_per_mm
    bend = rng.normal(0, 0.5, count)
    step = np.linspace(0, 1, 11)
    angle = heading[:, None] + bend[:, None] * step[None, :]
    path = (
        np.cumsum(np.stack([np.cos(angle), np.sin(angle)], -1) * (length / 11)[:, None, None], axis=1)
        + roots[:, None, :]
    )
    shades = rng.integers(60, 190, count)
    for curve, shade in zip((path * 8).astype(np.int32), shades, strict=True):
        cv2.polylines(plane, [curve], False, int(shade), 1, cv2.LINE_AA, 3)
    cover: Plane = cv2.GaussianBlur(plane, (0, 0), 0.55).astype(np.float32) / 255
    return cover


def coloured(base_linear_rgb: NDArray[np.float64], melanin: Plane, blood: Plane) -> Planes:
    """Albedo from a base colour and the local surplus of melanin and blood."""
    albedo: Planes = np.empty((3, *melanin.shape), np.float32)
    for channel in range(3):
        log = cv2.addWeighted(melanin, MELANIN_LOG_RGB[channel], blood, BLOOD_LOG_RGB[channel], 0)
        np.multiply(cv2.exp(log), np.float32(base_linear_rgb[channel]), out=albedo[channel])
    return albedo
