"""A look at what the camera sees, while a photo is being framed: chart, card, sharpness, light. Nothing is kept.

One look at a time in a process, at a small picture: whoever comes meanwhile asks again a moment later.
"""

import io
import threading
import warnings
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from app.colour.chart import Chart, find_chart
from app.colour.marker import Marker, find_marker
from app.colour.quality import UNEVEN_CAUTION
from app.colour.sharpness import edge_width_px
from app.platform.images import NotAPhoto

LONGEST_SIDE_PX, SHORTEST_SIDE_PX = 640, 64
MOST_BYTES = 200_000
# Borders of the chart in a picture made small to 640 px, at a side of 1000 px: sharp 3.1, blurred by 1 px 4.3, by 2 px
# 6.7 (our own trial on a rendered photo).
SHARP_TO_PX, SOFT_TO_PX = 4.0, 6.0
# Our choice: a white patch under this, or half the picture under this, has little light; a quarter of it cut off has
# too much.
DIM_WHITE, DIM_MEDIAN, CLIPPED_FROM, CLIPPED_SHARE = 120.0, 45.0, 250, 0.25
_one_at_a_time = threading.Semaphore(1)

Sharp = Literal["sharp", "soft", "blurred", "unknown"]
Light = Literal["even", "uneven", "too_bright", "too_dark", "unknown"]


@dataclass(frozen=True)
class Looked:
    """What one small picture shows: whether the chart lies in it, the numbers of markers, sharpness and light."""

    chart: bool
    markers: tuple[int, ...]
    sharp: Sharp
    light: Light


def look(jpeg: bytes) -> Looked | None:
    """What a small JPEG shows; None while another picture is being looked at.

    Raises NotAPhoto for anything that is not a JPEG of 64 to 640 px a side and at most 200 kB.
    """
    if not _one_at_a_time.acquire(blocking=False):
        return None
    try:
        srgb8 = _decoded(jpeg)
        chart, markers = find_chart(srgb8), find_marker(srgb8)
        return Looked(chart is not None, tuple(marker.id for marker in markers), _sharp(srgb8, chart, markers),
                      _light(srgb8, chart))
    finally:
        _one_at_a_time.release()


def _decoded(jpeg: bytes) -> NDArray[np.uint8]:
    if len(jpeg) > MOST_BYTES:
        raise NotAPhoto("This picture is too large to be looked at.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(jpeg), formats=("JPEG",)) as image:
                if max(image.size) > LONGEST_SIDE_PX or min(image.size) < SHORTEST_SIDE_PX:
                    raise NotAPhoto("This picture is not of the size that is looked at.")
                return np.asarray(image.convert("RGB"))
    except NotAPhoto:
        raise
    except Exception as error:
        raise NotAPhoto("This is no picture that can be looked at.") from error


def _sharp(srgb8: NDArray[np.uint8], chart: Chart | None, markers: tuple[Marker, ...]) -> Sharp:
    """By the borders of the chart, or of a marker: nothing else in the picture is known to be sharp."""
    width = chart.edge_width_px if chart is not None else None
    if width is None and markers:
        width = edge_width_px(srgb8, _borders(markers[0]))
    if width is None:
        return "unknown"
    return "sharp" if width <= SHARP_TO_PX else "soft" if width <= SOFT_TO_PX else "blurred"


def _borders(marker: Marker) -> NDArray[np.float64]:
    """Lines (n, 2, 2) from the white paper round a marker into its black border, which is a sixth of its side wide."""
    corners, middle = marker.corners, marker.corners.mean(axis=0)
    lines = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        inward = middle - (start + end) / 2
        for share in (0.2, 0.35, 0.5, 0.65, 0.8):
            at = start + share * (end - start)
            lines.append([at - 0.25 * inward, at + 0.25 * inward])
    return np.array(lines)


def _light(srgb8: NDArray[np.uint8], chart: Chart | None) -> Light:
    if chart is not None:
        if bool(chart.clipped[:23].any()):  # the black patch counts as cut off when it is merely dark
            return "too_bright"
        if float(chart.patch_srgb8[18].max()) < DIM_WHITE:
            return "too_dark"
        return "uneven" if chart.uneven_light > UNEVEN_CAUTION else "even"
    if float(np.mean(np.all(srgb8 >= CLIPPED_FROM, axis=2))) > CLIPPED_SHARE:
        return "too_bright"
    return "too_dark" if float(np.median(srgb8.max(axis=2))) < DIM_MEDIAN else "unknown"
