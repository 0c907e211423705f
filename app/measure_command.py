"""`evenseam measure PHOTO OUTLINES.json`: one photo and its outlines in, a reading out."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from app.colour.area import Scale, scale_from_chart
from app.colour.calibration import Calibration, calibrate
from app.colour.chart import Chart, find_chart
from app.colour.marker import Marker, find_marker, scale_of
from app.colour.measure import measure
from app.colour.spaces import ByteArray
from app.colour.thresholds import SkinClass
from app.records import selectors
from app.records.outlines import Outlines, for_page, read_outlines

LARGEST_OUTLINES_BYTES = 2_000_000


@dataclass(frozen=True)
class Known:
    """What whoever measures knows beside the photo: lengths in mm, and the skin class that is fixed for the case."""

    marker_mm: float | None = None
    pitch_mm: float | None = None
    skin_class: SkinClass | None = None


NOTHING_KNOWN = Known()


def measure_file(photo_path: Path, outlines_path: Path, decode: Callable[[bytes], ByteArray],
                 known: Known = NOTHING_KNOWN) -> dict[str, Any]:
    """Reading of a photo file, ready for JSON; raises ValueError with a sentence for the person at the keyboard."""
    try:
        srgb8 = np.ascontiguousarray(decode(_read(photo_path, "photo")))
    except ValueError as reason:
        raise ValueError(f"{photo_path.name} cannot be read as a photo: {reason}") from reason
    height, width = srgb8.shape[:2]
    outlines = _outlines(outlines_path, width, height)
    chart = find_chart(srgb8)
    calibration = None if chart is None else calibrate(chart)
    markers = find_marker(srgb8)
    scale = _scale(chart, calibration, markers, known)
    reading = measure(srgb8, outlines.scar, outlines.skin, calibration, scale, skin_class=known.skin_class)
    return {
        "photo": photo_path.name,
        "width_px": width,
        "height_px": height,
        "chart_found": chart is not None,
        "chart_corners": None if chart is None else chart.corners.round(2).tolist(),
        "markers": [{"id": marker.id, "corners": marker.corners.round(2).tolist()} for marker in markers],
        "scale_from": None if scale is None else scale.source,
        "calibration": None if calibration is None else {
            "usable": calibration.usable,
            "reasons": list(calibration.reasons),
            "left_out_delta_e_00_mean": round(calibration.loo_mean, 3),
            "left_out_delta_e_00_skin": round(calibration.loo_skin, 3),
        },
        "reading": reading.to_dict(),
    }  # fmt: skip


def _scale(chart: Chart | None, calibration: Calibration | None, markers: tuple[Marker, ...],
           known: Known) -> Scale | None:
    """The marker gives the scale before the chart does: its side is known better."""
    if known.marker_mm is not None and markers:
        return scale_of(markers[0], known.marker_mm)
    usable = calibration is not None and calibration.usable != "refused"
    return scale_from_chart(chart, known.pitch_mm) if chart is not None and usable and known.pitch_mm else None


def _read(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as reason:
        raise ValueError(
            f"The {what} file {path.name} cannot be opened: {reason.strerror or 'unknown reason'}."
        ) from reason


def _outlines(path: Path, width: int, height: int) -> Outlines:
    """Outlines as a page of W3C annotations, or as compact JSON; either is checked like what is drawn on a page."""
    raw = _read(path, "outlines")
    if len(raw) > LARGEST_OUTLINES_BYTES:
        raise ValueError(f"{path.name} is larger than 2 MB: that cannot be a file of outlines.")
    try:
        text = raw.decode("utf-8")
        given = json.loads(text)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as reason:
        raise ValueError(f"{path.name} is not valid JSON.") from reason
    if not isinstance(given, dict):
        raise ValueError(f'{path.name} must hold a page of annotations, or {{"scar": [...], "skin": [...]}}.')
    try:
        return read_outlines(for_page(selectors.read(text)) if "items" in given else text, width, height)
    except ValueError as reason:
        raise ValueError(f"{path.name}: {reason}") from reason
