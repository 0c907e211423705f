"""`evenseam measure PHOTO OUTLINES.json`: one photo and its outlines in, a reading out."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from app.colour.calibration import calibrate
from app.colour.chart import find_chart
from app.colour.geometry import checked_outline
from app.colour.measure import measure
from app.colour.spaces import ByteArray, FloatArray

LARGEST_OUTLINES_BYTES = 2_000_000


def measure_file(photo_path: Path, outlines_path: Path, decode: Callable[[bytes], ByteArray]) -> dict[str, Any]:
    """Reading of a photo file, ready for JSON; raises ValueError with a sentence for the person at the keyboard."""
    try:
        srgb8 = decode(_read(photo_path, "photo"))
    except ValueError as reason:
        raise ValueError(f"{photo_path.name} cannot be read as a photo: {reason}") from reason
    height, width = srgb8.shape[:2]
    outlines = _outlines(outlines_path)
    scar = _checked(outlines, "scar", width, height)
    skin = _checked(outlines, "skin", width, height)
    chart = find_chart(srgb8)
    calibration = None if chart is None else calibrate(chart)
    reading = measure(srgb8, scar, skin, calibration)
    return {
        "photo": photo_path.name,
        "width_px": width,
        "height_px": height,
        "chart_found": chart is not None,
        "chart_corners": None if chart is None else chart.corners.round(2).tolist(),
        "calibration": None
        if calibration is None
        else {
            "usable": calibration.usable,
            "reasons": list(calibration.reasons),
            "left_out_delta_e_00_mean": round(calibration.loo_mean, 3),
            "left_out_delta_e_00_skin": round(calibration.loo_skin, 3),
        },
        "reading": reading.to_dict(),
    }


def _read(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as reason:
        raise ValueError(
            f"The {what} file {path.name} cannot be opened: {reason.strerror or 'unknown reason'}."
        ) from reason


def _outlines(path: Path) -> dict[str, Any]:
    raw = _read(path, "outlines")
    if len(raw) > LARGEST_OUTLINES_BYTES:
        raise ValueError(f"{path.name} is larger than 2 MB: that cannot be a file of outlines.")
    try:
        outlines = json.loads(raw)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as reason:
        raise ValueError(f"{path.name} is not valid JSON.") from reason
    if not isinstance(outlines, dict):
        raise ValueError(f'{path.name} must hold {{"scar": [...], "skin": [...]}}.')
    return outlines


def _checked(outlines: dict[str, Any], name: str, width: int, height: int) -> tuple[FloatArray, ...]:
    given = outlines.get(name)
    if not isinstance(given, list) or not given:
        raise ValueError(f'The outlines file has no "{name}" outline.')
    checked = []
    for number, points in enumerate(given, start=1):
        try:
            checked.append(checked_outline(points, width, height))
        except ValueError as reason:
            raise ValueError(f"{name} outline {number}: {reason}") from reason
    return tuple(checked)
